"""What becomes of a closed body over the years, in words and as a table."""

import numpy as np
import pandas as pd

from platemodel.job.job import Measured
from platemodel.study.body.years import CREEP, DAMP, DRY, BodyYears

TODAY, LATER, STAYS = "strings, back at once", "creep, back within weeks", "creep that stays"
SEASON, OLDER = "season, either way", "older set, repairs"
SLIP = 0.15e-3  # m, of the difference of two readings of an arch; common practice, no source


def year_lines(years: BodyYears, measured: Measured) -> list[str]:
    """Say it line by line; what the job tells of the arch is set against it."""
    low, middle, high = (1e3 * v for v in years.years)
    first, later = years.first, [1e3 * v for v in years.back_later]
    swing, stays = [1e3 * v for v in years.swing], _shown(years)[STAYS]
    lines = [
        f"After years under the strings the bass foot has sunk {middle:.2f} mm ({low:.2f} to {high:.2f}).",
        f"Strings off: {_back(first)} mm come back at once, {later[0]:.2f} to {later[2]:.2f} mm more within "
        f"weeks; some {stays:.2f} mm stay as set.",
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
    shown, rest = _shown(years), float(year_table(years, measured)["mm"].iloc[-1])
    spring = f", less {1e3 * years.spring_lift:.2f} that the spring holds up" if years.spring > 0 else ""
    says = (
        "are older than that: set of other set-ups, dampness, repairs, or how it was made"
        if rest >= 0
        else "too much: this top creeps less than reckoned, or the reading is off"
    )
    return [
        f"Of the {1e3 * measured.sunk:.2f} mm that the arch is sunk the strings bend "
        f"{shown[TODAY]:.2f} mm today and creep accounts for {shown[LATER] + shown[STAYS]:.2f}{spring}; "
        f"{abs(rest):.2f} mm {says}."
    ]


def year_table(years: BodyYears, measured: Measured) -> pd.DataFrame:
    """Where the sinking of an arch comes from: ``what``, ``mm``, ``low``, ``high``.

    In hundredths of a millimetre, as they are shown, sunk positive; ``mm`` adds up to what was read.
    """
    first, later = years.first, years.back_later
    half = 0.5 * max(abs(v) for v in years.swing)
    bands = {
        TODAY: (first.low, first.high),
        LATER: (later[0], later[2]),
        STAYS: (years.crept - later[2], years.crept - later[0]),
        SEASON: (-half, half),
    }
    shown = _shown(years)
    rows = [(what, mm, *map(_mm, bands.get(what, (np.nan, np.nan)))) for what, mm in shown.items()]
    if measured.sunk is not None:
        rows.append((OLDER, round(_mm(measured.sunk) - sum(shown.values()), 2), np.nan, np.nan))
    return pd.DataFrame(rows, columns=["what", "mm", "low", "high"])


def _shown(years):
    """Parts of the sinking after years, mm: those of strings and creep add up to their sum as it is shown."""
    first, back = years.first.middle, years.back_later[1]
    sums = [_mm(first), _mm(first + back), _mm(years.years[1])]
    parts = dict(zip((TODAY, LATER, STAYS), np.diff(sums, prepend=0.0).round(2).tolist(), strict=True))
    lift = {"spring of the bar": -_mm(years.spring_lift)} if years.spring > 0 else {}
    return parts | lift | {SEASON: 0.0}


def _mm(value):
    return round(1e3 * float(value), 2)
