"""The wood of a job's top found from its weight and taps: computing, text, data and files."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from platemodel.bench.kit import cautions
from platemodel.bench.kit.needs import needed_bar
from platemodel.bench.kit.tables import plain, records
from platemodel.bench.kit.tones import signed
from platemodel.errors import JobError, Problem
from platemodel.job import Job
from platemodel.job.keep_wood import wood_lines
from platemodel.job.states import STATES_FILE, WITH, TopState
from platemodel.job.taps import TAPS_FILE
from platemodel.progress import Progress, no_message
from platemodel.study.top.model import top_model
from platemodel.study.wood.top_taps import TopTaps
from platemodel.study.wood.wood_fit import WoodFit, identify_wood
from platemodel.wood import CONSTANTS, Orthotropic, PieceFit, WoodEstimate, species_estimate
from platemodel.wood.estimate import HALF_WIDTH, STATED_SD, doubt_of
from platemodel.wood.moisture import SLOPES, equilibrium_moisture
from platemodel.wood.species import species_of

SHOWN = ("density", "E_L", "E_R", "G_LR", "c_L", "c_R", "radiation_ratio", "E_L/E_R", "E_L/G_LR")
WORDS = {
    "density": "density",
    "E_L": "E_L along the grain",
    "E_R": "E_R across, along the rays",
    "G_LR": "G_LR shear in the plate",
    "c_L": "speed of sound along",
    "c_R": "speed of sound across",
    "radiation_ratio": "radiation ratio",
    "E_L/E_R": "E_L over E_R",
    "E_L/G_LR": "E_L over G_LR",
}
DOUBT = "Uncertainty of a tap: reading and model together, one standard deviation. Of the wood: 90 % bands."
OLD_GLUE = 0.1  # relative, of an old bar's stiffness: a glue line that may be open in places; a judgement


@dataclass(frozen=True, eq=False)
class JobWood:
    """Wood of a job's top.

    Attributes
    ----------
    states : tuple of TopState
        Whose readings were used.
    """

    job: Job
    fit: WoodFit
    states: tuple[TopState, ...]

    @property
    def bar_on(self) -> bool:
        """Whether a bar was on in every state."""
        return all(state.bar_on for state in self.states)

    @property
    def found_from(self) -> str:
        """What the wood was found from, in words."""
        found = self.fit.estimate.source.rpartition("; ")[2].removesuffix(" on the top itself")
        return found if self.job.offcut is None else f"{found}, and an offcut"

    @property
    def beforehand(self) -> str:
        """What the wood is known by before taps, flexes and weight, in a word or two."""
        return "species" if self.job.offcut is None else "offcut"

    @property
    def table(self) -> pd.DataFrame:
        """Quantities a maker uses: ``quantity, value, low, high, unit, expected, stated``.

        ``expected`` is the median of the species, or of the offcut's wood, ``stated`` what the job says.
        """
        found = self.fit.estimate.table().set_index("quantity").loc[list(SHOWN)]
        before = self.fit.prior.table().set_index("quantity").loc[list(SHOWN)]
        stated = WoodEstimate(self.job.top.wood, self.fit.prior.log_cov).table().set_index("quantity")
        found = found.assign(expected=before["value"], stated=stated.loc[list(SHOWN), "value"])
        return found.reset_index()


def prior_of(wood: Orthotropic, stated: bool = False, offcut: PieceFit | None = None) -> WoodEstimate:
    """Return what is known of the wood before the taps: species, offcut, if so wished the stated moduli.

    Parameters
    ----------
    wood : Orthotropic
        As stated in the job; its name chooses the species.
    stated : bool
        Take ``E_L``, ``E_R`` and ``G_LR`` of it as measured to 5 %.
    offcut : PieceFit, optional
        Of the same wood, of that species.
    """
    prior = species_estimate(species_of(wood)) if offcut is None else offcut.estimate
    if stated:
        known = {c: getattr(wood, c) for c in ("E_L", "E_R", "G_LR")}
        prior = prior.measured(STATED_SD, "constants stated in the job", **known)
    return prior


def job_wood(
    job: Job,
    bar_on: bool | None = None,
    stated: bool = False,
    despite_doubts: bool = False,
    without: Sequence[str] = (),
    progress: Progress = no_message,
    fineness: float = 1.0,
) -> JobWood:
    """Find the wood of a job's top from its taps.

    Parameters
    ----------
    bar_on : bool, optional
        Use only the states with or only those without a bar; default all that were tapped or flexed.
    stated : bool
        Take the moduli stated in the job as measured to 5 %.
    despite_doubts : bool
        Fit taps that look wrong all the same.
    without : sequence of str
        Names of states to leave out.
    fineness : float
        Of the mesh.

    Raises
    ------
    JobError
        No taps of that state, or taps with a bar and no bar in the job.
    TapError
        Taps that no wood of the kind explains, or a state that does not go with the others.
    """
    read = [s for s in job.states if job.heard_in(s) or job.felt_in(s)]
    unknown = [name for name in without if name not in [s.name for s in read]]
    if unknown:
        names = ", ".join(s.name for s in read)
        raise JobError([Problem(STATES_FILE, "state", unknown[0], f"states with readings: {names}")])
    states = tuple(s for s in read if bar_on in (None, s.bar_on) and s.name not in without)
    if not states:
        which = {None: "", True: " with a bar", False: " without a bar"}[bar_on]
        what = (
            f"taps or flexes{which} are needed: record taps (platemodel taps), type mode_1_hz and so on, or "
            "write flexes.csv (platemodel flex)"
        )
        raise JobError([Problem(TAPS_FILE, "", f"no taps{which}", what)])
    if any(s.bar == "new" for s in states):
        needed_bar(job, "a top tapped with its bar on")
    progress("laying the mesh")
    fit = identify_wood(
        top_model(job.top, fineness, bar=job.bar),
        tuple(state_taps(job, s, states[0]) for s in states),
        prior=prior_of(job.top.wood, stated, job.offcut),
        despite_doubts=despite_doubts,
        progress=progress,
    )
    return JobWood(job, fit, states)


def state_taps(job: Job, state: TopState, first: TopState) -> TopTaps:
    """Return what was heard, weighed and felt in a state of the top, for the fit.

    Parameters
    ----------
    state, first : TopState
        The second is the one whose air the wood is told in.
    """
    heard, bar = job.heard_in(state), job.bar_in(state)
    sd = 0.0
    if bar is not None:
        sd = doubt_of(bar.wood).sd("E_L")
        sd = float(np.hypot(sd, OLD_GLUE)) if state.bar == "old" else sd
    return TopTaps(
        {n: r.frequency for n, r in heard.items()},
        state.mass,
        bar,
        {n: r.sd / r.frequency for n, r in heard.items()},
        job.felt_in(state),
        name=state.name,
        day=state.date,
        shift=_shift(state, first),
        bar_sd=sd,
        bar_key=state.bar,
        added=state.added,
    )


def _shift(state, first):
    """By how much the air of a state moves the logarithms of the constants from those of the first."""
    if state.relative_humidity is None or first.relative_humidity is None:
        return np.zeros(len(CONSTANTS))
    now, then = (equilibrium_moisture(s.relative_humidity, s.temperature) for s in (state, first))
    out = np.array([SLOPES.get(name, 0.0) * (now - then) for name in CONSTANTS])
    out[CONSTANTS.index("density")] = np.log((1.0 + now) / (1.0 + then))
    return out


def as_text(result: JobWood) -> str:
    """Report for the terminal."""
    job, fit = result.job, result.fit
    lines = [cautions.text_title(job)]
    lines += [f"LOOKS WRONG: {d.message}" for d in fit.doubts]
    lines += ["", *_tap_lines(result), "", *_wood_lines(result), ""]
    lines.append("How the errors go together (correlation)")
    for a, b in (("E_L", "E_R"), ("E_L", "G_LR"), ("E_R", "G_LR")):
        lines.append(f"  {a} with {b}: {fit.estimate.correlation(a, b):+.2f}")
    if len(fit.next_taps):
        lines += ["", "One more tap would narrow the bands of E_L, E_R, G_LR by"]
        for row in fit.next_taps.head(3).itertuples():
            lines.append(
                f"  mode {mode_name(row):8s} near {row.expected_hz:.0f} ± {row.band_hz:.0f} Hz: "
                f"{row.E_L_percent:.0f}, {row.E_R_percent:.0f}, {row.G_LR_percent:.0f} %"
            )
    lines += ["", "To use it, in job.toml in place of the same lines (--keep writes them there):"]
    lines += [f"  {line}" for line in snippet(fit.estimate.wood)]
    lines += [
        "",
        f"From: {fit.estimate.source}.",
        DOUBT,
        "An estimate: arching and thickness have their own slips. The maker decides.",
    ]
    return "\n".join(lines) + "\n"


def _tap_lines(result):
    fit = result.fit
    for k, state in enumerate(result.states):
        if k:
            yield ""
        yield f"Taps {state_words(state)}"
        yield f"  mode          heard Hz   fitted    off %  unsure %   {result.beforehand:>7s} would give"
        for row in fit.modes.itertuples():
            if row.state != state.name:
                continue
            doubt = 100 * row.sd_hz / row.heard_hz
            yield (
                f"  {mode_name(row):12s}{row.heard_hz:10.1f}{row.fitted_hz:9.1f}"
                f"{signed(row.residual_percent):>9s}{doubt:10.1f}{row.expected_hz:21.1f}"
            )
        yield from flex_lines(fit, state.name)
        weighed = fit.states.iloc[k]
        if np.isfinite(weighed["weighed_g"]):
            less = f" without {1e3 * state.added:.1f} g of patches" if state.added else ""
            yield f"  weight {weighed['weighed_g']:8.1f} g{less}, fitted {weighed['fitted_g']:.1f} g"
        else:
            yield "  not weighed in this state"
    if fit.mass is None:
        yield f"  not weighed in any state: the density rests on the {result.beforehand}"
    if len(result.states) > 1:
        yield ""
        yield from state_lines(result)


def state_lines(result: JobWood) -> Iterator[str]:
    """Say of each state how it goes with the others, its day's shift, and what its bar looks like."""
    yield "One wood for all states, in the air of the first"
    for row in result.fit.states.itertuples():
        parts = []
        if row.shift_percent or row.shift_sd_percent:
            parts.append(
                f"all taps {signed(row.shift_percent)} % ± {HALF_WIDTH * row.shift_sd_percent:.1f} by its day"
            )
        if np.isfinite(row.bar_percent):
            parts.append(
                f"its bar {abs(row.bar_percent):.0f} % {'stiffer' if row.bar_percent > 0 else 'softer'} than "
                f"given (± {HALF_WIDTH * row.bar_sd_percent:.0f} %)"
            )
        parts.append("goes with the others" if row.fits else "DOES NOT GO WITH THE OTHERS: read it again")
        yield f"  {row.state}: {'; '.join(parts)}"


