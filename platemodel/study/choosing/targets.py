"""What a maker wants of a bar, each with a text and a signed margin."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from platemodel.study.top.figures import FIGURES, Reference, wish_text

SENSES = ("at least", "at most", "equal to")
USUAL = "usual"
ROOM = 13 / 12  # height that there is room for, over that of the usual bar; judgement
EXACT = 1e-5  # relative: what is missed by less counts as met; far below what can be planed or heard


@dataclass(frozen=True)
class Target:
    """One wish.

    Attributes
    ----------
    figure : str
        Of ``study.top.figures.FIGURES``, in its unit.
    sense : {"at least", "at most", "equal to"}
    band : float
        For "equal to": how far off still counts as met, in the figure's unit.
    why : str
        Where the value comes from.

    Raises
    ------
    ValueError
        Unknown figure or sense; a value or band that is not positive.
    """

    figure: str
    sense: str
    value: float
    band: float = 0.0
    why: str = ""

    def __post_init__(self):
        if self.figure not in FIGURES:
            msg = f"target on {self.figure!r}; allowed are {', '.join(FIGURES)}"
            raise ValueError(msg)
        if self.sense not in SENSES:
            msg = f"target sense {self.sense!r}; allowed are {', '.join(SENSES)}"
            raise ValueError(msg)
        if not 0 < self.value < np.inf:
            msg = f"target for {self.name}: {self.value}; a positive number is needed"
            raise ValueError(msg)
        if self.sense == "equal to" and not 0 < self.band < np.inf:
            msg = f"target for {self.name} equal to {self.value:g}: say how far off still counts as met"
            raise ValueError(msg)

    @property
    def unit(self) -> str:
        """Unit of the figure."""
        return FIGURES[self.figure][0]

    @property
    def name(self) -> str:
        """What the figure is, in words."""
        return FIGURES[self.figure][1]

    @property
    def text(self) -> str:
        """The wish in plain words."""
        off = f", within {self.band:g}" if self.sense == "equal to" else ""
        why = f" ({self.why})" if self.why else ""
        wish = wish_text(self.figure, self.value)
        return f"{self.name} {self.sense} {wish}{off} {self.unit}".rstrip() + why

    def margin(self, found: float) -> float:
        """How much is left before the wish is missed, in the figure's unit; negative when it is missed."""
        if self.sense == "at least":
            return found - self.value
        if self.sense == "at most":
            return self.value - found
        return self.band - abs(found - self.value)

    def share(self, found: float) -> float:
        """Return the margin over the value."""
        return self.margin(found) / self.value

    def met(self, found: float) -> bool:
        """Whether it is met; a figure that could not be computed (NaN) never is."""
        return bool(self.share(found) >= -EXACT)


def foot_target(n_per_mm: float, why: str = "") -> Target:
    """Least stiffness under the bass foot, N/mm, between sliding and held rim."""
    return Target("foot_n_per_mm", "at least", n_per_mm, why=why)


def foot_as_usual(reference: Reference, share: float = 1.0) -> Target:
    """As stiff under the bass foot as the usual bar on the usual top, or a share of it."""
    part = "" if share == 1.0 else f"{100 * share:.0f} % of "
    return foot_target(share * reference.figures["foot_n_per_mm"], why=part + reference.text)


def strip_as_usual(reference: Reference, share: float = 1.0) -> Target:
    """Bar and strip of plate together as stiff as usual: what workshops reckon with."""
    part = "" if share == 1.0 else f"{100 * share:.0f} % of "
    return Target(
        "strip_n_m2", "at least", share * reference.figures["strip_n_m2"], why=part + reference.text
    )


def mode(number: int, hz: float, sense: str = "equal to", band: float = 2.0) -> Target:
    """Frequency of mode 1, 2 or 5 of the free plate with its bar; the band counts for "equal to" only."""
    return Target(f"f{number}_hz", sense, hz, band)


def ratio(value: float) -> Target:
    """Mode 5 over mode 2, to 0.02."""
    return Target("ratio_5_2", "equal to", value, 0.02)


def bar_mass(grams: float) -> Target:
    """Most that the bar may weigh, g."""
    return Target("bar_g", "at most", grams)


