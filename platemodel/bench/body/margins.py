"""Strength to spare of a closed body, against that of the usual instrument on the usual body."""

from typing import Any

import pandas as pd

from platemodel.bench.kit.against_usual import (
    FLAGGED,
    MOST,
    kept_margins,
    least_line,
    margin_text,
    share_words,
)
from platemodel.bench.kit.tables import aligned
from platemodel.bench.kit.tones import sentence
from platemodel.instrument.body import usual_body
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.instrument.strings import SetUp
from platemodel.study.body.margins import FIRST_DAY, YEARS, body_margins
from platemodel.study.body.model import body_model
from platemodel.study.body.statics import body_load
from platemodel.study.top.model import top_model
from platemodel.wood.strength import k_mod

TITLE = "Strength to spare in the closed body"


def usual_body_margins(kind: str, body_length: float, fineness: float) -> pd.Series:
    """Margins after years of the usual instrument, closed and strung, by part and what.

    Parameters
    ----------
    body_length : float
        m.
    fineness : float
        Of the mesh; the same as that of the top compared, so that its error cancels.
    """

    def solved():
        top = preset_top(kind, body_length)
        bar, set_up = preset_bar(top), SetUp.usual(kind, body_length)
        model = top_model(top, fineness, bar=bar)
        return body_margins(body_load(body_model(model, usual_body(top), set_up), bar))

    return kept_margins("usual_body_margins", (kind, body_length, fineness), solved)


def day_text(row: Any) -> str:
    """Margin on the first day."""
    return f">{MOST}" if row.day_margin > MOST else f"{row.day_margin:.1f}"


def margin_words(margins: pd.DataFrame, kind: str) -> list[str]:
    """Say the least, what is compared and how."""
    day, years = k_mod(FIRST_DAY), k_mod(YEARS)
    return [
        sentence(least_line(margins, kind)),
        f"! marks less than {FLAGGED:g} of what the usual {kind} of this length has, on its usual body with "
        "the usual bar.",
        f"Strength: handbook mean of clear wood, times {day:.1f} for the first days and {years:.1f} for a "
        "load that stays for decades. After years stress has moved to where the wood creeps less.",
    ]


def margin_lines(margins: pd.DataFrame) -> list[str]:
    """Table for the terminal."""
    cells = [
        ("", "", "", "MPa", "", "margin", "", ""),
        ("part", "what", "against usual", "day 1", "years", "day 1", "years (from to)", "x, y mm"),
    ]
    for r in margins.itertuples():
        share = share_words(r.share) + " !" * (r.share < FLAGGED)
        stress = (f"{r.day_stress_mpa:.2f}", f"{r.stress_high_mpa:.2f}")
        where = f"{r.x_mm:.0f},{r.y_mm:+.0f}"
        margin = (day_text(r), margin_text(r))
        cells.append((r.part.removeprefix("top "), r.what, share, *stress, *margin, where))
    return list(aligned(cells, left=(0, 1, 2, 6)))
