"""Names of the parts of a pack; they are asked for before anything that draws is loaded."""

from collections.abc import Sequence

#: Name of each part, in the order of the pack, and what it is.
PARTS = {
    "first": "The bar in ten seconds",
    "contents": "Contents",
    "job": "The job in full",
    "lines": "Where else the bar could go",
    "layout": "Layout at 1:1",
    "template": "Template and cut list at 1:1",
    "work": "Order of work",
    "spring": "Spring",
    "stops": "Cutting down: stop points",
    "glue": "Gluing and clamps",
    "modes": "Plate modes",
    "load": "String load",
    "body": "The closed body",
    "owner": "For the owner",
}

#: What must be computed for a part, besides layout, seat and cut list; names of `pack.plan.Plan`.
NEEDS = {
    "job": ("modes", "load", "glue", "stops"),
    "lines": ("lines",),
    "work": ("glue",),
    "spring": ("springs",),
    "stops": ("modes", "stops"),
    "glue": ("glue",),
    "modes": ("modes",),
    "load": ("load",),
    "body": ("body",),
}
#: Parts that show whether the taps that were kept and the model agree.
SHOW_TAPS = ("first", "job", "modes", "load", "stops")


def chosen(only: Sequence[str]) -> tuple[str, ...]:
    """Return the parts wanted, in the order of the pack; all of them where none is named.

    Raises
    ------
    ValueError
        A name that is none.
    """
    wrong = [name for name in only if name not in PARTS]
    if wrong:
        msg = f"part {wrong[0]!r}: allowed are {', '.join(PARTS)}"
        raise ValueError(msg)
    return tuple(name for name in PARTS if not only or name in only)
