"""The strip of a shell that a rib is glued on: Gauss points and what the shell does there.

The rib is joined on two lines across its glued width (Gauss points of the width). A single line would let the
plate's soft rolling shear give way under it without limit as the mesh is refined.
"""

from copy import copy
from functools import cached_property

import numpy as np
from scipy import sparse

from platemodel.errors import GeometryError
from platemodel.fem.junction import mean_sections
from platemodel.fem.kept import Kept
from platemodel.fem.section import compliance_in, stiffness

_LINES = (-1, 1)
KEPT = 64  # woods whose sections are kept
MEANS = ("e_t", "g_tb", "k_t", "q_t", "q_b", "u_t", "u_b", "u_n")


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
        The strip leaves the plate, its ends are one point, or it has no width.
    """

    def __init__(self, shell, start, end, width, side=-1, elements=16, gauss=3):
        self.shell = shell
        self.side = side
        self.start, self.end = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
        if not np.hypot(*(self.end - self.start)) > 0:
            x, y = 1e3 * self.start
            msg = f"both ends of the seat lie at ({x:.1f}, {y:.1f}) mm; it needs two different ends"
            raise GeometryError(msg)
        if not np.all(along(width, np.linspace(0.0, 1.0, 5)) > 0):
            msg = "the seat's width must be positive all along, in m"
            raise GeometryError(msg)
        self.elements = elements
        ends = np.array([0.0, 1.0])
        shift = 0.5 / np.sqrt(3.0) * along(width, ends) * self._frame(ends)[2][:, 1].T
        breaks = self._breaks([(self.start + s * shift[:, 0], self.end + s * shift[:, 1]) for s in _LINES])
        xi, weight = np.polynomial.legendre.leggauss(gauss)
        span = np.diff(breaks)
        self.fraction = (breaks[:-1, None] + span[:, None] * 0.5 * (xi + 1.0)).ravel()
        self.tangent, self.axes, contravariant = self._frame(self.fraction)
        middle = self.middle = self._at(self.fraction)
        self.width = along(width, self.fraction)
        self.gap = self.width / np.sqrt(3.0)
        offset = 0.5 * self.gap * contravariant[:, 1].T
        self.lines = tuple(self._line(middle + sign * offset, self.tangent) for sign in _LINES)
        self.curvature = np.mean([line.second_form()[:, 0] for line in self.lines], axis=0)
        self.speed = np.linalg.norm(self.tangent, axis=1)  # m per unit fraction
        self.weights = (span[:, None] * 0.5 * weight).ravel() * self.speed  # m
        self.length = float(self.weights.sum())
        self.thickness = np.asarray(shell.section.thickness(*middle), dtype=float)
        self.mean_thickness = float(np.average(self.thickness, weights=self.weights))
        self.n_own = 2 * elements + 1

    def with_thickness(self, thickness, mean):
        """Return the seat on a plate of other thickness, its midsurface unchanged.

        Parameters
        ----------
        thickness : array (n,)
            m.
        mean : float
            Thickness of the T-section that the junction is solved for, m.
        """
        out = self._bare()
        out.thickness, out.mean_thickness = np.asarray(thickness, dtype=float), float(mean)
        return out

    def raised(self, derivative, step, where):
        """Return the seat on a shell of which one derivative of the height is changed at every point.

        Parameters
        ----------
        derivative : {"r_1", "r_2", "r_11", "r_12", "r_22"}
        step : float
        where : {0, 1, 2}
            On one of the two lines, or on the middle line, which gives the frame and the length.
        """
        out = self._bare()
        if where == 2:
            surface = self.shell.surface(*self.middle).raised(derivative, step)
            along_line = self.end - self.start
            out.tangent = along_line[0] * surface.r_1 + along_line[1] * surface.r_2
            out.axes, _ = surface.frame(out.tangent)
            out.speed = np.linalg.norm(out.tangent, axis=1)
            out.weights = self.weights * out.speed / self.speed
            out.length = float(out.weights.sum())
            turned = [(line, line.surface) for line in self.lines]
        else:
            turned = [
                (line, line.surface.raised(derivative, step) if i == where else line.surface)
                for i, line in enumerate(self.lines)
            ]
        out.lines = tuple(line.on(surface, out.tangent) for line, surface in turned)
        out.curvature = np.mean([line.second_form()[:, 0] for line in out.lines], axis=0)
        return out

    def _bare(self):
        """Copy without what was computed from thickness and shape."""
        out = copy(self)
        for name in ("plate", "parts", "rows", "own_rows", "own_tables", "_sections", "_kept_blocks"):
            out.__dict__.pop(name, None)
        return out

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
    def plate(self):
        """Compliance of the shell's material in the seat's axes, (n, 6, 6) in 1/Pa, and its `Stiffness`."""
        section = self.shell.section
        compliance = compliance_in(self.axes, section.compliance, section.axes)
        return compliance, stiffness(section, self.axes, self.thickness)

    def sections(self, wood):
        """Ts that stand for a whole rib of some `RibWood`: see `platemodel.fem.junction.mean_sections`."""
        key = wood.compliance.tobytes(), None if wood.axes is None else np.asarray(wood.axes).tobytes()

        def made():
            rib = compliance_in(self.axes, wood.compliance, wood.axes)
            return mean_sections(self.weights, self.width, self.plate[0], rib, self.mean_thickness)

        return self._sections.get(key, made)

    @cached_property
    def _sections(self):
        return Kept(KEPT)

    @cached_property
    def parts(self):
        """What the plate does at the Gauss points, of each line's triangle: dict of two arrays (n, columns).

        The names are those of `rows`; a row is the sum of its two parts.
        """
        lines = [_line_rows(self.shell, station) for station in self.lines]
        half, slope = (0.5, 0.5), np.array([-1.0, 1.0])[:, None, None] / self.gap[:, None]
        out = {name: [f * line[name] for f, line in zip(half, lines, strict=True)] for name in MEANS}
        # the lines' frames differ: take off what a rigid rotation makes of the difference of slopes
        turn = (self.lines[1].axes[:, 1] - self.lines[0].axes[:, 1]) / self.gap[:, None]
        out["twist"] = [
            slope[i] * line["q_t"] + 0.5 * line["curved"] + 0.5 * (turn[:, None] @ _rotation_rows(s))[:, 0]
            for i, (line, s) in enumerate(zip(lines, self.lines, strict=True))
        ]
        out["l_0"] = [f * line["e_t"] for f, line in zip(slope, lines, strict=True)]
        out["l_1"] = [f * line["k_t"] for f, line in zip(slope, lines, strict=True)]
        for i in range(2):
            for name in ("e_b", "k_b"):
                out[f"{name}{i}"] = [lines[j][name] * (i == j) for j in range(2)]
        return out

    @cached_property
    def rows(self):
        """What the plate does at the Gauss points: dict of sparse (n, shell DOFs).

        Means over the strip: ``e_t, g_tb`` membrane strains; ``k_t`` curvature along (change of rotation per
        length); ``q_t, q_b`` slopes; ``u_t, u_b, u_n`` displacement; ``twist`` rate of rotation about t.
        Differences across it: ``l_0, l_1`` of e_t and k_t per metre. Of each line: ``e_b0, e_b1`` and
        ``k_b0, k_b1``, strain and curvature of bending across.
        """
        return {name: self._combine(parts) for name, parts in self.parts.items()}

    def project(self, vectors, names):
        """Rows of the plate applied to vectors, without forming them over all DOFs.

        Parameters
        ----------
        vectors : array (shell DOFs, k)
        names : sequence of str
            Of `rows`.

        Returns
        -------
        array (n, len(names), k)
        """
        out = np.zeros((len(self.weights), len(names), vectors.shape[1]))
        for points, dofs, rows in self._blocks(names):
            out[points] += (rows @ vectors[dofs]).reshape(len(points), len(names), -1)
        return out

    def load(self, values, names, out=None):
        """Transpose of `project`: loads on the shell's unknowns of densities on the rows.

        Parameters
        ----------
        values : array (n, len(names), k)
        names : sequence of str
        out : array (shell DOFs, k), optional
            To add them to.

        Returns
        -------
        array (shell DOFs, k)
        """
        if out is None:
            out = np.zeros((self.shell.n_dofs, values.shape[2]))
        for points, dofs, rows in self._blocks(names):
            out[dofs] += rows.T @ values[points].reshape(len(rows), -1)
        return out

    def _blocks(self, names):
        """Points of a line in one triangle, its unknowns, the rows there (points times names, columns)."""
        names = tuple(names)
        return self._kept_blocks.get(names, lambda: tuple(self._made_blocks(names)))

    @cached_property
    def _kept_blocks(self):
        return Kept()

    def _made_blocks(self, names):
        for i, station in enumerate(self.lines):
            rows = [self.parts[name][i] for name in names]
            width = max(r.shape[1] for r in rows)
            rows = np.stack([np.pad(r, ((0, 0), (0, width - r.shape[1]))) for r in rows], axis=1)
            order = np.argsort(station.elements, kind="stable")
            for points in np.split(order, np.flatnonzero(np.diff(station.elements[order])) + 1):
                dofs = self.shell.element_dofs[station.elements[points[0]], :width]
                yield points, dofs, rows[points].reshape(-1, width)

    def _combine(self, parts):
        """Sum of the lines' parts: sparse (n, shell DOFs)."""
        dofs = self.shell.element_dofs
        columns = [dofs[s.elements][:, : r.shape[1]] for s, r in zip(self.lines, parts, strict=True)]
        n = len(self.weights)
        i = np.concatenate([np.repeat(np.arange(n), r.shape[1]) for r in parts])
        j, v = (np.concatenate([a.ravel() for a in arrays]) for arrays in (columns, parts))
        return sparse.csr_matrix((v, (i, j)), shape=(n, self.shell.n_dofs))

    @cached_property
    def own_rows(self):
        """The rib's shear field f and its derivative f' at the Gauss points: dict of sparse (n, n_own)."""
        return {name: sparse.csr_matrix(table) for name, table in self.own_tables.items()}

    @cached_property
    def own_tables(self):
        """The same as arrays: dict of (n, n_own)."""
        position = self.fraction * self.elements
        cell = np.minimum(position.astype(int), self.elements - 1)
        x = position - cell
        value = np.stack([(1 - x) * (1 - 2 * x), 4 * x * (1 - x), x * (2 * x - 1)], axis=1)
        slope = np.stack([4 * x - 3, 4 - 8 * x, 4 * x - 1], axis=1) * (self.elements / self.speed)[:, None]
        columns = 2 * cell[:, None] + np.arange(3)
        out = {}
        for name, entries in (("f", value), ("df", slope)):
            out[name] = np.zeros((len(x), self.n_own))
            np.put_along_axis(out[name], columns, entries, axis=1)
        return out


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


def along(value, fraction):
    """Value at fractions along a line: a number, an array (n,) or a callable of the fraction, as (n,)."""
    out = np.asarray(value(fraction) if callable(value) else value, dtype=float)
    return np.broadcast_to(out, np.shape(fraction))
