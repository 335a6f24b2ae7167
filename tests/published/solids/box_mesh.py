"""Quadratic brick meshes of half a closed box: two plates on ribs with linings, with bar and blocks.

Lengths in metres; x along the box from its plane of symmetry, y across, z upwards from the top's inner face
at its edge. The box is a grid of lines in plan and of levels upwards, with a material (or none) for each
cell; the bar hangs below the top on its own levels and shares its nodes.
"""

from dataclasses import dataclass

import numpy as np
from solid_mesh import JOINT, bricks, grid_lines, half_steps, layers

EDGE, JOINT_END, BLOCK_EDGE, PATCH_EDGE = 1e-3, 0.8e-3, 1.2e-3, 2e-3
PARTS = ("top", "back", "side_rib", "end_rib", "side_lining", "end_lining", "block", "bar")


@dataclass(frozen=True)
class BoxMesh:
    """Points (n, 3), 20-node bricks of each part, and the box's grid of nodes (-1 where none is).

    ``lines`` are the grid's x, y and levels, ``middle`` the levels of the middle of back and top.
    """

    points: np.ndarray
    parts: dict
    grid: np.ndarray
    lines: tuple
    middle: tuple


def rise(box, x, y):
    """Arch of the top over its edge, level at the edges; the back's goes the other way."""
    return box["arch"] * (1 - (2 * x / box["length"]) ** 2) ** 2 * (1 - (2 * y / box["width"]) ** 2) ** 2


def plan_lines(box, refine):
    """Mesh lines along (from the middle) and across, mid-sides included."""
    half, wide, feet = box["length"] / 2, box["width"] / 2, box["feet"]
    insets = np.cumsum([box["overhang"], box["rib"], box["lining"]["width"]])
    x = {0.0: 4e-3, half: EDGE, feet["size_x"] / 2: PATCH_EDGE} | {half - s: JOINT for s in insets}
    y = {-wide: EDGE, wide: EDGE}
    for sign in (-1, 1):
        y |= {sign * (wide - s): JOINT for s in insets}
    fixed = {}
    for foot in ("bass", "treble"):
        for sign in (-1, 1):
            y[feet[foot] + sign * feet["size_y"] / 2] = PATCH_EDGE
    if box["posts"]:
        post, s = box["posts"], box["posts"]["size"] / 2
        x |= {post["x"] - s: PATCH_EDGE, post["x"] + s: PATCH_EDGE}
        y |= {post["y"] - s: PATCH_EDGE, post["y"] + s: PATCH_EDGE}
    if box["blocks"]:
        x[half - box["overhang"] - box["rib"] - box["blocks"]["depth"]] = BLOCK_EDGE
        y |= {sign * box["blocks"]["half_width"]: BLOCK_EDGE for sign in (-1, 1)}
    if box["bar"]:
        bar = box["bar"]
        x[bar["half"]] = JOINT_END
        y |= {bar["y"] + sign * bar["width"] / 2: JOINT for sign in (-1, 1)}
        fixed[bar["y"] - bar["width"] / 2] = 2 * round(3 * refine)
    return grid_lines(x, 14e-3, refine), grid_lines(y, 9e-3, refine, fixed)


def levels(box, refine):
    """Levels of the flat box from the back's outer face to the top's, and how many belong to each part."""
    high, lining = box["height"], box["lining"]["height"]
    plate = half_steps(layers(refine, True))  # 0 at the glued face
    wall = grid_lines({-high: JOINT, lining - high: 0.5e-3, -lining: 0.5e-3, 0.0: JOINT}, 5e-3, refine)
    lower = -high - box["back"] * plate[::-1]
    z = np.concatenate([lower[:-1], wall, box["top"] * plate[1:]])
    return z, len(plate) // 2, len(wall) // 2


