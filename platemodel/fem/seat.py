"""The strip of a shell that a rib is glued on: Gauss points and what the shell does there.

The rib is joined on two pairs of lines: the edges of its glued width (further in beside an opening) and, for
what turns and pushes it, an inner pair. What the strip between the edges does is read from differences over
the whole width (secants), never from strains at a point: on a line the plate's slope may kink at the cost of
its soft rolling shear alone, the less the finer the mesh, and a strain at the kink means nothing.
"""

from collections.abc import Callable, Iterator, Sequence
from copy import copy
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike
from scipy import sparse

from platemodel.errors import GeometryError
from platemodel.fem.arrays import Floats, Ints, Sparse
from platemodel.fem.junction import INNER, MeanSection, mean_section
from platemodel.fem.kept import Kept
from platemodel.fem.material import RibWood
from platemodel.fem.reach import CELLS, clear_reach
from platemodel.fem.section import Stiffness, compliance_in, stiffness
from platemodel.fem.shell import Shell
from platemodel.fem.station import Station
from platemodel.fem.strip import across, along_line

# Of the rib: shear, slip of its root, sinking into it, roll on it, and the rate at which its flanks twist.
OWN_FIELDS = ("f", "r", "v", "p", "g")
MIDDLE = 4  # number after those of the lines: edges at smaller and at greater b, inner lines
IN = "_in"  # ends the names of rows of the inner lines
BY_FORCE = ("k_t", "q_t", "u_n")  # what a line force on the rib moves
BY_TORQUE = ("twist", "q_b", "l_1")  # what a line torque on the rib turns
KEPT = 64  # woods whose sections are kept
# Gauss points of a piece between two crossings of triangle sides, by its length over that of the longest.
# Squares of the slopes of the plate's quintics are of degree 8 along a line; those of displacements, of 10,
# weigh only. Many crossings lie close together. Eight points everywhere move a foot by 1e-5 at most.
POINTS = ((0.5, 5), (0.2, 4), (0.005, 3), (0.0, 1))

Along = float | Floats | Callable[[Floats], Floats]  # what `along` takes
Parts = tuple[Floats | None, ...]  # rows of each line's triangle, None where a line has none
Block = tuple[Ints, Ints, Floats]


def gauss_points(breaks: Floats) -> tuple[Floats, Floats]:
    """Points and weights on the pieces between breaks, more of them on longer pieces; see `POINTS`."""
    span = np.diff(breaks)
    left, points, weights = np.full(len(span), True), [], []
    for share, count in POINTS:
        chosen = left & (span >= share * span.max())
        left &= ~chosen
        xi, weight = np.polynomial.legendre.leggauss(count)
        points.append((breaks[:-1][chosen, None] + span[chosen, None] * 0.5 * (xi + 1.0)).ravel())
        weights.append((span[chosen, None] * 0.5 * weight).ravel())
    order = np.argsort(np.concatenate(points))
    return np.concatenate(points)[order], np.concatenate(weights)[order]


