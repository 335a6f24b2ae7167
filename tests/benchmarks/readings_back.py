"""How far a top moves that was sampled exactly and read back: arching, thickness and outline, one by one.

Run ``python -m tests.benchmarks.readings_back``; takes a minute or so. The tops are unlike what stands in
between readings, or nothing would be seen: a violin with a sunk bass side, and a viola that is a dome.
"""

from dataclasses import replace

import numpy as np
import shapely

from platemodel.instrument import arching, thickness
from platemodel.instrument.dimensions import dimensions
from platemodel.instrument.field import SmoothField
from platemodel.instrument.outline import Outline
from platemodel.instrument.presets import preset_top
from platemodel.instrument.rim import RimGrid
from platemodel.study.top.model import top_model
from platemodel.study.top.plate_modes import plate_modes

FINENESS = 0.5
PITCH = 0.055  # of the body length, 20 mm for a violin
TRACING = 0.009  # of the body length, 3 mm for a violin


def _bump(grid, x, y, reach):
    return np.exp(-(((grid.X - x) ** 2 + (grid.Y - y) ** 2) / reach**2))


def sunk_violin():
    """Return a violin with its bass side sunk by 1.2 mm, worn thin in one place, left thick in another."""
    top = preset_top("violin", 0.356)
    grid = RimGrid(top.outline)
    inside = 1 - grid.edge_weight(0.1 * top.outline.body_length)
    z = top.arching.value(grid.X, grid.Y) - 1.2e-3 * inside * _bump(grid, 0.19, -0.035, 0.07)
    h = top.thickness.value(grid.X, grid.Y)
    h = h - 0.3e-3 * _bump(grid, 0.28, 0.03, 0.05) + 0.3e-3 * _bump(grid, 0.09, -0.04, 0.06)
    return replace(top, arching=SmoothField(grid.x, grid.y, z), thickness=SmoothField(grid.x, grid.y, h))


def domed_viola():
    """Return a viola that rises evenly from its edge, and grows thinner towards it."""
    top = preset_top("viola", 0.405)
    d = dimensions("viola", 0.405)
    grid = RimGrid(top.outline)
    t = np.clip(grid.distance / (0.3 * d.body_length), -0.5, 1)
    z = d.edge + grid.smoothed((d.arch - d.edge) * np.sin(np.pi * t / 2), 0.02 * d.body_length)
    h = 3.4e-3 - 0.9e-3 * grid.smoothed(1 - t, 0.02 * d.body_length) + 0.4e-3 * np.sin(12 * grid.X)
    return replace(top, arching=SmoothField(grid.x, grid.y, z), thickness=SmoothField(grid.x, grid.y, h))


TOPS = {"sunk violin": sunk_violin, "domed viola": domed_viola}


def places(top, pitch=PITCH):
    """Places of readings: a grid over the plate, and one row just inside the rim: two arrays (n,)."""
    length = top.outline.body_length
    x0, _, x1, _ = top.outline.box()
    step = pitch * length
    x, y = (a.ravel() for a in np.meshgrid(np.arange(x0, x1, step), np.arange(-10, 11) * step, indexing="ij"))
    inner = top.outline.polygon.buffer(-0.02 * length)
    keep = shapely.contains_xy(inner, x, y)
    line = top.outline.polygon.buffer(-0.005 * length).exterior
    rim = np.array([line.interpolate(s).coords[0] for s in np.arange(0, line.length, step)])
    return np.r_[x[keep], rim[:, 0]], np.r_[y[keep], rim[:, 1]]


def read_back(top, noise=0.0, seed=1):
    """Return the top with its arching, its thickness, its outline and all three read back from samples."""
    rng = np.random.default_rng(seed)
    x, y = places(top)
    edge = dimensions(top.kind, top.outline.body_length).edge
    z, h = (f.value(x, y) + noise * rng.standard_normal(len(x)) for f in (top.arching, top.thickness))
    line = top.outline.polygon.exterior
    step = TRACING * top.outline.body_length
    corners = [line.project(shapely.Point(p)) for p in top.outline.points[top.outline.corners]]
    along = np.r_[np.arange(0, line.length, step), corners]  # a tracing never leaves out a corner
    traced = np.array([line.interpolate(s).coords[0] for s in np.sort(along)])
    parts = {
        "arching": arching.from_points(top.outline, x, y, z, edge),
        "thickness": thickness.from_points(top.outline, x, y, h, edge),
        "outline": Outline.from_points(traced),
    }
    out = {name: replace(top, **{name: part}) for name, part in parts.items()}
    return {**out, "all": replace(top, **parts)}


def frequencies(top):
    """Modes 1 to 8 of the bare plate, Hz."""
    return plate_modes(top_model(top, FINENESS)).table["f_hz"].to_numpy()[:8]


def main():
    """Print by how many percent each mode moves."""
    for name, make in TOPS.items():
        top = make()
        true = frequencies(top)
        for what, read in read_back(top).items():
            moved = 100 * (frequencies(read) / true - 1)
            print(f"{name}, {what:9s} " + " ".join(f"{v:6.2f}" for v in moved), flush=True)


if __name__ == "__main__":
    main()
