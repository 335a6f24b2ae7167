"""Compute the solid-element reference values with CalculiX (ccx); write solid_cases.json and the CSV tables.

Usage: python make_solids.py [CASE ...] [--work DIR] [--refine 0.7 1 1.4]

Without case names all cases are run. Existing entries of other cases in solid_cases.json are kept. Only this
script needs the solver; the tests read the files it wrote.
"""

import argparse
import csv
import json
import os
import re
import subprocess
import tempfile
import time
from pathlib import Path

import numpy as np
from solid_cases import CASES
from solid_mesh import Mesh, build, surface

HERE = Path(__file__).parent
N_ELASTIC = 12
N_RIGID = 6
ELEMENT = "C3D20R"
RICHARDSON_ORDER = 2
CONVENTIONS = {
    "axes": "x along the plate, y across, z outwards; origin of x, y at the plate's centre",
    "arch": "z of the outer face = height*(1-(2x/a)^2)*(1-(2y/b)^2) for bi_parabola; only the factor named "
    "for parabola_along_x and parabola_across_y; 0 for flat",
    "thickness": "inner face = outer point - h*outward normal of the outer face; plate ends are cut along "
    "that normal; h = edge+(middle-edge)*(1-(2x/a)^2)*(1-(2y/b)^2) for bi_parabola; symmetric: h is "
    "vertical, half of it above z=0",
    "grain": "carved: L, R, T = x, y, z everywhere, but for a plate whose L rises towards plus z by run_out "
    "(rad); bent: T along the outer normal, L along the tangent of y=const",
    "bar": "middle line (x0,y0)-(x1,y1) in plan, at the inner face; width square to it, ends cut at x=const, "
    "sides vertical; height height_end+(height_mid-height_end)*(1-|s|^power), s=-1..1 along the bar, "
    "measured vertically from the inner face at the middle line; lower edge level across the width; L along "
    "the bar's axis, R across, T up; shares the plate's nodes. A full-length bar on the arch ends where the "
    "plate's end face meets the inner face",
    "support": "modal cases: none. Static: u_z=0 at every rim node of the inner face (inner) or of "
    "mid-thickness (middle); against drift in the plane u_x=u_y=0 at that line's node nearest (-a/2, 0), "
    "u_y=0 at the node nearest (a/2, 0), which carry no force; nothing else held",
    "load": "force_z in N spread evenly over the plan area size_x by size_y of the outer face, centre x, y",
    "u_z_m": "vertical displacement in m on the outer normal through the load's centre: outer (on the face), "
    "middle (h/2 down the normal), inner (h down the normal)",
}


def solver_version() -> str:
    """Version line of the installed solver."""
    text = subprocess.run(["ccx", "-v"], capture_output=True, text=True, check=False).stdout
    return "CalculiX ccx " + re.search(r"Version (\S+)", text).group(1)


def rows(numbers: np.ndarray, per_line: int = 8) -> str:
    """Format a list of integers as keyword data lines."""
    flat = [str(v) for v in np.ravel(numbers)]
    return ",\n".join(", ".join(flat[k : k + per_line]) for k in range(0, len(flat), per_line)) + "\n"


def material_card(name: str, wood: dict) -> str:
    """Nine engineering constants (1 = L, 2 = R, 3 = T) and density."""
    first = [wood[k] for k in ("E_L", "E_R", "E_T", "nu_LR", "nu_LT", "nu_RT", "G_LR", "G_LT")]
    return (
        f"*MATERIAL, NAME={name}\n*ELASTIC, TYPE=ENGINEERING CONSTANTS\n"
        + ", ".join(f"{v:.10g}" for v in first)
        + f"\n{wood['G_RT']:.10g}, 20.\n*DENSITY\n{wood['rho']:.10g}\n"
    )


def orientation_card(name: str, first: np.ndarray, second: np.ndarray) -> str:
    """Rectangular system with axis 1 along `first` and `second` in the 1-2 plane."""
    numbers = ", ".join(f"{v:.12g}" for v in (*first, *second))
    return f"*ORIENTATION, NAME={name}, SYSTEM=RECTANGULAR\n{numbers}\n"


