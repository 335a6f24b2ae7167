"""Compute the boxes of solid elements with CalculiX (ccx); write solid_boxes.json.

Usage: python make_boxes.py [CASE ...] [--refine 0.7 1.0]

Only this script needs the solver. Each box is symmetric about x = 0, so that half of it is solved twice:
with the symmetric motions (static load, modes) and with the antisymmetric ones (modes).
"""

import argparse
import json
import os
import re
import subprocess
import tempfile
import time
from pathlib import Path

import numpy as np
from box_cases import BOXES
from box_mesh import build
from make_solids import ELEMENT, material_card, orientation_card, rows, serendipity, solver_version
from scipy import sparse

FILE = Path(__file__).parent / "solid_boxes.json"
COUNTS = {"symmetric": 12, "antisymmetric": 12}  # modes asked for, three rigid ones among them
# First and second axis of the wood (L, R) in space, and the wood, of each part.
WOODS = {
    "top": ("top_wood", (1, 0, 0), (0, 1, 0)), "back": ("back_wood", (1, 0, 0), (0, 1, 0)),
    "side_rib": ("rib_wood", (1, 0, 0), (0, 0, 1)), "end_rib": ("rib_wood", (0, 1, 0), (0, 0, 1)),
    "side_lining": ("lining_wood", (1, 0, 0), (0, 0, 1)), "end_lining": ("lining_wood", (0, 1, 0), (0, 0, 1)),
    "block": ("block_wood", (0, 0, 1), (1, 0, 0)), "bar": ("top_wood", (1, 0, 0), (0, 1, 0)),
}  # fmt: skip
SAMPLES = np.linspace(0.0, 0.165, 8), np.linspace(-0.092, 0.092, 11)
CONVENTIONS = {
    "axes": "x along the box from its plane of symmetry, y across, z up; origin over the middle of the "
    "plan, at the top's inner face at its edge",
    "arch": "rise arch*(1-(2x/length)^2)^2*(1-(2y/width)^2)^2 of the top, the back's mirrored; plates "
    "have their thickness upright; walls reach from face to face",
    "wood": "L, R, T = x, y, z in plates and bar; ribs and linings L along, R up; blocks L up, R along x",
    "plan": "plates reach overhang over the ribs' outer faces; linings inside the ribs, at both ends of "
    "them; blocks replace the linings at the middle of both ends; side ribs and end ribs meet at "
    "the corner",
    "bar": "from -half to half at y, upright height height_end+(height-height_end)*(1-(x/half)^2), glued"
    " all over",
    "posts": "at (+-x, y): a spring between the mean upright motions of two squares of side `size` on the "
    "plates' inner faces",
    "load": "per newton on a foot: even pressure downwards on its patch of the top's outer face, carried "
    "by even pressure upwards, and one linear in y, on strips of the top's outer face over rib "
    "and lining of both ends",
    "give_m_per_N": "work of a foot's unit load on the motion of a unit load: [bass, treble] squared; outer: "
    "on the loaded face, middle: mean motion in the middle of the plate under the load's own patches",
    "modes": "parity about x = 0, Hz, and upright motion of the middle of top and back at the samples (x "
    "by y)",
}


def patch_weights(mesh, level, inside):
    """Nodes and weights of the mean over a patch of a horizontal face, from consistent forces.

    ``inside`` takes the plan middles (x, y) of the face's elements.
    """
    gauss, weight = np.polynomial.legendre.leggauss(3)
    steps = np.array([(0, 0), (2, 0), (2, 2), (0, 2), (1, 0), (2, 1), (1, 2), (0, 1)])
    face, (gx, gy, _) = mesh.grid[:, :, level], mesh.lines
    found = {}
    for i in range(0, len(gx) - 2, 2):
        for j in range(0, len(gy) - 2, 2):
            if not inside(gx[i + 1], gy[j + 1]):
                continue
            nodes = np.array([face[i + a, j + b] for a, b in steps])
            size = (gx[i + 2] - gx[i]) * (gy[j + 2] - gy[j]) / 4
            shape = sum(u * v * serendipity(s, t)[0] for s, u in zip(gauss, weight, strict=True)
                        for t, v in zip(gauss, weight, strict=True))  # fmt: skip
            for node, value in zip(nodes, shape * size, strict=True):
                found[int(node)] = found.get(int(node), 0.0) + value
    nodes = np.array(list(found))
    weights = np.array(list(found.values()))
    return nodes, weights


