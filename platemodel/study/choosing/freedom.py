"""What may change on a bar during a search, how far, and which figure should come out small."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from platemodel.instrument.bar_shape import OF_THE_LINE, ON_THE_LINE
from platemodel.instrument.dimensions import dimensions
from platemodel.study.choosing.line_sensitivity import LineSensitivity
from platemodel.study.top.figures import FIGURES

MAY_BE_FREE = (*ON_THE_LINE, "length", "width")
#: Ranges of free figures against the usual ones of the instrument; the exponent as it is. Wider than what is
#: common (violin: height 11 to 13, ends 2.5 to 3.5, length 265 to 276, width 5 to 6 mm; common practice, no
#: source).
RANGES = {
    "height": (0.6, 1.5),
    "ends": (0.7, 1.5),
    "power": (1.0, 3.0),
    "length": (0.93, 1.05),
    "width": (0.85, 1.15),
}


@dataclass(frozen=True)
class Freedom:
    """What may change on the bar.

    Attributes
    ----------
    free : sequence of str
        Of ``height``, ``ends``, ``power`` (exponent of the profile), ``length``, ``width``.
    ranges : mapping of str to (float, float)
        Least and most of free figures, m; where it is silent those of ``RANGES``.
    goal : str
        Figure made as small as the targets allow, of `study.top.figures.FIGURES`.

    Raises
    ------
    ValueError
        Something free that cannot be, or an unknown goal.
    """

    free: tuple[str, ...] = ("height",)
    ranges: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    goal: str = "bar_g"

    def __post_init__(self):
        free = tuple(self.free)
        object.__setattr__(self, "free", free)
        wrong = [f for f in free if f not in MAY_BE_FREE]
        if wrong or not free or len(set(free)) < len(free):
            what = ", ".join(wrong or free) or "nothing"
            msg = f"free {what}; choose among {', '.join(MAY_BE_FREE)}, each once"
            raise ValueError(msg)
        if self.goal not in FIGURES:
            msg = f"goal {self.goal!r}; allowed are {', '.join(FIGURES)}"
            raise ValueError(msg)

    def spans(self, effects: LineSensitivity) -> dict[str, tuple[float, float]]:
        """Least and most of each free figure for one bar, m (the exponent without unit).

        Raises
        ------
        ValueError
            A range that holds nothing.
        """
        top, bar = effects.figures.top, effects.bar
        dims = dimensions(top.kind, top.outline.body_length)
        usual = {"height": dims.bar_height, "ends": dims.bar_end, "power": 1.0}
        usual |= {"length": dims.bar_length, "width": dims.bar_width}
        out = {}
        for name in self.free:
            low, high = self.ranges.get(name) or (usual[name] * r for r in RANGES[name])
            if name in OF_THE_LINE:  # as far as the bar itself lets the line's sensitivity be read
                middle, reach = getattr(bar, name), 2.0 * effects.reach[name]
                low, high = max(low, middle - reach), min(high, middle + reach)
            if name == "height":
                ends = float(bar.heights[[0, -1]].max())
                low = max(low, self.ranges.get("ends", (0, 0))[1], ends if "ends" not in self.free else 0.0)
            if not 0 < low < high:
                scale = 1.0 if name == "power" else 1e3
                span = f"{scale * low:.4g} to {scale * high:.4g}"
                msg = f"range of {name} {span}: the least must be below the most"
                raise ValueError(msg)
            out[name] = (float(low), float(high))
        return out