def flex_lines(fit: WoodFit, state: str) -> Iterator[str]:
    """Each flex reading of a state beside what weight and taps predict, and whether they agree."""
    rows = fit.flexes[fit.flexes["state"] == state] if len(fit.flexes) else fit.flexes
    if not len(rows):
        return
    yield "  flex       weight g   read mm  fitted mm  without it mm"
    for row in rows.itertuples():
        words = "" if row.agrees else f"   disagrees ({row.away:+.1f} sd): look for a slip"
        yield (
            f"  {row.kind:10s}{row.weight_g:9.0f}{row.read_mm:10.2f}{row.fitted_mm:11.2f}"
            f"{row.others_mm:10.2f} ± {row.others_sd_mm:.2f}{words}"
        )


def _wood_lines(result):
    before = result.beforehand
    yield f"Wood of the top                   found   (90 % band)           in the job{before:>10s}"
    for row in result.table.itertuples():
        band = f"({figures(row.low)} to {figures(row.high)})"
        yield (
            f"  {WORDS[row.quantity]:28s}{figures(row.value):>9s}   {band:20s}{figures(row.stated):>12s}"
            f"{figures(row.expected):>10s} {row.unit}".rstrip()
        )
    factor, sd = result.fit.thickness
    yield f"  the readings fit best with the thickness everywhere x {factor:.3f} ± {HALF_WIDTH * sd:.3f}"


