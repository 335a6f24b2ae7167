"""Joins a top and the rest of a body into one system: two plates, rim, blocks, post and neck."""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from platemodel.fem.beams import Beam, Frame, moved_rigidly
from platemodel.fem.face import Face, face, mean_rows
from platemodel.fem.garland import Garland, panel_sections
from platemodel.fem.joined import Joined
from platemodel.fem.kept import Kept, kept_property
from platemodel.fem.mesh import Fineness, Loop, mesh_plan
from platemodel.fem.prism import prism
from platemodel.fem.rim_section import RimSection, plane_strain
from platemodel.fem.section import Section, rotate_compliance
from platemodel.fem.shell import Shell
from platemodel.fem.squares import Squares
from platemodel.fem.surface import graph
from platemodel.instrument.bar import Bar
from platemodel.instrument.body import Body
from platemodel.instrument.dimensions import VIOLIN_BODY
from platemodel.instrument.strings import SetUp
from platemodel.study.body.footprint import BLOCK_SIZE, footprint_mesh
from platemodel.study.top.foot import post_row
from platemodel.study.top.kept_solutions import hashed
from platemodel.study.top.meshed_top import TRIANGLES_ALONG, MeshedTop, bar_rib
from platemodel.study.top.model import TopModel
from platemodel.wood.species import from_species

PANELS = 180  # round the rim; halving them moves the first modes by some 1e-3
BACK_FINENESS = 0.8  # of the back's mesh, which has no holes and no bar
CURVATURES = np.array([0.5, 4.0, 8.0, 14.0, 24.0, 40.0])  # 1/m, of the rim at which its section is solved
HEEL = 5.0  # stiffness of the joint of neck and upper block, in the block's own: as good as rigid
NECK_PARTS = 4  # beams of the neck and of the free fingerboard each


@dataclass(frozen=True, eq=False)
class BodyModel:
    """A top on its ribs, ready for any bar.

    Attributes
    ----------
    top_model : TopModel
    body : Body
    set_up : SetUp
        Gives the post's place.
    back : Shell
    joined : Joined
        Without bar; unknowns of the top first, then those of the back, then the neck's own.
    parts : dict of str to Squares
        Energies of ``ribs``, ``blocks``, ``post``, ``neck`` and its ``heel``.
    neck : Frame
        Its unknowns are the last.
    upper, lower : tuple of (array (6, n), array (3,))
        Rigid motion of the upper and the lower block, and the point it refers to.
    post : tuple of (array (n,), float) or None
        Row of the post's shortening, its upper end less its lower, and its stiffness, N/m.
    rim : Face
        Of the top, at the rim line.
    systems : Kept
        The systems of the two bars that were asked for last.
    """

    top_model: TopModel
    body: Body
    set_up: SetUp
    back: Shell
    joined: Joined
    parts: dict
    neck: Frame
    upper: tuple
    lower: tuple
    post: tuple | None
    rim: Face
    mass: float
    systems: Kept = field(default_factory=lambda: Kept(2), init=False, repr=False)

    @property
    def top(self):
        """The top."""
        return self.top_model.top

    @kept_property
    def fingerprint(self) -> str:
        """Hash of the matrices without bar, by which what was solved is kept for later runs."""
        stiffness, mass = self.joined.matrices
        return hashed(stiffness.data, stiffness.indices, mass.data)

    def with_bar(self, bar: Bar | None) -> Joined:
        """Return the system with a bar; the last two are kept, with their factors."""

        def make():
            return self.joined.with_ribs(() if bar is None else (bar_rib(self.top_model, bar),))

        return self.systems.get(bar, make)

    def wide(self, rows: np.ndarray) -> np.ndarray:
        """Rows over the top's unknowns (n_top,) as rows over all: (n,)."""
        out = np.zeros(self.joined.n_bare)
        out[: len(rows)] = rows
        return out

    @cached_property
    def rim_plane(self) -> np.ndarray:
        """Plane that lies nearest to the rim's upright displacement: rows of 1, x, y: (3, n)."""
        design = np.c_[np.ones(len(self.rim.r)), self.rim.r[:, :2]]
        rows = np.zeros((len(self.rim.r), self.joined.n_bare))
        np.put_along_axis(rows, self.rim.dofs, self.rim.moved[:, 2], axis=1)
        return np.linalg.pinv(design) @ rows

    def nut_rows(self, place: np.ndarray) -> np.ndarray:
        """Displacement of a point that moves with the nut: (3, n)."""
        frame, n = self.neck, self.joined.n_bare
        moved = moved_rigidly(frame.rows[NECK_PARTS], place - frame.nodes[NECK_PARTS])
        out = np.zeros((3, n))
        out[:, n - frame.own :] = moved[:3]
        return out

    def sinking_rows(self, place: np.ndarray, row: np.ndarray) -> np.ndarray:
        """Sinking of a place against the rim's mean plane, down positive, from its upright row: (n,)."""
        return np.array([1.0, *place]) @ self.rim_plane - self.wide(row)


