"""Makes a shell of a top and a rib of a bar."""

from dataclasses import dataclass, field, replace
from typing import Self

import numpy as np
import shapely
from scipy import sparse

from platemodel.errors import GeometryError, NeedleError
from platemodel.fem.kept import Kept
from platemodel.fem.material import RibWood
from platemodel.fem.mesh import Fineness, Loop, mesh_plan
from platemodel.fem.rib import Rib
from platemodel.fem.seat import Seat
from platemodel.fem.section import Section
from platemodel.fem.shell import Shell
from platemodel.fem.slender_band import SlenderBand
from platemodel.fem.supports import boundary_facets
from platemodel.fem.surface import graph
from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_shape import scaled_wood
from platemodel.instrument.strings import SetUp
from platemodel.instrument.top import Top

LEAST_FINENESS, MOST_FINENESS = 0.4, 6.0
# Width of the row of triangles along the boundaries, in body lengths: about a thickness, the depth of the
# twist's edge layer. Not taken from the thickness itself, so that a scrape leaves the mesh as it is.
EDGE = 0.009
STEP = 0.01  # relative, of a factor on the bar's moduli
ANSWERS = 20  # kept of a mesh: fingerprint, free systems, both rims; of four bars ribs, modes, deflections
TRIANGLES_ALONG = 18  # triangle sides to a body length at fineness 1


@dataclass(frozen=True, eq=False)
class MeshedTop:
    """A top meshed and assembled, ready for any bar to be put on it.

    Attributes
    ----------
    fineness : float
        Relative to the default mesh; 2 halves the triangles' sides.
    line : Bar or None
        The bar along whose line slender triangles were laid.
    kept : Kept
        What is worked out once for this mesh: supports of the rim, rows of loads.
    set_up : SetUp or None
        Strings whose loads are solved along with any other of a bar.
    answers : Kept
        Modes and deflections of the bars that were asked for last, with this shell.
    lasting : bool
        Whether what is solved may be kept for later runs: not with a wood that is only tried.
    """

    top: Top
    shell: Shell
    fineness: float
    line: Bar | None = None
    kept: Kept = field(default_factory=Kept, repr=False)
    set_up: SetUp | None = field(default=None, repr=False)
    answers: Kept = field(default_factory=lambda: Kept(ANSWERS), repr=False)
    lasting: bool = field(default=True, repr=False)

    def __getstate__(self):
        # another process works it out again if it needs it
        return {**self.__dict__, "kept": Kept(), "answers": Kept(ANSWERS)}

    def with_shell(self, shell: Shell) -> Self:
        """Return the same mesh with a shell of other wood; what was solved with this one is left behind."""
        return replace(self, shell=shell, answers=Kept(ANSWERS), lasting=False)

    @property
    def mass(self) -> float:
        """Mass of the top without bar, kg, by quadrature over the shell."""
        return self.shell.mass

    def rib(self, bar: Bar | None) -> Rib | None:
        """Put a bar on the top; None stays None.

        Raises
        ------
        GeometryError
            The bar leaves the plate.
        """
        return None if bar is None else self.answers.get((bar, "rib"), lambda: bar_rib(self, bar))


def mesh_top(top: Top, fineness: float, line: Bar, shear: bool, edge_row: bool = True) -> Shell:
    """Mesh a top and assemble its shell; see `platemodel.study.top.model.top_model`."""
    if not LEAST_FINENESS <= fineness <= MOST_FINENESS:
        msg = f"fineness {fineness}: allowed {LEAST_FINENESS} to {MOST_FINENESS} (the mesher fails below)"
        raise ValueError(msg)
    size = top.outline.body_length / (TRIANGLES_ALONG * fineness)
    edge = EDGE * top.outline.body_length / np.sqrt(fineness) if edge_row else 0.0
    mesh = mesh_plan(
        Loop(top.outline.points, top.outline.corners),
        [Loop(hole.points, hole.corners) for hole in top.sound_holes],
        Fineness(size, 0.5 * size, turn=0.25 / np.sqrt(fineness), grading=0.6, edge=edge),
        _band(line),
    )
    section = Section(top.thickness.value, top.wood.compliance(), top.wood.density, axes=top.grain_axes())
    try:
        return Shell(mesh, graph(top.midsurface().derivatives), section, shear=shear)
    except NeedleError as error:
        raise NeedleError(_needle_words(top, line, fineness, error.place), error.place) from error