def foot_load(box, mesh, foot, level):
    """Upright node forces on half the box: half a newton down on a foot and the strips that carry it."""
    feet, half, wide = box["feet"], box["length"] / 2, box["width"] / 2
    near, far = box["overhang"], box["overhang"] + box["rib"] + box["lining"]["width"]

    def patch(x, y):
        return x < feet["size_x"] / 2 and abs(y - feet[foot]) < feet["size_y"] / 2

    def strip(x, y):
        return near < half - x < far and abs(y) < wide - near

    out = np.zeros(len(mesh.points))
    nodes, weights = patch_weights(mesh, level, patch)
    out[nodes] -= 0.5 * weights / weights.sum()
    lean = -(out * mesh.points[:, 1]).sum()  # what the strips must balance
    nodes, weights = patch_weights(mesh, level, strip)
    y = mesh.points[nodes, 1]
    out[nodes] += weights * (0.5 / weights.sum() + y * lean / (weights @ y**2))
    return out


def deck(box, mesh, parity, element):
    """Whole input file of one run; returns it with the nodes whose motion is printed."""
    points = mesh.points
    lines = ["*NODE, NSET=NALL\n"]
    lines += [f"{k}, {x:.12e}, {y:.12e}, {z:.12e}\n" for k, (x, y, z) in enumerate(points, start=1)]
    woods, count, springs = {}, 0, ""
    for name, elements in mesh.parts.items():
        lines.append(f"*ELEMENT, TYPE={element}, ELSET=E{name.upper()}\n")
        lines += [rows(np.r_[count + k, nodes]) for k, nodes in enumerate(elements + 1, start=1)]
        count += len(elements)
        woods[WOODS[name][0]] = box[WOODS[name][0]]
    if box["posts"]:
        springs, post = "", box["posts"]
        below, above = len(points) + 1, len(points) + 2
        lines.append(f"*NODE\n{below}, 0.5, 0., 0.\n{above}, 0.5, 0., 0.1\n")

        for node, (nodes, weights) in zip((below, above), post_rows(box, mesh), strict=True):
            terms = [f"{node}, 3, -1."] + [f"{n + 1}, 3, {w:.12e}" for n, w in
                                           zip(nodes, weights, strict=True)]  # fmt: skip
            springs += f"*EQUATION\n{len(terms)}\n" + ",\n".join(
                ", ".join(terms[k : k + 4]) for k in range(0, len(terms), 4)
            )
            springs += "\n"
        lines.append(f"*ELEMENT, TYPE=SPRING2, ELSET=EPOST\n{count + 1}, {below}, {above}\n")
        lines.append(f"*SPRING, ELSET=EPOST\n3, 3\n{post['stiffness']:.1f}\n")
    lines.append(springs)
    lines += [material_card(key.upper(), value) for key, value in woods.items()]
    for name in mesh.parts:
        key, first, second = WOODS[name]
        lines.append(orientation_card(f"O{name.upper()}", first, second))
        lines.append(
            f"*SOLID SECTION, ELSET=E{name.upper()}, MATERIAL={key.upper()}, ORIENTATION=O{name.upper()}\n"
        )
    cut = np.flatnonzero(np.abs(points[:, 0]) < 1e-9) + 1
    lines.append("*NSET, NSET=NCUT\n" + rows(cut))
    fixed = "1, 1" if parity == "symmetric" else "2, 3"
    lines.append(f"*BOUNDARY\nNCUT, {fixed}\n")
    shown = samples(mesh)
    step = f"*STEP\n*FREQUENCY\n{COUNTS[parity]}\n*NODE PRINT, NSET=NSHOW\nU\n*END STEP\n"
    lines.append("*NSET, NSET=NSHOW\n" + rows(np.unique(shown) + 1))
    return "".join(lines), step, shown


def samples(mesh):
    """Nodes in the middle of back and top whose motion is kept: (2, x, y)."""
    ix, iy = ([int(np.abs(line[::2] - v).argmin()) * 2 for v in at]
              for line, at in zip(mesh.lines[:2], SAMPLES, strict=True))  # fmt: skip
    return np.stack([mesh.grid[np.ix_(ix, iy)][:, :, k] for k in mesh.middle])


def mode(parity, hz, shape):
    """One mode as it is stored."""
    return {
        "parity": parity,
        "hz": round(float(hz), 4),
        "shape": (shape / np.abs(shape).max()).round(3).tolist(),
    }


