"""Writes docs/verification.md from the published checks: ``python -m tests.published.verification``."""

import re
from pathlib import Path

from tests.published.cases import (
    beams,
    deep_shells,
    glue,
    isotropic,
    loads,
    loose_wood,
    measured_plates,
    orthotropic,
    plate_in_air,
    shallow_shells,
    stiffened,
)
from tests.published.cases.case import STATUS

PAGE = Path(__file__).parents[2] / "docs" / "verification.md"
TOPICS = (
    ("Beams", beams.CASES),
    ("Isotropic plates", isotropic.CASES),
    ("Orthotropic plates", orthotropic.CASES),
    ("Measured plates", measured_plates.CASES),
    ("Loose wood", loose_wood.CASES),
    ("Deep shells", deep_shells.CASES),
    ("Shallow shells", shallow_shells.CASES),
    ("Plates with a rib", stiffened.CASES),
    ("Plates in air", plate_in_air.CASES),
    ("Strings, stresses and strengths", loads.CASES),
    ("Fit and glue", glue.CASES),
)
INTRODUCTION = """# Verification

The plate, shell and rib mechanics of `platemodel.fem` against values from outside the project. This page is
made by `python -m tests.published.verification` from the same list of cases that the tests in
`tests/published/` check, and a test fails when the page and the code disagree. Meshes are coarse on purpose:
the whole list runs in seconds.

How far a source can be trusted is said beside each case:

{status}

Two conditions decide more than any mesh, and every case states them: what the edges do in the plane, and
whether a rib is joined along a line, as classical theory has it, or on its glued width, as wood is.
"""
ROUNDING = 5e-4  # computed values are printed to five digits; other machines may differ in the fifth
POINTS = 0.05  # and differences, in percentage points, by as much


def page():
    """Return the whole page as text."""
    status = "\n".join(f"- *{name}*: {meaning}." for name, meaning in STATUS.items())
    parts = [INTRODUCTION.format(status=status), _summary()]
    for topic, cases in TOPICS:
        parts.append(f"## {topic}\n")
        parts += [_details(case) for case in cases]
    return "\n".join(parts)


def _summary():
    lines = [
        "## Summary\n",
        "| case | problem | source is | values | largest difference % | allowed % |",
        "|---|---|---|---|---|---|",
    ]
    for _, cases in TOPICS:
        for case in cases:
            worst = 100 * abs(case.deviation).max()
            lines.append(
                f"| {case.id} | {case.title} | {case.status} | {len(case.labels)} | {worst:.2f} "
                f"| {_allowed(case)} |"
            )
    return "\n".join(lines) + "\n"


def _allowed(case):
    return ", ".join(f"{100 * t:.3g}" for t in dict.fromkeys(case.allowed))


def _details(case):
    unit = f", {case.unit}" if case.unit else ""
    rows = (
        ("", case.labels),
        ("---", ["---"] * len(case.labels)),
        (f"published{unit}", [f"{v:.6g}" for v in case.published]),
        (f"computed{unit}", [f"{v:.5g}" for v in case.computed]),
        ("difference %", [f"{_plain(100 * d):+.2f}" for d in case.deviation]),
    )
    table = "\n".join(f"| {head} | " + " | ".join(cells) + " |" for head, cells in rows)
    return (
        f"### {case.id}: {case.title}\n\n{case.conditions}\n\n"
        f"Source ({case.status}): {case.source}.\n\n{table}\n\n"
        f"Allowed {_allowed(case)} %: {case.reason}.\n"
    )


def _plain(value):
    """Value without a sign that is only rounding."""
    return 0.0 if abs(value) < 5e-3 else value


def differences(old, new):
    """Lines in which two pages differ by more than rounding: list of (number, old, new)."""
    before, after = old.splitlines(), new.splitlines()
    if len(before) != len(after):
        return [(0, f"{len(before)} lines", f"{len(after)} lines")]
    pairs = enumerate(zip(before, after, strict=True), start=1)
    return [(number, a, b) for number, (a, b) in pairs if not _same(a, b)]


def _same(a, b):
    if a == b:
        return True
    left, right = ([c.strip() for c in line.split("|")] for line in (a, b))
    if len(left) != len(right) or len(left) < 4:
        return False
    if left[1] != right[1]:
        return False
    if left[1].startswith("computed"):
        return all(_near(p, q, relative=ROUNDING) for p, q in zip(left[2:], right[2:], strict=True))
    if left[1].startswith("difference"):
        return all(_near(p, q, absolute=POINTS) for p, q in zip(left[2:], right[2:], strict=True))
    # a row of the summary: only its largest difference may move
    return (
        len(left) == 8
        and left[:5] + left[6:] == right[:5] + right[6:]
        and _near(left[5], right[5], absolute=POINTS)
    )


def _near(a, b, relative=0.0, absolute=0.0):
    if a == b:
        return True
    number = re.compile(r"[+-]?\d+(\.\d+)?(e[+-]?\d+)?$")
    if not (number.match(a) and number.match(b)):
        return False
    return abs(float(a) - float(b)) <= max(absolute, relative * abs(float(a)))


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
    print(f"{PAGE.name}: {sum(len(cases) for _, cases in TOPICS)} cases")
