"""Figures of a bar on a top, by name: what targets are set on, sweeps list and sliders show."""

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Protocol

import numpy as np

from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_shape import scaled_wood
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.instrument.strings import SetUp
from platemodel.instrument.top import Top
from platemodel.study.top.answers import BarResponse, Bracket, TopSolver, bar_response
from platemodel.study.top.bar_flexes import BarFlexes
from platemodel.study.top.cache_folder import kept_figures
from platemodel.study.top.model import top_model
from platemodel.study.top.name_passes import shared_tones
from platemodel.wood.closed_form import glued_stiffness

STRIP = 30e-3  # m on a violin of 355 mm: strip of plate that is counted with the bar, a convention
#: Name of each figure: unit, and what it is.
FIGURES = {
    "foot_n_per_mm": ("N/mm", "stiffness under the bass foot"),
    "strip_n_m2": ("N m2", "stiffness of the bar with its strip of plate"),
    "f1_hz": ("Hz", "mode 1"),
    "f2_hz": ("Hz", "mode 2"),
    "f5_hz": ("Hz", "mode 5"),
    "ratio_5_2": ("", "mode 5 over mode 2"),
    "sink_mm": ("mm", "sinking under the bass foot on the first day"),
    "flex_along_mm": ("mm", "sag along under 100 g"),
    "flex_across_mm": ("mm", "sag across under 100 g"),
    "flex_twist_mm": ("mm", "sag in twist under 100 g"),
    "flex_foot_mm": ("mm", "sag of the free plate under the bass foot, 100 g"),
    "body_sink_mm": ("mm", "bass foot's sinking in the closed body"),
    "body_mobility_s_per_kg": ("s/kg", "bass foot's motion in the closed body"),
    "bar_g": ("g", "weight of the bar"),
    "height_mm": ("mm", "height of the bar"),
}
#: Those that `TopFigures.flexes` answers, and not without it.
FLEX_FIGURES = tuple(name for name in FIGURES if name.startswith("flex_"))
#: Those that `TopFigures.body` answers, and not without it.
BODY_FIGURES = tuple(name for name in FIGURES if name.startswith("body_"))
#: Digits behind the point that a figure deserves on every page; one where it is not named.
DIGITS = {
    "sink_mm": 3, "body_sink_mm": 3, "body_mobility_s_per_kg": 4, "bar_g": 2, "ratio_5_2": 3,
    **dict.fromkeys(FLEX_FIGURES, 3),
}  # fmt: skip


def figure_text(name: str, value: float) -> str:
    """Write a figure with the digits that it deserves, or a dash."""
    return f"{value:.{DIGITS.get(name, 1)}f}" if np.isfinite(value) else "–"


def wish_text(name: str, value: float) -> str:
    """Write what is wanted of a figure as it may have been typed: with no more digits than it deserves."""
    return f"{float(figure_text(name, value)):g}"


class BodyAnswers(Protocol):
    """What answers ``BODY_FIGURES`` for bars on one line; a bar on another is a ValueError."""

    def of(self, bar: Bar | None, softness: float = 1.0) -> dict[str, float]:
        """Figures of a bar, the moduli of the top's wood times a factor."""

    def by_top_wood(self, bar: Bar | None, softness: float = 1.0) -> dict[str, list[float]]:
        """Differentiate their logarithms by those of the constants of the top's wood."""


def strip_stiffness(top: Top, bar: Bar, softness: float = 1.0) -> float:
    """Bending stiffness at the bridge of the bar with a strip of plate 30 mm wide on a violin, N m2.

    The transformed section of handbooks; the bar's modulus is lessened by its rounding (``section_fill``).
    What workshops reckon with when they speak of a bar for a soft or thin top; how much the strings feel of
    it is another question (see `study.bass_foot_stiffness`).

    Parameters
    ----------
    softness : float
        Factor on the top's modulus along the grain.
    """
    x = float(bar.stations[bar.heights.argmax()])
    thickness = float(top.thickness.value(np.array([x]), np.array([float(bar.at(x))]))[0])
    width = STRIP * top.outline.scale
    modulus = bar.section_fill * bar.wood.E_L
    return float(
        glued_stiffness(
            modulus,
            float(bar.width_at(x)),
            float(bar.heights.max()),
            softness * top.wood.E_L,
            width,
            thickness,
        )
    )


