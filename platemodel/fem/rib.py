"""Eccentric rib (the bass bar) on a straight line of the parameter plane, independent of the mesh.

At a section with local axes t (along), b (across), n (normal) the rib's fibre at distance z from the
midsurface stretches by e_t - z (k_t - f'), where e_t and k_t are the plate's strain and the
curvature of its midsurface, and f is the rib's own shear field: the angle by which its sections lag behind
the slope. The plate just under the rib shears with it, so its sections turn about a line inside the plate.

The rib is joined on two lines across its glued width (Gauss points of the width). A single line would let the
plate's soft rolling shear give way under it without limit as the mesh is refined.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import sparse

from platemodel.fem.junction import junction
from platemodel.fem.section import SHEAR_FACTOR, compliance_in, stiffness

_LINES = (-1, 1)
# Where the rib's sections turn, in plate thicknesses from the midsurface towards the seat: 0.5 is a plate
# that does not shear under the rib, 0 one that shears like it. Set by comparison with solid elements.
PIVOT = 0.25


class Seat:
    """The strip a rib is glued on: Gauss points and what the plate does there.

    Parameters
    ----------
    shell : Shell
    start, end : array (2,)
        Ends of the strip's middle line, straight in the parameter plane, inside the mesh.
    width : float or callable
        Glued width, m; a callable takes the fraction along the line, (n,).
    side : {-1, 1}
        -1: on the face away from the normal (inside), 1: on the other.
    elements : int
        Quadratic elements of the rib's own shear field.
    gauss : int
        Points on each piece between two crossings of triangle sides.

    Raises
    ------
    GeometryError
        The strip leaves the plate.
    """

    def __init__(self, shell, start, end, width, side=-1, elements=16, gauss=5):
        self.shell = shell
        self.side = side
        self.start, self.end = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
        self.elements = elements
        ends = np.array([0.0, 1.0])
        shift = 0.5 / np.sqrt(3.0) * along(width, ends) * self._frame(ends)[2][:, 1].T
        breaks = self._breaks(
            [(self.start + s * shift[:, 0], self.end + s * shift[:, 1]) for s in (-1, 0, 1)]
        )
        xi, weight = np.polynomial.legendre.leggauss(gauss)
        span = np.diff(breaks)
        self.fraction = (breaks[:-1, None] + span[:, None] * 0.5 * (xi + 1.0)).ravel()
        tangent, self.axes, contravariant = self._frame(self.fraction)
        middle = self._at(self.fraction)
        self.width = along(width, self.fraction)
        self.gap = self.width / np.sqrt(3.0)
        offset = 0.5 * self.gap * contravariant[:, 1].T
        self.lines = tuple(self._line(middle + sign * offset, tangent) for sign in _LINES)
        self.curvature = np.mean([line.second_form()[:, 0] for line in self.lines], axis=0)
        self.speed = np.linalg.norm(tangent, axis=1)  # m per unit fraction
        self.weights = (span[:, None] * 0.5 * weight).ravel() * self.speed  # m
        self.length = float(self.weights.sum())
        self.thickness = np.asarray(shell.section.thickness(*middle), dtype=float)
        self.n_own = 2 * elements + 1

    def _at(self, fraction):
        return self.start[:, None] + (self.end - self.start)[:, None] * fraction

    def _frame(self, fraction):
        step = self.end - self.start
        surface = self.shell.surface(*self._at(fraction))
        tangent = step[0] * surface.r_1 + step[1] * surface.r_2
        return tangent, *surface.frame(tangent)

    def _line(self, points, tangent):
        triangles = self.shell.triangles(points)
        reference = self.shell.mesh.mapping().invF(points[:, :, None], tind=triangles)
        return self.shell.station(reference, triangles, direction=tangent)

    def _breaks(self, lines):
        """Fractions where a line crosses a triangle side or passes from one own element to the next."""
        p = self.shell.mesh.p
        a, b = p[:, self.shell.mesh.facets[0]], p[:, self.shell.mesh.facets[1]]
        cuts = [np.linspace(0.0, 1.0, self.elements + 1)]
        for start, end in lines:
            d, e, gap = (end - start)[:, None], b - a, a - start[:, None]
            det = d[0] * e[1] - d[1] * e[0]
            det = np.where(det == 0.0, np.inf, det)
            fraction = (gap[0] * e[1] - gap[1] * e[0]) / det
            other = (gap[0] * d[1] - gap[1] * d[0]) / det
            hit = (other >= -1e-9) & (other <= 1 + 1e-9) & (fraction > 0) & (fraction < 1)
            cuts.append(fraction[hit])
        cuts = np.unique(np.concatenate(cuts))
        cuts = cuts[np.diff(cuts, prepend=-1.0) > 1e-7]
        cuts[-1] = 1.0
        return cuts

    @cached_property
    def rows(self):
        """What the plate does at the Gauss points: dict of sparse (n, shell DOFs).

        Means over the strip: ``e_t, g_tb`` membrane strains; ``k_t`` curvature along (change of rotation per
        length); ``q_t, q_b`` slopes; ``u_t, u_b, u_n`` displacement; ``twist`` rate of rotation about t.
        Differences across it: ``l_0, l_1`` of e_t and k_t per metre. ``lines``: for each line, ``e_b`` and
        ``k_b``, strain and curvature of bending across.
        """
        lines = [_line_rows(self.shell, station) for station in self.lines]
        half, slope = np.array([0.5, 0.5]), np.array([-1.0, 1.0])[:, None] / self.gap
        out = {}
        for name in lines[0]:
            out[name] = self._combine([line[name] for line in lines], half)
        # the lines' frames differ: take off what a rigid rotation makes of the difference of slopes
        turn = (self.lines[1].axes[:, 1] - self.lines[0].axes[:, 1]) / self.gap[:, None]
        twist = [
            slope[i][:, None] * line["q_t"]
            + 0.5 * line["curved"]
            + 0.5 * (turn[:, None] @ _rotation_rows(s))[:, 0]
            for i, (line, s) in enumerate(zip(lines, self.lines, strict=True))
        ]
        out["twist"] = self._combine(twist, (1.0, 1.0))
        out["l_0"] = self._combine([line["e_t"] for line in lines], slope)
        out["l_1"] = self._combine([line["k_t"] for line in lines], slope)
        out["lines"] = [
            tuple(self.shell.operator(s, line[name][:, None]) for name in ("e_b", "k_b"))
            for line, s in zip(lines, self.lines, strict=True)
        ]
        return out

    def _combine(self, rows, factors):
        """Sum of the lines' rows, each times its factor (a number or (n,)): sparse (n, shell DOFs)."""
        dofs = self.shell.element_dofs
        data = [np.reshape(f, (-1, 1)) * r for f, r in zip(factors, rows, strict=True)]
        columns = [dofs[s.elements][:, : r.shape[1]] for s, r in zip(self.lines, rows, strict=True)]
        n = len(self.weights)
        i = np.concatenate([np.repeat(np.arange(n), r.shape[1]) for r in rows])
        j, v = np.concatenate([c.ravel() for c in columns]), np.concatenate([d.ravel() for d in data])
        return sparse.csr_matrix((v, (i, j)), shape=(n, self.shell.n_dofs))

    @cached_property
    def own_rows(self):
        """The rib's shear field f and its derivative f' at the Gauss points: dict of sparse (n, n_own)."""
        position = self.fraction * self.elements
        cell = np.minimum(position.astype(int), self.elements - 1)
        x = position - cell
        value = np.stack([(1 - x) * (1 - 2 * x), 4 * x * (1 - x), x * (2 * x - 1)], axis=1)
        slope = np.stack([4 * x - 3, 4 - 8 * x, 4 * x - 1], axis=1) * (self.elements / self.speed)[:, None]
        i = np.repeat(np.arange(len(x)), 3)
        j = (2 * cell[:, None] + np.arange(3)).ravel()
        shape = (len(x), self.n_own)
        return {
            "f": sparse.csr_matrix((value.ravel(), (i, j)), shape=shape),
            "df": sparse.csr_matrix((slope.ravel(), (i, j)), shape=shape),
        }


