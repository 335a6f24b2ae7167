"""Does the printed band hold? Tops of unlike shape, bare and with the usual bar, against a mesh twice as
fine.

Run ``python -m tests.benchmarks.mesh_band [name ...]``; each top takes a minute or so.
"""

import sys
from dataclasses import replace

import numpy as np

from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.study.top.model import top_model
from platemodel.study.top.plate_modes import plate_modes

FINE = 2.0
# Kinds and body lengths, m; "bare of holes": the sound holes left out, so that the edge is the outline alone.
TOPS = {
    "violin": ("violin", 0.356, True),
    "small violin": ("violin", 0.28, True),
    "violin without holes": ("violin", 0.356, False),
    "viola": ("viola", 0.405, True),
    "cello": ("cello", 0.755, True),
}


def shares(kind, length, holes):
    """Error over printed band, modes 1 to 8, without and with a bar: two arrays."""
    top = preset_top(kind, length)
    if not holes:
        top = replace(top, sound_holes=())
    out = []
    for bar in (None, preset_bar(top)):
        table = plate_modes(top, bar, band=True).table
        exact = plate_modes(top_model(top, FINE, bar=bar), bar).table["f_hz"].to_numpy()[:8]
        found, band = (table[name].to_numpy()[:8] for name in ("f_hz", "band_hz"))
        out.append(((found - exact) / band, 100 * (found / exact - 1)))
    return out


def main():
    """Print every top's errors, in percent and in printed bands."""
    for name in sys.argv[1:] or TOPS:
        for label, (share, percent) in zip(("bare", "with bar"), shares(*TOPS[name]), strict=True):
            print(f"{name}, {label}: largest {np.abs(share).max():.2f} of the band")
            print("   percent " + " ".join(f"{v:6.2f}" for v in percent))
            print("   bands   " + " ".join(f"{v:6.2f}" for v in share), flush=True)


if __name__ == "__main__":
    main()
