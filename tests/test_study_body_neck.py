"""Neck, fingerboard and head as beams: the section by integrals, mass and inertia as of solid bodies."""

import numpy as np
import pytest

from platemodel.instrument.body import usual_body
from platemodel.instrument.presets import preset_top
from platemodel.instrument.strings import SetUp
from platemodel.study.body.model import _glued, _neck_frame, string_line
from platemodel.wood import from_species


@pytest.fixture(scope="module")
def parts():
    top = preset_top("violin")
    return usual_body(top), top, SetUp.usual("violin")


def test_glued_neck_bends_as_its_fibres_do():
    """Integrals of E z^2 and E y^2 over half an ellipse below and the board above, about the line that bears
    no force (transformed section, e.g. Timoshenko, Strength of Materials, from memory): 0.2 %, for the half
    ellipse's 0.1098 has four digits. The mass is that of both.
    """
    width, depth, board_width, board_depth = 0.024, 0.013, 0.030, 0.006
    wood, board = from_species("tonewood spruce"), from_species("tonewood spruce", density=900, E_L=17e9)
    found = _glued(0, 1, width, depth, wood, board_width, board_depth, board)
    z = -depth * (np.arange(20000) + 0.5) / 20000  # below the glued face
    across = width * np.sqrt(1.0 - (z / depth) ** 2) * depth / 20000
    ebony, middle = board.E_L * board_width * board_depth, 0.5 * board_depth
    axial = wood.E_L * across.sum() + ebony
    line = (wood.E_L * (across @ z) + ebony * middle) / axial
    upright = wood.E_L * (across @ (z - line) ** 2) + ebony * ((middle - line) ** 2 + board_depth**2 / 12)
    assert found.modulus * found.area == pytest.approx(axial, rel=1e-4)
    assert found.modulus * found.upright == pytest.approx(upright, rel=2e-3)
    sideways = wood.E_L * np.pi * depth * width**3 / 64 + ebony * board_width**2 / 12
    assert found.modulus * found.sideways == pytest.approx(sideways, rel=1e-9)
    mass = wood.density * np.pi / 4 * width * depth + board.density * board_width * board_depth
    assert found.density * found.area == pytest.approx(mass, rel=1e-9)
    # the two side by side: each twists by itself
    alone = [_glued(0, 1, width, depth, wood, board_width, k * board_depth, board).torsion for k in (1, 1e-3)]
    ratio = board_width * board_depth
    rectangle = ratio**4 / (40 * (ratio * (board_width**2 + board_depth**2) / 12))
    assert alone[0] - alone[1] == pytest.approx(board.G_LR / wood.G_LR * rectangle, rel=1e-4)


def test_neck_weighs_what_its_parts_weigh(parts):
    """Half-round neck to the nut, the board all along, the head; both slope as the strings do."""
    body, top, set_up = parts
    neck, slope = body.neck, np.hypot(1.0, string_line(top, body, set_up).slope_front)
    frame = _neck_frame(body, top, set_up)
    stick = neck.wood.density * np.pi / 4 * neck.width * neck.depth * neck.nut_from_edge
    board = neck.board_wood.density * neck.board_width * neck.board_depth * neck.board_length
    assert frame.mass == pytest.approx(slope * (stick + board) + neck.head_mass, rel=1e-9)


def test_head_is_a_bar_beyond_the_nut(parts):
    """A square bar a quarter as thick as long, m (l^2 + a^2)/12 across and m a^2/6 along: the first without
    its 6 % of thickness. Its middle lies half its length beyond the nut, on the neck's line.
    """
    body, top, set_up = parts
    frame, neck = _neck_frame(body, top, set_up), body.neck
    (node, mass, inertia), edge = frame.lumps[0], body.outline.polygon.bounds[2]
    length = neck.head_length
    assert mass == neck.head_mass
    assert inertia[0, 0] == pytest.approx(mass * (0.25 * length) ** 2 / 6, rel=1e-9)
    solid = mass * length**2 * (1 + 1 / 16) / 12
    assert inertia[1, 1] == inertia[2, 2] == pytest.approx(solid, rel=0.07)
    assert frame.nodes[node, 0] == pytest.approx(edge + neck.nut_from_edge + 0.5 * length, rel=1e-9)
    fall = (frame.nodes[0, 2] - frame.nodes[node, 2]) / (frame.nodes[node, 0] - frame.nodes[0, 0])
    assert fall == pytest.approx(string_line(top, body, set_up).slope_front, rel=1e-9)
