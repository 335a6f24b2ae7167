"""The cases: geometry, wood and supports of every solid reference, SI units, as plain dictionaries."""

# Ratios of Sitka spruce, Wood Handbook (FPL-GTR-190) tables 5-1, 5-2, from memory, on E_L = 1.1 x 10.8 GPa.
SPRUCE = {
    "name": "spruce W1",
    "E_L": 11.88e9, "E_R": 0.927e9, "E_T": 0.511e9,
    "G_LR": 0.760e9, "G_LT": 0.725e9, "G_RT": 0.0356e9,
    "nu_LR": 0.372, "nu_LT": 0.467, "nu_RT": 0.435,
    "rho": 400.0,
}  # fmt: skip
G_ALUMINIUM = 70e9 / (2 * 1.33)
ALUMINIUM = {
    "name": "isotropic aluminium",
    "E_L": 70e9, "E_R": 70e9, "E_T": 70e9,
    "G_LR": G_ALUMINIUM, "G_LT": G_ALUMINIUM, "G_RT": G_ALUMINIUM,
    "nu_LR": 0.33, "nu_LT": 0.33, "nu_RT": 0.33,
    "rho": 2700.0,
}  # fmt: skip

FLAT = {"kind": "flat", "height": 0.0}
DOUBLE = {"kind": "bi_parabola", "height": 0.015}
ACROSS = {"kind": "parabola_across_y", "height": 0.015}
ALONG = {"kind": "parabola_along_x", "height": 0.015}
UNIFORM = {"kind": "uniform", "edge": 0.003, "middle": 0.003, "symmetric": False}
SWELLING = {"kind": "bi_parabola", "edge": 0.0025, "middle": 0.0035, "symmetric": True}
PATCH = {"force_z": -35.0, "x": 0.0, "y": -0.0165, "size_x": 0.0045, "size_y": 0.0115}


FULL = {"x0": -0.18, "x1": 0.18}


def bar(y0=-0.03, y1=None, x0=-0.135, x1=0.135, height_mid=0.012, height_end=0.012, width=0.0055):
    """Bar of a case: middle line from (x0, y0) to (x1, y1) in plan, parabolic height (power 2), metres."""
    return {
        "y0": y0, "y1": y0 if y1 is None else y1, "x0": x0, "x1": x1, "width": width,
        "height_mid": height_mid, "height_end": height_end, "power": 2,
    }  # fmt: skip


def case(title, arch=FLAT, rod=None, grain="carved", thickness=UNIFORM, material=SPRUCE, **more):
    """Full description of one case."""
    return {
        "title": title, "plate": {"a": 0.36, "b": 0.20}, "thickness": thickness, "arch": arch, "grain": grain,
        "bar": rod, "material": material, "bar_material": material if rod else None, **more,
    }  # fmt: skip


def leaning(lean):
    """Bar of case 2 whose free edge leans towards plus y by an angle, rad."""
    return {**bar(**FULL), "lean": lean}


TAPERED = bar(height_end=0.0035)
TEN = 0.1745  # rad, ten degrees
CASES = {
    "1": case("flat, bare"),
    "2": case("flat, bar full length, 12 mm", rod=bar(**FULL)),
    "3": case("flat, short bar, 12 mm", rod=bar()),
    "3y": case("flat, short bar, 12 mm, other place", rod=bar(y0=-0.055)),
    "4": case("flat, short bar, height 3.5 to 12 mm", rod=TAPERED),
    "5": case("doubly arched, bare", DOUBLE),
    "6": case("doubly arched, bare, grain bent along the surface", DOUBLE, grain="bent"),
    "7": case("arched across, bare", ACROSS),
    "7b": case("arched along, bare", ALONG),
    "8": case("doubly arched, bar of case 4", DOUBLE, rod=TAPERED),
    "9": case("doubly arched, bar full length, 12 mm", DOUBLE, rod=bar(**FULL)),
    "10": case("flat, thickness 2.5 to 3.5 mm, bare", thickness=SWELLING),
    "11": case("case 3 in aluminium", rod=bar(), material=ALUMINIUM),
    "12": case("case 3 with bar 6 mm high", rod=bar(height_mid=0.006, height_end=0.006)),
    "13": case("case 3 with the bar leaning in plan", rod=bar(y0=-0.025, y1=-0.035)),
    "15p": case("case 2, free edge leaning to plus y", rod=leaning(0.2)),
    "15m": case("case 2, free edge leaning to minus y", rod=leaning(-0.2)),
    "16": case("case 3, the plate's grain runs out by 10 degrees", rod=bar(), run_out=TEN),
    "17": case("case 8, the plate's grain runs out by 10 degrees", DOUBLE, rod=TAPERED, run_out=TEN),
    "17b": case("case 17 without bar", DOUBLE, run_out=TEN),
    "14": case("case 8 on its rim under a patch load", DOUBLE, TAPERED, load=PATCH, support="inner"),
    "14m": case("case 14 held at mid-thickness", DOUBLE, TAPERED, load=PATCH, support="middle"),
    "14b": case("case 14 without bar", DOUBLE, load=PATCH, support="inner"),
    "14bm": case("case 14m without bar", DOUBLE, load=PATCH, support="middle"),
}
