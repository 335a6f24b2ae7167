"""A report for the owner, one page and no mechanics: what was found and done, and when to look again."""

from collections.abc import Sequence

from matplotlib.figure import Figure

from platemodel.bench.kit import cautions
from platemodel.bench.kit.colours import INK
from platemodel.bench.kit.page import A4_UPRIGHT
from platemodel.bench.kit.paper import new_page
from platemodel.bench.kit.typeset import LINE, TEXT, TITLE, Item, Slot, head, listed, write, write_broken
from platemodel.job import Job

LEFT, RIGHT = 15.0, 195.0  # mm
BLANK = 7.0  # mm, of a line to write on
#: Kinds of findings that an owner understands, and what is said of each.
SAID = {
    "sunk": "The top had sunk on the side of the low strings.",
    "thin": "The top is thin in places; it was worked on with that in mind.",
    "symmetry": "The two sides of the top are not quite alike, as is common on old instruments.",
    "hole": "The sound hole on the low side stands close to where the bar runs.",
}
AGAIN = (
    "after a day: listen for a buzz, look along the bridge, which must stand upright",
    "after a week: the same, and the height of the strings",
    "after three months: the height of the top under the bridge, the strings, the joint of the bar with a "
    "lamp and a mirror through the sound hole",
)
UNDONE = (
    "The bar is glued with hide glue: moisture and warmth take it off again, and the top is as it was. No "
    "wood was taken from the top to suit the bar."
)


def owner_page(
    job: Job, done: Sequence[str] = (), why: Sequence[str] = (), found: Sequence[str] = ()
) -> Figure:
    """Lay out the report, with lines to write on where nothing is known yet.

    Parameters
    ----------
    done, why, found : sequence of str
        What was done, why, and what was found, in the words of the history.
    """
    figure, ax = new_page(*A4_UPRIGHT)
    kind = job.top.kind
    y = write_broken(ax, LEFT, 284.0, f"Report for the owner: {job.name}", RIGHT - LEFT, TITLE, bold=True)
    write(ax, LEFT, y, f"A new bass bar for your {kind}. {cautions.invented_note(job)}".strip())
    y -= LINE[TEXT] + 4.0
    y = _block(ax, y, "What was found", [*_found(job), *found], 2)
    y = _block(
        ax, y, "What was done", done or ["A new bar of spruce was fitted and glued under the low strings."], 2
    )
    y = _block(ax, y, "Why", why, 2)
    y = _block(ax, y, "The old bar", ["It is kept, labelled, with:"], 1)
    y = _block(ax, y, "Can it be undone?", [UNDONE], 0)
    y = _block(ax, y, "When to look at it again", list(AGAIN), 0)
    y = _block(ax, y, "What you may notice", [
        "The sound settles over some weeks; keep the strings at pitch, and the air at 40 to 60 % humidity.",
        "A buzz, a rattle, a bridge that leans or strings that come down: slacken them and bring it back.",
    ], 0)  # fmt: skip
    for k, text in enumerate(("Done by, place and day:", "Strings back on, by and day:")):
        at = y - 10.0 - 9.0 * k
        write(ax, LEFT, at, text, va="bottom")
        ax.plot([LEFT + 60.0, RIGHT], [at, at], color=INK, lw=0.4)
    return figure


def _found(job):
    """Say findings and marks in an owner's words."""
    out = [text for kind, text in SAID.items() if any(f.kind == kind for f in job.findings)]
    counts = {}
    for mark in job.marks:
        counts[mark.kind] = counts.get(mark.kind, 0) + 1
    counts.pop("old bar", None)
    if counts:
        parts = [f"{n} {kind}{'s' if n > 1 and kind != 'worm' else ''}" for kind, n in counts.items()]
        out.append(
            f"Earlier repairs and damage were mapped: {', '.join(parts).replace('patchs', 'patches')}."
        )
    return out


def _block(ax, y, title, texts, blanks):
    """Head, texts, and so many lines to write on; returns the height below."""
    slot = Slot(ax, LEFT, y, 0.0, RIGHT - LEFT)
    slot.put([head(title), *(listed(texts) if len(texts) > 1 else [Item(t) for t in texts])])
    y = slot.y
    for _ in range(blanks):
        y -= BLANK
        ax.plot([LEFT, RIGHT], [y, y], color=INK, lw=0.4)
    return y - 4.0