def section_cards(case: dict, mesh: Mesh) -> str:
    """Element sets, orientations and sections; bent grain gets one orientation per column of bricks."""
    text, n_plate = "", len(mesh.plate)
    if case["grain"] == "carved":
        rise = case.get("run_out", 0.0)
        text += orientation_card("OPLATE", (np.cos(rise), 0, np.sin(rise)), (0, 1, 0))
        text += "*ELSET, ELSET=EPLATE, GENERATE\n"
        text += f"1, {n_plate}\n*SOLID SECTION, ELSET=EPLATE, MATERIAL=WOOD, ORIENTATION=OPLATE\n"
    else:
        columns = np.arange(1, n_plate + 1).reshape(-1, mesh.counts["through_plate"])
        middle = mesh.points[mesh.plate].mean(axis=1).reshape(*columns.shape, 3).mean(axis=1)
        _, normals = surface(case)(middle[:, 0], middle[:, 1])
        for k, (elements, normal) in enumerate(zip(columns, normals, strict=True)):
            along = np.array([normal[2], 0.0, -normal[0]])  # tangent of the line y = const
            text += orientation_card(f"O{k}", along, np.cross(normal, along))
            text += f"*ELSET, ELSET=E{k}\n{rows(elements)}"
            text += f"*SOLID SECTION, ELSET=E{k}, MATERIAL=WOOD, ORIENTATION=O{k}\n"
    if case["bar"]:
        rod = case["bar"]
        lean = np.array([rod["x1"] - rod["x0"], rod["y1"] - rod["y0"], 0.0])
        text += orientation_card("OBAR", lean / np.linalg.norm(lean), (0, 1, 0))
        text += f"*ELSET, ELSET=EBAR, GENERATE\n{n_plate + 1}, {n_plate + len(mesh.bar)}\n"
        text += "*SOLID SECTION, ELSET=EBAR, MATERIAL=BARWOOD, ORIENTATION=OBAR\n"
    return text


def middle_level(mesh: Mesh) -> int:
    """Index of the grid's mid-thickness layer at the corner of the plate."""
    line = mesh.points[mesh.grid[0, 0, ::2]]
    part = np.linalg.norm(line - line[0], axis=1) / np.linalg.norm(line[-1] - line[0])
    return 2 * int(np.argmin(np.abs(part - 0.5)))


def rim(grid: np.ndarray, level: int) -> np.ndarray:
    """Nodes on the border of the plate at one level of the grid through the thickness."""
    layer = grid[:, :, level]
    border = np.unique(np.concatenate([layer[0], layer[-1], layer[:, 0], layer[:, -1]]))
    return border[border >= 0]


def patch_loads(case: dict, mesh: Mesh) -> dict[int, float]:
    """Consistent vertical node forces in N of a load spread evenly over the plan area of the patch."""
    load, face = case["load"], mesh.grid[:, :, -1]
    gauss, weight = np.polynomial.legendre.leggauss(4)
    steps = np.array([(0, 0), (2, 0), (2, 2), (0, 2), (1, 0), (2, 1), (1, 2), (0, 1)])
    forces: dict[int, float] = {}
    for i in range(0, face.shape[0] - 2, 2):
        for j in range(0, face.shape[1] - 2, 2):
            nodes = np.array([face[i + di, j + dj] for di, dj in steps])
            xy = mesh.points[nodes, :2]
            off = np.abs(xy.mean(axis=0) - (load["x"], load["y"])) / (load["size_x"] / 2, load["size_y"] / 2)
            if off.max() > 1:
                continue
            for s, ws in zip(gauss, weight, strict=True):
                for t, wt in zip(gauss, weight, strict=True):
                    shape, ds, dt = serendipity(s, t)
                    area = abs(np.linalg.det(np.stack([ds @ xy, dt @ xy])))
                    for node, value in zip(nodes, shape * area * ws * wt, strict=True):
                        forces[node] = forces.get(node, 0.0) + value
    total = sum(forces.values())
    if abs(total / (load["size_x"] * load["size_y"]) - 1) > 1e-6:
        msg = f"patch area {total} m2 is not {load['size_x'] * load['size_y']} m2: mesh lines miss the patch"
        raise ValueError(msg)
    return {node: load["force_z"] * value / total for node, value in forces.items()}


