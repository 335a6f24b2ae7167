"""One test piece as text and data."""

from platemodel.bench.kit.report import Report
from platemodel.bench.kit.tables import plain, records
from platemodel.bench.kit.tones import signed
from platemodel.wood.piece_fit import PieceFit
from platemodel.wood.species import species_table

KNOWN = 0.08  # relative standard deviation below which a constant is written into the job: it was measured
NAMES = {
    "c_L": "speed of sound along",
    "c_R": "speed of sound across",
    "impedance": "impedance",
    "radiation_ratio": "radiation ratio",
}


def as_text(fit: PieceFit) -> str:
    """Write readings and constants for the terminal."""
    lines = ["Readings", f"  {'':30s}{'measured':>10s}{'fitted':>10s}      off % unsure %"]
    for row in fit.readings.itertuples():
        lines.append(
            f"  {row.reading:30s}{row.measured:10.4g}{row.fitted:10.4g} {row.unit:4s}"
            f"{signed(row.off_percent):>7s}{row.sd_percent:9.2f}  {row.remark}".rstrip()
        )
    if fit.doubtful:
        lines.append(
            f"  These readings do not fit each other (chance {100 * fit.agreement:.2g} %). Measure "
            "again, and look for run-out, knots or an uneven section."
        )
    lines += ["", "Wood, with 90 % band"]
    for row in fit.estimate.table().itertuples():
        spread = 50 * (row.high - row.low) / row.value
        name = NAMES.get(row.quantity, row.quantity)
        text = f"  {name:22s}{row.value:10.4g} ({row.low:.4g} to {row.high:.4g}) {row.unit}"
        lines.append(f"{text:62s} ± {spread:.1f} %")
    lines += [
        "",
        "To use it, in job.toml under [wood.bar] (a piece for the bar) or [wood.top] (an offcut of the top):",
        *(f"  {line}" for line in _job_lines(fit)),
        "",
        f"From: {fit.estimate.source}.",
        "A wide band means it was not measured and follows the species. R is along the rays, T along "
        "the rings.",
    ]
    return "\n".join(lines) + "\n"


def _job_lines(fit):
    """Lines for job.toml; what is not known to `KNOWN` was not measured and is left to the species."""
    wood = fit.estimate.wood
    if wood.name in species_table().index:
        yield f'species = "{wood.name}"'
    yield f"density_kg_m3 = {wood.density:.0f}"
    for name in ("E_L", "E_R", "G_LR"):
        if fit.estimate.sd(name) < KNOWN:
            yield f"{name}_gpa = {1e-9 * getattr(wood, name):.4g}"


def as_data(fit: PieceFit) -> dict:
    """Plain data for JSON."""
    table = fit.estimate.table()
    return {
        "readings": records(fit.readings),
        "agreement": plain(fit.agreement),
        "wood": records(table),
        "source": fit.estimate.source,
    }


REPORT = Report(as_text, as_data, {})
