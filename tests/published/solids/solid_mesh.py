"""Quadratic brick meshes of a free rectangular plate, flat or arched, with or without a bar.

All lengths in metres. x runs along the plate (centred), y across it, z outwards. The plate is a structured
grid mapped from (x, y, zeta), zeta = 0 on the outer face and 1 on the inner face; the bar hangs below the
inner face and shares its nodes. Mid-side nodes lie on the exact surfaces.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

GROWTH = 0.7
JOINT, END = 0.25e-3, 0.8e-3  # element size (m) at the long edges and at the ends of the bar's joint

# Corner and mid-side nodes of a 20-node brick as steps on a grid with twice as many intervals as elements.
BRICK_STEPS = [
    (0, 0, 0), (2, 0, 0), (2, 2, 0), (0, 2, 0), (0, 0, 2), (2, 0, 2), (2, 2, 2), (0, 2, 2),
    (1, 0, 0), (2, 1, 0), (1, 2, 0), (0, 1, 0), (1, 0, 2), (2, 1, 2), (1, 2, 2), (0, 1, 2),
    (0, 0, 1), (2, 0, 1), (2, 2, 1), (0, 2, 1),
]  # fmt: skip


@dataclass(frozen=True)
class Mesh:
    """A 20-node brick mesh.

    Attributes
    ----------
    points : ndarray, shape (n_nodes, 3)
        Node coordinates in m.
    plate, bar : ndarray, shape (n_elements, 20)
        Rows of `points` of each brick; `bar` may have no rows.
    grid : ndarray, shape (2 nx + 1, 2 ny + 1, 2 nz + 1)
        Rows of `points` on the plate's grid, -1 where no node is; last index 0 = inner face.
    counts : dict
        Elements along x, across y, through the plate, across the bar, up the bar.
    """

    points: np.ndarray
    plate: np.ndarray
    bar: np.ndarray
    grid: np.ndarray
    counts: dict


def surface(case: dict) -> Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]:
    """Outer surface of a case: a function (x, y) -> (z in m, unit outward normal with last axis 3)."""
    half_a, half_b = case["plate"]["a"] / 2, case["plate"]["b"] / 2
    kind, height = case["arch"]["kind"], case["arch"]["height"]
    along = 1.0 if kind in ("bi_parabola", "parabola_along_x") else 0.0
    across = 1.0 if kind in ("bi_parabola", "parabola_across_y") else 0.0

    def outer(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        fx, fy = 1 - along * (x / half_a) ** 2, 1 - across * (y / half_b) ** 2
        zx = -2 * height * along * x / half_a**2 * fy
        zy = -2 * height * across * y / half_b**2 * fx
        normal = np.stack([-zx, -zy, np.ones_like(zx)], axis=-1)
        return height * fx * fy, normal / np.linalg.norm(normal, axis=-1, keepdims=True)

    return outer


def thickness(case: dict, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Thickness of the plate in m at plan positions x, y."""
    spec, half_a, half_b = case["thickness"], case["plate"]["a"] / 2, case["plate"]["b"] / 2
    bump = (1 - (x / half_a) ** 2) * (1 - (y / half_b) ** 2) if spec["kind"] == "bi_parabola" else 0.0 * x
    return spec["edge"] + (spec["middle"] - spec["edge"]) * bump


def bar_height(bar: dict, x: np.ndarray) -> np.ndarray:
    """Height of the bar in m at positions x: h_e + (h_b - h_e)(1 - |s|^p), s from -1 to 1 along the bar."""
    s = (x - (bar["x0"] + bar["x1"]) / 2) / ((bar["x1"] - bar["x0"]) / 2)
    return bar["height_end"] + (bar["height_mid"] - bar["height_end"]) * (1 - np.abs(s) ** bar["power"])


