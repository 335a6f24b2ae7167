"""Stiffness of a rim that joins two plates: its section in two dimensions, solved and condensed.

Seen along the rim the section is a low wall with a lining at each end, glued between the edges of two plates.
Where the rim is curved in plan, every fibre of the wall is a hoop: bulging out stretches it, so that the wall
is a beam on an elastic foundation, and much stiffer than a strip that bends freely.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.sparse.linalg import splu
from skfem import (
    Basis,
    BilinearForm,
    DiscreteField,
    ElementQuad2,
    ElementVector,
    Functional,
    LinearForm,
    MeshQuad,
    asm,
)
from skfem.assembly.form.form import FormExtraParams

from platemodel.fem.arrays import Bools, Floats, Sparse

REACH = 25e-3  # m of each plate that is meshed; its own bending is taken off again


@dataclass(frozen=True, eq=False)
class RimSection:
    """A rim's section; nu points outwards, z up, s along the rim.

    Attributes
    ----------
    height : float
        Between the two plates' inner faces, m.
    lower, upper : float
        Thickness of the two plates at the edge, m.
    wall : float
        Thickness of the wall, m.
    lining : tuple of float
        Width and height of the lining on the inner side at each end, m; a width of 0 is none.
    overhang : float
        Of the plates' edges over the wall's outer face, m.
    line : float
        Where the plates are held to the rim, nu from the wall's middle, m.
    plates : tuple of array (3, 3)
        Plane-strain stiffness (nu, z, nu z) of lower and upper plate, Pa; see `plane_strain`.
    wood : tuple of array (3, 3)
        The same of wall and lining.
    along : tuple of float
        Young's moduli of wall and lining along the rim, Pa.
    """

    height: float
    lower: float
    upper: float
    wall: float
    lining: tuple[float, float]
    overhang: float
    line: float
    plates: tuple[Floats, Floats]
    wood: tuple[Floats, Floats]
    along: tuple[float, float]

    def stiffness(self, curvatures: ArrayLike, fine: int = 1) -> Floats:
        """Stiffness per length of rim against the motions of the plates.

        Parameters
        ----------
        curvatures : array (m,)
            Of the rim in plan, 1/m, 0 or positive where it bulges outwards.
        fine : int
            Divides the elements' sides.

        Returns
        -------
        array (m, 4, 4)
            Twice the energy per length is q' S q with q = (e_lower, e_upper, a_lower, a_upper): the stretch
            of the two glued faces along the rim and their rotation about it, against that of the wall's
            chord.
        """
        mesh, rib, lining, plate = self._mesh(fine)
        basis = Basis(mesh, ElementVector(ElementQuad2()), intorder=4)
        stiff = np.zeros((3, 3, mesh.t.shape[1]))
        for mask, wood in ((plate[0], self.plates[0]), (plate[1], self.plates[1]),
                           (rib, self.wood[0]), (lining, self.wood[1])):  # fmt: skip
            stiff[:, :, mask] = np.asarray(wood)[:, :, None]
        hoop = np.where(rib, self.along[0], np.where(lining, self.along[1], 0.0))
        q = basis.dx.shape[1]
        hoop = np.repeat(hoop[:, None], q, axis=1)
        bend = asm(_STRAIN, basis, D=np.repeat(stiff[..., None], q, axis=-1))
        ground = asm(_HOOP, basis, A=hoop)
        shares = self._shares
        drive = np.stack([asm(LinearForm(lambda v, w, s=s: w.A * s(w.x[1]) * v[0]), basis, A=hoop)
                          for s in shares], axis=1)  # fmt: skip
        points, weights = np.polynomial.legendre.leggauss(8)
        stretched = np.zeros((2, 2))
        for low, high in zip(self._levels[:-1], self._levels[1:], strict=True):
            z = 0.5 * (low + high) + 0.5 * (high - low) * points
            both = np.stack([s(z) for s in shares])
            stretched += 0.5 * (high - low) * (both * weights * self._profile(z)) @ both.T
        return self._condensed(basis, bend, ground, drive, stretched, np.asarray(curvatures, dtype=float))

    @property
    def _shares(self) -> tuple[Callable[[Floats], Floats], Callable[[Floats], Floats]]:
        return (
            lambda z: np.clip(-z / self.height, 0.0, 1.0),
            lambda z: np.clip(1.0 + z / self.height, 0.0, 1.0),
        )

    @property
    def _levels(self) -> Floats:
        lining = self.lining[1] if self.lining[0] > 0 else 0.5 * self.height
        return np.array([-self.height, -self.height + lining, -lining, 0.0])

    def _profile(self, z: Floats) -> Floats:
        """Stiffness of wall and linings along the rim per height, N/m."""
        near = (z > -self.lining[1]) | (z < self.lining[1] - self.height)
        return self.along[0] * self.wall + self.along[1] * self.lining[0] * near

    def _mesh(self, fine: int) -> tuple[MeshQuad, Bools, Bools, tuple[Bools, Bools]]:
        t, (width, high), H = self.wall, self.lining, self.height

        def even(a: float, b: float, count: int) -> Floats:
            return np.linspace(a, b, count * fine + 1)

        inner = -0.5 * t - width
        x = [-np.geomspace(REACH, 1e-3 - inner, 9 * fine + 1), even(inner - 1e-3, inner, 3)]
        if width > 0:
            x.append(even(inner, -0.5 * t, max(1, int(np.ceil(width / (0.3 * t))))))
        x += [even(-0.5 * t, 0.5 * t, 4), even(0.5 * t, 0.5 * t + self.overhang, 5)]
        edge, zone = min(t, 0.1 * H), 2.0 * t
        high = high if width > 0 else 2.0 * edge
        half = np.concatenate([
            even(0.0, edge, 5), even(edge, high, 6),
            even(high, high + zone, 3), even(high + zone, 0.5 * H, 4),
        ])  # fmt: skip
        z = [-H - even(0.0, self.lower, 6), -half, half - H, even(0.0, self.upper, 6)]
        mesh = MeshQuad.init_tensor(*(np.unique(np.round(np.concatenate(v), 9)) for v in (x, z)))

        def parts(mesh: MeshQuad) -> tuple[Bools, Bools, tuple[Bools, Bools]]:
            nu, at = mesh.p[:, mesh.t].mean(axis=1)
            upper, lower = at > 0, at < -H
            between = ~upper & ~lower
            rib = between & (np.abs(nu) < 0.5 * t)
            near = (at > -self.lining[1]) | (at < self.lining[1] - H)
            lining = between & (nu < -0.5 * t) & (nu > inner) & near
            return rib, lining, (lower, upper)

        rib, lining, (lower, upper) = parts(mesh)
        mesh = mesh.restrict(np.flatnonzero(rib | lining | lower | upper))
        return mesh, *parts(mesh)

    def _condensed(
        self,
        basis: Basis,
        bend: Sparse,
        ground: Sparse,
        drive: Floats,
        stretched: Floats,
        curvatures: Floats,
    ) -> Floats:
        """Free everything but the stretch of the rim and the rotation of the plates' inner ends."""
        x, z = basis.doflocs
        along_x = np.zeros(basis.N, dtype=bool)
        along_x[np.concatenate([basis.nodal_dofs[0], basis.facet_dofs[0], basis.interior_dofs[0]])] = True
        end = np.flatnonzero(np.abs(x + REACH) < 1e-9)
        end_x, end_z = end[along_x[end]], end[~along_x[end]]
        height, up = z[end_x], z[end_x] > -1e-12
        turn = np.zeros((len(end_x), 2))
        turn[up, 1] = -(height[up] - 0.5 * self.upper)
        turn[~up, 0] = -(height[~up] + self.height + 0.5 * self.lower)
        middle = -self.height - 0.5 * self.lower
        pin = end_z[[int(np.argmin(np.abs(z[end_z] - middle)))]]  # holds the section up
        free = np.setdiff1d(np.arange(basis.N), np.concatenate([end_x, pin]))
        bare = [(REACH + self.line) / _bending(c, h) for c, h in zip(self.plates, (self.lower, self.upper),
                                                                     strict=True)]  # fmt: skip
        out = []
        for chi in curvatures:
            k = (bend + chi**2 * ground).tocsc()
            force = np.concatenate([chi * drive, k[:, end_x] @ turn], axis=1)
            moved = splu(k[free][:, free].tocsc()).solve(np.ascontiguousarray(force[free]))
            s = -force[free].T @ moved
            s[:2, :2] += stretched
            s[2:, 2:] += turn.T @ (k[end_x][:, end_x] @ turn)
            cross = (chi * drive[end_x]).T @ turn
            s[:2, 2:] += cross
            s[2:, :2] += cross.T
            give = np.linalg.inv(0.5 * (s + s.T))
            give[2, 2] -= bare[0]
            give[3, 3] -= bare[1]
            out.append(np.linalg.inv(self._to_faces(chi) @ give @ self._to_faces(chi).T))
        return np.array(out)

    def _to_faces(self, chi: float) -> Floats:
        """From the plates' ends, turning inwards, to the stretch and rotation of the glued faces.

        A plate that turns by theta moves its glued face by theta h/2 outwards or inwards, which stretches it
        in a curved rim and turns the chord.
        """
        to = np.eye(4)
        to[0, 2], to[1, 3] = -0.5 * chi * self.lower, 0.5 * chi * self.upper
        lean = 0.5 * np.array([self.lower, self.upper]) / self.height
        to[2, 2:] = np.array([-1.0, 0.0]) - lean
        to[3, 2:] = np.array([0.0, -1.0]) - lean
        return to

    def upright(self, moduli: tuple[float, float], shear: tuple[float, float]) -> tuple[float, float]:
        """Stiffness of the wall and linings against stretch and shear through the height, per length.

        Parameters
        ----------
        moduli, shear : tuple of float
            Upright Young's moduli and shear moduli (along the rim) of wall and lining, Pa.

        Returns
        -------
        stretch, shear : float
            Acting on the mean strain and shear over the height, N/m times m: energy per length is half of
            stiffness * strain^2.
        """
        high = min(2.0 * self.lining[1], self.height) if self.lining[0] > 0 else 0.0

        def whole(wall: float, lining: float) -> float:
            give = (self.height - high) / (wall * self.wall)
            give += high / (wall * self.wall + lining * self.lining[0])
            return self.height**2 / give

        return whole(*moduli), whole(*shear)

    def twist(
        self, plates: Sequence[tuple[float, float]], wood: Sequence[tuple[float, float]], fine: int = 1
    ) -> Floats:
        """Stiffness of the glued joints against twist along the rim, beyond that of the plates alone.

        Parameters
        ----------
        plates : sequence of (float, float)
            Shear moduli (s nu, s z) of lower and upper plate, Pa.
        wood : sequence of (float, float)
            The same of wall and lining.
        fine : int
            Divides the elements' sides.

        Returns
        -------
        array (2,)
            Twice the energy per length is the sum of GJ * (d turn/ds)^2 of lower and upper joint, N m2.

        Notes
        -----
        Plate's edge, lining and the wall beside it turn as one; how they warp along the rim is solved for
        (antiplane shear). Far inside, the plate warps as a twisted plate does. The energy of the plate alone
        is taken off. A wall without lining is left out: it bends away from the joint.
        """
        mesh, rib, lining, sheets = self._mesh(fine)
        joint, z = (rib | lining) & (self.lining[0] > 0), mesh.p[1, mesh.t].mean(axis=0)
        out = []
        for sheet, face, half, pair in zip(
            sheets, (-self.height, 0.0), (-0.5 * self.lower, 0.5 * self.upper), plates, strict=True
        ):
            moduli = np.array(
                [np.select([sheet, rib, lining], [pair[k], wood[0][k], wood[1][k]]) for k in (0, 1)]
            )
            whole = sheet | (joint & (np.abs(z - face) < self.lining[1]))
            out.append(
                self._twisted(mesh, whole, moduli, face, face + half)
                - self._twisted(mesh, sheet, moduli, face, face + half)
            )
        return np.array(out)

    def _twisted(self, mesh: MeshQuad, mask: Bools, moduli: Floats, face: float, middle: float) -> float:
        """Energy per length, doubled, of cells that turn about a glued face by one radian a metre."""
        basis = Basis(mesh.restrict(np.flatnonzero(mask)), ElementQuad2(), intorder=4)
        moduli = np.repeat(moduli[:, mask][..., None], basis.dx.shape[1], axis=-1)
        stiff = asm(_WARP, basis, G=moduli).tocsc()
        drive = asm(_TURNED, basis, G=moduli, face=face, line=self.line)
        at, z = basis.doflocs
        end = np.abs(at + REACH) < 1e-9
        warp = np.where(end, (REACH + self.line) * (z - middle), 0.0)
        free = np.flatnonzero(~end)
        warp[free] = splu(stiff[free][:, free]).solve(-(drive + stiff @ warp)[free])
        rigid = asm(_RIGID, basis, G=moduli, face=face, line=self.line)
        return float(rigid + 2.0 * drive @ warp + warp @ (stiff @ warp))