def body_model(model: TopModel, body: Body, set_up: SetUp, panels: int = PANELS) -> BodyModel:
    """Put a meshed top on its body.

    Parameters
    ----------
    model : TopModel
    body : Body
    set_up : SetUp
    panels : int
        Of the rim.

    Raises
    ------
    GeometryError
        The post stands off the plates.
    """
    top, back = model.shell, back_shell(model.top, body, BACK_FINENESS * model.fineness)
    first = {"upper": 0, "lower": top.n_dofs}
    neck = _neck_frame(body, model.top, set_up)
    own = neck.own
    n = top.n_dofs + back.n_dofs + own
    line = body.rim_line(panels)
    rim = face(top, line, -1)
    garland = Garland(face(back, line, 1), rim)
    ribs, inertia = _ribs(model.top, body, garland, n, first, line)
    stiff, mass = {"ribs": ribs}, {"ribs": inertia}
    blocks, ends, block_mass = {}, {}, 0.0
    size = BLOCK_SIZE * model.top.outline.body_length / VIOLIN_BODY
    for name, shape in body.footprints.items():
        blocks[name] = prism(back, top, footprint_mesh(shape, size))
        block_mass += blocks[name].mass_of(body.blocks.wood.density)
        if name in ("upper", "lower"):
            block = blocks[name]
            faces = [(block.upper, 0), (block.lower, top.n_dofs)]
            ends[name] = mean_rows(faces, n, weights=np.tile(block.areas, 2))
    grain_up = rotate_compliance(
        body.blocks.wood.compliance(), np.array([[[0, 1.0, 0], [0, 0, 1], [1, 0, 0]]])
    )[0]
    stiff["blocks"] = _together([b.stiffness(n, first, grain_up) for b in blocks.values()])
    mass["blocks"] = _together([b.mass(n, first, body.blocks.wood.density) for b in blocks.values()])
    post = _post(model, back, set_up, n) if set_up.post.present else None
    if post is not None:
        stiff["post"] = Squares(n)
        stiff["post"].add_dense(*post)
    stiff["neck"], mass["neck"] = neck.squares(n, n - own)
    heel = blocks["upper"]
    stiff["heel"] = neck.tie(
        0, [(heel.upper, 0), (heel.lower, top.n_dofs)], _heel(heel, grain_up), n, n - own
    )
    joined = Joined((top, back), own, neck.rigid(top.centre), tuple(stiff.values()), tuple(mass.values()))
    total = (
        top.mass
        + back.mass
        + float((garland.length * _line_mass(body, garland)).sum())
        + block_mass
        + neck.mass
    )
    return BodyModel(
        model, body, set_up, back, joined, stiff, neck, ends["upper"], ends["lower"], post, rim, total
    )


def back_shell(top, body: Body, fineness: float) -> Shell:
    """Mesh the back below the ribs, its normal upwards as the top's."""
    plate = body.back_as_top(top.kind)
    outline, middle = body.outline, plate.midsurface()
    size = outline.body_length / (TRIANGLES_ALONG * fineness)
    mesh = mesh_plan(
        Loop(outline.points, outline.corners),
        [],
        Fineness(size, 0.5 * size, turn=0.25 / np.sqrt(fineness), grading=0.6),
    )
    ribs, length = body.ribs, outline.body_length
    slope = (ribs.upper - ribs.lower) / length

    def height(x, y):
        z = -np.asarray(middle.derivatives(x, y), dtype=float)
        z[0] -= ribs.height(x, length)
        z[1] -= slope
        return z

    section = Section(
        body.back.thickness.value, body.back.wood.compliance(), body.back.wood.density, np.eye(3)
    )
    return Shell(mesh, graph(height), section)


