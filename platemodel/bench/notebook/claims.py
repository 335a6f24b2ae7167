"""Sentences that follow the figures: a claim where it holds, and what is true where it does not."""

from dataclasses import dataclass
from math import floor, inf, isfinite, isnan, log10

from platemodel.bench.notebook.saying import Said

BELOW, WITHIN, ABOVE, UNKNOWN = "below", "within", "above", "not known"
MOST_DIGITS = 8


@dataclass(frozen=True)
class Claim:
    """What a figure says; printed, it is one sentence.

    Attributes
    ----------
    where : str
        ``below``, ``within`` or ``above`` the range, or ``not known``.
    """

    where: str
    sentence: str

    @property
    def holds(self) -> bool:
        """Whether the figure lies in the range of the claim."""
        return self.where == WITHIN

    def __str__(self) -> str:
        return repr(Said(self.sentence))

    __repr__ = __str__

    def _repr_html_(self) -> str:
        return Said(self.sentence)._repr_html_()


def claim(
    what: str,
    value: float | None,
    low: float | None = None,
    high: float | None = None,
    unit: str = "",
    *,
    below: str = "",
    within: str = "",
    above: str = "",
    unknown: str = "",
    digits: int = 3,
) -> Claim:
    """Say what a figure says: one sentence below its range, one within, one above.

    The sentences may hold ``{value}``, ``{size}`` (the value without its sign), ``{low}`` and ``{high}``,
    filled in with the unit. A sentence that is not given is made of ``what``, the figure and the range.

    Parameters
    ----------
    what : str
        What the figure is, ``"the bar raises mode 1 by"``; begins a made sentence, and names a figure that is
        not known.
    value : float or None
        None, NaN and infinity are not known.
    low, high : float or None
        The range, its ends included; None leaves that side open. A limit that is NaN is not known either.
    unit : str
        ``"mm"``, ``"%"``.
    below, within, above : str
        Whole sentences.
    unknown : str
        Why the figure may be missing, without a full stop: ``"the mode is not found with this bar"``.
    digits : int
        Significant digits; more are shown where the figure would else read like the limit it passes.

    Raises
    ------
    ValueError
        A range that ends before it begins.

    Examples
    --------
    >>> claim("the bar raises mode 1 by", 12.3, 0, 20, "Hz")
    The bar raises mode 1 by 12.3 Hz, between 0 and 20 Hz.
    >>> claim("mode 1", -3, 0, unit="Hz", below="Mode 1 falls by {size}.", within="Mode 1 rises by {value}.")
    Mode 1 falls by 3 Hz.
    >>> claim("mode 5", None, unknown="no mode of this top is like a ring")
    Not known: mode 5 (no mode of this top is like a ring).
    """
    if value is None or not isfinite(value) or any(end is not None and isnan(end) for end in (low, high)):
        return Claim(UNKNOWN, f"Not known: {what}{f' ({unknown})' if unknown else ''}.")
    least, most = -inf if low is None else low, inf if high is None else high
    if least > most:
        msg = f"claim {what!r}: the range ends at {most:g}, before it begins at {least:g}"
        raise ValueError(msg)
    where = BELOW if value < least else ABOVE if value > most else WITHIN
    sentence = {BELOW: below, WITHIN: within, ABOVE: above}[where]
    sentence = sentence or _made(what, where, isfinite(least), isfinite(most))
    digits = _telling(value, [end for end in (least, most) if isfinite(end)], digits)
    words = {"value": value, "size": abs(value), "low": least, "high": most}
    filled = {name: with_unit(number, unit, digits) for name, number in words.items()}
    return Claim(where, sentence.format(**filled, bare_low=number_text(least, digits)))


def number_text(value: float, digits: int = 3) -> str:
    """Write a number as it is read aloud: significant digits, no power of ten, a real minus sign."""
    if not isfinite(value):
        return "no limit" if abs(value) == inf else "not known"
    places = digits - 1 - floor(log10(abs(value))) if value else 0
    text = f"{round(value, places):.{max(places, 0)}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "0") else text.replace("-", "−")


def with_unit(value: float, unit: str = "", digits: int = 3) -> str:
    """Write a number with its unit."""
    return f"{number_text(value, digits)} {unit}".rstrip()


def _made(what, where, has_low, has_high):
    what = what[:1].upper() + what[1:]
    if where == BELOW:
        return f"{what} {{value}}, less than {{low}}."
    if where == ABOVE:
        return f"{what} {{value}}, more than {{high}}."
    if has_low and has_high:
        return f"{what} {{value}}, between {{bare_low}} and {{high}}."
    if has_low:
        return f"{what} {{value}}, not less than {{low}}."
    return f"{what} {{value}}{', not more than {high}' if has_high else ''}."


def _telling(value, limits, digits):
    """As many digits as tell the value from the limits it does not equal."""
    while digits < MOST_DIGITS and any(
        value != end and number_text(value, digits) == number_text(end, digits) for end in limits
    ):
        digits += 1
    return digits
