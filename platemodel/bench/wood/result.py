"""The wood of a job's top found from its weight and taps: computing, text, data and files."""

import math
import textwrap
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import pandas as pd

from platemodel.bench.kit import cautions
from platemodel.bench.kit.needs import needed_bar, no_message
from platemodel.bench.kit.tables import plain, records
from platemodel.errors import JobError, Problem
from platemodel.job import Job
from platemodel.job.keep_wood import wood_lines
from platemodel.job.taps import TAPS_FILE
from platemodel.study.top.model import top_model
from platemodel.study.wood.top_taps import TopTaps
from platemodel.study.wood.wood_fit import WoodFit, identify_wood
from platemodel.wood import (
    USUAL_SPECIES,
    Orthotropic,
    WoodEstimate,
    species_estimate,
    species_table,
)
from platemodel.wood.estimate import HALF_WIDTH

SHOWN = ("density", "E_L", "E_R", "G_LR", "c_L", "c_R", "radiation_ratio", "E_L/E_R", "E_L/G_LR")
WORDS = {
    "density": "density",
    "E_L": "E_L along the grain",
    "E_R": "E_R across, along the rays",
    "G_LR": "G_LR shear in the plate",
    "c_L": "speed of sound along",
    "c_R": "speed of sound across",
    "radiation_ratio": "radiation ratio",
    "E_L/E_R": "E_L over E_R",
    "E_L/G_LR": "E_L over G_LR",
}
DOUBT = "Uncertainty of a tap: reading and model together, one standard deviation. Of the wood: 90 % bands."
STATED_SD = 0.05  # relative, of constants stated in the job when they are taken as measured


@dataclass(frozen=True, eq=False)
class JobWood:
    """Wood of a job's top.

    Attributes
    ----------
    job : Job
    fit : WoodFit
    bar_on : bool
        Whether the taps are those with a bar.
    """

    job: Job
    fit: WoodFit
    bar_on: bool

    @property
    def found_from(self) -> str:
        """What the wood was found from, in words."""
        return self.fit.estimate.source.rpartition("; ")[2].removesuffix(" on the top itself")

    @property
    def table(self) -> pd.DataFrame:
        """Quantities a maker uses: ``quantity, value, low, high, unit, expected, stated``.

        ``expected`` is the species' median, ``stated`` what the job says.
        """
        found = self.fit.estimate.table().set_index("quantity").loc[list(SHOWN)]
        before = self.fit.prior.table().set_index("quantity").loc[list(SHOWN)]
        stated = WoodEstimate(self.job.top.wood, self.fit.prior.log_cov).table().set_index("quantity")
        found = found.assign(expected=before["value"], stated=stated.loc[list(SHOWN), "value"])
        return found.reset_index()


def prior_of(wood: Orthotropic, stated: bool = False) -> WoodEstimate:
    """Return what is known of the wood before the taps: its species, and if so wished the stated moduli.

    Parameters
    ----------
    wood : Orthotropic
        As stated in the job; its name chooses the species.
    stated : bool
        Take ``E_L``, ``E_R`` and ``G_LR`` of it as measured to 5 %.
    """
    species = wood.name if wood.name in species_table().index else USUAL_SPECIES
    prior = species_estimate(species)
    if stated:
        known = {c: getattr(wood, c) for c in ("E_L", "E_R", "G_LR")}
        prior = prior.measured(STATED_SD, "constants stated in the job", **known)
    return prior


def job_wood(
    job: Job,
    bar_on: bool | None = None,
    stated: bool = False,
    despite_doubts: bool = False,
    progress: Callable[[str], None] | None = None,
) -> JobWood:
    """Find the wood of a job's top from its taps.

    Parameters
    ----------
    job : Job
    bar_on : bool, optional
        Use the taps with or those without a bar; default those without, if there are any.
    stated : bool
        Take the moduli stated in the job as measured to 5 %.
    despite_doubts : bool
        Fit taps that look wrong all the same.
    progress : callable, optional
        Called with a short status message.

    Raises
    ------
    JobError
        No taps of that state, or taps with a bar and no bar in the job.
    TapError
        Taps that no wood of the kind explains.
    """
    if bar_on is None:
        bar_on = not _readings(job, False) and bool(_readings(job, True))
    heard, felt = job.heard(bar_on), tuple(r for r in job.flexes if r.bar_on == bar_on)
    state = "with a bar" if bar_on else "without a bar"
    if not heard and not felt:
        what = (
            f"taps or flexes {state} are needed: record taps (platemodel taps), type mode_1_hz and so on, or "
            "write flexes.csv (platemodel flex)"
        )
        raise JobError([Problem(TAPS_FILE, "", f"no taps {state}", what)])
    if bar_on:
        needed_bar(job, "a top tapped with its bar on")
    mass = job.measured.mass if job.measured.bar_on_top == bar_on else None
    tell = progress or no_message
    tell("laying the mesh")
    fit = identify_wood(
        top_model(job.top, bar=job.bar),
        TopTaps(
            {n: r.frequency for n, r in heard.items()},
            mass,
            job.bar if bar_on else None,
            {n: r.sd / r.frequency for n, r in heard.items()},
            felt,
        ),
        prior=prior_of(job.top.wood, stated),
        despite_doubts=despite_doubts,
        progress=progress,
    )
    return JobWood(job, fit, bar_on)


