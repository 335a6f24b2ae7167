"""What a bar does to the named modes, told two ways: by the name with the bar on, and by the old shape."""

import numpy as np
import pandas as pd

from platemodel.bench.notebook.claims import claim
from platemodel.study.top.plate_modes import PlateModes, compare_modes
from platemodel.study.top.recognise import KNOWN

ALIKE = 0.5  # likeness below which a shape is spread over several modes, as in the report's text


def mode_changes(without: PlateModes, with_bar: PlateModes) -> pd.DataFrame:
    """Tones of modes 1, 2 and 5 before and after.

    Returns
    -------
    DataFrame
        A row a mode: ``number``, ``name``, ``before_hz``, ``called_hz`` (the mode of that name with the
        bar on), ``called_change_hz``, ``like_hz`` (the one whose shape is most like the old one),
        ``like_change_hz``, ``likeness``. NaN where there is none. Changes are those of the tones as printed,
        to 0.1 Hz, so that they add up.
    """
    pairs = compare_modes(without, with_bar)
    rows = []
    for number, name in KNOWN.items():
        before, called = without.frequency(number), with_bar.frequency(number)
        found = pairs[pairs["name"] == name]
        like, likeness = found[["f_with_hz", "likeness"]].iloc[0] if len(found) else (np.nan, np.nan)
        rows.append(
            {
                "number": number, "name": name, "before_hz": before, "called_hz": called,
                "called_change_hz": round(called, 1) - round(before, 1), "like_hz": like,
                "like_change_hz": round(like, 1) - round(before, 1),
                "likeness": likeness,
            }
        )  # fmt: skip
    return pd.DataFrame(rows)


def change_lines(table: pd.DataFrame) -> list[str]:
    """Say what the bar does to each mode: one sentence where both ways agree, else both.

    Parameters
    ----------
    table : DataFrame
        From `mode_changes`.
    """
    out = []
    for row in table.itertuples():
        what = f"mode {row.number} ({row.name})"
        if np.isfinite(row.called_hz) and abs(row.called_hz - row.like_hz) < 1e-6 and row.likeness >= ALIKE:
            said = claim(
                what, row.called_change_hz, 0, unit="Hz",
                below=f"The bar lowers {what} by {{size}}; its shape stays (likeness {row.likeness:.2f}).",
                within=f"The bar raises {what} by {{value}}; its shape stays (likeness {row.likeness:.2f}).",
            )  # fmt: skip
            out.append(said.sentence)
            continue
        parts = []
        if np.isfinite(row.called_change_hz) and abs(row.called_hz - row.like_hz) < 1e-6:
            parts.append(
                f"the mode called so with the bar on, at {row.called_hz:.1f} Hz, is the most like the old "
                f"shape, and yet little like it (likeness {row.likeness:.2f})"
            )
        elif np.isfinite(row.called_change_hz):
            parts.append(f"the mode called so with the bar on lies at {row.called_hz:.1f} Hz")
        if np.isfinite(row.like_change_hz) and not abs(row.called_hz - row.like_hz) < 1e-6:
            parts.append(
                f"the one most like the old shape at {row.like_hz:.1f} Hz (likeness {row.likeness:.2f})"
            )
        if not np.isfinite(row.before_hz):
            out.append(f"Not known: {what} without the bar; no mode of this top has that shape.")
        elif parts:
            out.append(
                f"{what.capitalize()}, {row.before_hz:.1f} Hz without the bar, has no single heir: "
                f"{', '.join(parts)}. Do not chase one number for it."
            )
        else:
            out.append(f"{what.capitalize()} is gone with the bar on: no mode has its shape.")
    return out
