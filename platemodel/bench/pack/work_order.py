"""The order of work at the bench, with boxes to tick: from photographs to the last taps."""

from matplotlib.figure import Figure

from platemodel.bench.kit.typeset import LINE, TEXT, TITLE, Item, head, write
from platemodel.bench.pack.frame import LEFT, TOP, subtitle, two_columns
from platemodel.bench.pack.plan import Plan
from platemodel.job import Job

BOX, INDENT = "☐", 5.5
NOTE = "Common practice, no source, where no figure of this pack is named. Write the day beside each tick."


def work_order_pages(plan: Plan) -> list[Figure]:
    """Lay out the steps, on as many pages as they take.

    Returns
    -------
    list of matplotlib.figure.Figure
        A4, upright.
    """

    def headed(ax, first):
        write(ax, LEFT, TOP, "Order of work" if first else "Order of work, continued", TITLE, bold=True)
        write(ax, LEFT, TOP - LINE[TITLE], subtitle(plan.job))
        write(ax, LEFT, TOP - LINE[TITLE] - LINE[TEXT], NOTE)
        return 266.0

    blocks = [[head(f"{k}. {title}"), *_boxes(texts)] for k, (title, texts) in enumerate(_steps(plan), 1)]
    return two_columns(blocks, headed, between=2.5)


def _boxes(texts):
    """Put a box before what is to be done, a mark before a caution."""
    return [
        Item(t[1:].strip(), "!", INDENT, alarm=True) if t.startswith("!") else Item(t, BOX, INDENT)
        for t in texts
    ]


def _steps(plan):
    cuts, glue = plan.layout.cuts, plan.glue
    count, rough = glue.plan.count, 1e3 * cuts.allowance
    marks = sorted({m.kind for m in plan.job.marks})
    seen = f"Marks seen again: {', '.join(marks)}" if marks else "Cracks and worm looked for: marks.csv"
    shape = "left square" if plan.layout.bar.is_square else "rounded"
    hottest = max(glue.window.table["wood_c"])
    yield from _first_steps(plan.job, seen)
    yield (
        "Lay out and saw",
        (
            "Both 100 mm bars of every sheet measured",
            "Axis found, line set out with dividers from page 1, soft pencil",
            "Blank: grain upright, split, planed to width; template round it; sawn outside the line",
            "Small guides glued to the plate beside the seat with a drop of weak glue, against slipping",
            "! Blades: bar against a stop, both hands behind the edge.",
        ),
    )
    yield (
        "Chalk fitting",
        (
            "By stages: every fourth of the length touches; then along the whole; then across the width",
            "Chalk on the plate, bar moved by a millimetre, marked spots pared off the bar only",
            "Light test: lamp behind, no light under either flank, the ends last",
            "Spring or none: decided on the page of springs, written down",
        ),
    )
    yield (
        "Dry run",
        (
            f"All {count} clamps set dry in their order, with blocks and lining; "
            "block marked that must be cut clear",
            "Force by feel on a kitchen scale, as on the page of gluing",
            "Bar does not slip, ends close, nothing marks the varnish",
            "Run through with the clock, twice",
        ),
    )
    yield (
        "Glue",
        (
            f"Bar and plate warmed as the page of gluing says, {hottest:.0f} °C at most; "
            "glue at 60 °C, fresh",
            "Spread on the bar, set down, rubbed in by a millimetre, clamped in order; middle clamp again",
            "Squeeze-out along both flanks all the way; wiped with cold water, then hot, then dry",
            "! Hot glue scalds; no water on the varnish side.",
            "A night at least, 12 to 24 hours, before any clamp comes off",
        ),
    )
    yield (
        "After the night",
        (
            "Clamps off slowly, the ends first; guides off with a damp pad",
            "Rest of the squeeze-out off with cold, then hot water; dried again for a day",
            "Joint looked along with lamp and feeler, tapped for a loose place",
            f"Weighed and tapped: bar {rough:.1f} mm over its final height from end to end",
        ),
    )
    yield (
        "Ends, profile, rounding",
        (
            "Ends as drawn, plate guarded with a card; then the profile in steps to the stop points",
            "At each stop: brushed off, weighed, tapped or flexed, written down, then decided",
            f"Section {shape}, arrises broken, nothing thinner than drawn",
            "! Wood cannot be put back.",
        ),
    )
    yield (
        "Last",
        (
            "Final height, weight, taps 1, 2, 5, humidity written down; photographs",
            "Arch height at the bass foot: before, on the next day",
            "Owner's report filled in; looked at again after a day, a week, three months",
        ),
    )


def bare_before(job: Job) -> bool:
    """Whether the job tells of the top without a bar, weighed, tapped or flexed: no old bar is on it now."""
    return any(state.bar == "none" for state in job.states)


def _first_steps(job, seen):
    """Up to a clean seat: with the old bar still on, or off already, or never there."""
    off = bare_before(job)
    where, told = ("" if off else " with the old bar"), job.old_bar is not None
    measured = (
        "Old bar, if it was kept: length, width, heights and weight into [old_bar]"
        if off
        else "Old bar measured on the top: length, width, height every 20 mm, place; its spring, if any"
    )
    yield (
        "Before",
        (
            f"Photographs: outside, inside{where}, label, every mark, with a rule in the picture",
            *(() if off and told else (measured,)),
            "Arch height at the bass foot and ends over a straight edge, written down",
            seen,
            "Decided and written down why a new bar; the owner asked",
        ),
    )
    clean = (
        "Seat clean: bare wood, no glue, no ridge. No wood taken off",
        f"Top weighed{' again' * off}; tapped without bar (1, 2, 5) at the day's humidity",
    )
    if off:
        yield "The seat", clean
        return
    yield (
        "The old bar off",
        (
            "Knife never under it: planed down thin first, top in its cradle, edge away from the plate",
            "The last of it and the old glue soaked with warm water on a pad, lifted off, wiped dry",
            "! No water on the varnish side; a cleat or joint near by may let go.",
            "Dried under light weight for a day or more, until its weight stays the same",
            "Old bar labelled and kept with the instrument",
            *clean,
        ),
    )
