"""Rigid motions that supports leave to a body: found exactly, and named."""

from collections.abc import Sequence

import numpy as np

from platemodel.fem.arrays import Floats, Sparse

NAMES = (
    *(f"sliding along {axis}" for axis in "xyz"),
    *(f"turning about {axis}" for axis in "xyz"),
)
IN_PLANE = (0, 1, 5)  # the motions of a flat plate in its own plane
EXACT = 1e-8  # of the most that a support sees of any motion: round-off is near 1e-13


def loose_motions(rigid: Floats, rows: Sequence[Sparse], size: float) -> Floats:
    """Return the combinations of rigid motions that no row of any support sees; theory (9.5).

    Parameters
    ----------
    rigid : array (n, 6)
        Three translations, then three rotations about the body's middle, unit displacement and unit angle.
    rows : sequence of sparse (m, n)
        Conditions, and what springs act on.
    size : float
        Half the body's size, m: a rotation counts as much as the displacement that it gives the rim.

    Returns
    -------
    array (6, r)
        Orthonormal columns over the translations and the rotations times ``size``; pure motions along and
        about the axes first.
    """
    scale = np.array([1.0] * 3 + [1.0 / size] * 3)
    seen = [np.zeros((1, 6))]
    for support in rows:
        part = np.asarray(support @ rigid) * scale
        longest = np.sqrt(np.asarray(support.multiply(support).sum(axis=1)).ravel().max(initial=0.0))
        seen.append(part / longest if longest > 0 else part)
    _, singular, turned = np.linalg.svd(np.linalg.qr(np.vstack(seen), mode="r"))
    singular = np.concatenate([singular, np.zeros(6 - len(singular))])
    return _aligned(turned[singular <= EXACT * max(singular[0], 1e-300)].T)


def _aligned(free: Floats) -> Floats:
    """Turn a basis of motions so that those along and about the axes, then mere translations, come first."""
    pure = [np.eye(6)[k] for k in range(6) if np.linalg.norm(free[k]) > 1.0 - 1e-9]
    out = np.array(pure).reshape(-1, 6).T
    rest = _remainder(free, out)
    if rest.shape[1]:
        _, singular, turned = np.linalg.svd(rest[3:])
        singular = np.concatenate([singular, np.zeros(rest.shape[1] - len(singular))])
        out = np.hstack([out, rest @ turned[singular < 1e-9].T, rest @ turned[singular >= 1e-9].T])
    return out


def _remainder(free: Floats, known: Floats) -> Floats:
    """Orthonormal basis of what a space of motions has beside some of its own: (6, r)."""
    u, singular, _ = np.linalg.svd(free - known @ (known.T @ free), full_matrices=False)
    return u[:, singular > 1e-6]


def name_motions(motions: Floats, size: float, middle: Floats, flat: bool) -> str:
    """Say which motions are loose, and what to do about them.

    Parameters
    ----------
    motions : array (6, r)
        See `loose_motions`.
    size : float
        m.
    middle : array (3,)
        Point that the rotations turn about, m.
    flat : bool
        The body is a flat plate in z = constant.
    """
    count = motions.shape[1]
    names = [_name(motion, size, middle) for motion in motions.T]
    if count == 6:
        return "all six rigid motions are loose: nothing holds the body"
    number = ("one motion is", "two motions are", "three motions are", "four motions are", "five motions are")
    what = f"{number[count - 1]} loose, without stiffness: {', '.join(names)}"
    if flat and set(names) <= {NAMES[k] for k in IN_PLANE}:
        return f"{what}; hold it in its plane"
    return f"{what}; hold the body there"


def _name(motion: Floats, size: float, middle: Floats) -> str:
    largest = int(np.abs(motion).argmax())
    if abs(motion[largest]) > 1.0 - 1e-9:
        return NAMES[largest]
    slide, turn = motion[:3], motion[3:] / size
    rate = float(np.linalg.norm(turn))
    if rate * size < 1e-6:
        return f"sliding along {_vector(slide)}"
    axis = turn / rate
    point = middle + np.cross(turn, slide) / rate**2
    about = f"turning about the line through {_place(point)} mm along {_vector(axis)}"
    pitch = float(slide @ axis) / rate
    return about if abs(pitch) < 1e-6 * size else f"{about} while sliding along it"


def _vector(direction: Floats) -> str:
    direction = direction * np.sign(direction[np.abs(direction).argmax()])  # one of two that mean the same
    return "(" + ", ".join(f"{v + 0.0:.2g}" for v in np.round(direction, 6)) + ")"


def _place(point: Floats) -> str:
    return "(" + ", ".join(f"{1e3 * v + 0.0:.1f}" for v in np.round(point, 9)) + ")"
