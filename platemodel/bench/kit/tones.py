"""Tones in cells and in words: a mode that no shape looks like is named in a sentence, never as a number."""

from collections.abc import Iterable, Mapping

import numpy as np

from platemodel.study.top.recognise import KNOWN

NONE = "–"  # cell of a figure that there is none of


def cell(value: float, form: str = ".1f") -> str:
    """Write a figure, or a dash where there is none."""
    return format(value, form) if np.isfinite(value) else NONE


def signed(value: float, digits: int = 2) -> str:
    """Write a change with its sign, of which nought has none, or a dash where there is no change to tell."""
    text = cell(value, f"+.{digits}f")
    return text.lstrip("+-") if np.isfinite(value) and float(text) == 0 else text


def tone(value: float, form: str = ".0f") -> str:
    """Write a tone with its unit, or that there is no clean one."""
    return f"{value:{form}} Hz" if np.isfinite(value) else "no clean tone"


def no_tone(number: int, state: str = "with this bar") -> str:
    """Say what it means that no mode of the model looks like mode 1, 2 or 5.

    Parameters
    ----------
    state : str
        ``"with this bar"`` or ``"without bar"``.
    """
    other = "weight and flex" if state == "without bar" else "height, weight and flex"
    return f"no clean {KNOWN[number]} tone {state}: do not listen for mode {number}; go by {other}"


def lost_tones(tones: Mapping[int, float], state: str = "with this bar") -> list[str]:
    """Return the sentences for the modes that are missing from tones by mode number."""
    return [no_tone(n, state) for n, f in tones.items() if not np.isfinite(f)]


def sentence(text: str) -> str:
    """Write a finding as a sentence."""
    return f"{text[0].upper()}{text[1:]}."


def sentences(texts: Iterable[str]) -> list[str]:
    """Write findings as sentences."""
    return [sentence(t) for t in texts]