@dataclass(frozen=True, eq=False)
class TopFigures:
    """Answers by the names of ``FIGURES`` for bars on one top.

    Attributes
    ----------
    model : TopModel or ReducedTop
    set_up : SetUp or None
        Strings to sink under; without it there is no ``sink_mm``.
    softness : float
        Factor on all moduli of the top's wood, its density unchanged.
    flexes : BarFlexes or None
        Flex tests; without them there are no sags.
    body : BodyAnswers or None
        The closed body, learnt for the bar's line; without it there are no ``BODY_FIGURES``.

    Notes
    -----
    Top and bar of moduli s C and D are s times top and bar of moduli C and D/s, so that a softer top is the
    same top with a stiffer bar: frequencies by the root of s, stiffness by s. The post that gives with the
    back is made stiffer by 1/s too; the rigid one of the foot's stiffness is unchanged.
    """

    model: TopSolver
    set_up: SetUp | None = None
    softness: float = 1.0
    flexes: BarFlexes | None = None
    body: BodyAnswers | None = None

    @property
    def top(self) -> Top:
        """The top, as measured."""
        return self.model.top

    @property
    def names(self) -> list[str]:
        """Figures that are answered."""
        left_out = set() if self.flexes is not None else set(FLEX_FIGURES)
        left_out |= set() if self.set_up is not None else {"sink_mm"}
        left_out |= set() if self.body is not None else set(BODY_FIGURES)
        return [name for name in FIGURES if name not in left_out]

    @property
    def full(self) -> "TopFigures":
        """The same by the full model."""
        return replace(self, model=self.model.full)

    def softer(self, softness: float) -> "TopFigures":
        """Return the same for another softness of the top's wood."""
        return replace(self, softness=softness)

    def response(self, bar: Bar | None) -> BarResponse:
        """See `study.bar_response`."""
        s, set_up = self.softness, self.set_up
        if s == 1.0:
            return bar_response(self.model, bar, set_up)
        if set_up is not None:
            set_up = replace(set_up, post=set_up.post.scaled(1.0 / s))
        found = bar_response(self.model, self.as_if(bar), set_up)
        foot = replace(found.foot, sliding=s * found.foot.sliding, held=s * found.foot.held)
        sunk = found.sinking and Bracket(found.sinking.sliding / s, found.sinking.held / s)
        return replace(found, frequencies=np.sqrt(s) * found.frequencies, foot=foot, sinking=sunk)

    def as_if(self, bar: Bar | None) -> Bar | None:
        """Bar that stands for this one on the top as measured."""
        if bar is None or self.softness == 1.0:
            return bar
        return replace(bar, wood=scaled_wood(bar.wood, 1.0 / self.softness, 1.0))

    def of(self, bar: Bar | None) -> dict[str, float]:
        """Figures of a bar; NaN where no mode looks like it, and for a bar's own where there is none."""
        return self.read(self.response(bar), bar)

    def shared(self, bar: Bar | None) -> dict[str, float]:
        """Tones that have much of the pattern of modes 1, 2 and 5 besides; see `shared_tones`."""
        return shared_tones(replace(self, set_up=None).response(bar))

    def read(self, found: BarResponse, bar: Bar | None) -> dict[str, float]:
        """Figures from a response that is there already."""
        tones = {f"f{n}_hz": found.frequency(n) for n in (1, 2, 5)}
        out = {
            "foot_n_per_mm": 1e-3 * found.foot.middle,
            "strip_n_m2": np.nan if bar is None else strip_stiffness(self.top, bar, self.softness),
            **tones,
            "ratio_5_2": tones["f5_hz"] / tones["f2_hz"],
            "bar_g": 0.0 if bar is None else 1e3 * bar.mass(),
            "height_mm": 0.0 if bar is None else 1e3 * float(bar.heights.max()),
        }
        if found.sinking is not None:
            out["sink_mm"] = 1e3 * found.sinking.middle
        if self.flexes is not None:
            out |= {f"flex_{k}_mm": mm for k, mm in self.flexes.sags_mm(bar, self.softness).items()}
        if self.body is not None:
            out |= self.body.of(bar, self.softness)
        return {name: out[name] for name in FIGURES if name in out}


@dataclass(frozen=True, eq=False)
class Reference:
    """The usual bar on the usual top of a kind and size; no real instrument."""

    top: Top
    bar: Bar
    figures: dict[str, float]

    @property
    def text(self) -> str:
        """What it is, in words."""
        height, length = 1e3 * self.bar.heights.max(), 1e3 * self.top.outline.body_length
        return f"the usual bar of {height:.1f} mm on the usual {self.top.kind} of {length:.0f} mm"


@lru_cache(maxsize=8)
def usual_reference(
    kind: str, body_length: float | None = None, section_fill: float = 1.0, fineness: float = 1.0
) -> Reference:
    """Figures of the usual bar on the usual top, by the full model; kept for later runs.

    Parameters
    ----------
    kind : str
        ``violin``, ``viola`` or ``cello``.
    body_length : float, optional
        m.
    section_fill : float
        Rounding of the bar, as that of the bar that is compared.
    fineness : float
        Of the mesh; the same as that of the top compared, so that its error cancels.

    Raises
    ------
    ValueError
        Unknown kind, or a body length that is not plausible for it.
    """
    top = preset_top(kind, body_length)
    bar = replace(preset_bar(top), section_fill=section_fill)
    set_up = SetUp.usual(kind, top.outline.body_length)

    def solved():
        return TopFigures(top_model(top, fineness, bar=bar), set_up).of(bar)

    asked = (kind, top.outline.body_length, section_fill, fineness)
    return Reference(top, bar, kept_figures("usual_bar", asked, solved))


def reference_for(model: TopSolver, bar: Bar) -> Reference:
    """Usual bar on the usual top of the same kind, body length and mesh, rounded as this bar is."""
    top, fineness = model.top, model.full.fineness
    return usual_reference(top.kind, round(top.outline.body_length, 4), bar.section_fill, fineness)
