"""Does the printed band of the mesh hold? Ten tops of unlike shape, bare and with the usual bar, against a
mesh twice as fine.

Run ``python -m tests.benchmarks.mesh_band [name ...]``; each top takes a minute or so.
"""

import sys
from dataclasses import replace

import numpy as np

from platemodel.instrument import arching
from platemodel.instrument.dimensions import dimensions
from platemodel.instrument.field import SmoothField
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.instrument.sound_hole import Eye, SoundHole
from platemodel.study.top.model import top_model, with_wood
from platemodel.study.top.plate_modes import plate_modes

FINE = 2.0


def holeless(top):
    """Return the top without sound holes: the edge is the outline alone."""
    return replace(top, sound_holes=())


def slotted(top):
    """Return the top with straight slots along the axis in place of its sound holes."""
    d = dimensions(top.kind, top.outline.body_length)
    length, half = d.hole_length, 0.5 * d.stem_width
    x, y = top.bridge.x - 0.5 * length, 0.5 * d.eye_spacing + d.upper_eye
    holes = []
    for side, sign in (("bass", -1.0), ("treble", 1.0)):
        corners = np.array([[0, -half], [length, -half], [length, half], [0, half]])
        runs = [
            np.linspace(a, b, n, endpoint=False)
            for a, b, n in zip(corners, np.roll(corners, -1, axis=0), (60, 8, 60, 8), strict=True)
        ]
        points = np.concatenate(runs) + np.array([x, sign * y])
        ends = [Eye(x + at, sign * y, 2 * half) for at in (length, 0.0)]
        holes.append(SoundHole(points, np.array([0, 60, 68, 128]), side, *ends))
    return replace(top, sound_holes=tuple(holes))


def flat(top, thickness):
    """Return the top as a flat plate of even thickness, m."""
    box = top.arching.box
    return replace(
        top, arching=SmoothField.constant(thickness, box), thickness=SmoothField.constant(thickness, box)
    )


def even(top, thickness):
    """Return the top with one thickness everywhere, m, up to its edge."""
    return replace(top, thickness=SmoothField.constant(thickness, top.arching.box))


def arched(top, height):
    """Return the top with another height of arching, m."""
    d = dimensions(top.kind, top.outline.body_length)
    return replace(top, arching=arching.preset(top.outline, height, d.edge))


TOPS = {
    "violin": lambda: preset_top("violin", 0.356),
    "small violin": lambda: preset_top("violin", 0.28),
    "violin without holes": lambda: holeless(preset_top("violin", 0.356)),
    "violin with slots, even": lambda: even(arched(slotted(preset_top("violin", 0.350)), 15e-3), 3e-3),
    "flat violin with slots": lambda: flat(slotted(preset_top("violin", 0.356)), 3e-3),
    "high violin": lambda: arched(preset_top("violin", 0.354), 21e-3),
    "viola": lambda: preset_top("viola", 0.405),
    "low viola, soft across": lambda: with_wood(arched(preset_top("viola", 0.42), 13e-3), E_R=0.45e9),
    "cello": lambda: preset_top("cello", 0.755),
    "small flat cello": lambda: flat(preset_top("cello", 0.64), 4e-3),
}


def shares(top, fine=FINE, bar=None, fineness=1.0):
    """Error over printed band, and error in percent, modes 1 to 8, without and with a bar."""
    bar, out = bar or preset_bar(top), []
    model, finest = (top_model(top, f, bar=bar) for f in (fineness, fine))
    for one in (None, bar):
        table = plate_modes(model, one, band=True).table
        exact = finest.free_modes(one, 8).frequencies
        found, band = (table[name].to_numpy()[:8] for name in ("f_hz", "band_hz"))
        out.append(((found - exact) / band, 100 * (found / exact - 1)))
    return out


def tell(name, found):
    """Print a top's errors, in percent and in printed bands."""
    for label, (share, percent) in zip(("bare", "with bar"), found, strict=True):
        print(f"{name}, {label}: largest {np.abs(share).max():.2f} of the band")
        print("   percent " + " ".join(f"{v:6.2f}" for v in percent))
        print("   bands   " + " ".join(f"{v:6.2f}" for v in share), flush=True)


def main():
    """Print every top's errors."""
    for name in sys.argv[1:] or TOPS:
        tell(name, shares(TOPS[name]()))


if __name__ == "__main__":
    main()
