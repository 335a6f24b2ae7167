"""The closed boxes of solid elements (solids/solid_boxes.json), built out of fem's parts."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from skfem import MeshTri

from platemodel.fem.face import face
from platemodel.fem.garland import Garland, panel_sections
from platemodel.fem.joined import Joined
from platemodel.fem.prism import prism
from platemodel.fem.rib import Rib, RibWood
from platemodel.fem.rim_section import RimSection, plane_strain
from platemodel.fem.seat import Seat
from platemodel.fem.section import Section, rotate_compliance
from platemodel.fem.shell import Shell
from platemodel.fem.squares import Squares
from platemodel.fem.supports import point_rows
from platemodel.fem.surface import graph
from platemodel.study.top.meshed_top import square_height
from tests.published.solid_model import wood

UP = [0.0, 0.0, 1.0]
PAIR = 0.04  # relative distance of tones that mix


@dataclass(frozen=True)
class BoxModel:
    """A box's shells and system, with rows (2, n) of the loads on the two feet."""

    box: dict
    top: Shell
    back: Shell
    joined: Joined
    loads: np.ndarray

    def give(self):
        """Motion of each foot under a unit load on each, as the solids measure it, m/N: (2, 2)."""
        moved = self.joined.solve(self.loads.T)
        return self.loads @ moved[: self.loads.shape[1]]

    def sampled(self, vectors, x, y):
        """Upright motion of top and back on the lines x by y: (2, len(x), len(y), modes), back first."""
        points = np.stack([v.ravel() for v in np.meshgrid(x, y, indexing="ij")])
        first = {0: 0, 1: self.top.n_dofs}
        out = [
            point_rows(shell, points, UP) @ vectors[at : at + shell.n_dofs]
            for shell, at in ((self.back, first[1]), (self.top, first[0]))
        ]
        return np.stack(out).reshape(2, len(x), len(y), -1)


def arch(box, x, y):
    """Rise of the top over its edge and its derivatives up to the second: (6, ...)."""
    a, b = 2.0 / box["length"], 2.0 / box["width"]

    def bump(t):
        return (1 - t**2) ** 2, -4 * t * (1 - t**2), 12 * t**2 - 4

    (f, fx, fxx), (g, gy, gyy) = bump(a * x), bump(b * y)
    return box["arch"] * np.stack(
        [f * g, a * fx * g, b * f * gy, a * a * fxx * g, a * b * fx * gy, b * b * f * gyy]
    )


def plate(box, which, mesh):
    """Top or back as a shell."""
    sign = 1.0 if which == "top" else -1.0
    middle = 0.5 * box["top"] if which == "top" else -box["height"] - 0.5 * box["back"]

    def height(x, y):
        z = sign * arch(box, x, y)
        z[0] += middle
        return z

    def thickness(x, y):
        _, zx, zy = arch(box, x, y)[:3]
        return box[which] / np.sqrt(1 + zx**2 + zy**2)

    material = wood(box[f"{which}_wood"])
    return Shell(
        mesh, graph(height), Section(thickness, material.compliance(), material.density, axes=np.eye(3))
    )


def graded(breaks, largest, growth=0.7):
    """Mesh lines from {place: size there}, growing away from it."""
    places = sorted(breaks)
    out = [places[:1]]
    for lo, hi in pairwise(places):
        fine = np.linspace(lo, hi, 2001)
        size = np.minimum(breaks[lo] + growth * (fine - lo), breaks[hi] + growth * (hi - fine))
        total = np.concatenate(
            [[0.0], np.cumsum(np.diff(fine) / np.minimum(largest, 0.5 * (size[1:] + size[:-1])))]
        )
        n = max(1, round(total[-1]))
        out.append(np.interp(np.linspace(0.0, total[-1], n + 1)[1:], total, fine))
    return np.concatenate(out)


def rim_inset(box):
    """Of the ribs' middle from the plates' edges."""
    return box["overhang"] + 0.5 * box["rib"]


def mesh(box, fine=1.0):
    """Even triangles, finer along the edges, the rim, the bar and the feet."""
    inset, feet, bar = rim_inset(box), box["feet"], box["bar"]
    half, wide = 0.5 * box["length"], 0.5 * box["width"]
    x, y = {}, {}
    for sign in (-1, 1):
        x |= {sign * half: 2e-3, sign * (half - inset): 3e-3, sign * 0.5 * feet["size_x"]: 4e-3}
        y |= {sign * wide: 2e-3, sign * (wide - inset): 3e-3}
    for foot in ("bass", "treble"):
        y |= {feet[foot] + sign * 0.5 * feet["size_y"]: 4e-3 for sign in (-1, 1)}
    if bar:
        w = bar["width"]
        x |= {sign * bar["half"]: 3e-3 for sign in (-1, 1)}
        y |= {bar["y"] + k * w: w for k in (-0.5, 0.5)}
    if box["blocks"]:
        edge = half - box["overhang"] - box["rib"] - box["blocks"]["depth"]
        x |= {sign * edge: 2e-3 for sign in (-1, 1)}
        y |= {sign * box["blocks"]["half_width"]: 4e-3 for sign in (-1, 1)}
    return MeshTri.init_tensor(
        graded({k: v / fine for k, v in x.items()}, 30e-3 / fine),
        graded({k: v / fine for k, v in y.items()}, 22e-3 / fine),
    )


