"""Tops drawn by lot, for bands and errors to be tried on that were not set by them.

Run ``python -m tests.benchmarks.drawn_tops SEED [fineness]``: errors of ten of them against a mesh of
fineness 2.2, over the printed band; a minute a top.
"""

import sys
from dataclasses import replace

import numpy as np

from platemodel.instrument import arching, thickness
from platemodel.instrument.bar_shape import shaped_bar
from platemodel.instrument.dimensions import dimensions
from platemodel.instrument.outline import Outline
from platemodel.instrument.presets import preset_bar, preset_bridge, preset_wood
from platemodel.instrument.sound_hole import SoundHole
from platemodel.instrument.top import Top
from tests.benchmarks.mesh_band import flat, holeless, shares, slotted, tell

# Factors on the usual figures, from and to; a flat plate and holes of each sort come by lot too.
LENGTH, WIDTHS, ARCH, THICK = (0.8, 1.1), (0.93, 1.07), (0.5, 1.5), (0.8, 1.3)
WOOD, BAR = (0.6, 1.5), (0.6, 1.4)
HOLES = ("usual", "long", "slots", "none")
FLAT = 0.2  # so many of them


def drawn_top(rng):
    """Top of a kind, shape, wood and holes drawn by lot, what it is in words, and a bar for it."""

    def lot(span):
        return float(rng.uniform(*span))

    kind, holes, is_flat = str(rng.choice(["violin", "viola", "cello"])), str(rng.choice(HOLES)), rng.random()
    d = dimensions(kind, lot(LENGTH) * dimensions(kind).body_length)
    factors = {"arch": ARCH, "centre": THICK, "bouts": THICK, "edge": THICK}
    factors |= dict.fromkeys(("upper", "middle", "lower"), WIDTHS)
    d = replace(d, **{name: lot(span) * getattr(d, name) for name, span in factors.items()})
    outline = Outline.preset(kind, d.body_length, d.upper, d.middle, d.lower)
    length = 1.15 * d.hole_length if holes == "long" else None
    wood = preset_wood(lot((350.0, 480.0)))
    wood = replace(wood, **{name: lot(WOOD) * getattr(wood, name) for name in ("E_R", "G_LR", "G_RT")})
    top = Top(
        name=f"{kind} by lot",
        kind=kind,
        outline=outline,
        arching=arching.preset(outline, d.arch, d.edge),
        thickness=thickness.preset(outline, d.centre, d.bouts, d.edge),
        sound_holes=tuple(SoundHole.preset(d, side, length=length) for side in ("bass", "treble")),
        wood=wood,
        bridge=preset_bridge(d),
    )
    top = {"slots": slotted, "none": holeless}.get(holes, lambda t: t)(top)
    arch = f"arch {1e3 * d.arch:.0f} mm"
    if is_flat < FLAT:
        top, arch = flat(top, d.bouts), "flat"
    bar = shaped_bar(preset_bar(top), height=lot(BAR) * d.bar_height)
    words = f"{kind} {1e3 * d.body_length:.0f} mm, {arch}, bouts {1e3 * d.bouts:.1f} mm, holes: {holes}"
    return top, words, bar


def drawn_tops(seed, count=10):
    """So many of them, the same for the same seed."""
    rng = np.random.default_rng(seed)
    return [drawn_top(rng) for _ in range(count)]


def main():
    """Print the errors of ten tops."""
    seed, fineness = int(sys.argv[1]), float((*sys.argv[2:], 1.0)[0])
    for top, words, bar in drawn_tops(seed):
        tell(words, shares(top, 2.2, bar, fineness))


if __name__ == "__main__":
    main()
