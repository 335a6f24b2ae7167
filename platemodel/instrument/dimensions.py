"""Usual dimensions of violin, viola and cello tops, each with its status."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

VIOLIN_BODY = 0.355  # m: of the violin from which limits known for violins only are scaled

STATUS = {
    "table": "public making tables",
    "recalled": "public making tables, from memory",
    "practice": "common practice, no source",
    "memory": "from memory",
}
# Name; violin, viola, cello; status of the violin and viola figures; status of the cello figure.
UsualRow = tuple[str, float, float, float, str, str]

# mm
_USUAL = (
    ("body_length", 355, 405, 755, "table", "table"),
    ("upper", 168, 193, 340, "table", "table"),
    ("middle", 112, 131, 235, "table", "memory"),
    ("lower", 208, 236, 440, "table", "table"),
    ("stop", 195, 222, 400, "table", "memory"),
    ("eye_spacing", 42, 49, 93, "table", "memory"),
    ("eye_line", 158, 180, 332, "practice", "practice"),
    ("hole_length", 75, 81, 138, "table", "memory"),
    ("upper_eye", 6.5, 7.3, 13, "practice", "practice"),
    ("lower_eye", 9.0, 10.0, 17, "practice", "practice"),
    ("stem_width", 6.5, 7.0, 12, "practice", "practice"),
    ("foot_span", 41, 47, 90.5, "table", "memory"),
    ("foot_along", 4.5, 5.5, 11, "table", "memory"),
    ("foot_across", 11.5, 13, 27, "table", "memory"),
    ("arch", 15.5, 17, 26.5, "table", "memory"),
    ("edge", 4.0, 4.0, 4.8, "table", "memory"),
    ("centre", 3.0, 3.2, 4.8, "table", "memory"),
    ("bouts", 2.6, 2.6, 3.8, "table", "memory"),
    ("bar_length", 275, 312, 580, "table", "memory"),
    ("bar_width", 5.5, 6.0, 11, "table", "memory"),
    ("bar_height", 12, 14, 25, "table", "memory"),
    ("bar_end", 3.0, 3.5, 6.0, "table", "memory"),
    ("string_spacing", 34, 37, 47, "memory", "memory"),
    ("post_behind", 8.0, 9.5, 16, "practice", "practice"),
    ("post_diameter", 6.0, 6.5, 11, "practice", "practice"),
)
KINDS = ("violin", "viola", "cello")


@dataclass(frozen=True)
class Dimensions:
    """Usual dimensions of one instrument, metres.

    Widths are full widths over the edge. ``eye_spacing`` is the distance between the inner edges of the two
    upper eyes, ``stop`` and ``eye_line`` the distances of the bridge line and of the upper eyes from the
    upper edge, ``foot_span`` the distance over the outer edges of the bridge feet, ``arch`` the height of the
    outer surface over the gluing plane, ``edge``, ``centre`` and ``bouts`` thicknesses,
    ``string_spacing`` the distance of the outer strings on the bridge, ``post_behind`` that of the middle of
    the sound post behind the middle of the treble foot.
    """

    kind: str
    body_length: float
    upper: float
    middle: float
    lower: float
    stop: float
    eye_spacing: float
    eye_line: float
    hole_length: float
    upper_eye: float
    lower_eye: float
    stem_width: float
    foot_span: float
    foot_along: float
    foot_across: float
    arch: float
    edge: float
    centre: float
    bouts: float
    bar_length: float
    bar_width: float
    bar_height: float
    bar_end: float
    string_spacing: float
    post_behind: float
    post_diameter: float

    @property
    def x_bridge(self) -> float:
        """Bridge line, metres from the lower edge."""
        return self.body_length - self.stop

    @property
    def scale(self) -> float:
        """Size relative to the 355 mm violin, for limits that are known for the violin only."""
        return self.body_length / VIOLIN_BODY

    def status(self) -> dict[str, str]:
        """Where each figure comes from."""
        return usual_status(_USUAL, self.kind)

    def scaled(self, body_length: float) -> "Dimensions":
        """Scale everything to another body length, m."""
        r = body_length / self.body_length
        return replace(self, **{f.name: getattr(self, f.name) * r for f in fields(self) if f.name != "kind"})


_SPAN = 0.5, 1.4  # of the usual body length, that dimensions are scaled to
_ROUND_OFF = 1e-9  # m: 497 mm is 1.4 of 355 mm, but not in binary


def usual_values(rows: Sequence[UsualRow], kind: str) -> dict[str, float]:
    """Figures of a kind by name, the tables' mm and g in m and kg."""
    column = 1 + KINDS.index(kind)
    return {row[0]: row[column] / 1000 for row in rows}


def usual_status(rows: Sequence[UsualRow], kind: str) -> dict[str, str]:
    """Where each figure of a kind comes from, by name."""
    return {row[0]: STATUS[row[5 if kind == "cello" else 4]] for row in rows}


def dimensions(kind: str, body_length: float | None = None) -> Dimensions:
    """Usual dimensions of a kind, scaled to a body length (m) if one is given.

    Raises
    ------
    ValueError
        If the kind is unknown, or the body length is not plausible for it.
    """
    if kind not in KINDS:
        msg = f"kind {kind!r} is unknown; allowed are {', '.join(KINDS)}"
        raise ValueError(msg)
    dims = Dimensions(kind, **usual_values(_USUAL, kind))
    if body_length is None:
        return dims
    low, high = (share * dims.body_length for share in _SPAN)
    if not low - _ROUND_OFF <= body_length <= high + _ROUND_OFF:
        msg = (
            f"body length {body_length * 1000:.7g} mm is outside {1000 * low:.7g} to {1000 * high:.7g} mm "
            f"for a {kind}; check the unit"
        )
        raise ValueError(msg)
    return dims.scaled(body_length)