def rim(box, per_side):
    """Points of the rim line, (2, n), counter-clockwise, a corner among them at each end of a side."""
    x, y = 0.5 * box["length"] - rim_inset(box), 0.5 * box["width"] - rim_inset(box)
    corners = np.array([[x, -y], [x, y], [-x, y], [-x, -y]])
    counts = np.maximum(4, np.round(per_side * np.array([y, x, y, x]) / x)).astype(int)
    sides = [
        corners[k] + np.arange(n)[:, None] / n * (corners[(k + 1) % 4] - corners[k])
        for k, n in enumerate(counts)
    ]
    return np.concatenate(sides).T


def in_axes(material, letters):
    """Compliance with the wood's axes along (s, nu, z), say "LTR"."""
    rows = np.array([[letter == name for name in "LRT"] for letter in letters], dtype=float)
    return rotate_compliance(material.compliance(), rows[None])[0]


def ribs(box, garland, n, first, line):
    """Energy and inertia of the four walls with their linings."""
    rib, lining = wood(box["rib_wood"]), wood(box["lining_wood"])
    plates = [wood(box["back_wood"]), wood(box["top_wood"])]
    walls = tuple(plane_strain(in_axes(w, "LTR")) for w in (rib, lining))
    across = garland.outward[:, 0] ** 2 > 0.5
    middle = 0.5 * (line + np.roll(line, -1, axis=1))
    bare = across & (np.abs(middle[1]) < box["blocks"]["half_width"]) if box["blocks"] else across & False
    shares = np.zeros((line.shape[1], 3))
    tables, ups, masses, twists = [], [], [], []
    for k, (width, letters) in enumerate(((box["lining"]["width"], "RLT"), (box["lining"]["width"], "LRT"),
                                          (0.0, "RLT"))):  # fmt: skip
        high = float(garland.height.mean())
        section = RimSection(
            high, box["back"], box["top"], box["rib"], (width, box["lining"]["height"]), box["overhang"], 0.0,
            tuple(plane_strain(in_axes(w, letters)) for w in plates), walls, (rib.E_L, lining.E_L),
        )  # fmt: skip
        tables.append(section.stiffness([0.0]))
        ups.append(section.upright((rib.E_R, lining.E_R), (rib.G_LR, lining.G_LR)))
        linings = 2.0 * lining.density * width * box["lining"]["height"]
        masses.append(rib.density * box["rib"] * high + linings)
        sheets = [(w.G_LR, w.G_RT if letters == "RLT" else w.G_LT) for w in plates]
        twists.append(section.twist(sheets, [(w.G_LT, w.G_LR) for w in (rib, lining)]))
        shares[:, k] = (across & ~bare, ~across, bare)[k]
    k4 = panel_sections(np.zeros(line.shape[1]), np.array([0.0]), tables, shares)
    stretch, shear = (shares @ np.array(ups)).T
    stiff = garland.stiffness(n, first, k4, stretch, shear, shares @ np.array(twists))
    return stiff, garland.mass(n, first, shares @ masses)


def block(box, sign, top, back, n, first):
    """Energy and inertia of the block at one end, its wedges small along the edges that stand free."""
    depth, wide = box["blocks"]["depth"], box["blocks"]["half_width"]
    outer = 0.5 * box["length"] - box["overhang"] - box["rib"]
    along = sign * (outer - depth * np.array([1.0, 0.85, 0.5, 0.0]))
    across = wide * np.array([-1.0, -0.9, -0.5, 0.0, 0.5, 0.9, 1.0])
    solid = prism(back, top, MeshTri.init_tensor(np.sort(along), across))
    material = wood(box["block_wood"])
    stiff = solid.stiffness(n, first, in_axes(material, "RTL"))
    return stiff, solid.mass(n, first, material.density)


def bar_rib(box, top):
    """Seat the bar on the top."""
    bar, material = box["bar"], wood(box["top_wood"])
    y = bar["y"]
    for _ in range(20):  # of the seat on the midsurface, whose inner face is at the bar's plan place
        y = bar["y"]
    seat = Seat(top, [-bar["half"], y], [bar["half"], y], bar["width"])
    at = 2 * seat.fraction - 1
    upright = bar["height_end"] + (bar["height"] - bar["height_end"]) * (1 - at**2)
    taper = -2 * (bar["height"] - bar["height_end"]) * at / bar["half"]
    along, across, normal = (seat.axes[:, i] for i in range(3))
    height = square_height(upright, along, taper)
    return Rib(seat, height, RibWood(material.compliance(), material.density, np.eye(3)),
               lean=np.arctan2(across[:, 2], normal[:, 2]))  # fmt: skip


