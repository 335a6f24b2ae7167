"""CalculiX (`ccx`): the body as 20-node bricks C3D20R, the top alone as 8-node shells S8R."""

import os
import re
import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from platemodel.study.top.meshed_top import bar_axes
from tests.benchmarks.tools.plan import BAR, Body, Plan

RIGID = 6
# Eight plan nodes of the three quadrilaterals of a triangle, in barycentric weights
_CORNER = np.eye(3)
QUADS = []
for _k in range(3):
    _v, _a, _b, _c = _CORNER[_k], _CORNER[(_k + 1) % 3], _CORNER[(_k + 2) % 3], np.full(3, 1 / 3)
    _ring = [_v, (_v + _a) / 2, _c, (_v + _b) / 2]
    QUADS.append(_ring + [(p + q) / 2 for p, q in zip(_ring, [*_ring[1:], _ring[0]], strict=True)])
QUADS = np.array(QUADS)  # (3, 8, 3)


@dataclass(frozen=True)
class Found:
    """What a tool answered.

    Attributes
    ----------
    frequencies : array (8,)
        Elastic modes, Hz.
    unknowns : int
    seconds : float
        Of one processor, without meshing.
    """

    frequencies: np.ndarray
    unknowns: int
    seconds: float


def version() -> str | None:
    """Version of the solver on the path; None without one."""
    if shutil.which("ccx") is None:
        return None
    text = subprocess.run(["ccx", "-v"], capture_output=True, text=True, check=False).stdout
    return re.search(r"Version (\S+)", text).group(1)


def quadrilaterals(plan: Plan):
    """Plan nodes (2, n), quadrilaterals (k, 8), corners first, and the part of each (k,)."""
    flat = QUADS.reshape(-1, 3)
    straight = plan.at(flat, curved=False).reshape(-1, 2)
    _, first, number = np.unique(
        np.round(straight / 1e-7).astype(np.int64), axis=0, return_index=True, return_inverse=True
    )
    nodes = plan.at(flat).reshape(-1, 2)[first].T
    return nodes, number.reshape(-1, 8), np.repeat(plan.part, 3)


