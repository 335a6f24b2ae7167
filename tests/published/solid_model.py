"""The shell-with-rib model of the plates that were computed with solid elements (solids/solid_cases.json)."""

import json
from pathlib import Path

import numpy as np
from scipy.interpolate import RectBivariateSpline
from skfem import MeshTri

from platemodel.fem.rib import Rib, RibWood
from platemodel.fem.seat import Seat
from platemodel.fem.section import Section
from platemodel.fem.shell import Shell
from platemodel.fem.supports import point_rows
from platemodel.fem.surface import Surface, SurfacePoints
from platemodel.study.top.meshed_top import square_height
from platemodel.wood.orthotropic import Orthotropic

CASES = json.loads((Path(__file__).parent / "solids" / "solid_cases.json").read_text())["cases"]


def wood(material):
    keys = ("E_L", "E_R", "E_T", "G_LR", "G_LT", "G_RT", "nu_LR", "nu_LT", "nu_RT")
    return Orthotropic(name=material["name"], density=material["rho"], **{k: material[k] for k in keys})


def outer(case, x, y):
    """Height of the outer face and its slopes."""
    arch, a, b = case["arch"], case["plate"]["a"], case["plate"]["b"]
    f, fx = 1 - (2 * x / a) ** 2, -8 * x / a**2
    g, gy = 1 - (2 * y / b) ** 2, -8 * y / b**2
    height, kind = arch.get("height", 0.0), arch["kind"]
    if kind == "flat":
        return np.zeros((3, *np.shape(x)))
    if kind == "bi_parabola":
        return height * np.array([f * g, fx * g, f * gy])
    if kind == "parabola_along_x":
        return height * np.array([f, fx, 0 * y])
    return height * np.array([g, 0 * x, gy])


def thickness(case, x, y):
    t, a, b = case["thickness"], case["plate"]["a"], case["plate"]["b"]
    shape = (1 - (2 * x / a) ** 2) * (1 - (2 * y / b) ** 2) if t["kind"] == "bi_parabola" else np.ones_like(x)
    return t["edge"] + (t["middle"] - t["edge"]) * shape


def face_point(case, x, y, depth):
    """Point at a fraction ``depth`` of the thickness below the outer face: (3, ...)."""
    if case["thickness"]["symmetric"]:
        return np.array([x, y, (0.5 - depth) * thickness(case, x, y)])
    z, zx, zy = outer(case, x, y)
    normal = np.array([-zx, -zy, np.ones_like(zx)]) / np.sqrt(1 + zx**2 + zy**2)
    return np.array([x, y, z]) - depth * thickness(case, x, y) * normal


def midsurface(case):
    """Midsurface over the plan of the outer face, from quintic splines of its three coordinates."""
    a, b = case["plate"]["a"], case["plate"]["b"]
    x, y = np.linspace(-0.55 * a, 0.55 * a, 61), np.linspace(-0.55 * b, 0.55 * b, 41)
    grid = face_point(case, *np.meshgrid(x, y, indexing="ij"), 0.5)
    splines = [RectBivariateSpline(x, y, g, kx=5, ky=5, s=0) for g in grid]
    orders = ((0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2))

    def evaluate(u, v):
        return SurfacePoints(*(np.stack([s.ev(u, v, *d) for s in splines], axis=1) for d in orders))

    return Surface(evaluate)


def lines(case, nx, ny):
    """Mesh lines: even, with rows at the rim (edge layer of twist), beside the bar and at its ends."""
    a, b = case["plate"]["a"], case["plate"]["b"]
    x, y = np.linspace(-a / 2, a / 2, nx + 1), np.linspace(-b / 2, b / 2, ny + 1)
    bar = case.get("bar")
    if bar:
        middle, w = 0.5 * (bar["y0"] + bar["y1"]), bar["width"]
        y = _with_rows(y, middle + w * np.array([-1.6, -0.8, -0.5, 0.5, 0.8, 1.6]), 2.2 * w)
        for end in (bar["x0"], bar["x1"]):
            if abs(end) < a / 2 - 3 * w:
                x = _with_rows(x, end + w * np.array([-2.2, -0.7, -0.25, 0.0, 0.25, 0.7, 2.2]), 3.5 * w)
    edge = np.array([0.0015, 0.0045])
    x = np.sort(np.concatenate([x, edge - a / 2, a / 2 - edge]))
    return x, np.sort(np.concatenate([y, edge - b / 2, b / 2 - edge]))


def _with_rows(lines, rows, clear):
    """Replace the mesh lines near some rows by the rows."""
    return np.sort(np.append(lines[np.abs(lines - rows.mean()) > clear], rows))


def seat_line(case, bar):
    """Ends of the bar's middle line in the parameter plane (plan of the outer face)."""
    limit = 0.5 * np.array([case["plate"]["a"], case["plate"]["b"]]) * (1 - 2e-3)
    ends = []
    for target in np.array([[bar["x0"], bar["y0"]], [bar["x1"], bar["y1"]]]):
        u = target.copy()
        for _ in range(20):
            u = np.clip(u + target - face_point(case, *u, 1.0)[:2], -limit, limit)
        ends.append(u)
    return ends


def model(case, nx=12, ny=9, shear=True):
    """Shell and ribs of a case."""
    material = wood(case["material"])
    c, s = np.cos(case.get("run_out", 0.0)), np.sin(case.get("run_out", 0.0))
    axes = np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]]) if case["grain"] == "carved" else None
    section = Section(lambda x, y: thickness(case, x, y), material.compliance(), material.density, axes=axes)
    mesh = MeshTri.init_tensor(*lines(case, nx, ny))
    shell = Shell(mesh, midsurface(case), section, shear=shear)
    bar = case.get("bar")
    if not bar:
        return shell, ()
    start, end = seat_line(case, bar)
    seat = Seat(shell, start, end, bar["width"])
    bar_wood = wood(case["bar_material"])
    angle = np.arctan2(bar["y1"] - bar["y0"], bar["x1"] - bar["x0"])
    c, s = np.cos(angle), np.sin(angle)
    along, across, normal = (seat.axes[:, i] for i in range(3))
    position, half = 2 * seat.fraction - 1, 0.5 * (bar["x1"] - bar["x0"])
    power, rise = bar["power"], bar["height_mid"] - bar["height_end"]
    upright = bar["height_end"] + rise * (1 - np.abs(position) ** power)
    taper = -rise * power * np.abs(position) ** (power - 1) * np.sign(position) / half
    height = square_height(upright, along, taper)
    rib = Rib(
        seat,
        height,
        RibWood(bar_wood.compliance(), bar_wood.density, np.array([[c, s, 0], [-s, c, 0], [0, 0, 1.0]])),
        lean=np.arctan2(across[:, 2], normal[:, 2]) - bar.get("lean", 0.0),
        thickness=bar["width"] * np.cos(bar.get("lean", 0.0)),  # the solids' flanks are that far apart
    )
    return shell, (rib,)


def load_vector(shell, load):
    """Generalised forces of a patch load spread evenly over its plan area."""
    xi, weight = np.polynomial.legendre.leggauss(4)
    x, y = np.meshgrid(load["x"] + 0.5 * load["size_x"] * xi, load["y"] + 0.5 * load["size_y"] * xi)
    rows = point_rows(shell, np.stack([x.ravel(), y.ravel()]), [0.0, 0.0, 1.0])
    return rows.T @ (load["force_z"] * 0.25 * np.outer(weight, weight).ravel())