def _needle_words(top, bar, fineness, place):
    """Say between which shapes of a job the mesher found no room for a sound triangle, and what to do."""
    shapes = {"outline": top.outline.polygon.exterior, "bar": bar.polygon}
    shapes |= {f"sound_holes.{hole.side}": hole.polygon.exterior for hole in top.sound_holes}
    away = {name: 1e3 * shape.distance(shapely.Point(place)) for name, shape in shapes.items()}
    first, second = sorted(away, key=away.get)[:2]
    x, y = 1e3 * np.asarray(place)
    return (
        f"near ({x:.1f}, {y:.1f}) mm a triangle of the mesh is too flat to compute with. In job.toml look at "
        f"[{first}], {away[first]:.1f} mm from there, and [{second}], {away[second]:.1f} mm: at points that "
        f"lie close together, and edges that nearly touch; move [{first}] by some tenths of a mm. From "
        f"Python or in a notebook, take another fineness than {fineness:g}"
    )


def _band(bar: Bar) -> SlenderBand:
    """Band as long as the bar: mesh points at its ends, where the plate bends most sharply."""
    return SlenderBand(np.array([bar.x_start, bar.y_start]), np.array([bar.x_end, bar.y_end]), bar.width)


def bar_rib(model: MeshedTop, bar: Bar, seat: Seat | None = None) -> Rib:
    """Put a bar on a top.

    Parameters
    ----------
    seat : Seat, optional
        Of another bar with the same line, length and width, to save the work of placing it.

    Raises
    ------
    GeometryError
        The bar leaves the outline, or top and bar are too unlike in thickness for their common section.

    Notes
    -----
    Heights of a bar are taken upright, as a caliper reads them, and turned into the section square to the
    seat; the upright bar leans against the seat's normal by the slope of the arching across.
    """
    seat = seat or bar_seat(model, bar)
    along, across, normal = seat.axes[:, 0], seat.axes[:, 1], seat.axes[:, 2]
    lean = np.arctan2(across[:, 2], normal[:, 2]) - bar.lean
    x = bar.x_start + (bar.x_end - bar.x_start) * seat.fraction
    step = 1e-3 * (bar.x_end - bar.x_start)
    low, high = np.clip(x - step, bar.x_start, bar.x_end), np.clip(x + step, bar.x_start, bar.x_end)
    taper = (bar.height(high) - bar.height(low)) / (high - low) * np.cos(bar.angle)
    height = square_height(bar.height(x), along, taper)
    rib = Rib(
        seat,
        height,
        RibWood(bar.wood.compliance(), bar.wood.density, bar_axes(bar)),
        lean,
        thickness=seat.width,  # as a caliper reads it
        fill=bar.section_fill,
    )
    _check_section(model.top, rib, bar, x)
    return rib


def _check_section(top, rib, bar, x):
    """Refuse a bar with a stiffness of its section with the top below zero; ``x`` of its stations, m."""
    least = np.min([weight for _, weight in rib.squares[0]], axis=0)
    if least.min() >= 0.0:
        return
    at = 1e3 * x[least.argmin()]
    thick, high = 1e3 * rib.seat.thickness, 1e3 * rib.height
    angles = ("its rings lean", top.ring_angle), ("its grain runs out", top.run_out)
    wood = "".join(f", {told} by {np.degrees(abs(angle)):.0f} degrees" for told, angle in angles if angle)
    msg = (
        f"the stiffness of top and bar together cannot be worked out at x = {at:.0f} mm: under it the top is "
        f"{thick.min():.1f} to {thick.max():.1f} mm thick{wood}; the bar is {1e3 * bar.width:.1f} mm wide "
        f"and {high.min():.1f} to {high.max():.1f} mm high; check thickness, ring angle, run-out, the size "
        "of the bar, and how near its ends come to the edge"
    )
    raise GeometryError(msg)