def solid_mesh(body: Body, plan: Plan, layers: int, bar_layers: int):
    """Nodes (3, n), bricks of the plate (k, 20) and of the bar (l, 20)."""
    nodes, quads, part = quadrilaterals(plan)
    below = 2 * bar_layers if body.bar is not None else 0
    levels = np.r_[np.linspace(-1, 0, below + 1)[:-1], np.linspace(0, 1, 2 * layers + 1)]

    def stack(faces, first, count):
        out = []
        for k in range(first, first + 2 * count, 2):
            low, middle, high = (faces + nodes.shape[1] * j for j in (k, k + 1, k + 2))
            out.append(np.hstack([low[:, :4], high[:, :4], low[:, 4:], high[:, 4:], middle[:, :4]]))
        return np.concatenate(out) if out else np.zeros((0, 20), dtype=int)

    plate, rod = stack(quads, below, layers), stack(quads[part == BAR], 0, below // 2)
    used, number = np.unique(np.concatenate([plate, rod]), return_inverse=True)
    number = number.reshape(-1, 20)
    points = body.place(nodes[:, used % nodes.shape[1]], levels[used // nodes.shape[1]])
    return points, number[: len(plate)], number[len(plate) :]


def material_card(name, wood):
    """Nine engineering constants (1 = L, 2 = R, 3 = T) and density."""
    first = (wood.E_L, wood.E_R, wood.E_T, wood.nu_LR, wood.nu_LT, wood.nu_RT, wood.G_LR, wood.G_LT)
    numbers = ", ".join(f"{v:.10g}" for v in first)
    return (
        f"*MATERIAL, NAME={name}\n*ELASTIC, TYPE=ENGINEERING CONSTANTS\n{numbers}\n{wood.G_RT:.10g}, 20.\n"
        f"*DENSITY\n{wood.density:.10g}\n"
    )


def orientation_card(name, axes):
    """Axes of wood, rows L, R, T in space."""
    numbers = ", ".join(f"{v:.12g}" for v in axes[:2].ravel())
    return f"*ORIENTATION, NAME={name}, SYSTEM=RECTANGULAR\n{numbers}\n"


def _nodes(points):
    rows = (f"{k}, {x:.12e}, {y:.12e}, {z:.12e}" for k, (x, y, z) in enumerate(points.T, start=1))
    return "*NODE, NSET=NALL\n" + "\n".join(rows) + "\n"


def _elements(kind, name, numbers, first):
    rows = []
    for k, row in enumerate(numbers + 1, start=first):
        cells = [str(v) for v in (k, *row)]
        rows.append(", ".join(cells[:12]) + (",\n" + ", ".join(cells[12:]) if len(cells) > 12 else ""))
    return f"*ELEMENT, TYPE={kind}, ELSET={name}\n" + "\n".join(rows) + "\n"


def _step(count):
    return f"*STEP\n*FREQUENCY\n{RIGID + count}\n*END STEP\n"


def solid_deck(
    body: Body, plan: Plan, layers: int, bar_layers: int = 4, count: int = 8, bent: bool = False
) -> str:
    """Input file of the free body as bricks.

    Parameters
    ----------
    body : Body
    plan : Plan
    layers, bar_layers : int
        Of bricks through the plate and up the bar.
    count : int
        Elastic modes.
    bent : bool
        Lay the plate's grain into the surface, brick by brick, instead of carving it.
    """
    points, plate, rod = solid_mesh(body, plan, layers, bar_layers)
    text = _nodes(points) + _elements("C3D20R", "EPLATE", plate, 1)
    text += material_card("WOOD", body.top.wood)
    text += _bent_sections(body, plan, layers) if bent else _section("PLATE", "WOOD", body.top.grain_axes())
    if len(rod):
        text += _elements("C3D20R", "EBAR", rod, len(plate) + 1)
        text += material_card("BARWOOD", body.bar.wood) + _section("BAR", "BARWOOD", bar_axes(body.bar))
    return text + _step(count)


def _section(name, material, axes):
    return (
        orientation_card(f"O{name}", axes)
        + f"*SOLID SECTION, ELSET=E{name}, MATERIAL={material}, ORIENTATION=O{name}\n"
    )


def _bent_sections(body, plan, layers):
    """Sections of the columns of bricks, each with its own axes: L in the surface towards x, T normal."""
    nodes, quads, _ = quadrilaterals(plan)
    _, slope_x, slope_y = body.top.midsurface().gradient(*nodes[:, quads].mean(axis=2))
    text = ""
    for k, (a, b) in enumerate(zip(slope_x, slope_y, strict=True)):
        normal = np.array([-a, -b, 1.0]) / np.sqrt(1 + a**2 + b**2)
        along = np.array([1.0, 0.0, 0.0]) - normal[0] * normal
        along /= np.linalg.norm(along)
        column = ", ".join(str(k + 1 + layer * len(quads)) for layer in range(layers))
        text += f"*ELSET, ELSET=E{k}\n{column}\n"
        text += _section(str(k), "WOOD", np.array([along, np.cross(normal, along), normal]))
    return text


def shell_deck(body: Body, plan: Plan, count: int = 8) -> str:
    """Input file of the free top without bar as shells; the solver turns each into one layer of C3D20R."""
    nodes, quads, _ = quadrilaterals(plan)
    points = body.place(nodes, np.full(nodes.shape[1], 0.5))
    thickness = body.top.thickness.value(*nodes)
    text = _nodes(points) + _elements("S8R", "EALL", quads, 1)
    text += material_card("WOOD", body.top.wood) + orientation_card("OPLATE", body.top.grain_axes())
    text += "*SHELL SECTION, ELSET=EALL, MATERIAL=WOOD, ORIENTATION=OPLATE, NODAL THICKNESS\n0.003\n"
    text += "*NODAL THICKNESS\n" + "".join(f"{k}, {h:.10e}\n" for k, h in enumerate(thickness, start=1))
    return text + _step(count)


def spent() -> float:
    """Processor seconds of all programs that this one has run."""
    return sum(os.times()[2:4])


def run(deck: str, count: int = 8) -> Found:
    """Run the solver on one thread.

    Raises
    ------
    RuntimeError
        It wrote no frequencies.
    """
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "job.inp").write_text(deck)
        env = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
        start = spent()
        done = subprocess.run(
            ["ccx", "-i", "job"], cwd=folder, env=env, capture_output=True, text=True, check=False
        )
        seconds = spent() - start
        data = Path(folder) / "job.dat"
        text = data.read_text() if data.exists() else ""
    return Found(frequencies(text, done.stdout, count), unknowns(done.stdout), seconds)


def frequencies(text: str, log: str = "", count: int = 8) -> np.ndarray:
    """Elastic frequencies in Hz from the solver's table; the six rigid motions are left out."""
    table = re.search(r"E I G E N V A L U E   O U T P U T(.*?)(P A R T|\Z)", text, re.DOTALL)
    if table is None:
        msg = f"the solver wrote no eigenvalues; its last words: {log[-500:]}"
        raise RuntimeError(msg)
    values = [line.split() for line in table.group(1).splitlines() if re.match(r"\s+\d+\s", line)]
    # number, eigenvalue, rad/s, Hz, imaginary part; rigid motions may come out as small negatives
    hz = np.sort([abs(float(v[1])) ** 0.5 / (2 * np.pi) for v in values])
    return hz[RIGID : RIGID + count]


def unknowns(log: str) -> int:
    """Number of equations that the solver reports."""
    found = re.search(r"number of equations\s+(\d+)", log)
    return int(found.group(1)) if found else 0