def _line_rows(shell, station):
    """Element-wise rows of one line: dict of (n, columns)."""
    membrane, moved = station.membrane_rows(), station.axes @ station.displacement_rows()
    form = station.second_form()
    return {
        "e_t": membrane[:, 0],
        "e_b": membrane[:, 1],
        "g_tb": membrane[:, 2],
        "k_t": station.curvature_rows()[:, 0] - form[:, :1] * membrane[:, 0],
        "k_b": shell.bending_rows(station)[:, 1],
        "q_t": station.slope_rows()[:, 0],
        "q_b": station.slope_rows()[:, 1],
        "u_t": moved[:, 0],
        "u_b": moved[:, 1],
        "u_n": moved[:, 2],
        "curved": form[:, 2:] * (membrane[:, 0] - membrane[:, 1]) - form[:, :1] * membrane[:, 2],
    }


def _rotation_rows(station):
    """Rows giving the rotation vector in space, about n that of the line along t: (n, 3, 63)."""
    t, b, n = (station.axes[:, i] for i in range(3))
    gradient = station.gradient_rows()
    along_t, along_b = gradient[:, 0], gradient[:, 1]
    about_t = n[:, None] @ along_b
    about_b = -(n[:, None] @ along_t)
    about_n = b[:, None] @ along_t
    return t[:, :, None] * about_t + b[:, :, None] * about_b + n[:, :, None] * about_n