def grid_lines(
    sizes: dict[float, float], largest: float, refine: float, fixed: dict | None = None
) -> np.ndarray:
    """Element boundaries and mid-sides, fine at the breakpoints and growing away from them.

    Parameters
    ----------
    sizes : dict
        Position (m) of each breakpoint, always an element boundary, to the element size (m) wanted there.
    largest : float
        Largest element in m. It and `sizes` hold for `refine` = 1.
    refine : float
        Divides all sizes.
    fixed : dict, optional
        Number of elements in the segment that starts at a key, where a node at its middle is needed.
    """
    breaks, lines = sorted(sizes), [np.array([min(sizes)])]
    for lo, hi in pairwise(breaks):
        fine = np.linspace(lo, hi, 4001)
        near = np.minimum(sizes[lo] + GROWTH * (fine - lo), sizes[hi] + GROWTH * (hi - fine))
        density = 1 / np.minimum(largest, near)
        total = np.concatenate([[0], np.cumsum((density[1:] + density[:-1]) / 2 * np.diff(fine))])
        n = (fixed or {}).get(lo) or max(1, round(refine * total[-1]))
        ends = np.interp(np.linspace(0, total[-1], n + 1), total, fine)
        lines.append(half_steps(ends)[1:])
    return np.concatenate(lines)


def half_steps(ends: np.ndarray) -> np.ndarray:
    """Element boundaries with the mid-sides put between them."""
    out = np.empty(2 * len(ends) - 1)
    out[::2], out[1::2] = ends, (ends[1:] + ends[:-1]) / 2
    return out