def square_height(upright: np.ndarray, along: np.ndarray, taper: np.ndarray) -> np.ndarray:
    """Height of a rib square to its seat from the height that a caliper reads upright.

    Parameters
    ----------
    upright : array (n,)
        m.
    along : array (n, 3)
        Unit tangents of the seat in space, z outwards.
    taper : array (n,)
        Change of the upright height per length in plan.

    Notes
    -----
    The normal of a seat of slope a meets the free edge, of slope b, after upright / (cos a + sin a tan b).
    """
    sine, cosine = along[:, 2], np.sqrt(1.0 - along[:, 2] ** 2)
    return upright / (cosine + sine * (sine / cosine - taper))


def bar_stiffness_change(model: MeshedTop, bar: Bar, rib: Rib) -> sparse.csc_matrix:
    """Differentiate the stiffness by the logarithm of a factor on the bar's moduli.

    Parameters
    ----------
    rib : Rib
        Of this bar.

    Returns
    -------
    sparse matrix (n_dofs of shell and bar, the same)
        By central differences; the join between bar and plate, which gives too, keeps its wood.
    """
    offset = model.shell.n_dofs
    high, low = (
        bar_rib(model, replace(bar, wood=scaled_wood(bar.wood, np.exp(step), 1.0)), rib.seat).stiffness(
            offset + rib.n_own, offset
        )
        for step in (STEP, -STEP)
    )
    return (high - low) / (2.0 * STEP)


def bar_seat(model: MeshedTop, bar: Bar) -> Seat:
    """Return the strip under a bar.

    Raises
    ------
    GeometryError
        The bar leaves the outline, or lies so far over a sound hole that these triangles cannot carry it.
    """
    outside = bar.polygon.difference(model.top.outline.polygon)
    if not outside.is_empty:
        x, y = outside.representative_point().coords[0]
        msg = f"the bar leaves the plate near ({1e3 * x:.1f}, {1e3 * y:.1f}) mm; shorten it or move it"
        raise GeometryError(msg)

    def width(fraction):
        return bar.width_at(bar.x_start + (bar.x_end - bar.x_start) * fraction)

    try:
        return Seat(model.shell, (bar.x_start, bar.y_start), (bar.x_end, bar.y_end), width)
    except GeometryError as error:
        # the triangles' straight sides cut into the plate beside a hole, so a bar close by may suffer too
        near = bar.polygon.buffer(0.5 * bar.width)
        for hole in model.top.sound_holes:
            over = near.intersection(shapely.Polygon(hole.points))
            if not over.is_empty:
                x, y = over.representative_point().coords[0]
                msg = (
                    f"the bar lies over the opening of the {hole.side} sound hole or close beside it near "
                    f"({1e3 * x:.1f}, {1e3 * y:.1f}) mm, and triangles as large as at fineness "
                    f"{model.fineness:g} leave it nothing to stand on there; take a greater fineness, or "
                    "trim the bar or move it"
                )
                raise GeometryError(msg) from error
        msg = f"the bar has no place on the plate: {error}; shorten it or move it"
        raise GeometryError(msg) from error


def bar_axes(bar: Bar) -> np.ndarray:
    """Rows L, R, T of the bar's wood in space: grain along the axis in plan, rings upright: (3, 3)."""
    c, s = np.cos(bar.angle), np.sin(bar.angle)
    return np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])


def outer_facets(model: MeshedTop) -> np.ndarray:
    """Mesh edges along the outline, those along the sound holes left out: int array."""
    mesh, length = model.shell.mesh, model.top.outline.body_length
    facets = boundary_facets(mesh)
    middle = mesh.p[:, mesh.facets[:, facets]].mean(axis=1)
    on_hole = np.zeros(len(facets), dtype=bool)
    for hole in model.top.sound_holes:
        on_hole |= shapely.contains_xy(shapely.Polygon(hole.points).buffer(3e-3 * length), *middle)
    return facets[~on_hole]