def finished(out, mesh, modes, start):
    """Complete a mesh's results: where the samples lie, and the modes up to the least of both last ones."""
    out["samples"] = [[float(line[::2][np.abs(line[::2] - v).argmin()]) for v in at]
                      for line, at in zip(mesh.lines[:2], SAMPLES, strict=True)]  # fmt: skip
    least = min(max(m["hz"] for m in modes if m["parity"] == parity) for parity in COUNTS)
    out["modes"] = sorted((m for m in modes if m["hz"] <= least), key=lambda m: m["hz"])
    out["seconds"] = round(time.perf_counter() - start, 1)
    return out


def static_loads(box, mesh):
    """Loads on both feet, (2, nodes), on the outer face and in the middle of the plate."""
    return {
        level: np.stack([foot_load(box, mesh, foot, k) for foot in ("bass", "treble")])
        for level, k in (("outer", len(mesh.lines[2]) - 1), ("middle", mesh.middle[1]))
    }


def static_steps(box, mesh):
    """Two static steps on the symmetric half, held where nothing presses; and their loads by level."""
    loads = static_loads(box, mesh)
    ends = mesh.grid[-1, [0, -1], mesh.middle[1]] + 1
    text = f"*BOUNDARY\n{ends[0]}, 2, 3\n{ends[1]}, 3, 3\n"
    text += "*NSET, NSET=NLOAD\n" + rows(
        np.flatnonzero(np.abs(np.concatenate(list(loads.values()))).sum(0)) + 1
    )
    for load in loads["outer"]:
        text += "*STEP\n*STATIC\n*CLOAD, OP=NEW\n"
        text += "".join(f"{n + 1}, 3, {load[n]:.12e}\n" for n in np.flatnonzero(load))
        text += "*NODE PRINT, NSET=NLOAD\nU\n*END STEP\n"
    return text, loads


def post_rows(box, mesh):
    """Nodes and weights of the mean upright motion under a post's lower and upper end."""
    post = box["posts"]

    def patch(x, y):
        return max(abs(x - post["x"]), abs(y - post["y"])) < post["size"] / 2

    ends = [int(np.abs(mesh.lines[2] - z).argmin()) for z in (-box["height"], 0.0)]
    found = [patch_weights(mesh, level, patch) for level in ends]
    return [(nodes, weights / weights.sum()) for nodes, weights in found]


def run(folder, name, text):
    """Run the solver on one input and return what it printed as blocks of {node: displacement}."""
    (folder / f"{name}.inp").write_text(text)
    env = {**os.environ, "OMP_NUM_THREADS": "1"}
    command = ["nice", "-n", "19", "ccx", "-i", name]
    done = subprocess.run(command, cwd=folder, env=env, capture_output=True, text=True, check=False)
    out = (folder / f"{name}.dat").read_text()
    blocks = []
    for part in out.split("displacements (vx,vy,vz)")[1:]:
        table = [line.split() for line in part.splitlines()[1:]]
        found = {}
        for row in table:
            if len(row) == 4:
                found[int(row[0])] = [float(v) for v in row[1:]]
            elif found:
                break
        blocks.append(found)
    if not blocks:
        msg = f"the solver printed nothing: {done.stdout[-500:]}"
        raise RuntimeError(msg)
    return out, blocks


def solve(box, refine, folder, element=ELEMENT):
    """Statics and modes of one mesh."""
    mesh, start, modes = build(box, refine), time.perf_counter(), []
    out = {"refine": refine, "nodes": len(mesh.points), "rigid_max_hz": 0.0}
    for parity in COUNTS:
        text, step, shown = deck(box, mesh, parity, element)
        if parity == "symmetric":
            more, loads = static_steps(box, mesh)
            _, blocks = run(folder, "static", text + more)
            moved = np.zeros((2, len(mesh.points)))
            for k, block in enumerate(blocks):
                for node, u in block.items():
                    moved[k, node - 1] = u[2]
            out["give_m_per_N"] = {level: (2 * load @ moved.T).tolist() for level, load in loads.items()}
        dat, blocks = run(folder, parity, text + step)
        table = re.search(r"E I G E N V A L U E   O U T P U T(.*?)(P A R T|\Z)", dat, re.DOTALL).group(1)
        values = [line.split() for line in table.splitlines() if re.match(r"\s+\d+\s", line)]
        hz = np.array([abs(float(v[1])) ** 0.5 / (2 * np.pi) for v in values])
        order = np.argsort(hz)
        out["rigid_max_hz"] = max(out["rigid_max_hz"], float(hz[order[2]]))
        for k in order[3:]:
            shape = np.vectorize(lambda n, block=blocks[k]: block[n + 1][2])(shown)
            modes.append(mode(parity, hz[k], shape))
    return finished(out, mesh, modes, start)