def figures(value: float) -> str:
    """Write a positive value to three significant figures."""
    digits = 2 - math.floor(math.log10(value))
    return f"{round(value, digits):.{max(digits, 0)}f}"


def mode_name(row: Any) -> str:
    """Return number and name of a mode in a table of the fit."""
    return f"{row.number} {row.name}".strip()


def state_words(state: TopState) -> str:
    """Say which state the top was in, and which bar was on."""
    if state.name == WITH:
        return f"{WITH}; the bar in job.toml is taken as the one that was on"
    return state.words


def snippet(wood: Orthotropic) -> list[str]:
    """Lines of job.toml that state this wood."""
    return ["[wood.top]", *wood_lines(wood)]


def as_data(result: JobWood) -> dict:
    """Plain data for JSON."""
    fit = result.fit
    return {
        **cautions.data_title(result.job),
        "bar_on": result.bar_on,
        "states": records(fit.states),
        "doubts": [d.message for d in fit.doubts],
        "taps": records(fit.modes),
        "flexes": records(fit.flexes),
        "mass_g": None if fit.mass is None else _named(("measured", "fitted"), (1e3 * m for m in fit.mass)),
        "wood": records(result.table),
        "thickness_factor": _named(("value", "sd"), fit.thickness),
        "next_taps": records(fit.next_taps),
        "job_toml": snippet(fit.estimate.wood),
        "source": fit.estimate.source,
    }


def _named(names, values):
    return dict(zip(names, map(plain, values), strict=True))
