"""Figures of a wood that no spruce at hand has, and grain as it is seldom split."""

import math
from collections.abc import Iterator

from platemodel.instrument.bar import Bar
from platemodel.instrument.top import Top
from platemodel.job.bar import OLD
from platemodel.job.build_context import Work
from platemodel.wood.orthotropic import Orthotropic

_PRACTICE = "common practice, no source"
HEAVIER_BAR = 1.15  # density of a bar over the top's; common practice, no source
#: Figures of measured spruce, lowest and highest. Tonewood: density 320 to 483 kg/m3, speed of sound 4650 to
#: 6200 m/s, E_L/E_R 7 to 12 and E_L/G 10 to 19 (Badiane et al., JASA 2023, and a maker's stock, common
#: practice); with some room for old tops. The last three, which few measure: the spruces of
#: data/wood/species.csv have 1.6 to 2.2, 0.8 to 1.05 and 100 to 480, with half as much again for room.
SPRUCE = (
    ("density", " kg/m3", 320, 490), ("speed of sound along the grain", " m/s", 4500, 6200),
    ("E_L over E_R", "", 6, 22), ("E_L over G_LR", "", 7, 24),
    ("E_R over E_T", "", 1, 3.3), ("G_LR over G_LT", "", 0.5, 1.6), ("E_L over G_RT", "", 65, 720),
)  # fmt: skip
#: Degrees either way that a quarter-sawn top keeps within; common practice, no source.
GRAIN = {
    "grain_angle": ("grain leans {:.0f} degrees to the axis", 5),
    "ring_angle": ("rings tilted {:.0f} degrees from upright", 25),
    "run_out": ("grain runs out by {:.0f} degrees", 5),
}


def wood_oddities(
    work: Work, top: Top, bar: Bar | None, old_bar: Bar | None
) -> Iterator[tuple[str, str, str]]:
    """Yield (kind, message, where) for wood of top, bar or old bar that is unlike measured spruce."""
    yield from _wood(top.wood, "top")
    for name, (words, most) in GRAIN.items():
        degrees = math.degrees(work.fields.get(f"wood.top.{name}", 0.0))
        if abs(degrees) > most + 1e-9:
            yield (
                "wood",
                f"{words.format(degrees)}; usual is up to {most} either way ({_PRACTICE}); measure it again",
                f"wood.top.{name}_deg",
            )
    if bar is not None and bar.wood is not top.wood:
        yield from _wood(bar.wood, "bar")
        if bar.wood.density > HEAVIER_BAR * top.wood.density:
            yield (
                "wood",
                f"bar of {bar.wood.density:.0f} kg/m3 on a top of {top.wood.density:.0f} kg/m3; "
                f"usual is a bar close to the top or a little lighter ({_PRACTICE})",
                "bar",
            )
    if old_bar is not None:
        yield from _old_wood(work, top, old_bar)


def _old_wood(work, top, old_bar):
    """Only what is the old bar's own: where nothing was measured it is as the top's."""
    weighed = f"{OLD}.mass" in work.fields.values and f"wood.{OLD}.density" not in work.fields.values
    if not weighed:
        yield from _wood(old_bar.wood, "old bar", unlike=top.wood)
        return
    check = f"check its weight, its sizes and {OLD}.section_fill (glue and cleats weigh too)"
    yield from _wood(old_bar.wood, "old bar", check, top.wood)


def _figures(wood: Orthotropic):
    return (
        wood.density, wood.c_L, wood.E_L / wood.E_R, wood.E_L / wood.G_LR,
        wood.E_R / wood.E_T, wood.G_LR / wood.G_LT, wood.E_L / wood.G_RT,
    )  # fmt: skip


def _wood(wood, part, check="check the weighing and the taps", unlike=None):
    known = (math.nan,) * len(SPRUCE) if unlike is None else _figures(unlike)
    for (label, unit, low, high), value, other in zip(SPRUCE, _figures(wood), known, strict=True):
        shown = f"{value:.0f}" if value >= 100 else f"{value:.3g}"
        if not low <= float(shown) <= high and not math.isclose(value, other, rel_tol=1e-9):
            yield (
                "wood",
                f"wood of the {part}: {label} {shown}{unit}; measured spruce lies within {low:g} to "
                f"{high:g}{unit}; {check}",
                f"wood.{part.replace(' ', '_')}",
            )
