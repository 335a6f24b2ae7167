"""Four free spruce plates that were measured: sizes, masses, constants and peaks of a published study."""

import numpy as np

from platemodel.fem.supports import point_rows
from platemodel.fem.system import System
from platemodel.wood import from_species
from platemodel.wood.closed_form import free_beam_root
from tests.published.cases.case import Case
from tests.published.cases.models import Z, plate

# length, width, thickness mm; mass g; E_L, E_R, G_LR GPa; peaks Hz of (1,1), (2,0), (2,1), (3,0)
PLATES = {
    "1L": (579.8, 213.4, 4.8, 236.0, 9.65, 0.783, 0.513, (47.2, 70.5, 120.8, 199.8)),
    "2L": (580.0, 217.2, 4.9, 256.0, 10.7, 0.976, 0.682, (51.5, 75.8, 127.8, 208.8)),
    "4L": (576.0, 216.2, 4.6, 225.6, 11.9, 1.01, 0.816, (54.2, 79.5, 135.2, 215.0)),
    "5L": (581.4, 217.6, 5.0, 272.8, 12.1, 0.999, 0.798, (56.8, 80.8, 140.2, 221.2)),
}
SHAPES = ((1, 1), (2, 0), (2, 1), (3, 0))


def beam_shape(nodes, s):
    """Shape of a free beam with a number of nodes, 0 and 1 being its rigid motions; s from 0 to 1."""
    if nodes < 2:
        return (np.ones_like(s), 2 * s - 1)[nodes]
    k = free_beam_root(nodes - 1)
    ratio = (np.cosh(k) - np.cos(k)) / (np.sinh(k) - np.sin(k))
    return np.cosh(k * s) + np.cos(k * s) - ratio * (np.sinh(k * s) + np.sin(k * s))


def likeness(deflection, x, y, nodes):
    """Square of the correlation of deflections on a grid (n, m) with a product of beam shapes."""
    shape = np.outer(beam_shape(nodes[0], x), beam_shape(nodes[1], y))
    return np.sum(shape * deflection) ** 2 / np.sum(shape**2) / np.sum(deflection**2)


def _peaks(length, width, thickness, mass, E_L, E_R, G_LR, _):
    a, b, h = 1e-3 * length, 1e-3 * width, 1e-3 * thickness
    wood = from_species(
        "tonewood spruce", density=1e-3 * mass / (a * b * h), E_L=1e9 * E_L, E_R=1e9 * E_R, G_LR=1e9 * G_LR
    )
    shell = plate(wood, h, a, b, 8, 4, shear=True)
    found = System(shell).modes(8)
    x, y = np.linspace(0.01, 0.99, 25), np.linspace(0.02, 0.98, 11)
    grid = np.stack([g.ravel() for g in np.meshgrid(a * x, b * y, indexing="ij")])
    w = (point_rows(shell, grid, Z) @ found.vectors[: shell.n_dofs]).reshape(25, 11, -1)
    like = np.array([[likeness(w[..., k], x, y, nodes) for k in range(8)] for nodes in SHAPES])
    assert np.all(like.max(axis=1) > 0.6), like.max(axis=1)
    return found.frequencies[like.argmax(axis=1)]


CASES = tuple(
    Case(
        id=f"M{name}",
        title=f"Measured spruce plate {name}",
        source="Badiane et al., J. Acoust. Soc. Am., 2023: sizes, mass and constants read; peaks read from "
        "the impulse "
        "records, within 0.5 Hz",
        status="read",
        conditions=f"{data[0]} x {data[1]} x {data[2]} mm, {data[3]} g, E_L {data[4]}, E_R {data[5]}, G_LR "
        f"{data[6]} "
        "GPa, other constants by the ratios of the species; all free, with shear. Labels are nodal lines "
        "across, "
        "along. The constants were fitted to the same plates, so this checks plate theory and peaks, not "
        "the wood.",
        unit="Hz",
        labels=tuple(f"{m},{n}" for m, n in SHAPES),
        published=data[-1],
        compute=lambda data=data: _peaks(*data),
        tolerance=(0.03, 0.03, 0.05, 0.03),
        reason="the study's own spread of E_L and G_LR is 2 to 8 %, 0.1 mm of thickness is 2 %; the third "
        "peak is "
        "identified by its place only",
    )
    for name, data in PLATES.items()
)