class Seat:
    """The strip a rib is glued on: Gauss points and what the plate does there.

    Parameters
    ----------
    start, end : array (2,)
        Ends of the strip's middle line, straight in the parameter plane, inside the mesh.
    width : float or callable
        Glued width, m; a callable takes the fraction along the line, (n,).
    side : {-1, 1}
        -1: on the face away from the normal (inside), 1: on the other.
    elements : int
        Quadratic elements of the rib's own fields, closer towards the ends (`knots`).

    Raises
    ------
    GeometryError
        The strip leaves the plate, its ends are one point, or it has no width.
    """

    def __init__(
        self,
        shell: Shell,
        start: ArrayLike,
        end: ArrayLike,
        width: Along,
        side: int = -1,
        elements: int = 16,
    ) -> None:
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
        weight = self._place(width)
        self.curvature = self._curvature()
        self.speed = np.linalg.norm(self.tangent, axis=1)  # m per unit fraction
        self.weights = weight * self.speed  # m
        self.length = float(self.weights.sum())
        self.thickness = np.asarray(shell.section.thickness(*self.middle), dtype=float)
        self.mean_thickness = float(np.average(self.thickness, weights=self.weights))
        self.n_field = 2 * elements + 1  # unknowns of a field of the rib's own along it

    def _place(self, width: Along) -> Floats:
        """Lay points and lines; weights of the points."""
        step, even = self.end - self.start, np.linspace(0.0, 1.0, CELLS + 1)
        offset = along(width, even) * self._frame(even)[2][:, 1].T
        square = np.array([-step[1], step[0]]) / np.hypot(*step)
        self.reach = clear_reach(self.shell.mesh, self.start, step, np.abs(square @ offset))
        places = (-self.reach, self.reach, -INNER, INNER)
        breaks = self._breaks([self._at(even) + place * offset for place in places])
        self.fraction, weights = gauss_points(breaks)
        self.tangent, self.axes, contravariant = self._frame(self.fraction)
        self.middle = self._at(self.fraction)
        self.width = along(width, self.fraction)
        offset = self.width * contravariant[:, 1].T
        self.lines = tuple(self._line(self.middle + place * offset, self.tangent) for place in places)
        return weights

    def _curvature(self) -> Floats:
        """Of the midsurface along, mean of the edges, 1/m: (n,)."""
        return np.mean([line.second_form()[:, 0] for line in self.lines[:2]], axis=0)

    def with_thickness(self, thickness: ArrayLike, mean: float) -> "Seat":
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

    def raised(self, derivative: str, step: float, where: int) -> "Seat":
        """Return the seat on a shell of which one derivative of the height is changed at every point.

        Parameters
        ----------
        derivative : {"r", "r_1", "r_2", "r_11", "r_12", "r_22"}
        where : int
            Number of a line, or `MIDDLE` for the middle line, which gives the frame and the length.
        """
        out = self._bare()
        if where == MIDDLE:
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
        out.curvature = out._curvature()
        return out

    @property
    def knots(self) -> Floats:
        """Fractions where elements of the own fields meet, closer towards the ends, where the fields change.

        Spaced by the cosine: of 16 on 270 mm the first is 2.6 mm long. A blunt end's fields fall within about
        half a height.
        """
        return 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, self.elements + 1))

    def _bare(self) -> "Seat":
        """Copy without what was computed from thickness and shape."""
        out = copy(self)
        tables = ("parts", "rows", "own_rows", "own_tables", "own_nodes")
        for name in ("plate", *tables, "_sections", "_kept_blocks"):
            out.__dict__.pop(name, None)
        return out

    def _at(self, fraction: Floats) -> Floats:
        return self.start[:, None] + (self.end - self.start)[:, None] * fraction

    def _frame(self, fraction: Floats) -> tuple[Floats, Floats, Floats]:
        step = self.end - self.start
        surface = self.shell.surface(*self._at(fraction))
        tangent = step[0] * surface.r_1 + step[1] * surface.r_2
        return tangent, *surface.frame(tangent)

    def _line(self, points: Floats, tangent: Floats) -> Station:
        triangles = self.shell.triangles(points)
        reference = self.shell.mesh.mapping().invF(points[:, :, None], tind=triangles)
        return self.shell.station(reference, triangles, direction=tangent)

    def _breaks(self, lines: Sequence[Floats]) -> Floats:
        """Fractions where a line (2, CELLS + 1) crosses a triangle side or meets a knot of the own elements.

        On an arch the lines are bent in plan by tenths of a millimetre; triangles beside a hole are as small.
        """
        p, facets = self.shell.mesh.p, self.shell.mesh.facets
        cuts = [self.knots]
        for line in lines:
            chord = line[:, -1] - line[:, 0]
            away = np.array([-chord[1], chord[0]]) / np.hypot(*chord)
            bent, side = away @ (line - line[:, :1]), away @ (p - line[:, :1])
            near = (side[facets].min(axis=0) <= bent.max()) & (side[facets].max(axis=0) >= bent.min())
            a, b = p[:, facets[0, near]], p[:, facets[1, near]]
            start, d, e = line[:, :-1, None], np.diff(line)[:, :, None], (b - a)[:, None]
            gap = a[:, None] - start
            det = d[0] * e[1] - d[1] * e[0]
            det = np.where(det == 0.0, np.inf, det)
            part = (gap[0] * e[1] - gap[1] * e[0]) / det
            other = (gap[0] * d[1] - gap[1] * d[0]) / det
            fraction = (np.arange(CELLS)[:, None] + part) / CELLS
            hit = (other >= -1e-9) & (other <= 1 + 1e-9) & (part >= 0) & (part <= 1)
            cuts.append(fraction[hit & (fraction > 0) & (fraction < 1)])
        breaks = np.unique(np.concatenate(cuts))
        breaks = breaks[np.diff(breaks, prepend=-1.0) > 1e-7]
        breaks[-1] = 1.0
        return breaks

    @cached_property
    def plate(self) -> tuple[Floats, Stiffness]:
        """Compliance of the shell's material in the seat's axes, (n, 6, 6) in 1/Pa, and its `Stiffness`."""
        section = self.shell.section
        compliance = compliance_in(self.axes, section.compliance, section.axes)
        return compliance, stiffness(section, self.axes, self.thickness)

    def mean_section(self, wood: RibWood, thickness: Floats) -> MeanSection:
        """T that stands for a whole rib of some `RibWood`, (n,) m thick."""
        axes = None if wood.axes is None else np.asarray(wood.axes).tobytes()
        key = wood.compliance.tobytes(), axes, thickness.tobytes()

        def made() -> MeanSection:
            slope, carved, axes, section = np.zeros(len(self.weights)), False, self.axes, self.shell.section
            if wood.axes is not None:
                axes = _level_across(axes, np.asarray(wood.axes, dtype=float))
                grain = axes @ np.asarray(wood.axes[0], dtype=float)
                grain *= np.sign(grain[:, :1])
                slope, carved = np.arctan2(grain[:, 2], grain[:, 0]), section.axes is not None
            plate, rib = (compliance_in(axes, of.compliance, of.axes) for of in (section, wood))
            return mean_section(self.weights, thickness, plate, rib, slope, carved, self.mean_thickness)

        return self._sections.get(key, made)

    @cached_property
    def _sections(self) -> Kept:
        return Kept(KEPT)

    @cached_property
    def parts(self) -> dict[str, Parts]:
        """What the plate does at the Gauss points, of each line's triangle: dict of tuples of (n, columns).

        The names are those of `rows`; a row is the sum of its parts, None where a line has none.
        """
        shell, none = self.shell, (None, None)
        outer, inner = self.lines[:2], self.lines[2:]
        edges, core = across(shell, outer), across(shell, inner)
        outer_rows, inner_rows = ([along_line(line) for line in pair] for pair in (outer, inner))
        out = {name: (*edges[name], *none) for name in ("g_tb", "e_b", "k_b")}
        for name in ("e_t", "s_t", "u_t", "u_b", *BY_FORCE):
            out[name] = (*(0.5 * rows[name] for rows in outer_rows), *none)
        gap = [edges["gap"], core["gap"]]
        for name, rows, suffix in (("e_t", outer_rows, ""), ("k_t", outer_rows, ""), ("k_t", inner_rows, IN)):
            known = "l_0" if name == "e_t" else "l_1"
            d = gap[suffix == IN][:, None]
            change = tuple(sign * line[name] / d for sign, line in zip((-1.0, 1.0), rows, strict=True))
            out[known + suffix] = (*none, *change) if suffix else (*change, *none)
        for name in BY_FORCE:
            out[name + IN] = (*none, *(0.5 * rows[name] for rows in inner_rows))
        for name in ("q_b", "twist"):
            out[name], out[name + IN] = (*edges[name], *none), (*none, *core[name])
        return out

    @cached_property
    def rows(self) -> dict[str, Sparse]:
        """What the plate does at the Gauss points: dict of sparse (n, shell DOFs).

        Means of the two edges: ``e_t`` stretch along; ``k_t`` curvature along (change of rotation per
        length); ``s_t`` the same within the surface, sideways; ``q_t`` slope along; ``u_t, u_b, u_n``
        displacement. Over the width, edge against edge: ``g_tb`` in-plane shear; ``e_b, k_b`` stretch and
        bending across; ``q_b`` slope across; ``twist`` rate of rotation about t; ``l_0, l_1`` change of e_t
        and k_t per metre. With `IN` at the end: the same of the inner lines.
        """
        return {name: self._combine(parts) for name, parts in self.parts.items()}

    def project(self, vectors: Floats, names: Sequence[str]) -> Floats:
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

    def load(self, values: Floats, names: Sequence[str], out: Floats | None = None) -> Floats:
        """Transpose of `project`: loads on the shell's unknowns of densities on the rows.

        Parameters
        ----------
        values : array (n, len(names), k)
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

    def _blocks(self, names: Sequence[str]) -> tuple[Block, ...]:
        """Points of a line in one triangle, its unknowns, the rows there (points times names, columns)."""
        names = tuple(names)
        return self._kept_blocks.get(names, lambda: tuple(self._made_blocks(names)))

    @cached_property
    def _kept_blocks(self) -> Kept:
        return Kept()

    def _made_blocks(self, names: Sequence[str]) -> Iterator[Block]:
        for i, station in enumerate(self.lines):
            parts = [self.parts[name][i] for name in names]
            width = max((r.shape[1] for r in parts if r is not None), default=0)
            if not width:
                continue
            none = np.zeros((len(self.weights), width))
            padded = [none if r is None else np.pad(r, ((0, 0), (0, width - r.shape[1]))) for r in parts]
            rows = np.stack(padded, axis=1)
            order = np.argsort(station.elements, kind="stable")
            for points in np.split(order, np.flatnonzero(np.diff(station.elements[order])) + 1):
                dofs = self.shell.element_dofs[station.elements[points[0]], :width]
                yield points, dofs, rows[points].reshape(-1, width)

    def _combine(self, parts: Parts) -> Sparse:
        """Sum of the lines' parts: sparse (n, shell DOFs)."""
        dofs = self.shell.element_dofs
        pairs = [(line, r) for line, r in zip(self.lines, parts, strict=True) if r is not None]
        columns = [dofs[line.elements][:, : r.shape[1]] for line, r in pairs]
        n = len(self.weights)
        i = np.concatenate([np.repeat(np.arange(n), r.shape[1]) for _, r in pairs])
        j, v = (np.concatenate([a.ravel() for a in arrays]) for arrays in (columns, [r for _, r in pairs]))
        return sparse.csr_matrix((v, (i, j)), shape=(n, self.shell.n_dofs))

    @cached_property
    def own_rows(self) -> dict[str, Sparse]:
        """The rib's own fields and their derivatives at the points: dict of sparse (n, 5 n_field)."""
        return {name: sparse.csr_matrix(table) for name, table in self.own_tables.items()}

    @cached_property
    def own_tables(self) -> dict[str, Floats]:
        """The same as arrays: dict of (n, 5 n_field), the unknowns field by field as in `OWN_FIELDS`."""
        columns, *entries = self.own_nodes
        out: dict[str, Floats] = {}
        for k, name in enumerate(OWN_FIELDS):
            for prefix, values in zip(("", "d"), entries, strict=True):
                out[prefix + name] = np.zeros((len(columns), len(OWN_FIELDS) * self.n_field))
                np.put_along_axis(out[prefix + name], columns + k * self.n_field, values, axis=1)
        return out

    @cached_property
    def own_nodes(self) -> tuple[Ints, Floats, Floats]:
        """Three nodes of an own field about each point, their functions there and the slopes: (n, 3) each."""
        knots = self.knots
        cell = np.clip(np.searchsorted(knots, self.fraction, side="right") - 1, 0, self.elements - 1)
        size = np.diff(knots)[cell]
        x = (self.fraction - knots[cell]) / size
        value = np.stack([(1 - x) * (1 - 2 * x), 4 * x * (1 - x), x * (2 * x - 1)], axis=1)
        slope = np.stack([4 * x - 3, 4 - 8 * x, 4 * x - 1], axis=1) / (size * self.speed)[:, None]
        return 2 * cell[:, None] + np.arange(3), value, slope


def _level_across(axes: Floats, wood: Floats) -> Floats:
    """Frames (n, 3, 3) turned about their first axes until b lies along that axis of a wood which is nearest.

    The T takes its woods as symmetric about the t-n plane. A slope across moves their constants and couples b
    with the other axes, both by its square; the one without the other is worse than neither.
    """
    t, across = axes[:, 0], axes[:, 1] @ wood.T
    k = 1 + int(np.abs(across[:, 1:]).sum(axis=0).argmax())
    b = np.sign(across[:, k, None]) * wood[k]
    b = b - np.einsum("ni,ni->n", b, t)[:, None] * t
    b /= np.linalg.norm(b, axis=1)[:, None]
    return np.stack([t, b, np.cross(t, b)], axis=1)


def along(value: Along, fraction: Floats) -> Floats:
    """Value at fractions along a line: a number, an array (n,) or a callable of the fraction, as (n,)."""
    out = np.asarray(value(fraction) if callable(value) else value, dtype=float)
    return np.broadcast_to(out, np.shape(fraction))
