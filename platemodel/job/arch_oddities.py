"""An arch that is sunk: one side lower than the other, or hollow along the bar's line."""

from collections.abc import Iterator

import numpy as np

from platemodel.instrument.bar import Bar
from platemodel.instrument.top import Top
from platemodel.job.build_context import MM, Work

SUNK = 1.5 * MM  # between the two sides, from which it is reported; common practice, no source
# Dip below a taut thread along the bar's line. Full arches that are sound have up to 0.5 mm times their scale
# where the bar passes the waist (presets); what is deeper by half a millimetre is reported.
SOUND, MORE = 0.5 * MM, 0.5 * MM
BESIDE = 2.0 * MM  # readings at most so far from the mirrored place are compared, on a violin
_PRACTICE = "common practice, no source"


def arch_oddities(work: Work, top: Top, bar: Bar | None) -> Iterator[tuple[str, str, str, float, float]]:
    """Yield (kind, message, where, value in m, limit in m) for an arch that was measured and is sunk.

    Nothing is said of an arch that the job says is kept as it is.
    """
    if top.arching.misfit is None or work.fields.get("arching.sunk_kept", False):
        return
    yield from _sunk(work, top)
    if bar is not None:
        yield from _hollow(work, top, bar)


def at(x: float, y: float) -> str:
    """Write a place."""
    return f"x = {x / MM:.0f} mm, y = {y / MM:.0f} mm"


def _sunk(work, top):
    """Difference of height between the two sides: at the bridge line and the usual ends of a bar, as read."""
    length = top.outline.body_length
    y = np.linspace(0.02, 0.13, 12) * length
    said = False
    for label, x in (
        ("at the bridge line", top.bridge.x),
        ("at the lower end of the bar", 0.12 * length),
        ("at the upper end of the bar", 0.88 * length),
    ):
        gaps = top.arching.value(x, -y) - top.arching.value(x, y)
        k = int(np.abs(gaps).argmax())
        if abs(gaps[k]) > SUNK:
            said = True
            yield _side(float(gaps[k]), label, x, float(y[k]))
    gaps = _mirrored(work, BESIDE * max(1.0, work.dims.scale))
    if said or len(gaps) < 2:
        return
    order = np.argsort(-np.abs(gaps[:, 2]))
    worst, second = gaps[order[:2]]
    if abs(second[2]) > SUNK and worst[2] * second[2] > 0:  # one alone is a slip of the pen
        yield _side(worst[2], "by the readings", *worst[:2])


def _side(gap, label, x, y):
    word = "lower" if gap < 0 else "higher"
    return (
        "sunk",
        f"bass side {abs(gap) / MM:.1f} mm {word} than the treble side {label}; from {SUNK / MM:.1f} mm a "
        f"restorer should judge whether to correct it first ({_PRACTICE})",
        f"x = {x / MM:.0f} mm, y = {y / MM:.0f} mm to both sides",
        abs(gap),
        SUNK,
    )


def _mirrored(work, reach):
    """(n, 3) place on the treble side, and height as read of the bass side less of the treble side, m."""
    names = ("arching.points_file", "arching.cross_arches_file")
    rows = [work.table(n) for n in names if work.tables.get(n) is not None]
    if not rows:
        return np.empty((0, 3))
    rows = np.vstack(rows)
    bass, treble = rows[rows[:, 1] < -reach], rows[rows[:, 1] > reach]
    if not len(bass) or not len(treble):
        return np.empty((0, 3))
    away = np.hypot(bass[:, None, 0] - treble[None, :, 0], bass[:, None, 1] + treble[None, :, 1])
    k = away.argmin(axis=1)
    near = away[np.arange(len(bass)), k] <= reach
    return np.c_[treble[k], bass[:, 2] - treble[k, 2]][near][:, [0, 1, 3]]


def _hollow(work, top, bar):
    """Find a dip in the arch along the bar's line, which the template would follow."""
    x = np.linspace(bar.x_start, bar.x_end, 101)
    z = top.arching.value(x, bar.at(x))
    over = _taut(x, z) - z
    k = int(over.argmax())
    limit = SOUND * max(1.0, work.dims.scale) + MORE
    if over[k] > limit:
        yield (
            "hollow",
            f"along the bar's line the arch is hollow by {over[k] / MM:.1f} mm; one that is not sunk shows "
            f"up to {limit / MM:.1f} mm there. Correct the arch first, or say that you keep it (sunk_kept = "
            "true in [arching]): as it is, the template saws the hollow into the bar",
            at(x[k], float(bar.at(x[k]))),
            float(over[k]),
            limit,
        )


def _taut(x, z):
    """Heights of a thread stretched taut over a row of heights."""
    kept = []
    for k in range(len(x)):
        while len(kept) > 1:
            i, j = kept[-2:]
            if (x[j] - x[i]) * (z[k] - z[i]) < (z[j] - z[i]) * (x[k] - x[i]):
                break
            kept.pop()
        kept.append(k)
    return np.interp(x, x[kept], z[kept])