def solve_bricks(box, refine):
    """Same as `solve`, with the bricks put together and solved here."""
    from brick_solver import Factored, elastic, matrices, modes  # needs a solver of its own

    mesh, start = build(box, refine), time.perf_counter()
    parts = {name: (elements, elastic(box[WOODS[name][0]], *WOODS[name][1:]), box[WOODS[name][0]]["rho"])
             for name, elements in mesh.parts.items()}  # fmt: skip
    stiff, mass = matrices(mesh.points, parts)
    if box["posts"]:
        row = np.zeros(stiff.shape[0])
        for sign, (nodes, weights) in zip((-1, 1), post_rows(box, mesh), strict=True):
            row[3 * nodes + 2] += sign * weights
        row = sparse.csr_matrix(row)
        stiff = stiff + box["posts"]["stiffness"] * sparse.triu(row.T @ row)
    cut = 3 * np.flatnonzero(np.abs(mesh.points[:, 0]) < 1e-9)
    held = {"symmetric": cut, "antisymmetric": np.concatenate([cut + 1, cut + 2])}
    shown = samples(mesh)
    out = {"refine": refine, "nodes": len(mesh.points), "solver": "bricks", "rigid_max_hz": 0.0}
    found = []
    for parity, count in COUNTS.items():
        free = np.setdiff1d(np.arange(stiff.shape[0]), held[parity])
        k, m = (matrix[free][:, free] for matrix in (stiff, mass))
        if parity == "symmetric":
            loads = static_loads(box, mesh)
            ends = mesh.grid[-1, [0, -1], mesh.middle[1]]
            loose = np.setdiff1d(free, [3 * ends[0] + 1, 3 * ends[0] + 2, 3 * ends[1] + 2])
            force, moved = np.zeros((stiff.shape[0], 2)), np.zeros((stiff.shape[0], 2))
            force[2::3] = loads["outer"].T
            factored = Factored(stiff[loose][:, loose])
            moved[loose] = factored.solve(force[loose])
            factored.free()
            out["give_m_per_N"] = {at: (2 * load @ moved[2::3]).tolist() for at, load in loads.items()}
        values, vectors = modes(k, m, count, (2 * np.pi * 60) ** 2)
        hz = np.sqrt(np.abs(values)) / (2 * np.pi)
        out["rigid_max_hz"] = max(out["rigid_max_hz"], float(hz[2]))
        full = np.zeros((stiff.shape[0], count))
        full[free] = vectors
        found += [mode(parity, hz[q], full[3 * shown + 2, q]) for q in range(3, count)]
    return finished(out, mesh, found, start)


def without_old_shapes(meshes):
    """Keep shapes of the finest mesh only."""
    for mesh in meshes[:-1]:
        mesh["modes"] = [{k: v for k, v in one.items() if k != "shape"} for one in mesh["modes"]]
    return meshes


def main():
    """Run the cases asked for on every mesh asked for; shapes are kept of the finest mesh."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("cases", nargs="*", metavar="CASE", help=f"any of {', '.join(BOXES)}; default all")
    parser.add_argument("--refine", nargs="+", type=float, default=[0.7, 1.0], help="mesh levels")
    parser.add_argument(
        "--bricks", action="store_true", help="put the bricks together here (brick_solver.py)"
    )
    args = parser.parse_args()
    old = json.loads(FILE.read_text())["cases"] if FILE.exists() else {}
    for name in args.cases or BOXES:
        case = json.loads(json.dumps(BOXES[name]))
        known = old.get(name, {})
        same = all(known.get(key) == value for key, value in case.items())
        meshes = {m["refine"]: m for m in known.get("meshes", [])} if same else {}
        for refine in args.refine:
            with tempfile.TemporaryDirectory() as folder:
                meshes[refine] = (
                    solve_bricks(case, refine) if args.bricks else solve(case, refine, Path(folder))
                )
            print(name, refine, meshes[refine]["nodes"], "nodes", meshes[refine]["seconds"], "s", flush=True)
            old[name] = {**case, "meshes": without_old_shapes([meshes[k] for k in sorted(meshes)])}
            cases = {key: old[key] for key in BOXES if key in old}
            document = {"solver": solver_version(), "units": "SI", "conventions": CONVENTIONS, "cases": cases}
            FILE.write_text(json.dumps(document) + "\n")


if __name__ == "__main__":
    main()
