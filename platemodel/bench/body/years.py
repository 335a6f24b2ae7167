"""What becomes of a closed body over the years, in words and as a table."""

import numpy as np
import pandas as pd

from platemodel.job.job import Measured
from platemodel.study.body.years import CREEP, DAMP, DRY, BodyYears

SLIP = 0.15e-3  # m, of the difference of two readings of an arch; common practice, no source


def year_lines(years: BodyYears, measured: Measured) -> list[str]:
    """Say it line by line; what the job tells of the arch is set against it."""
    low, middle, high = (1e3 * v for v in years.years)
    first, later = years.first, [1e3 * v for v in years.back_later]
    swing = [1e3 * v for v in years.swing]
    lines = [
        f"After years under the strings the bass foot has sunk {middle:.2f} mm ({low:.2f} to {high:.2f}).",
        f"Strings off: {_back(first)} mm come back at once, {later[0]:.2f} to {later[2]:.2f} mm more within "
        f"weeks; some {1e3 * years.stays:.2f} mm stay as set.",
        f"From dry air ({100 * DRY:.0f} %) to damp ({100 * DAMP:.0f} %) the foot {_moves(swing)}.",
    ]
    if years.spring > 0:
        fades = [100 * creep.along / (1.0 + creep.along) for creep in (CREEP[0], CREEP[-1])]
        lines.append(
            f"A spring of {1e3 * years.spring:.1f} mm at each end holds the foot up by "
            f"{1e3 * years.spring_lift:.2f} mm; the shape lasts, its stress fades by {fades[0]:.0f} to "
            f"{fades[1]:.0f} %."
        )
    return [*lines, *risen_lines(years, measured), *sunk_lines(years, measured)]


def _back(first):
    return f"{1e3 * first.middle:.2f} ({1e3 * first.low:.2f} to {1e3 * first.high:.2f})"


def _moves(swing):
    words = ["rises" if v > 0 else "sinks" for v in swing]
    low, high = sorted(np.abs(swing))
    if words[0] == words[1]:
        return f"{words[0]} {low:.2f} mm, up to {high:.2f} mm where the rings lie flat"
    return f"may move by {high:.2f} mm either way, by how the rings stand"


def risen_lines(years: BodyYears, measured: Measured) -> list[str]:
    """Set what the arch rose when the strings came off against the model; nothing where it was not read."""
    if measured.arch_strung is None or measured.arch_off is None:
        return []
    first, rose = years.first, measured.arch_off - measured.arch_strung
    at_most = first.high + years.back_later[2]
    head = f"When the strings came off the arch {'rose' if rose >= 0 else 'fell'} {1e3 * abs(rose):.2f} mm"
    if rose < -SLIP:
        return [f"{head}: read both again, for an arch does not sink when the strings come off."]
    says = (
        "less than that: the top is stiffer than reckoned, or it had not yet come back"
        if rose < first.low - SLIP
        else "more than that: the top or its joints are softer than reckoned, so trust this body less"
        if rose > at_most + SLIP
        else "which fits"
    )
    return [f"{head}; by the model {1e3 * first.low:.2f} to {1e3 * at_most:.2f} mm, {says}."]


def sunk_lines(years: BodyYears, measured: Measured) -> list[str]:
    """Say where the sinking of an arch comes from; nothing where the job does not tell how far it is sunk."""
    if measured.sunk is None:
        return []
    rest = float(year_table(years, measured)["mm"].iloc[-1])
    spring = f", less {1e3 * years.spring_lift:.2f} that the spring holds up" if years.spring > 0 else ""
    says = (
        "are older than that: set of other set-ups, dampness, repairs, or how it was made"
        if rest >= 0
        else "too much: this top creeps less than reckoned, or the reading is off"
    )
    return [
        f"Of the {1e3 * measured.sunk:.2f} mm that the arch is sunk the strings bend "
        f"{1e3 * years.first.middle:.2f} mm today and creep accounts for {1e3 * years.crept:.2f}{spring}; "
        f"{abs(rest):.2f} mm {says}."
    ]


def year_table(years: BodyYears, measured: Measured) -> pd.DataFrame:
    """Where the sinking of an arch comes from, mm, sunk positive: ``what``, ``mm``, ``low``, ``high``."""
    first, later = years.first, years.back_later
    half = 0.5 * max(abs(v) for v in years.swing)
    rows = [
        ("strings, back at once", first.middle, first.low, first.high),
        ("creep, back within weeks", later[1], later[0], later[2]),
        ("creep that stays", years.stays, years.crept - later[2], years.crept - later[0]),
        *([("spring of the bar", -years.spring_lift, np.nan, np.nan)] if years.spring > 0 else []),
        ("season, either way", 0.0, -half, half),
    ]
    if measured.sunk is not None:
        rest = measured.sunk - sum(row[1] for row in rows)
        rows.append(("older set, repairs", rest, np.nan, np.nan))
    table = pd.DataFrame(rows, columns=["what", "mm", "low", "high"])
    table[["mm", "low", "high"]] *= 1e3
    return table