def _readings(job, bar_on):
    """Whether anything was heard or felt in a state of the bar."""
    return bool(job.heard(bar_on)) or any(r.bar_on == bar_on for r in job.flexes)


def as_text(result: JobWood) -> str:
    """Report for the terminal."""
    job, fit = result.job, result.fit
    lines = [cautions.text_title(job)]
    lines += [f"LOOKS WRONG: {d.message}" for d in fit.doubts]
    lines += ["", *_tap_lines(result), "", *_wood_lines(result), ""]
    lines.append("How the errors go together (correlation)")
    for a, b in (("E_L", "E_R"), ("E_L", "G_LR"), ("E_R", "G_LR")):
        lines.append(f"  {a} with {b}: {fit.estimate.correlation(a, b):+.2f}")
    if len(fit.next_taps):
        lines += ["", "One more tap would narrow the bands of E_L, E_R, G_LR by"]
        for row in fit.next_taps.head(3).itertuples():
            lines.append(
                f"  mode {mode_name(row):8s} near {row.expected_hz:.0f} ± {row.band_hz:.0f} Hz: "
                f"{row.E_L_percent:.0f}, {row.E_R_percent:.0f}, {row.G_LR_percent:.0f} %"
            )
    lines += ["", "To use it, in job.toml in place of the same lines (--keep writes them there):"]
    lines += [f"  {line}" for line in snippet(fit.estimate.wood)]
    lines += ["", *textwrap.wrap(f"From: {fit.estimate.source}.", 110)]
    lines += [
        DOUBT,
        "An estimate: arching and thickness have their own slips. The maker decides.",
    ]
    return "\n".join(lines) + "\n"


def _tap_lines(result):
    fit = result.fit
    yield f"Taps {state_words(result)}"
    yield "  mode          heard Hz   fitted    off %  unsure %   species would give"
    for row in fit.modes.itertuples():
        doubt = 100 * row.sd_hz / row.heard_hz
        yield (
            f"  {mode_name(row):12s}{row.heard_hz:10.1f}{row.fitted_hz:9.1f}"
            f"{signed(row.residual_percent):>9s}{doubt:10.1f}{row.expected_hz:21.1f}"
        )
    yield from flex_lines(fit)
    if fit.mass:
        yield f"  weight {1e3 * fit.mass[0]:8.1f} g, fitted {1e3 * fit.mass[1]:.1f} g"
    else:
        yield "  not weighed with the bar in this state: the density rests on the species"


def flex_lines(fit: WoodFit) -> Iterator[str]:
    """Each flex reading beside what weight and taps predict, and whether they agree."""
    if not len(fit.flexes):
        return
    yield "  flex       weight g   read mm  fitted mm  without it mm"
    for row in fit.flexes.itertuples():
        words = "" if row.agrees else f"   disagrees ({row.away:+.1f} sd): look for a slip"
        yield (
            f"  {row.kind:10s}{row.weight_g:9.0f}{row.read_mm:10.2f}{row.fitted_mm:11.2f}"
            f"{row.others_mm:10.2f} ± {row.others_sd_mm:.2f}{words}"
        )


def _wood_lines(result):
    yield "Wood of the top                   found   (90 % band)           in the job   species"
    for row in result.table.itertuples():
        band = f"({figures(row.low)} to {figures(row.high)})"
        yield (
            f"  {WORDS[row.quantity]:28s}{figures(row.value):>9s}   {band:20s}{figures(row.stated):>12s}"
            f"{figures(row.expected):>10s} {row.unit}".rstrip()
        )
    factor, sd = result.fit.thickness
    yield f"  the readings fit best with the thickness everywhere x {factor:.3f} ± {HALF_WIDTH * sd:.3f}"


def figures(value: float) -> str:
    """Write a positive value with the three figures that it deserves."""
    digits = 2 - math.floor(math.log10(value))
    return f"{round(value, digits):.{max(digits, 0)}f}"


def signed(percent: float) -> str:
    """Write a difference in percent with its sign, none for nought."""
    return f"{percent:+.2f}" if round(percent, 2) else "0.00"


def mode_name(row: Any) -> str:
    """Return number and name of a mode in a table of the fit."""
    return f"{row.number} {row.name}".strip()


def state_words(result: JobWood) -> str:
    """Say whether the bar was on when the top was tapped, and which."""
    if result.bar_on:
        return "with bar; the bar in job.toml is taken as the one that was on"
    return "without bar"


def snippet(wood: Orthotropic) -> list[str]:
    """Lines of job.toml that state this wood."""
    return ["[wood.top]", *wood_lines(wood)]


def as_data(result: JobWood) -> dict:
    """Plain data for JSON."""
    fit = result.fit
    return {
        "name": result.job.name,
        "invented": result.job.invented,
        "bar_on": result.bar_on,
        "doubts": [d.message for d in fit.doubts],
        "taps": records(fit.modes),
        "flexes": records(fit.flexes),
        "mass_g": None if fit.mass is None else _named(("measured", "fitted"), (1e3 * m for m in fit.mass)),
        "wood": records(result.table),
        "thickness_factor": _named(("value", "sd"), fit.thickness),
        "next_taps": records(fit.next_taps),
        "job_toml": snippet(fit.estimate.wood),
        "source": fit.estimate.source,
    }


def _named(names, values):
    return dict(zip(names, map(plain, values), strict=True))
