"""Closed boxes of solid elements: geometry and wood of every case, SI units, as plain dictionaries."""

from solid_cases import SPRUCE


def wood(name, density, along, **ratios):
    """Constants from E_L and ratios to it; Poisson ratios as they are."""
    scaled = {key: along * value for key, value in ratios.items() if not key.startswith("nu")}
    return {"name": name, "E_L": along, **ratios, **scaled, "rho": density}


# Order of maple and willow in handbooks, from memory; what matters here is that both models have the same.
MAPLE = wood(
    "maple", 600.0, 10.5e9, E_R=0.135, E_T=0.070, G_LR=0.115, G_LT=0.085, G_RT=0.028,
    nu_LR=0.42, nu_LT=0.48, nu_RT=0.70,
)  # fmt: skip
WILLOW = wood(
    "willow", 420.0, 8.0e9, E_R=0.09, E_T=0.055, G_LR=0.075, G_LT=0.070, G_RT=0.012,
    nu_LR=0.40, nu_LT=0.45, nu_RT=0.60,
)  # fmt: skip

BOX = {
    "length": 0.350, "width": 0.200, "height": 0.030, "arch": 0.0, "top": 3e-3, "back": 3e-3,
    "overhang": 2.5e-3, "rib": 1e-3, "lining": {"width": 2e-3, "height": 7e-3},
    "bar": None, "posts": None, "blocks": None,
    "top_wood": SPRUCE, "back_wood": MAPLE, "rib_wood": MAPLE, "lining_wood": WILLOW, "block_wood": SPRUCE,
    "feet": {"bass": -0.0165, "treble": 0.0165, "size_x": 4.5e-3, "size_y": 11.5e-3},
}  # fmt: skip
BAR = {"y": -0.0165, "half": 0.135, "width": 5.5e-3, "height": 12e-3, "height_end": 3.5e-3}
POSTS = {"x": 0.014, "y": 0.020, "size": 6e-3, "stiffness": 8e6}
BLOCKS = {"depth": 0.015, "half_width": 0.025}


def box(title, **changed):
    """Full description of one case."""
    return {"title": title, **BOX, **changed}


ARCH = 0.015
BOXES = {
    "flat": box("flat, no bar"),
    "flat_bar": box("flat, bar", bar=BAR),
    "flat_low_bar": box("flat, bar of 8 mm", bar={**BAR, "height": 8e-3}),
    "flat_post": box("flat, bar, blocks and two posts", bar=BAR, posts=POSTS, blocks=BLOCKS),
    "arched": box("arched, no bar", arch=ARCH),
    "arched_bar": box("arched, bar", arch=ARCH, bar=BAR),
    "arched_post": box("arched, bar, blocks and two posts", arch=ARCH, bar=BAR, posts=POSTS, blocks=BLOCKS),
}