def _ribs(top, body, garland, n, first, line):
    ribs, height = body.ribs, float(garland.height.mean())
    plates = (body.back.wood, top.wood)
    edges = [float(np.mean(f.value(*line))) for f in (body.back.thickness, top.thickness)]
    wood = tuple(plane_strain(_in_axes(w, "LTR")) for w in (ribs.wood, ribs.lining_wood))
    tables, twists = [], []
    for along in ("RLT", "LRT"):  # rim along y: plates' grain along its normal; rim along x
        section = RimSection(
            height, *edges, ribs.thickness, (ribs.lining_width, ribs.lining_height), ribs.overhang,
            0.0, tuple(plane_strain(_in_axes(w, along)) for w in plates), wood,
            (ribs.wood.E_L, ribs.lining_wood.E_L),
        )  # fmt: skip
        tables.append(section.stiffness(CURVATURES))
        sheets = [(w.G_LR, getattr(w, "G_" + along[0] + "T")) for w in plates]
        twists.append(section.twist(sheets, [(w.G_LT, w.G_LR) for w in (ribs.wood, ribs.lining_wood)]))
    share = garland.outward[:, 0] ** 2
    shares = np.stack([share, 1.0 - share], axis=1)
    k4 = panel_sections(garland.curvature, CURVATURES, tables, shares)
    moduli, shear = ((getattr(ribs.wood, c), getattr(ribs.lining_wood, c)) for c in ("E_R", "G_LR"))
    stretch, slide = section.upright(moduli, shear)
    stiff = garland.stiffness(n, first, k4, stretch, slide, shares @ np.array(twists))
    return stiff, garland.mass(n, first, _line_mass(body, garland))


def _line_mass(body, garland):
    ribs = body.ribs
    linings = 2.0 * ribs.lining_wood.density * ribs.lining_width * ribs.lining_height
    return ribs.wood.density * ribs.thickness * garland.height + linings


def _in_axes(wood, letters):
    """Compliance with wood axes along (s, nu, z), e.g. "LTR"."""
    rows = np.array([[letter == name for name in "LRT"] for letter in letters], dtype=float)
    return rotate_compliance(wood.compliance(), rows[None])[0]


def _heel(block, compliance):
    """Stiffness of the joint of neck and block, N/m: HEEL times the block's own upright stiffness."""
    return HEEL * float((block.areas / block.height).sum()) / compliance[2, 2]


def _together(squares):
    out = squares[0]
    for other in squares[1:]:
        out = out.joined(other)
    return out


def _post(model, back, set_up, n):
    """Row of the shortening between the mean upright displacements of the post's two ends, and stiffness."""
    post, place, row = set_up.post, set_up.post.place(model.top.bridge), np.zeros(n)
    upper = post_row(model, post, place)
    lower = post_row(MeshedTop(model.top, back, model.fineness), post, place)
    row[: len(upper)] = upper
    row[len(upper) : len(upper) + len(lower)] = -lower
    return row, post_stiffness(model, back, set_up)


def post_stiffness(model: TopModel, back: Shell, set_up: SetUp) -> float:
    """Stiffness of the post between the two plates' midsurfaces, N/m: its length and what its ends press in.

    A rod of spruce along its grain, and at each end a flat round punch on the plate's grain,
    F = 2 a E* delta (Johnson, Contact Mechanics, 1985, section 3.4, from memory) with the plate's modulus
    through its thickness for E*.
    """
    place, post = set_up.post.place(model.top.bridge), set_up.post
    points = place[:, None]
    top, low = face(model.shell, points, -1), face(back, points, 1)
    length = float((top.r - low.r)[0, 2])
    rod = length / (from_species("tonewood spruce").E_L * 0.25 * np.pi * post.diameter**2)
    ends = sum(shell.section.compliance[2, 2] / post.diameter for shell in (model.shell, back))
    return 1.0 / (rod + ends)