def materials(box, gx, gy, z):
    """Part of each cell as an index into PARTS, -1 for none: (nx, ny, nz)."""
    x, y, z = np.meshgrid(gx[1::2], gy[1::2], z[1::2], indexing="ij")
    y = np.abs(y)
    inset = np.cumsum([box["overhang"], box["rib"], box["lining"]["width"]])
    along, across = box["length"] / 2 - x, box["width"] / 2 - y  # distance from the edges
    between = (z < 0) & (z > -box["height"])
    near = (z > -box["lining"]["height"]) | (z < box["lining"]["height"] - box["height"])
    within = (along > inset[0]) & (across > inset[0])
    part = np.full(x.shape, -1)
    end_lining = between & near & within & (along < inset[2])
    side_lining = between & near & within & (across < inset[2])
    part[end_lining], part[side_lining] = PARTS.index("end_lining"), PARTS.index("side_lining")
    if box["blocks"]:
        deep = inset[1] + box["blocks"]["depth"]
        part[between & within & (along < deep) & (y < box["blocks"]["half_width"])] = PARTS.index("block")
    part[between & within & (along < inset[1])] = PARTS.index("end_rib")
    part[between & within & (across < inset[1])] = PARTS.index("side_rib")
    part[z > 0], part[z < -box["height"]] = PARTS.index("top"), PARTS.index("back")
    return part


def build(box, refine):
    """Mesh one half of a box; `refine` divides all element sizes."""
    (gx, gy), (z, n_plate, n_wall) = plan_lines(box, refine), levels(box, refine)
    part = materials(box, gx, gy, z)
    x, y, flat = np.meshgrid(gx, gy, z, indexing="ij")
    share = np.clip(1 + 2 * flat / box["height"], -1, 1)
    points = np.stack([x, y, flat + share * rise(box, x, y)], axis=-1).reshape(-1, 3)
    grid = np.arange(len(points)).reshape(x.shape)
    every = bricks(grid)
    rods = {name: every[part.ravel() == k] for k, name in enumerate(PARTS[:-1])}
    if box["bar"]:
        bar, inner = box["bar"], 2 * (n_plate + n_wall)
        ix = np.flatnonzero(gx < bar["half"] + 1e-9)
        iy = np.flatnonzero(np.abs(gy - bar["y"]) < bar["width"] / 2 + 1e-9)
        root = grid[np.ix_(ix, iy, [inner])]
        tall = bar["height_end"] + (bar["height"] - bar["height_end"]) * (1 - (gx[ix] / bar["half"]) ** 2)
        top = points[root[..., 0]]
        keel = top[:, len(iy) // 2, 2] - tall
        down = grid_lines({0.0: JOINT, bar["height"]: bar["height"]}, bar["height"] / 4, refine)[1:]
        depth = (top[..., 2] - keel[:, None])[..., None] * down / bar["height"]
        lower = np.broadcast_to(top[:, :, None], (*depth.shape, 3)).copy()
        lower[..., 2] -= depth
        new = len(points) + np.arange(depth.size).reshape(depth.shape)
        rods["bar"] = bricks(np.concatenate([new[..., ::-1], root], axis=2))
        points = np.concatenate([points, lower.reshape(-1, 3)])
    used = np.zeros(len(points), dtype=bool)
    for nodes in rods.values():
        used[nodes] = True
    number = np.where(used, np.cumsum(used) - 1, -1)
    parts = {name: number[nodes] for name, nodes in rods.items() if len(nodes)}
    middle = (n_plate - 1, len(z) - 1 - (n_plate - 1))
    for k, at in zip(middle, (-box["height"] - box["back"] / 2, box["top"] / 2), strict=True):
        middle_off = np.abs(z - at)
        if middle_off.min() > 1e-9:
            msg = f"no level at {at}, next is level {middle_off.argmin()} (wanted about {k})"
            raise ValueError(msg)
    middle = tuple(int(np.abs(z - at).argmin()) for at in (-box["height"] - box["back"] / 2, box["top"] / 2))
    return BoxMesh(points[used], parts, number[grid], (gx, gy, z), middle)