def plane_strain(compliance: Floats) -> Floats:
    """Plane-strain stiffness (nu, z, nu z) from a compliance in axes s, nu, z: (3, 3)."""
    return np.linalg.inv(compliance)[1:4, 1:4]


def _bending(plane: Floats, thickness: float) -> float:
    """Bending stiffness of a wide plate, N m, from its plane-strain stiffness."""
    return (plane[0, 0] - plane[0, 1] ** 2 / plane[1, 1]) * thickness**3 / 12.0


@BilinearForm
def _STRAIN(u: DiscreteField, v: DiscreteField, w: FormExtraParams) -> Floats:
    def strain(a: DiscreteField) -> tuple[Floats, Floats, Floats]:
        return a.grad[0, 0], a.grad[1, 1], a.grad[0, 1] + a.grad[1, 0]

    e, f = strain(u), strain(v)
    return sum(w.D[i, j] * f[i] * e[j] for i in range(3) for j in range(3))


@BilinearForm
def _HOOP(u: DiscreteField, v: DiscreteField, w: FormExtraParams) -> Floats:
    return w.A * u[0] * v[0]


def _turn(w: FormExtraParams) -> tuple[Floats, Floats]:
    """Motion across the section, nu and z, of a turn about the glued line by one radian."""
    return w.face - w.x[1], w.x[0] - w.line


@BilinearForm
def _WARP(u: DiscreteField, v: DiscreteField, w: FormExtraParams) -> Floats:
    return w.G[0] * u.grad[0] * v.grad[0] + w.G[1] * u.grad[1] * v.grad[1]


@LinearForm
def _TURNED(v: DiscreteField, w: FormExtraParams) -> Floats:
    nu, z = _turn(w)
    return w.G[0] * nu * v.grad[0] + w.G[1] * z * v.grad[1]


@Functional
def _RIGID(w: FormExtraParams) -> Floats:
    nu, z = _turn(w)
    return w.G[0] * nu**2 + w.G[1] * z**2