def _neck_frame(body, top, set_up):
    """Neck with fingerboard from the upper block to the nut, free fingerboard, head; see `Frame`."""
    neck, length = body.neck, body.outline.polygon.bounds[2]
    edge, nut = float(length), float(length) + neck.nut_from_edge
    rise = string_line(top, body, set_up).slope_front  # the neck runs as the strings do
    axis = -0.25 * neck.depth  # of the glued neck and board at the body's edge, under the gluing plane

    def at(x, up=0.0):
        return (x, 0.0, axis + up - (x - edge) * rise)

    parts = np.linspace(edge, nut, NECK_PARTS + 1)
    nodes = [at(edge), *(at(x) for x in parts[1:])]
    last = len(nodes) - 1
    beams = []
    width, depth, wood, ebony = neck.width, neck.depth, neck.wood, neck.board_wood
    for k in range(NECK_PARTS):
        beams.append(_glued(k, k + 1, width, depth, wood, neck.board_width, neck.board_depth, ebony))
    free = neck.board_length - neck.nut_from_edge
    links = ()
    if free > 0:
        up = 0.5 * (depth + neck.board_depth)
        start = len(nodes)
        nodes += [at(edge - s, up) for s in np.linspace(0.0, free, NECK_PARTS + 1)]
        links = ((start, 0),)
        beams += [
            Beam.rectangle(start + k, start + k + 1, neck.board_width, neck.board_depth, ebony.E_L,
                           ebony.G_LR, ebony.density) for k in range(NECK_PARTS)
        ]  # fmt: skip
    # the head as a slender bar, a quarter as thick as it is long, about its own middle
    across = neck.head_length**2 / 12.0
    inertia = neck.head_mass * np.diag([(0.25 * neck.head_length) ** 2 / 6.0, across, across])
    head = len(nodes)
    nodes.append(at(nut + 0.5 * neck.head_length))
    lump = (head, neck.head_mass, inertia)
    return Frame(np.array(nodes), tuple(beams), (lump,), (*links, (head, last)))


def _glued(start, stop, width, depth, wood, board_width, board_depth, board_wood):
    """Half-round neck with the fingerboard glued on, as one beam of the neck's wood (transformed section)."""
    neck = Beam.half_round(start, stop, width, depth, wood.E_L, wood.G_LR, wood.density)
    board = Beam.rectangle(start, stop, board_width, board_depth, wood.E_L, wood.G_LR, wood.density)
    ratio, heavy = board_wood.E_L / wood.E_L, board_wood.density / wood.density
    area, more = neck.area, ratio * board.area
    gap = 0.5 * board_depth + 4.0 * depth / (3.0 * np.pi)  # of the middles; that of half an ellipse
    upright = neck.upright + ratio * board.upright + area * more / (area + more) * gap**2
    sideways = neck.sideways + ratio * board.sideways
    shear = board_wood.G_LR / wood.G_LR
    torsion = neck.torsion + shear * board.torsion
    density = wood.density * (area + heavy * board.area) / (area + more)
    return Beam(start, stop, area + more, upright, sideways, torsion, wood.E_L, wood.G_LR, density)


@dataclass(frozen=True)
class StringLine:
    """Where the strings run, in the plane of the axis.

    Attributes
    ----------
    bridge, nut, saddle : tuple of float
        x and height over the gluing plane, m.
    """

    bridge: tuple[float, float]
    nut: tuple[float, float]
    saddle: tuple[float, float]

    @property
    def slope_front(self) -> float:
        """Fall per length from the bridge to the nut."""
        return (self.bridge[1] - self.nut[1]) / (self.nut[0] - self.bridge[0])

    @property
    def slope_back(self) -> float:
        """Fall per length from the bridge to the saddle."""
        return (self.bridge[1] - self.saddle[1]) / (self.bridge[0] - self.saddle[0])


def string_line(top, body: Body, set_up: SetUp) -> StringLine:
    """Heights of the strings at bridge, nut and saddle.

    The included angle is the set-up's, so that the push on the top is; how the two sides share it follows
    from the saddle's height, or from the set-up's own two angles where that is not known.
    """
    x0, _, x1, _ = body.outline.polygon.bounds
    x, levers = top.bridge.x, body.levers
    arch = float(top.arching.value(np.array([x]), np.array([top.bridge.y]))[0])
    height, saddle_x, nut_x = arch + levers.bridge, x0, x1 + body.neck.nut_from_edge
    back = set_up.back if levers.saddle is None else np.arctan2(height - levers.saddle, x - saddle_x)
    front = set_up.front + set_up.back - back
    nut = height - (nut_x - x) * np.tan(front) if levers.nut is None else levers.nut
    return StringLine((x, height), (nut_x, float(nut)), (x0, float(height - (x - saddle_x) * np.tan(back))))
