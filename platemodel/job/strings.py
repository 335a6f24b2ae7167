"""From checked fields to strings and sound post."""

import numpy as np

from platemodel.instrument.strings import KGF, USUAL_POST, Post, SetUp, StringSet, usual_angle
from platemodel.job.build_context import Work

_STRINGS = 4
IN_KGF = 0.25  # of the usual tension: less is none, and about what kgf give


def build_set_up(work: Work) -> SetUp | None:
    """Strings, their angle and the post; what is left out follows the usual instrument.

    Without a table [strings] one line says so, since only the string load needs it.
    """
    if work.dims is None or work.failed("strings"):
        return None
    kind = work.dims.kind
    if "strings" not in work.fields.present:
        work.assume("strings, string angle and sound post", f"usual {kind}; no table [strings]")
        return SetUp.usual(kind, work.dims.body_length)
    f = work.fields
    strings = _strings(work, kind)
    angles = _angles(work, kind)
    if angles is None:
        return None
    given = f.get("strings.downforce")
    if given is not None:
        names = ("angle", "front", "back", *(f"tension_{n}" for n in range(1, _STRINGS + 1)))
        work.set_aside(
            tuple(f"strings.{n}" for n in names),
            "a downforce was put in; tensions still share it out on the feet",
        )
    spacing = work.usual("strings.spacing", "string_spacing", "outer strings on the bridge")
    return work.attempt("strings", SetUp, strings, *angles, spacing, _post(work), given)


def _strings(work, kind):
    names = [f"strings.tension_{n}" for n in range(_STRINGS, 0, -1)]
    pulls = [work.fields.get(n) for n in names]
    usual = StringSet.usual(kind)
    for name, pull, like in zip(names, pulls, usual.tensions, strict=True):
        if pull is not None and pull < IN_KGF * like:
            work.refuse(
                f"{name}_n",
                f"{pull:g} N, where a usual {kind} has about {like:.0f} N",
                f"a tension in newtons. Is this in kgf? {pull:g} kgf is {KGF * pull:.0f} N",
            )
    left_out = [
        f"{name} {pull:.0f}"
        for name, pull, given in zip(usual.names, usual.tensions, pulls, strict=True)
        if given is None
    ]
    if left_out:
        work.assume(f"string tension {', '.join(left_out)} N", usual.source)
    if len(left_out) == len(pulls):
        return usual
    tensions = tuple(u if p is None else p for u, p in zip(usual.tensions, pulls, strict=True))
    return StringSet(usual.names, tensions, "as given" + ("; usual where left out" if left_out else ""))


def _angles(work, kind):
    """Fall of the strings on both sides, rad, or None if they do not fit together."""
    f = work.fields
    included, front, back = (f.get(f"strings.{n}") for n in ("angle", "front", "back"))
    if included is None and (front is None or back is None):
        included, status = usual_angle(kind)
        if f.get("strings.downforce") is None:
            work.assume(
                f"string angle {np.degrees(included):.1f} degrees included", f"usual {kind}; {status}"
            )
    if front is None and back is None:
        side = 0.5 * (np.pi - included)
        return side, side
    if front is None:
        front = np.pi - included - back
    elif back is None:
        back = np.pi - included - front
    elif included is not None and abs(np.pi - included - front - back) > np.radians(1.0):
        work.refuse(
            "strings.angle_deg",
            f"{np.degrees(included):.4g}",
            f"front and back leave {180 - np.degrees(front + back):.4g}; mend one of the three",
        )
        return None
    if front + back <= 0:
        work.refuse(
            "strings.front_deg",
            f"sides that fall by {np.degrees(front):.3g} and {np.degrees(back):.3g} degrees",
            "together they must fall; measure against the gluing plane of the ribs",
        )
        return None
    return front, back


def _post(work):
    f = work.fields
    present = f.get("strings.post_present", True)
    names = ("post_behind", "post_inward", "post_diameter", "post_stiffness")
    if not present:
        work.set_aside(tuple(f"strings.{n}" for n in names), "the sound post is out")
        return Post(present=False, diameter=work.dims.post_diameter, behind=work.dims.post_behind)
    behind = work.usual("strings.post_behind", "post_behind", "sound post behind the treble foot")
    diameter = work.usual("strings.post_diameter", "post_diameter", "diameter of the sound post")
    stiffness = f.get("strings.post_stiffness")
    if stiffness is None:
        soft, stiff = (1e-3 * k for k in USUAL_POST)
        work.assume(
            f"sound post that gives with the back, {soft:.0f} to {stiff:.0f} N/mm",
            "round what usual backs on their ribs compute to; no measurement at hand",
        )
    return Post(present, behind, f.get("strings.post_inward", 0.0), diameter, stiffness)