def serendipity(s: float, t: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Shape functions of the 8-node quadrilateral and their derivatives."""
    cs, ct = np.array([-1, 1, 1, -1]), np.array([-1, -1, 1, 1])
    corner = (1 + cs * s) * (1 + ct * t) * (cs * s + ct * t - 1) / 4
    corner_s = cs * (1 + ct * t) * (2 * cs * s + ct * t) / 4
    corner_t = ct * (1 + cs * s) * (2 * ct * t + cs * s) / 4
    q, r = 1 - s * s, 1 - t * t
    side = np.array([q * (1 - t), (1 + s) * r, q * (1 + t), (1 - s) * r]) / 2
    side_s = np.array([-2 * s * (1 - t), r, -2 * s * (1 + t), -r]) / 2
    side_t = np.array([-q, -2 * t * (1 + s), q, -2 * t * (1 - s)]) / 2
    return np.r_[corner, side], np.r_[corner_s, side_s], np.r_[corner_t, side_t]


def probes(case: dict, mesh: Mesh) -> dict[str, int]:
    """Nodes at which a static case reports its vertical displacement."""
    load, outer = case["load"], mesh.points[mesh.grid[::2, ::2, -1]]
    middle = middle_level(mesh)
    gap = np.hypot(outer[..., 0] - load["x"], outer[..., 1] - load["y"])
    i, j = (2 * v for v in np.unravel_index(np.argmin(gap), gap.shape))
    if gap.min() > 1e-9:
        msg = f"nearest node is {gap.min()} m from the load centre: give the patch an even number of elements"
        raise ValueError(msg)
    return {name: int(mesh.grid[i, j, k]) for name, k in (("inner", 0), ("middle", middle), ("outer", -1))}


def deck(case: dict, mesh: Mesh, element: str) -> str:
    """Whole input file of one run; node and element numbers start at 1."""
    lines = ["*NODE, NSET=NALL\n"]
    lines += [f"{k}, {x:.12e}, {y:.12e}, {z:.12e}\n" for k, (x, y, z) in enumerate(mesh.points, start=1)]
    lines.append(f"*ELEMENT, TYPE={element}, ELSET=EALL\n")
    for k, nodes in enumerate(np.concatenate([mesh.plate, mesh.bar]) + 1, start=1):
        lines.append(rows(np.r_[k, nodes]))
    lines.append(material_card("WOOD", case["material"]))
    if case["bar"]:
        lines.append(material_card("BARWOOD", case["bar_material"]))
    lines.append(section_cards(case, mesh))
    if "load" not in case:
        return "".join(lines) + f"*STEP\n*FREQUENCY\n{N_RIGID + N_ELASTIC + 2}\n*END STEP\n"
    level = 0 if case["support"] == "inner" else middle_level(mesh)
    held = rim(mesh.grid, level)
    sides = [mesh.grid[i, :, level] for i in (0, -1)]
    ends = [line[np.argmin(np.abs(mesh.points[line, 1]))] + 1 for line in sides]
    lines.append("*BOUNDARY\n" + "".join(f"{k + 1}, 3, 3\n" for k in held))
    lines.append(f"{ends[0]}, 1, 2\n{ends[1]}, 2, 2\n*STEP\n*STATIC\n*CLOAD\n")
    lines += [f"{node + 1}, 3, {force:.12e}\n" for node, force in patch_loads(case, mesh).items()]
    lines.append("*NSET, NSET=NPROBE\n" + rows(np.array(sorted(probes(case, mesh).values())) + 1))
    return "".join(lines) + "*NODE PRINT, NSET=NPROBE\nU\n*END STEP\n"


def solve(case: dict, refine: float, folder: Path, element: str = ELEMENT) -> dict:
    """Run one mesh and return frequencies in Hz (or displacements in m), node count and seconds."""
    mesh, start = build(case, refine), time.perf_counter()
    (folder / "job.inp").write_text(deck(case, mesh, element))
    env = {**os.environ, "OMP_NUM_THREADS": "1"}
    command = ["ccx", "-i", "job"]
    run = subprocess.run(command, cwd=folder, env=env, capture_output=True, text=True, check=False)
    text = (folder / "job.dat").read_text() if (folder / "job.dat").exists() else ""
    out = {"refine": refine, "element": element, "elements": mesh.counts, "nodes": len(mesh.points)}
    if "load" in case:
        found = {int(m[0]): float(m[3]) for m in (line.split() for line in text.splitlines()) if len(m) == 4}
        out["u_z_m"] = {name: found[node + 1] for name, node in probes(case, mesh).items()}
    else:
        table = re.search(r"E I G E N V A L U E   O U T P U T(.*?)(P A R T|\Z)", text, re.DOTALL)
        if table is None:
            msg = f"the solver wrote no eigenvalues (exit code {run.returncode}): {run.stdout[-500:]}"
            raise RuntimeError(msg)
        values = [line.split() for line in table.group(1).splitlines() if re.match(r"\s+\d+\s", line)]
        # Columns: number, eigenvalue, rad/s, Hz, imaginary part; rigid modes may come out as small negatives.
        hz = np.sort([abs(float(v[1])) ** 0.5 / (2 * np.pi) for v in values])
        out["rigid_max_hz"] = float(hz[N_RIGID - 1])
        out["frequencies_hz"] = [float(v) for v in hz[N_RIGID : N_RIGID + N_ELASTIC]]
    out["seconds"] = round(time.perf_counter() - start, 1)
    return out


def summary(runs: list[dict]) -> dict:
    """Values of the finest mesh, Richardson's limit and error estimate from the two finest meshes.

    The order is taken as 2. Modal cases with three meshes show 3 or more (but 6, see README.md), so the
    estimate errs on the large side.
    """
    fine, coarse = runs[-1], runs[-2]
    gain = (fine["refine"] / coarse["refine"]) ** RICHARDSON_ORDER - 1
    if "u_z_m" in fine:
        step = {name: (fine["u_z_m"][name] - coarse["u_z_m"][name]) / gain for name in fine["u_z_m"]}
        return {
            "u_z_m": fine["u_z_m"],
            "extrapolated_u_z_m": {name: fine["u_z_m"][name] + d for name, d in step.items()},
            "error_estimate_percent": {name: abs(100 * d / fine["u_z_m"][name]) for name, d in step.items()},
        }
    found, before = np.array(fine["frequencies_hz"]), np.array(coarse["frequencies_hz"])
    step = (found - before) / gain
    return {
        "rigid_max_hz": fine["rigid_max_hz"],
        "frequencies_hz": fine["frequencies_hz"],
        "extrapolated_hz": (found + step).round(4).tolist(),
        "error_estimate_percent": np.abs(100 * step / found).round(4).tolist(),
    }


def write_tables(document: dict) -> None:
    """Write the JSON document and the two CSV tables beside this script."""
    (HERE / "solid_cases.json").write_text(json.dumps(document, indent=1) + "\n")
    modal = [["case", "mode", "frequency_hz", "extrapolated_hz", "error_estimate_percent"]]
    static = [["case", "node", "u_z_m", "extrapolated_u_z_m", "error_estimate_percent"]]
    for name, entry in document["cases"].items():
        band = entry["error_estimate_percent"]
        if "u_z_m" in entry:
            limits = entry["extrapolated_u_z_m"]
            for node, value in entry["u_z_m"].items():
                static.append([name, node, f"{value:.7e}", f"{limits[node]:.7e}", f"{band[node]:.4f}"])
            continue
        values = zip(entry["frequencies_hz"], entry["extrapolated_hz"], band, strict=True)
        modal += [[name, mode, *(f"{v:.4f}" for v in row)] for mode, row in enumerate(values, start=1)]
    for file, table in (("frequencies.csv", modal), ("static.csv", static)):
        with (HERE / file).open("w", newline="") as stream:
            csv.writer(stream, lineterminator="\n").writerows(table)


def main() -> None:
    """Run the cases asked for on every mesh asked for, merge with what is there, write after each case."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("cases", nargs="*", metavar="CASE", help=f"any of {', '.join(CASES)}; default all")
    parser.add_argument("--refine", nargs="+", type=float, default=[0.7, 1.0, 1.4], help="mesh levels")
    parser.add_argument("--work", type=Path, help="folder for the solver's files; default a temporary one")
    args = parser.parse_args()
    if unknown := set(args.cases) - set(CASES):
        parser.error(f"unknown cases {sorted(unknown)}; allowed: {', '.join(CASES)}")
    path = HERE / "solid_cases.json"
    old = json.loads(path.read_text())["cases"] if path.exists() else {}
    for name in args.cases or CASES:
        entry = json.loads(json.dumps(CASES[name]))
        known = old.get(name, {})
        same = all(known.get(key) == value for key, value in entry.items())
        meshes = {run["refine"]: run for run in known.get("meshes", [])} if same else {}
        for refine in args.refine:
            with tempfile.TemporaryDirectory(dir=args.work) as folder:
                meshes[refine] = solve(CASES[name], refine, Path(folder))
            print(name, refine, meshes[refine]["nodes"], "nodes", meshes[refine]["seconds"], "s", flush=True)
        runs = [meshes[k] for k in sorted(meshes)]
        old[name] = {**entry, **(summary(runs) if len(runs) > 1 else {}), "meshes": runs}
        ordered = {key: old[key] for key in CASES if key in old and len(old[key]["meshes"]) > 1}
        document = {"solver": solver_version(), "units": "SI", "conventions": CONVENTIONS, "cases": ordered}
        write_tables(document)


if __name__ == "__main__":
    main()
