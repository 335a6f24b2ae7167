"""Length, width and place read between a few solved bars, against the full model of bars in between."""

import pytest

from platemodel.instrument.bar_shape import shaped_bar
from platemodel.study.choosing import targets as t
from platemodel.study.choosing.choose import choose_bar
from platemodel.study.choosing.freedom import Freedom
from platemodel.study.top.figures import TopFigures
from tests.choosing_parts import MM, bar, model, plain, reduced, reference

MESH, NOISE = 8e-3, 3e-3  # see `test_reading_between_solved_bars`
READ = ("foot_n_per_mm", "f1_hz", "f2_hz", "f5_hz", "bar_g")


def apart(found, full):
    """Largest relative difference of the figures that are read."""
    return max(abs(found[name] / full[name] - 1.0) for name in READ)


# None of these was solved: solved are 5 % of the length, 15 % of the width, 2 mm of the place to both sides.
@pytest.mark.parametrize(
    "changes",
    [
        {"length": 0.975},
        {"length": 1.03},
        {"width": 0.92},
        {"width": 1.1},
        {"position": 1.2 * MM},
        {"position": -1.5 * MM},
        {"length": 1.03, "width": 1.08, "position": 1.2 * MM},
    ],
    ids=str,
)
def test_reading_between_solved_bars(changes):
    """Within 0.8 %: on this coarse mesh, laid for the bar that was not moved, the full model itself is off by
    0.3 to 0.7 % for one moved by 1 to 2 mm (against a mesh laid for it). So a change is asked to be seen only
    where it is more than 0.3 %: the move by -1.5 mm is worth 0.17 %.
    """
    one = shaped_bar(bar(), height=11 * MM)
    asked = {k: v if k == "position" else v * getattr(bar(), k) for k, v in changes.items()}
    full = TopFigures(model()).of(shaped_bar(one, **asked))
    found = plain().of(one, asked)
    unread = apart(plain().figures.of(one), full)
    assert apart(found, full) < MESH
    assert apart(found, full) < 0.5 * max(unread, NOISE)  # the change itself is seen


def test_nothing_changed_is_nothing_read():
    one = shaped_bar(bar(), height=11 * MM)
    assert apart(plain().of(one, {"length": bar().length}), plain().figures.of(one)) == 0.0


@pytest.mark.slow
def test_a_freed_length_against_the_full_model():
    """The bar chosen with its length freed, solved in full: the target that binds is met within 2e-3, the
    last step of the search, and no bar 2 % shorter or 3 % lower meets it.
    """
    wish = [t.foot_as_usual(reference(), 1.02)]
    free = Freedom(("height", "length"))
    found = choose_bar(
        reduced(), bar(), wish, free, effects=plain(), reference=reference(), compare=False
    )
    full = TopFigures(model())
    goal = wish[0].value
    assert found.met
    assert full.of(found.bar)["foot_n_per_mm"] == pytest.approx(goal, rel=2e-3)
    height = found.height_mm * MM
    for smaller in (
        shaped_bar(found.bar, length=0.98 * found.bar.length),
        shaped_bar(found.bar, height=0.97 * height),
    ):
        assert full.of(smaller)["foot_n_per_mm"] < goal
    assert found.bar.length < bar().length  # the lightest bar is as short as it may
