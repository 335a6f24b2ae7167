"""Strings over the bridge: laws of the string and of the lever, usual sets, what is refused."""

from dataclasses import replace

import numpy as np
import pytest

from platemodel.instrument.bridge import Bridge
from platemodel.instrument.presets import preset_top
from platemodel.instrument.strings import (
    KGF,
    Post,
    SetUp,
    StringSet,
    downforce,
    downforce_of_sides,
    foot_loads,
    string_places,
    string_table,
    tension_of,
    usual_angle,
)

KINDS = ("violin", "viola", "cello")
MM = 1e-3


@pytest.fixture
def violin():
    return SetUp.usual("violin")


# Worked numbers are in tests/published/cases/loads.py; here are the laws.


def test_an_octave_takes_four_times_the_tension():
    assert tension_of(1e-3, 0.33, 440) == pytest.approx(4 * tension_of(1e-3, 0.33, 220), rel=1e-12)


@pytest.mark.parametrize("angle", [120.0, 154.3, 157.5, 175.0])
def test_both_formulas_agree_when_the_sides_fall_alike(angle):
    side = np.radians(0.5 * (180 - angle))
    push, tilt = downforce_of_sides(220.0, side, side)
    assert push == pytest.approx(downforce(220.0, np.radians(angle)), rel=1e-12)
    assert tilt == 0.0


@pytest.mark.parametrize(("front", "back"), [(8, 14), (14, 8), (4, 18), (0, 22)])
def test_the_resultant_halves_the_included_angle(front, back):
    """The pull is the same on both sides, so the push lies on the bisector: tilt (back - front) / 2."""
    push, tilt = downforce_of_sides(220.0, *np.radians([front, back]))
    assert np.degrees(tilt) == pytest.approx(0.5 * (back - front), abs=1e-9)
    along_bisector = downforce(220.0, np.radians(180 - front - back))
    assert push == pytest.approx(along_bisector * np.cos(tilt), rel=1e-12)


def test_a_straight_string_presses_on_nothing():
    assert downforce(220.0, np.pi) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("kind", KINDS)
def test_the_pull_is_not_the_load(kind):
    """Push over pull lies between 0.36 and 0.50 for every usual set-up (common practice, no source)."""
    usual = SetUp.usual(kind)
    assert 0.36 < usual.downforce / usual.strings.total < 0.50
    assert usual.downforce == usual.downforce_of_strings


def test_a_violin_pulls_with_some_22_kgf_and_presses_with_some_9(violin):
    """8 to 11 kgf press on a violin's top; 27 kgf is of the size of a pull (common practice, no source)."""
    assert 20 < violin.strings.total / KGF < 28
    assert 8 < violin.downforce / KGF < 11


def test_a_direct_load_stands_instead(violin):
    given = replace(violin, given=100.0)
    assert given.downforce == 100.0
    assert given.downforce_of_strings == violin.downforce
    bridge = preset_top("violin").bridge
    assert foot_loads(given, bridge)[0] / 100.0 == pytest.approx(
        foot_loads(violin, bridge)[0] / violin.downforce, rel=1e-12
    )


def test_loads_on_the_feet_are_in_balance(violin):
    """Their sum is the push, and their moment about the middle that of the strings."""
    bridge = preset_top("violin").bridge
    bass, treble = foot_loads(violin, bridge)
    assert bass + treble == pytest.approx(violin.downforce, rel=1e-12)
    pull = np.array(violin.strings.tensions)
    strings = violin.downforce * (pull @ string_places(4, violin.spacing)) / pull.sum()
    feet = bass * bridge.bass_foot[1] + treble * bridge.treble_foot[1]
    assert feet == pytest.approx(strings, rel=1e-12)
    assert 0.40 < bass / violin.downforce < 0.42  # about 0.41, common practice


def test_a_bridge_off_the_axis_shares_alike(violin):
    aside = Bridge(0.16, 41 * MM, 11.5 * MM, 4.5 * MM, y=5 * MM)
    on = replace(aside, y=0.0)
    assert foot_loads(violin, aside) == pytest.approx(foot_loads(violin, on), rel=1e-12)


def test_even_strings_share_evenly():
    even = SetUp(StringSet(("a", "b", "c"), (50.0, 50.0, 50.0), "test"), 0.2, 0.2, 34 * MM, Post())
    bass, treble = foot_loads(even, Bridge(0.16, 41 * MM, 11.5 * MM, 4.5 * MM))
    assert bass == pytest.approx(treble, rel=1e-12)


def test_the_post_stands_behind_and_inside(violin):
    bridge = preset_top("violin").bridge
    place = Post(behind=8 * MM, inward=2 * MM).place(bridge)
    assert place == pytest.approx(bridge.treble_foot - [8 * MM, 2 * MM])
    assert violin.post.behind == pytest.approx(8 * MM)


# --- usual sets ---------------------------------------------------------------------------------------


def test_every_row_says_how_far_it_can_be_trusted():
    table = string_table()
    assert table["status"].str.contains("from memory").all()
    assert (table["low_n"] < table["tension_n"]).all()
    assert (table["tension_n"] < table["high_n"]).all()
    for kind in KINDS:
        assert usual_angle(kind)[1]


def test_strings_stand_from_bass_to_treble():
    assert StringSet.usual("violin").names == ("G", "D", "A", "E")
    assert StringSet.usual("violin", "steel").total == 255.0
    assert StringSet.usual("cello").tensions == (132.0, 136.0, 140.0, 160.0)


def test_a_smaller_body_has_a_smaller_set_up():
    small = SetUp.usual("violin", 0.280)
    assert small.spacing / SetUp.usual("violin").spacing == pytest.approx(280 / 355)


# --- refused ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: tension_of(0.0, 0.3, 440), "string mass"),
        (lambda: downforce(220, np.radians(22.5)), "break angle"),
        (lambda: downforce_of_sides(220, -0.1, 0.05), "leave no push"),
        (lambda: downforce_of_sides(220, 1.2, 0.2), "front angle 68.75"),
        (lambda: StringSet.usual("viola", "gut"), "the table has"),
        (lambda: StringSet(("G", "D"), (40.0,), ""), "2 names for 1 tensions"),
        (lambda: StringSet(("G", "D"), (40.0, -1.0), ""), "must be positive"),
        (lambda: usual_angle("lute"), "no usual string angle"),
        (lambda: Post(stiffness=0.0), "post diameter"),
        (lambda: replace(SetUp.usual("violin"), given=-5.0), "downforce -5"),
        (lambda: replace(SetUp.usual("violin"), spacing=0.0), "string spacing 0 mm"),
    ],
)
def test_what_cannot_be_is_refused(make, words):
    with pytest.raises(ValueError, match=words):
        make()


def test_a_post_gives_unless_it_was_measured():
    """Usual band 60 to 150 N/mm, reckoned with its geometric middle; measured, it is what was measured."""
    usual = Post()
    assert usual.spring_ends == (60e3, 150e3)
    assert usual.spring == pytest.approx(np.sqrt(60e3 * 150e3))
    stone = Post(stiffness=np.inf)
    assert stone.spring == np.inf
    assert stone.spring_ends == (np.inf, np.inf)
    assert usual.scaled(2.0).spring == pytest.approx(2.0 * usual.spring)
