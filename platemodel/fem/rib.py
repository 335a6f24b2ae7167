"""Eccentric rib (the bass bar) on a straight line of the parameter plane, independent of the mesh.

At a section with local axes t (along), b (across), n (normal) the rib's fibre at distance z from the
midsurface stretches by e_t - z k_t + (z - z_p) f' + r', where e_t and k_t are the plate's strain and the
curvature of its midsurface. Five fields are the rib's own: f, the angle by which its sections lag behind
the slope, turning about the pivot z_p a little below the root; the slip r of the root against the plate;
v, how far the section moves along its height against the root, which gives that way too; p, how far it
turns on its root about the rib's line; and g, the rate at which the flanks of a rib that rolls twist, which
is p' but for their shear. The rib's shear angle is f + v', its twist that of the strip and p'. All matter
where a rib begins and ends; what v and p move of the rib's mass is left out.
"""

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import Any

import numpy as np
from scipy import sparse

from platemodel.fem.arrays import Floats, Sparse
from platemodel.fem.blade import as_squares, blade_compliance, taper, tapering
from platemodel.fem.junction import Junction, junction
from platemodel.fem.kept import Kept, kept_property
from platemodel.fem.material import RibWood
from platemodel.fem.seat import BY_FORCE, BY_TORQUE, IN, OWN_FIELDS, Along, Seat, along
from platemodel.fem.section import SHEAR_FACTOR, compliance_in
from platemodel.fem.t_section import PIVOT

Coefficients = dict[str, Any]  # numbers or arrays (n,) by the name of a row
SquareList = list[tuple[Coefficients, Floats]]
Term = tuple[Any, Any, Floats]  # sparse rows of the shell, of the rib's own unknowns or None, weight

# What the energies of a rib are made of: rows of the plate, then those of the rib's own fields.
OWN = tuple(prefix + name for name in OWN_FIELDS for prefix in ("", "d"))
_STRETCHED = ("e_t", "s_t", "l_0", "g_tb", "e_b", "k_b", "k_t", "l_1", "twist")
_MOVED = ("u_t", "u_b", "q_t", "u_n", "q_b")
STRAINS = (*_STRETCHED, *(name + IN for name in ("k_t", "l_1", "twist")), *OWN)
MOTIONS = (*_MOVED, *(name + IN for name in ("q_t", "u_n", "q_b")), "f", "r")
# The rows of the plate among them, for stiffness and mass.
ROWS = tuple(tuple(name for name in names if name not in OWN) for names in (STRAINS, MOTIONS))