def sinking(mm: float) -> Target:
    """Most that the bass foot may sink on the first day under the set-up's strings, mm."""
    return Target("sink_mm", "at most", mm)


def body_sinking(mm: float) -> Target:
    """Most that the bass foot may sink in the closed body on the first day, mm."""
    return Target("body_sink_mm", "at most", mm)


def body_mobility(s_per_kg: float, sense: str = "at most") -> Target:
    """How freely the bass foot may move in the closed body, s/kg (mean over the low and middle range)."""
    return Target("body_mobility_s_per_kg", sense, s_per_kg)


def heights(least: float | None = None, most: float | None = None) -> tuple[Target, ...]:
    """Limits of the bar's greatest height, mm."""
    ends = (("at least", least), ("at most", most))
    return tuple(Target("height_mm", sense, value) for sense, value in ends if value is not None)


def limits(
    reference: Reference,
    most_height_mm: float | str | None = USUAL,
    most_weight_g: float | str | None = USUAL,
    asked: Mapping[str, float] | None = None,
) -> tuple[Target, ...]:
    """Most that the bar may be high and weigh.

    Parameters
    ----------
    most_height_mm, most_weight_g : float, "usual" or None
        None sets no limit; "usual" is what is asked for, or else `ROOM` times the height, and the weight, of
        the reference's bar.
    asked : dict, optional
        Fields of a job's table [targets], SI.
    """
    asked = asked or {}
    if most_height_mm == USUAL:
        usual = round(1e3 * ROOM * float(reference.bar.heights.max()), 1)
        most_height_mm = 1e3 * asked["most_height"] if "most_height" in asked else usual
    if most_weight_g == USUAL:
        usual = round(reference.figures["bar_g"], 1)
        most_weight_g = 1e3 * asked["bar_mass"] if "bar_mass" in asked else usual
    weight = () if most_weight_g is None else (bar_mass(most_weight_g),)
    return (*weight, *heights(most=most_height_mm))


def foot_as_old(old: Mapping[str, float], share: float = 1.0) -> Target:
    """As stiff under the bass foot as the old bar on this top, or a share of it."""
    part = "" if share == 1.0 else f"{100 * share:.0f} % of "
    return foot_target(share * old["foot_n_per_mm"], why=f"{part}the old bar on this top")


def targets_of(
    asked: dict[str, float], reference: Reference, old: Mapping[str, float] | None = None
) -> tuple[Target, ...]:
    """Targets from the fields of a job's table [targets].

    Parameters
    ----------
    asked : dict
        Fields without their units, SI, as ``Job.targets`` has them.
    reference : Reference
        What shares are taken of.
    old : mapping of str to float, optional
        Figures of the old bar on this top; needed where a share of it is asked for.

    Returns
    -------
    tuple of Target
        Without any but limits of the height: bar and strip of plate as stiff as the reference's.
    """
    limits = {k: 1e3 * asked[k] for k in ("least_height", "most_height") if k in asked}
    makers = {
        "foot_share": lambda v: foot_as_usual(reference, v),
        "foot_of_old": lambda v: foot_as_old(old or {}, v),
        "foot": lambda v: foot_target(1e-3 * v),
        "strip_share": lambda v: strip_as_usual(reference, v),
        "mode_2": lambda v: mode(2, v),
        "mode_5": lambda v: mode(5, v),
        "least_mode_5": lambda v: mode(5, v, "at least"),
        "most_mode_5": lambda v: mode(5, v, "at most"),
        "ratio_5_to_2": ratio,
        "bar_mass": lambda v: bar_mass(1e3 * v),
        "sinking": lambda v: sinking(1e3 * v),
        "body_sinking": lambda v: body_sinking(1e3 * v),
        "least_body_mobility": lambda v: body_mobility(v, "at least"),
        "most_body_mobility": body_mobility,
    }
    given = dict(asked)
    if set(given) <= {"least_height", "most_height"}:
        given["strip_share"] = 1.0
    out = [make(given[name]) for name, make in makers.items() if name in given]
    return (*out, *heights(limits.get("least_height"), limits.get("most_height")))
