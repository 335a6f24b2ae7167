"""The one caution of a pack's first page: the gravest that applies to this top."""

from platemodel.bench.kit import cautions
from platemodel.bench.kit.typeset import HEAD, Item
from platemodel.bench.pack.plan import Plan

#: Kinds of findings, the gravest first, and what they ask for.
GRAVE = (
    (
        "crack",
        "A crack runs under the bar or into its end: a qualified restorer first, before you glue.",
    ),
    ("worm", "Worm under the bar: a qualified restorer first. Wood that is eaten holds no glue line."),
    (
        "hollow",
        "Correct the arch first, or say that you keep it: else the hollow is sawn into the bar.",
    ),
    (
        "sunk",
        "The arch is sunk: correct it first, or say that you keep it. A bar fitted to it keeps it so.",
    ),
    ("thin", "This top is thin: ask an experienced restorer before you work on it."),
    ("plate", "The bar leaves the plate: lay it out again before you cut anything."),
    ("taps and model", "Taps and model differ: trust no tone in this pack before the wood is found."),
)


def one_caution(plan: Plan) -> list[Item]:
    """Return the gravest caution that applies, set large, and under it that the maker decides."""
    findings = [*plan.layout.conflicts, *plan.job.findings]
    for kind, words in GRAVE:
        found = [f for f in findings if f.kind == kind]
        if found:
            last = cautions.ESTIMATE if "restorer" in words else f"{cautions.ESTIMATE} {cautions.RESTORER}"
            return [Item(words, size=HEAD, bold=True, alarm=True), Item(f"{found[0].text} {last}")]
    return [Item(cautions.ESTIMATE, size=HEAD, bold=True), Item(cautions.RESTORER)]