@dataclass(frozen=True)
class RibWood:
    """What a rib is made of.

    Attributes
    ----------
    compliance : array (6, 6)
        Engineering compliance in material axes, 1/Pa, order LL, RR, TT, RT, LT, LR.
    density : float
        kg/m3.
    axes : array (3, 3) or None
        Rows L, R, T in space; None: L along the rib, R across it, T along the normal.
    """

    compliance: np.ndarray
    density: float
    axes: np.ndarray | None = None


class Rib:
    """A rib of rectangular section on a seat; its width is the seat's.

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
        Let the rib shear along its height; False gives an Euler-Bernoulli rib.
    glued_width : bool
        Count what the glued width does (`platemodel.fem.junction`); False leaves the rib's stretching and
        bending only.
    fill : float
        Area of the true section over that of the rectangle (rounded top), 0.5 to 1; scales area and inertia.

    Raises
    ------
    ValueError
        Height or width not positive.
    """

    def __init__(self, seat, height, wood, lean=0.0, shear=True, glued_width=True, fill=1.0):
        self.seat = seat
        self.wood = wood
        self.shear = shear
        self.n_own = seat.n_own if shear else 0
        self.height = h = along(height, seat.fraction)
        w = seat.width
        if np.any(w <= 0) or np.any(h <= 0):
            msg = f"rib width and height must be positive; smallest {w.min():.3g} and {h.min():.3g} m"
            raise ValueError(msg)
        self.cosine, self.sine = np.cos(along(lean, seat.fraction)), np.sin(along(lean, seat.fraction))
        compliance = compliance_in(seat.axes, wood.compliance, wood.axes)
        area = fill * w * h
        upright, flatwise = fill * w * h**3 / 12.0, fill * h * w**3 / 12.0
        self.z_mid = seat.side * (seat.thickness + h * self.cosine) / 2.0
        self.b_mid = seat.side * h * self.sine / 2.0
        self.area = area
        self.axial = area / compliance[:, 0, 0]
        self.bending = upright / compliance[:, 0, 0]
        # Grain that rises along the rib couples stretch with shear and twist with sideways bending, as in any
        # off-axis strip: a stretch shears it by ``tilt``, a twist bends it by ``sideways``.
        cross = compliance[:, 4, 0]
        self.tilt = cross / compliance[:, 0, 0]
        self.shearing = SHEAR_FACTOR * area / (compliance[:, 4, 4] - self.tilt * cross)
        self.sideways = 2.0 * cross / compliance[:, 4, 4]
        self.flatwise = flatwise / (compliance[:, 0, 0] - cross**2 / compliance[:, 4, 4])
        self.line_mass = wood.density * area
        self.line_rotary = wood.density * upright
        self.line_polar = wood.density * (upright + flatwise)
        # length of the rib's middle fibre over that of the plate's midsurface above it
        self.shorter = 1.0 - self.z_mid * seat.curvature
        self.mass = float((seat.weights * self.shorter * self.line_mass).sum())
        self.joint = self._joint(compliance) if glued_width else None

    def _joint(self, compliance):
        seat, section = self.seat, self.seat.shell.section
        plate = compliance_in(seat.axes, section.compliance, section.axes)
        stiff = stiffness(section, seat.axes, seat.thickness)
        below = junction(seat.weights, seat.thickness, seat.width, self.height, plate, compliance, stiff)
        return below if seat.side < 0 else below.mirrored()

    def terms(self):
        """Energy of the rib as squares of rows.

        Returns
        -------
        stiffness, mass : list of (rows_shell, rows_own, weight)
            Twice the energy is the sum of weight * (rows_shell u + rows_own f)^2; sparse (n, shell DOFs),
            sparse (n, n_own) or None, and array (n,).
        """
        rows, own, z, ds = self.seat.rows, self.seat.own_rows, self.z_mid, self.seat.weights
        shorter = self.shorter
        ds = ds * shorter
        c, sn = self.cosine, self.sine
        sidewise = rows["l_0"] + scale(z, rows["l_1"])  # sideways curvature at the level of the rib's middle
        stretch = rows["e_t"] - scale(z, rows["k_t"]) + scale(self.b_mid, sidewise)
        pivot = PIVOT * self.seat.side * self.seat.thickness
        lag = scale(z - pivot, own["df"])
        stiff = [
            (stretch, lag, ds * self.axial / shorter**2),
            (
                scale(c, rows["k_t"]) - scale(sn, sidewise),
                -scale(c, own["df"]),
                ds * self.bending / shorter**2,
            ),
            (
                scale(sn, rows["k_t"]) + scale(c, sidewise) - scale(self.sideways, rows["twist"]),
                -scale(sn, own["df"]),
                ds * self.flatwise,
            ),
            (rows["l_1"], None, ds * self.flatwise * self.height**2 / 12.0),
        ]
        if self.shear:
            gamma = own["f"] - scale(self.tilt, lag)
            stiff.append((-scale(self.tilt, stretch), gamma, ds * self.shearing))
        if self.joint is not None:
            stiff.append((rows["twist"], None, ds * self.joint.torsion / shorter**2))
            sheared = rows["g_tb"] + scale(self.joint.eccentricity, rows["twist"])
            stiff.append((sheared, None, ds * self.joint.shear))
            for weight, strain, bend in self.joint.squares():
                for e_b, k_b in rows["lines"]:
                    stiff.append((scale(strain, e_b) + scale(bend, k_b), None, 0.5 * ds * weight))
        mass = [
            (rows["u_t"] - scale(z, rows["q_t"]), scale(z - pivot, own["f"]), ds * self.line_mass),
            (rows["u_b"] - scale(z, rows["q_b"]), None, ds * self.line_mass),
            (rows["u_n"] + scale(self.b_mid, rows["q_b"]), None, ds * self.line_mass),
            (rows["q_t"], -own["f"], ds * self.line_rotary),
            (rows["q_b"], None, ds * self.line_polar),
        ]
        return stiff, mass

    def matrices(self, n_dofs, offset):
        """Stiffness and mass in a system's DOFs.

        Parameters
        ----------
        n_dofs : int
            Unknowns of the whole system.
        offset : int
            Where this rib's own unknowns begin.
        """
        return tuple(self._sum(terms, n_dofs, offset) for terms in self.terms())

    def _sum(self, terms, n_dofs, offset):
        """Sum of R' W R over the terms, the rib's own columns moved to where they belong."""
        n_shell, n = self.seat.shell.n_dofs, len(self.seat.weights)
        none = sparse.csr_matrix((n, n_shell)), sparse.csr_matrix((n, self.seat.n_own))
        left = sparse.vstack([none[0] if s is None else s for s, _, _ in terms], format="csr")
        own = sparse.vstack([none[1] if o is None else o for _, o, _ in terms], format="csr")
        own = own[:, : self.n_own].tocoo()
        left = left.tocoo()
        rows = sparse.csr_matrix(
            (
                np.concatenate([left.data, own.data]),
                (np.concatenate([left.row, own.row]), np.concatenate([left.col, own.col + offset])),
            ),
            shape=(left.shape[0], n_dofs),
        )
        weight = np.sqrt(np.concatenate([w for _, _, w in terms]))
        rows = scale(weight, rows)
        return (rows.T @ rows).tocsc()


def scale(factor, rows):
    """Multiply each row of a sparse matrix by its own factor."""
    return sparse.diags(factor) @ rows


def along(value, fraction):
    """Value at fractions along a line: a number, an array (n,) or a callable of the fraction, as (n,)."""
    out = np.asarray(value(fraction) if callable(value) else value, dtype=float)
    return np.broadcast_to(out, np.shape(fraction))
