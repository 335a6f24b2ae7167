"""Frames of straight beams in space, which may be tied to faces of plates."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from platemodel.fem.arrays import Floats
from platemodel.fem.face import Face, cross_matrix
from platemodel.fem.squares import Squares


@dataclass(frozen=True)
class Beam:
    """A straight beam between two nodes.

    Attributes
    ----------
    start, stop : int
        Nodes.
    area : float
        m2.
    upright, sideways : float
        Second moments for bending up and down (in the plane of the beam and z) and sideways, m4.
    torsion : float
        Torsion constant, m4.
    modulus, shear : float
        Pa.
    density : float
        kg/m3.
    """

    start: int
    stop: int
    area: float
    upright: float
    sideways: float
    torsion: float
    modulus: float
    shear: float
    density: float

    @classmethod
    def half_round(
        cls, start: int, stop: int, width: float, depth: float, modulus: float, shear: float, density: float
    ) -> "Beam":
        """Return a beam whose section is half an ellipse, ``width`` by ``depth`` (m).

        Area pi/4 b d, upright 0.1098 d^3 b/2 about its own middle (Roark, table of sections,
        from memory), torsion by Saint-Venant's A^4/(40 I_p).
        """
        area = 0.25 * np.pi * width * depth
        upright = 0.1098 * 0.5 * width * depth**3
        sideways = np.pi / 64.0 * depth * width**3
        torsion = area**4 / (40.0 * (upright + sideways))
        return cls(start, stop, area, upright, sideways, torsion, modulus, shear, density)

    @classmethod
    def rectangle(
        cls, start: int, stop: int, width: float, depth: float, modulus: float, shear: float, density: float
    ) -> "Beam":
        """Return a beam of rectangular section, ``width`` by ``depth`` (m); torsion by A^4/(40 I_p)."""
        area = width * depth
        upright, sideways = width * depth**3 / 12.0, depth * width**3 / 12.0
        torsion = area**4 / (40.0 * (upright + sideways))
        return cls(start, stop, area, upright, sideways, torsion, modulus, shear, density)


@dataclass(frozen=True, eq=False)
class Frame:
    """Beams, their nodes and lumps of mass.

    Attributes
    ----------
    nodes : array (k, 3)
        m.
    beams : tuple of Beam
        Euler-Bernoulli, with stretch and torsion.
    lumps : tuple of (int, float, array (3, 3))
        Node, mass in kg, and inertia about the node in kg m2.
    rigid_links : tuple of (int, int)
        Node that moves rigidly with an earlier one.
    """

    nodes: np.ndarray
    beams: tuple[Beam, ...]
    lumps: tuple[tuple[int, float, Floats], ...] = ()
    rigid_links: tuple[tuple[int, int], ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "nodes", np.asarray(self.nodes, dtype=float))

    @property
    def free_nodes(self) -> list[int]:
        """Nodes with unknowns of their own, in their order."""
        linked = {node for node, _ in self.rigid_links}
        return [k for k in range(len(self.nodes)) if k not in linked]

    @property
    def own(self) -> int:
        """Number of unknowns: displacement and rotation in space, six a free node."""
        return 6 * len(self.free_nodes)

    def rigid(self, middle: Floats) -> Floats:
        """Return the values of its unknowns in the six rigid motions about a point: (own, 6)."""
        out = np.zeros((self.own, 6))
        for at, node in enumerate(self.free_nodes):
            out[6 * at : 6 * at + 3, :3] = np.eye(3)
            out[6 * at : 6 * at + 3, 3:] = -cross_matrix(self.nodes[node] - middle)[0]
            out[6 * at + 3 : 6 * at + 6, 3:] = np.eye(3)
        return out

    @cached_property
    def rows(self) -> Floats:
        """Displacement and rotation of every node over its unknowns: array (k, 6, own)."""
        out = np.zeros((len(self.nodes), 6, self.own))
        for at, node in enumerate(self.free_nodes):
            out[node, :, 6 * at : 6 * at + 6] = np.eye(6)
        for node, other in self.rigid_links:
            out[node] = moved_rigidly(out[other], self.nodes[node] - self.nodes[other])
        return out

    def squares(self, n_dofs: int, first: int) -> tuple[Squares, Squares]:
        """Stiffness and mass of the frame: two Squares.

        Parameters
        ----------
        n_dofs : int
            Of the whole system.
        first : int
            Number of the frame's first unknown in it.
        """
        stiff, mass = Squares(n_dofs), Squares(n_dofs)
        dofs = first + np.arange(self.own)
        for beam in self.beams:
            both = np.concatenate([self.rows[beam.start], self.rows[beam.stop]])
            for out, matrix in zip((stiff, mass), self._element(beam), strict=True):
                scale = 1.0 / np.sqrt(np.diag(matrix))
                values, vectors = np.linalg.eigh(scale[:, None] * matrix * scale)
                keep = values > 1e-9 * values[-1]
                out.add([(dofs, (vectors[:, keep] / scale[:, None]).T @ both)], values[keep])
        for node, amount, inertia in self.lumps:
            mass.add([(dofs, self.rows[node, :3])], np.full(3, amount))
            values, vectors = np.linalg.eigh(np.asarray(inertia, dtype=float))
            mass.add([(dofs, vectors.T @ self.rows[node, 3:])], np.maximum(values, 0.0))
        return stiff, mass

    def tie(
        self, node: int, faces: Sequence[tuple[Face, int]], stiffness: float, n_dofs: int, first: int
    ) -> Squares:
        """Tie points of faces to a node, as if that part were glued all over: Squares.

        Parameters
        ----------
        faces : sequence of (Face, int)
            With the number of the first unknown of their shell.
        stiffness : float
            N/m along each axis, of all points together.
        n_dofs, first : int
            As in `squares`.
        """
        out, count = Squares(n_dofs), sum(len(f.r) for f, _ in faces)
        dofs = first + np.arange(self.own)
        for f, start in faces:
            follow = -moved_rigidly(self.rows[node], f.r - self.nodes[node])
            for c in range(3):
                out.add(
                    [(f.dofs + start, f.moved[:, c]), (dofs, follow[:, c])],
                    np.full(len(f.r), stiffness / count),
                )
        return out

    @property
    def mass(self) -> float:
        """Total mass, kg."""
        lengths = [np.linalg.norm(self.nodes[b.stop] - self.nodes[b.start]) for b in self.beams]
        beams = sum(b.density * b.area * length for b, length in zip(self.beams, lengths, strict=True))
        return float(beams + sum(amount for _, amount, _ in self.lumps))

    def _element(self, beam: Beam) -> tuple[Floats, Floats]:
        """Stiffness and mass in space: two of (12, 12) (e.g. Przemieniecki 1968, from memory)."""
        axis = self.nodes[beam.stop] - self.nodes[beam.start]
        length = float(np.linalg.norm(axis))
        x = axis / length
        y = np.cross((0.0, 0.0, 1.0), x)
        y = y / np.linalg.norm(y)
        turn = np.kron(np.eye(4), np.stack([x, y, np.cross(x, y)]))
        k, m = np.zeros((12, 12)), np.zeros((12, 12))
        line = beam.density * beam.area * length
        polar = beam.density * (beam.upright + beam.sideways) * length
        bar = np.array([[1.0, -1.0], [-1.0, 1.0]])
        lump = np.array([[2.0, 1.0], [1.0, 2.0]]) / 6.0
        for at, stiff, inertia in (
            (0, beam.modulus * beam.area, line),
            (3, beam.shear * beam.torsion, polar),
        ):
            index = np.ix_([at, at + 6], [at, at + 6])
            k[index], m[index] = stiff / length * bar, inertia * lump
        a = length
        bend = np.array([[12, 6 * a, -12, 6 * a], [6 * a, 4 * a * a, -6 * a, 2 * a * a],
                         [-12, -6 * a, 12, -6 * a], [6 * a, 2 * a * a, -6 * a, 4 * a * a]])  # fmt: skip
        swing = np.array([[156, 22 * a, 54, -13 * a], [22 * a, 4 * a * a, 13 * a, -3 * a * a],
                          [54, 13 * a, 156, -22 * a], [-13 * a, -3 * a * a, -22 * a, 4 * a * a]])  # fmt: skip
        # a slope of the deflection along z is a rotation about -y
        for places, sign, moment in (
            ((1, 5, 7, 11), 1.0, beam.sideways),
            ((2, 4, 8, 10), -1.0, beam.upright),
        ):
            flip = np.array([1.0, sign, 1.0, sign])
            flip = np.outer(flip, flip)
            k[np.ix_(places, places)] = beam.modulus * moment / a**3 * flip * bend
            m[np.ix_(places, places)] = line / 420.0 * flip * swing
        return turn.T @ k @ turn, turn.T @ m @ turn


def moved_rigidly(six: Floats, arm: ArrayLike) -> Floats:
    """Six rows at points that move rigidly: (6, n), or (m, 6, n) for arms (m, 3) from where ``six`` hold."""
    arm = np.asarray(arm, dtype=float)
    shift = -cross_matrix(arm) @ six[3:]
    out = np.broadcast_to(six, (len(shift), *six.shape)).copy()
    out[:, :3] += shift
    return out[0] if arm.ndim == 1 else out
