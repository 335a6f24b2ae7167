"""A top's mesh cut finer, for drawing fields: lines on it are smooth and stop at the sound holes."""

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from platemodel.study.top.meshed_top import MeshedTop

CUTS = 2  # times that every triangle is cut in four; sides of about 5 mm on the default mesh of a violin


@dataclass(frozen=True, eq=False)
class DrawnPlate:
    """Points of a top in plan and the triangles between them.

    Attributes
    ----------
    points : array (2, n)
        m; on the meshed plate, its edges included.
    triangles : int array (m, 3)
    rows : sparse array (n, n_dofs)
        Give the displacement along the normal at the points.
    """

    points: np.ndarray
    triangles: np.ndarray
    rows: sparse.csr_array

    def lift(self, vector: np.ndarray) -> np.ndarray:
        """Displacement along the normal at the points, (n,), of a shape in the shell's DOFs."""
        return self.rows @ vector[: self.rows.shape[1]]

    def still_lines(self, values: np.ndarray) -> np.ndarray:
        """Where values at the points, (n,), pass zero: straight pieces as ends with x and y, (k, 2, 2)."""
        up = values > 0
        count = up[self.triangles].sum(axis=1)
        crossed = self.triangles[(count == 1) | (count == 2)]
        sign = up[crossed]
        lone = np.argmax(sign == (sign.sum(axis=1) == 1)[:, None], axis=1)
        each = np.arange(len(crossed))
        apex = crossed[each, lone]
        ends = [crossed[each, (lone + step) % 3] for step in (1, 2)]
        pieces = []
        for end in ends:
            share = values[apex] / (values[apex] - values[end])
            pieces.append(self.points[:, apex] + share * (self.points[:, end] - self.points[:, apex]))
        return np.stack(pieces).transpose(2, 0, 1)


def drawn_plate(model: MeshedTop) -> DrawnPlate:
    """Cut a top's mesh finer for drawing; made once a model."""
    return model.kept.get("drawn plate", lambda: _cut(model))


def _cut(model):
    shell = model.shell
    mesh = shell.mesh
    fine = mesh.refined(CUTS)
    # cutting puts the four parts of all triangles one after the other, so the remainder is the triangle
    parent = np.empty(fine.p.shape[1], dtype=int)
    parent[fine.t] = np.arange(fine.t.shape[1]) % mesh.t.shape[1]
    local = mesh.mapping().invF(fine.p[:, :, None], tind=parent)
    station = shell.station(local, parent)
    rows = shell.operator(station, station.axes[:, 2:3] @ station.displacement_rows())
    return DrawnPlate(fine.p, fine.t.T, sparse.csr_array(rows))
