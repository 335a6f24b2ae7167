"""Single readings that do not fit the ones around them: slips of the pen, worth a second look."""

import numpy as np
from scipy.linalg import inv
from scipy.spatial.distance import cdist

from platemodel.instrument.outline import Outline
from platemodel.job.build_context import MM, Work

MOST_READINGS = 1200  # of a table that is searched; more are a scan, not written by hand
RIM_PLACES = 60  # round the edge, whose height is known
MOST_SLIPS = 3  # reported of one table
SPREADS = 6.0  # robust standard deviations beyond which a reading stands alone, a judgement


def odd_readings(
    points: np.ndarray, values: np.ndarray, least: float, rim: np.ndarray | None = None
) -> list[tuple[int, float]]:
    """Find readings that do not fit the others around them.

    Parameters
    ----------
    points : ndarray
        (n, 2) places, m.
    values : ndarray
        (n,) readings, m.
    least : float
        Smallest difference that counts, m.
    rim : ndarray, optional
        (k, 3) places and values that are known and not doubted, m: without them the outermost readings of a
        steep surface look odd.

    Returns
    -------
    list of (int, float)
        Position of a reading, and what the others suggest there; the worst first, at most `MOST_SLIPS`.

    Notes
    -----
    Each reading is compared with the surface (radial, linear kernel) through all others. That needs one
    inverse for all: the difference is the coefficient over the diagonal of the inverse (Rippa, Advances in
    Computational Mathematics 11, 1999, from memory). The worst is then left out, since it bends what its
    neighbours are compared with, and the rest are compared anew.
    """
    rim = np.empty((0, 3)) if rim is None else rim
    left = np.arange(len(values))
    out = []
    while len(left) >= 8 and len(out) < MOST_SLIPS:
        off = _off_the_others(np.r_[points[left], rim[:, :2]], np.r_[values[left], rim[:, 2]])[: len(left)]
        k = int(np.abs(off).argmax())
        spread = 1.4826 * float(np.median(np.abs(off - np.median(off))))
        if abs(off[k]) < max(least, SPREADS * spread):
            break
        out.append((int(left[k]), float(values[left[k]] - off[k])))
        left = np.delete(left, k)
    return out


def _off_the_others(points, values):
    """(n,) readings less what all the others suggest."""
    p = (points - points.mean(axis=0)) / np.ptp(points, axis=0).max()
    tail = np.c_[np.ones(len(p)), p]
    system = np.block([[-cdist(p, p), tail], [tail.T, np.zeros((3, 3))]])
    inverse = inv(system)
    n = len(values)
    return inverse[:n, :n] @ values / np.diag(inverse)[:n]


def slips(work: Work, outline: Outline):
    """Yield (kind, message, file and line, off in m, limit in m) for readings of the job's tables."""
    scale = max(1.0, work.dims.scale)
    rim = _rim(outline, work.fields.get("thickness.edge", work.dims.edge))
    long_arch = work.table("arching.long_arch_file")
    if long_arch is not None:
        rim = np.r_[rim, np.insert(long_arch, 1, 0.0, axis=1)]
    thick = max(1.0, work.dims.centre / (3.2 * MM))  # plates thicken less than bodies lengthen
    for name, label, least, known in (
        ("thickness.points_file", "thickness", 0.6 * MM * thick, None),
        ("arching.points_file", "height", 1.5 * MM * scale, rim),
        ("arching.cross_arches_file", "height", 1.5 * MM * scale, rim),
    ):
        rows = work.table(name) if name in work.tables else None
        if rows is None or not 8 <= len(rows) <= MOST_READINGS or np.ptp(rows[:, :2], axis=0).min() == 0:
            continue
        table = work.tables[name]
        for k, expected in odd_readings(rows[:, :2], rows[:, 2], least, known):
            x, y, value = rows[k] / MM
            yield (
                "slip",
                f"{label} {value:.1f} mm at x {x:.0f}, y {y:+.0f}, where the readings around it suggest "
                f"about {expected / MM:.1f} mm{_swapped(value, expected / MM)}; measure there again",
                f"{table.file}, line {int(table.lines[k])}",
                abs(value * MM - expected),
                least,
            )
    yield from _one_sided(work, 2.5 * MM * scale)


def _rim(outline, edge):
    """(k, 3) places round the edge with its height."""
    along = outline.polygon.exterior
    places = [along.interpolate(t, normalized=True).coords[0][:2] for t in np.arange(RIM_PLACES) / RIM_PLACES]
    return np.c_[places, np.full(RIM_PLACES, edge)]


def _one_sided(work, least):
    """Find a station where bass and treble differ more, or less, than at the stations beside it."""
    name = "outline.half_widths_file"
    rows = work.table(name) if name in work.tables else None
    if rows is None or len(rows) < 5:
        return
    order = np.argsort(rows[:, 0])
    x, bass, treble = rows[order].T
    gap = treble - bass
    t = (x[1:-1] - x[:-2]) / (x[2:] - x[:-2])
    beside = gap[:-2] + t * (gap[2:] - gap[:-2])
    off = gap[1:-1] - beside
    k = int(np.abs(off).argmax())
    if abs(off[k]) < least:
        return
    table = work.tables[name]
    here, left, right = (line[k + 1] / MM for line in (x, bass, treble))
    yield (
        "slip",
        f"half widths {left:.1f} and {right:.1f} mm at x {here:.0f}: treble less bass is {right - left:+.1f} "
        f"mm there, {beside[k] / MM:+.1f} mm by the stations beside it; measure there again",
        f"{table.file}, line {int(table.lines[order[k + 1]])}",
        abs(off[k]),
        least,
    )


def _swapped(value, expected):
    """Hint at two digits that in the other order come near to what is expected."""
    digits = f"{value:.1f}".replace(".", "")
    for i in range(len(digits) - 1):
        other = digits[:i] + digits[i + 1] + digits[i] + digits[i + 2 :]
        near = float(other) / 10.0
        if other != digits and abs(near - expected) < 0.25 * abs(value - expected):
            return f" ({near:.1f} with two digits changed round?)"
    return ""