class Rib:
    """A rib of rectangular section on a seat.

    Parameters
    ----------
    seat : Seat
    height : float, array (n,) or callable
        From the plate's face along the rib's own height, m, at the seat's points; a callable takes their
        fractions along the seat.
    wood : RibWood
    lean : float, array (n,) or callable
        Angle from the normal to the rib's height, towards b, rad.
    shear : bool
        Let the rib shear along its height, sink and roll; False gives an Euler-Bernoulli rib.
    glued_width : bool
        Count what the glued width does (`platemodel.fem.junction`); False leaves the rib's stretching and
        bending only.
    thickness : float, array (n,) or callable, optional
        Square to the rib's flanks, m. Without it that of parallel flanks as far apart on the seat as the
        seat is wide: a rib that leans is thinner than that.
    fill : float
        Area of the true section over that of the rectangle (rounded top), 0.5 to 1; scales area and inertia.

    Raises
    ------
    ValueError
        Height or width not positive.
    """

    def __init__(
        self,
        seat: Seat,
        height: Along,
        wood: RibWood,
        lean: Along = 0.0,
        shear: bool = True,
        glued_width: bool = True,
        thickness: Along | None = None,
        fill: float = 1.0,
    ) -> None:
        self.seat = seat
        self.wood = wood
        self.kept = Kept()  # what others work out of it once
        self.shear = shear
        self.height = h = along(height, seat.fraction)
        self.cosine, self.sine = np.cos(along(lean, seat.fraction)), np.sin(along(lean, seat.fraction))
        w = seat.width * self.cosine if thickness is None else along(thickness, seat.fraction)
        self.thickness = w
        if np.any(w <= 0) or np.any(h <= 0):
            msg = f"rib width and height must be positive; smallest {w.min():.3g} and {h.min():.3g} m"
            raise ValueError(msg)
        compliance = compliance_in(seat.axes, wood.compliance, wood.axes)
        area = fill * w * h
        upright, flatwise = fill * w * h**3 / 12.0, fill * h * w**3 / 12.0
        self.z_mid = seat.side * (seat.thickness + h * self.cosine) / 2.0
        self.b_mid = seat.side * h * self.sine / 2.0
        # distance of the rib's middle from the line about which its sections lag, a little below the root
        self.lag_arm = seat.side * (0.5 - PIVOT) * h * self.cosine
        self.taper = taper(h, seat.fraction, seat.speed)
        self.area = area
        self.axial = area / compliance[:, 0, 0]
        # a twist bends a rib of sloping grain sideways, as any off-axis strip
        cross = compliance[:, 4, 0]
        self.flatwise = flatwise / (compliance[:, 0, 0] - cross**2 / compliance[:, 4, 4])
        # sideways shear of a blade that turns about its root
        self.swaying = SHEAR_FACTOR * area * h**2 / (3.0 * compliance[:, 5, 5])
        self.line_mass = wood.density * area
        self.line_rotary = wood.density * upright
        self.line_polar = wood.density * (upright + flatwise)
        # length of the rib's middle fibre over that of the plate's midsurface above it
        self.shorter = 1.0 - self.z_mid * seat.curvature
        self.mass = float((seat.weights * self.shorter * self.line_mass).sum())
        self.joint = self._joint(compliance) if glued_width else None
        self.sideways = 2.0 * cross / compliance[:, 4, 4] if self.joint is None else self.joint.sideways
        # what its section gives, in axes from the root to the free edge; theory (7.5)
        down = compliance[:, (0, 4, 4), (0, 0, 4)].T * np.array([[1.0], [seat.side], [1.0]])
        root = None
        if self.joint is not None:
            root = area * self.joint.slip, area * self.joint.sinking, area * self.joint.crossed
        give = blade_compliance(down, h, self.taper if shear else 0.0 * h, root) / area[:, None, None]
        self.blade = give if shear else give[:, :2, :2]
        self.n_own = seat.n_field * (0 if not shear else 1 if self.joint is None else len(OWN_FIELDS))

    def _joint(self, compliance: Floats) -> Junction:
        seat = self.seat
        mean = seat.mean_section(self.wood, self.thickness)
        shears = compliance[:, 4, 4], compliance[:, 5, 5]
        # for a rib below the plate; on the other face that one's slope and taper have other signs
        tapered = tapering(self.thickness, self.height, shears, -seat.side * self.taper)
        below = junction(mean, seat.width, self.height, seat.plate[1], seat.reach, tapered)
        return below if seat.side < 0 else below.mirrored()

    def section_strains(self) -> tuple[Coefficients, ...]:
        """Stretch of the rib's middle fibre, upright and sideways curvature of its section.

        Returns
        -------
        stretch, upright, sideways : dict
            Coefficients (numbers or arrays (n,)) by the name of the row; lengths of the plate's midsurface.
        """
        # Down a leaning rib the stretch changes with how its root bends sideways (s_t + root l_1); across it
        # with how the strip that it is glued on turns (l_0), which shears as well. The rib turns with the
        # twist about its root, square to its height, which bends its middle more sideways.
        c, sn = self.cosine, self.sine
        root = 0.5 * self.seat.side * self.seat.thickness
        middle = c * root + 0.5 * self.seat.side * self.height
        b = self.b_mid
        stretch = {"e_t": 1.0, "k_t": -self.z_mid, "s_t": b, "l_1": b * root, "df": self.lag_arm}
        if self.shear:  # the line about which sections lag follows the free edge
            stretch["f"] = -PIVOT * self.seat.side * self.taper * c
        upright = {"k_t": c, "s_t": -sn, "l_1": -sn * root, "df": -c}
        sideways = {"k_t": sn, "l_0": c, "l_1": middle, "twist": -self.sideways, "df": -sn}
        if self.joint is not None:
            stretch["dr"] = 1.0
            sideways |= {"dp": -self.sideways, "dg": 0.5 * self.seat.side * self.height}
        return tuple(self._entering(part) for part in (stretch, upright, sideways))

    def blade_strains(self) -> list[Coefficients]:
        """Return what the forces of `blade` do work on, per own length, as `section_strains`.

        Returns
        -------
        list
            Stretch of the middle, curvature that stretches the free edge and, of a rib that shears, shear
            from the root to the free edge, slip and sinking.
        """
        side, psi = self.seat.side, self.taper
        stretch, upright, _ = self.section_strains()
        out = [
            {name: factor / self.shorter for name, factor in stretch.items()},
            {name: -side * factor / self.shorter for name, factor in upright.items()},
        ]
        if self.shear:
            shear = {"f": side, "dv": side} if self.joint is not None else {"f": side}
            # shear that comes with stress running along the free edge does work too
            for strain, share in zip(out, (0.5 * psi, psi / self.height), strict=True):
                for name, sign in shear.items():
                    strain[name] = strain.get(name, 0.0) + share * sign
            out.append(shear)
        if self.shear and self.joint is not None:
            out += [{"r": 1.0}, {"v": 1.0}]
        return out

    def _entering(self, coefficients: Coefficients) -> Coefficients:
        """Coefficients with the share of the inner lines split off, where force and torque enter there."""
        if self.joint is None:
            return coefficients
        out = dict(coefficients)
        for names, share in ((BY_FORCE, self.joint.force), (BY_TORQUE, self.joint.torque)):
            for name in names:
                if name in out:
                    out[name + IN], out[name] = (1.0 - share) * out[name], share * out[name]
        return out

    @cached_property
    def squares(self) -> tuple[SquareList, ...]:
        """Energy of the rib as squares.

        Returns
        -------
        stiffness, mass : list of (coefficients, weight)
            Twice the energy is the sum of weight * (sum of coefficient * row)^2 over all points; the
            coefficients (numbers or arrays (n,)) by the name of the row, of `Seat.rows` or `Seat.own_rows`.
            Squares that hold own rows come first.
        """
        z, ds = self.z_mid, self.seat.weights * self.shorter
        flexed = ds * self.flatwise
        strains, sideways = self.blade_strains(), self.section_strains()[2]
        factors, weights = as_squares(self.blade)
        stiff: SquareList = [
            (_sum_of(strains, factors[:, i]), ds * weights[:, i]) for i in range(len(strains))
        ]
        stiff.append((sideways, flexed))
        if self.shear and self.joint is not None:
            rolled = -self.joint.rolled  # what a twist turns it by without a torque
            rolling: Coefficients = {"p": 1.0, "twist": rolled, "dp": rolled}
            stiff.append((self._entering(rolling), ds / self.joint.roll))
            stiff.append(({"dp": 1.0, "g": -1.0}, ds * self.swaying))
        # a rib nearer the centre of curvature is shorter by c and turns, per its own length, 1/c^2 as fast
        stiff.append((self._entering({"l_1": 1.0, "dg": 1.0}), flexed * self.height**2 / 12.0))
        if self.joint is not None:
            # the rib's own twist is the strip's and its roll's
            twist = self._entering({"twist": 1.0, "dp": 1.0})
            stiff.append((twist, ds * self.joint.torsion / self.shorter**4))
            slid = self._entering({"g_tb": 1.0, "twist": self.joint.eccentricity})
            stiff.append((slid, ds * self.joint.shear))
            for weight, strain, bend in self.joint.squares():
                stiff.append(({"e_b": strain, "k_b": bend}, ds * weight))
        mass: SquareList = [
            ({"u_t": 1.0, "q_t": -z, "f": self.lag_arm, "r": 1.0}, ds * self.line_mass),
            ({"q_t": 1.0, "f": -1.0}, ds * self.line_rotary),
            ({"u_b": 1.0, "q_b": -z}, ds * self.line_mass),
            ({"u_n": 1.0, "q_b": self.b_mid}, ds * self.line_mass),
            ({"q_b": 1.0}, ds * self.line_polar),
        ]
        kept = self.own_names
        return tuple(
            [({k: v for k, v in a.items() if k in kept or k not in OWN}, w) for a, w in part]
            for part in (stiff, [(self._entering(a), w) for a, w in mass])
        )

    @property
    def own_names(self) -> tuple[str, ...]:
        """Fields of its own that the rib has, and their derivatives."""
        return OWN[: 2 * (self.n_own // self.seat.n_field)]

    @cached_property
    def factors(self) -> tuple[Floats, ...]:
        """Energy of the rib as squares, in tables.

        Returns
        -------
        stiffness, mass : array (n, terms, names)
            Twice the energy is the sum of (factors @ rows)^2 over points and terms, rows by ``STRAINS`` and
            ``MOTIONS``.
        """
        out = []
        for squares, names in zip(self.squares, (STRAINS, MOTIONS), strict=True):
            table = np.zeros((len(self.seat.weights), len(squares), len(names)))
            for t, (coefficients, weight) in enumerate(squares):
                root = np.sqrt(weight)
                for name, factor in coefficients.items():
                    table[:, t, names.index(name)] = root * factor
            out.append(table)
        return tuple(out)

    @cached_property
    def own_terms(self) -> dict[tuple[str, ...], int]:
        """How many squares of `factors` hold rows of the rib's own: by ``STRAINS`` and ``MOTIONS``."""
        return {
            names: sum(any(name in OWN for name in coefficients) for coefficients, _ in squares)
            for squares, names in zip(self.squares, (STRAINS, MOTIONS), strict=True)
        }

    def terms(self) -> tuple[list[Term], ...]:
        """Energy of the rib as squares of sparse rows.

        Returns
        -------
        stiffness, mass : list of (rows_shell, rows_own, weight)
            Twice the energy is the sum of weight * (rows_shell u + rows_own f)^2; sparse (n, shell DOFs),
            sparse (n, n_own) or None, and array (n,).
        """
        rows, own = self.seat.rows, self.seat.own_rows
        n = len(self.seat.weights)

        none = sparse.csr_matrix((n, self.seat.shell.n_dofs))

        def total(coefficients: Coefficients, of: Mapping[str, Any]) -> Any:
            found = [scale(np.broadcast_to(v, n), of[k]) for k, v in coefficients.items() if k in of]
            return sum(found[1:], found[0]) if found else (none if of is rows else None)

        return tuple([(total(c, rows), total(c, own), w) for c, w in part] for part in self.squares)

    def matrices(self, n_dofs: int, offset: int) -> tuple[Sparse, Sparse]:
        """Stiffness and mass in a system's DOFs.

        Parameters
        ----------
        n_dofs : int
            Unknowns of the whole system.
        offset : int
            Where this rib's own unknowns begin.
        """
        return self.stiffness(n_dofs, offset), self._placed(self._mass, n_dofs, offset)

    def stiffness(self, n_dofs: int, offset: int) -> Sparse:
        """Stiffness alone, as in `matrices`."""
        return self._placed(self._stiffness, n_dofs, offset)

    # Kept: one rib is asked for by the free plate, both rims and the flex tests
    @kept_property
    def _stiffness(self) -> Sparse:
        return self._sum(self.terms()[0])

    @kept_property
    def _mass(self) -> Sparse:
        return self._sum(self.terms()[1])

    def _placed(self, matrix: Sparse, n_dofs: int, offset: int) -> Sparse:
        """Matrix of the shell's unknowns and the rib's own, these moved to where they belong: sparse csc."""
        n = self.seat.shell.n_dofs
        indices = np.where(matrix.indices < n, matrix.indices, matrix.indices + offset - n)
        ends = matrix.indptr
        gap, rest = np.full(offset - n, ends[n]), np.full(n_dofs - offset - self.n_own, ends[-1])
        pointers = np.concatenate([ends[: n + 1], gap, ends[n + 1 :], rest])
        return sparse.csc_matrix((matrix.data, indices, pointers), shape=(n_dofs, n_dofs))

    def _sum(self, terms: Sequence[Term]) -> Sparse:
        """Sum of R' W R over the terms, unknowns of the shell before the rib's own."""
        n = len(self.seat.weights)
        none = sparse.csr_matrix((n, len(OWN_FIELDS) * self.seat.n_field))
        left = sparse.vstack([s for s, _, _ in terms], format="csr")
        own = sparse.vstack([none if o is None else o for _, o, _ in terms], format="csr")
        rows = sparse.hstack([left, own[:, : self.n_own]], format="csr")
        rows = scale(np.sqrt(np.concatenate([w for _, _, w in terms])), rows)
        return (rows.T @ rows).tocsc()


def _sum_of(parts: Sequence[Coefficients], factors: Floats) -> Coefficients:
    """Coefficients of a sum of parts, each times its factor: factors (n, parts)."""
    out: Coefficients = {}
    for part, factor in zip(parts, factors.T, strict=True):
        for name, value in part.items():
            out[name] = out.get(name, 0.0) + factor * value
    return out


def scale(factor: Floats, rows: Any) -> Any:
    """Multiply each row of a sparse matrix by its own factor."""
    rows = rows.tocsr()
    data = rows.data * np.repeat(factor, np.diff(rows.indptr))
    return sparse.csr_matrix((data, rows.indices, rows.indptr), shape=rows.shape)