def bricks(grid: np.ndarray) -> np.ndarray:
    """Return the connectivity (n, 20) of all bricks on a node grid with two intervals per element."""
    nx, ny, nz = ((n - 1) // 2 for n in grid.shape)
    i, j, k = (2 * v.ravel() for v in np.meshgrid(range(nx), range(ny), range(nz), indexing="ij"))
    return np.stack([grid[i + di, j + dj, k + dk] for di, dj, dk in BRICK_STEPS], axis=1)


def layers(refine: float, graded: bool) -> np.ndarray:
    """Boundaries of the plate's layers from the inner face (0) to the outer (1); 0.5 is one of them."""
    n_upper = max(1, round(refine if graded else 1.5 * refine))
    upper = 1 + np.arange(n_upper + 1) / n_upper
    n = max(1, round(2 * refine)) if graded else n_upper
    lower = (np.arange(n + 1) / n) ** (1.8 if graded else 1.0)  # finer at the bar's joint
    return np.concatenate([lower[:-1], upper]) / 2


def hang_bar(bar: dict, points: np.ndarray, root: np.ndarray, refine: float) -> tuple[np.ndarray, np.ndarray]:
    """Points of the bar below the plate's nodes `root` (nx, ny, 1), and the bar's node grid, lowest first."""
    top = points[root[:, :, 0]]
    keel = top[:, top.shape[1] // 2]
    bottom = keel[:, 2] - bar_height(bar, np.clip(keel[:, 0], bar["x0"], bar["x1"]))
    tall = bar["height_mid"]
    down = grid_lines({0.0: JOINT, tall: tall}, tall / 4, refine)[1:] / tall
    depth = (top[..., 2] - bottom[:, None])[..., None] * down
    lower = np.broadcast_to(top[:, :, None], (*depth.shape, 3)).copy()
    lean = bar.get("lean", 0.0)  # of the free edge towards plus y; heights are measured down the leaning bar
    lower[..., 1] += depth * np.sin(lean)
    lower[..., 2] -= depth * np.cos(lean)
    new = len(points) + np.arange(depth.size).reshape(depth.shape)
    return lower.reshape(-1, 3), np.concatenate([new[..., ::-1], root], axis=2)


def build(case: dict, refine: float) -> Mesh:
    """Mesh a case; `refine` divides all element sizes."""
    half_a, half_b, bar, patch = case["plate"]["a"] / 2, case["plate"]["b"] / 2, case["bar"], case.get("load")
    x_sizes, y_sizes = {-half_a: 3e-3, half_a: 3e-3}, {-half_b: 1.5e-3, half_b: 1.5e-3}
    even = 2 * max(1, round(refine))
    x_fixed, y_fixed = {}, {}
    if patch:
        px, py, wx, wy = patch["x"], patch["y"], patch["size_x"] / 2, patch["size_y"] / 2
        x_sizes |= {px - wx: 2e-3, px + wx: 2e-3}
        y_sizes |= {py - wy: 2e-3, py + wy: 2e-3}
        x_fixed[px - wx], y_fixed[py - wy] = even, 2 * even
    if bar:
        slope = (bar["y1"] - bar["y0"]) / (bar["x1"] - bar["x0"])
        middle = (bar["y0"] + bar["y1"]) / 2
        half_width = bar["width"] / 2 * np.hypot(1, slope)  # width is square to the bar, mesh lines along y
        x_sizes |= {bar["x0"]: END, bar["x1"]: END}
        y_sizes |= {middle - half_width: JOINT, middle + half_width: JOINT}
        y_fixed[middle - half_width] = 2 * round(3 * refine)
    gx = grid_lines(x_sizes, 14e-3, refine, x_fixed)
    gy = grid_lines(y_sizes, 9e-3, refine, y_fixed)
    zeta = 1 - half_steps(layers(refine, bool(bar)))
    nz = len(zeta) // 2
    target_x, target_y = np.meshgrid(gx, gy, indexing="ij")

    pull_x = pull_y = np.zeros_like(target_x)
    if bar:
        after = min(v for v in y_sizes if v > middle + half_width + 1e-9)
        ramp = np.interp(gy, [-half_b, middle - half_width, middle + half_width, after], [0, 1, 1, 0])
        pull_y = np.broadcast_to(ramp, target_x.shape)
        target_y = target_y + slope * (gx[:, None] - (bar["x0"] + bar["x1"]) / 2) * pull_y
        along = np.interp(gx, [-half_a, bar["x0"], bar["x1"], half_a], [0, 1, 1, 0])
        pull_x = pull_y * along[:, None] if bar["x0"] > -half_a + 1e-9 else pull_x
    # Under the bar the surface parameters are shifted so that the *inner* face has the bar's plan position.
    x, y = target_x, target_y
    outer = surface(case)
    for _ in range(12):
        _, normal = outer(x, y)
        h = thickness(case, x, y)
        x, y = target_x + pull_x * h * normal[..., 0], target_y + pull_y * h * normal[..., 1]
    z, normal = outer(x, y)
    h = thickness(case, x, y)
    if case["thickness"]["symmetric"]:
        z = z + h / 2
    top = np.stack([x, y, z], axis=-1)
    points = (top[:, :, None] - (h[..., None] * normal)[:, :, None] * zeta[:, None]).reshape(-1, 3)
    grid = np.arange(len(points)).reshape(len(gx), len(gy), len(zeta))
    plate, rods = bricks(grid), np.zeros((0, 20), dtype=int)
    n_up = 0
    if bar:
        ix = np.flatnonzero((gx > bar["x0"] - 1e-9) & (gx < bar["x1"] + 1e-9))
        iy = np.flatnonzero(np.abs(gy - middle) < half_width + 1e-9)
        lower, bar_grid = hang_bar(bar, points, grid[np.ix_(ix, iy, [0])], refine)
        rods, n_up = bricks(bar_grid), bar_grid.shape[2] // 2
        points = np.concatenate([points, lower])
    used = np.zeros(len(points), dtype=bool)
    used[plate] = used[rods] = True
    number = np.where(used, np.cumsum(used) - 1, -1)
    across = y_fixed[middle - half_width] if bar else 0
    counts = {"x": len(gx) // 2, "y": len(gy) // 2, "through_plate": nz, "across_bar": across, "up_bar": n_up}
    return Mesh(points[used], number[plate], number[rods], number[grid], counts)