def foot_row(box, top, foot):
    """Unit force down on a foot and what carries it on both ends: (n,)."""
    feet, half, wide = box["feet"], 0.5 * box["length"], 0.5 * box["width"]
    xi, weight = np.polynomial.legendre.leggauss(4)
    x, y = np.meshgrid(0.5 * feet["size_x"] * xi, feet[foot] + 0.5 * feet["size_y"] * xi)
    row = -point_rows(top, np.stack([x.ravel(), y.ravel()]), UP).T @ (0.25 * np.outer(weight, weight).ravel())
    reach = wide - box["overhang"]
    eta, along = np.polynomial.legendre.leggauss(40)
    depth = box["rib"] + box["lining"]["width"]
    middle = half - box["overhang"] - 0.5 * depth
    for sign in (-1, 1):
        x, y = np.meshgrid(sign * middle + 0.5 * depth * xi, reach * eta, indexing="ij")
        w = np.outer(0.5 * weight, 0.5 * along * (1 + 3 * feet[foot] * reach * eta / reach**2)).ravel()
        row += point_rows(top, np.stack([x.ravel(), y.ravel()]), UP).T @ (0.5 * w)
    return row


def post_row(box, sign, top, back, n):
    """Shortening of a post."""
    post = box["posts"]
    xi, weight = np.polynomial.legendre.leggauss(4)
    x, y = np.meshgrid(sign * post["x"] + 0.5 * post["size"] * xi, post["y"] + 0.5 * post["size"] * xi)
    points, weight = np.stack([x.ravel(), y.ravel()]), 0.25 * np.outer(weight, weight).ravel()
    row = np.zeros(n)
    row[: top.n_dofs] = point_rows(top, points, UP).T @ weight
    row[top.n_dofs :] = -(point_rows(back, points, UP).T @ weight)
    return row


def box_model(box, fine=1.0, panels=60):
    """Build a box. ``fine`` divides the mesh's sizes, ``panels`` stand on a long side."""
    plan = mesh(box, fine)
    top, back = plate(box, "top", plan), plate(box, "back", plan)
    n, first, line = top.n_dofs + back.n_dofs, {"upper": 0, "lower": top.n_dofs}, rim(box, panels)
    garland = Garland(face(back, line, 1), face(top, line, -1))
    stiff, mass = ([part] for part in ribs(box, garland, n, first, line))
    if box["blocks"]:
        for sign in (-1, 1):
            for parts, part in zip((stiff, mass), block(box, sign, top, back, n, first), strict=True):
                parts.append(part)
    if box["posts"]:
        diameter = 2 * box["posts"]["size"] / np.sqrt(np.pi)
        give = 1 / box["posts"]["stiffness"]
        give += sum(shell.section.compliance[2, 2] / diameter for shell in (top, back))
        for sign in (-1, 1):
            stiff.append(Squares(n))
            stiff[-1].add_dense(post_row(box, sign, top, back, n), 1 / give)
    bars = (bar_rib(box, top),) if box["bar"] else ()
    joined = Joined((top, back), stiffness=tuple(stiff), mass=tuple(mass), ribs=bars)
    loads = np.zeros((2, n))
    for k, foot in enumerate(("bass", "treble")):
        loads[k, : top.n_dofs] = foot_row(box, top, foot)
    return BoxModel(box, top, back, joined, loads)


def matched(model, modes, count=14):
    """Modes of the model matched by shape to the solids' `modes`, (count,): frequencies, and MAC.

    Pairs closer than `PAIR` mix, even of unlike parity, for the model's mesh has a hand: MAC over both halves
    of the box with the best of what they can do together.
    """
    found = model.joined.modes(count + 4)
    x, y = modes["samples"]
    halves = np.stack([model.sampled(found.vectors, sign * np.array(x), y) for sign in (1, -1)])
    used, hz, macs = set(), [], []
    for mode in modes["modes"][:count]:
        half = np.array(mode["shape"])
        shape = np.stack([half, half if mode["parity"] == "symmetric" else -half])
        mac = np.einsum("spxy,spxyk->k", shape, halves) ** 2
        mac /= np.sum(shape**2) * np.sum(halves**2, axis=(0, 1, 2, 3))
        mac[list(used)] = -1.0
        best = int(np.argmax(mac))
        used.add(best)
        hz.append(found.frequencies[best])
        near = np.abs(found.frequencies / mode["hz"] - 1) < PAIR
        macs.append(_share(shape, halves[..., near]))
    return np.array(hz), np.array(macs)


def _share(shape, others):
    """Share of a shape's square that a sum of others explains."""
    basis, target = others.reshape(shape.size, -1), shape.ravel()
    rest = target - basis @ np.linalg.lstsq(basis, target, rcond=None)[0]
    return 1 - (rest @ rest) / (target @ target)
