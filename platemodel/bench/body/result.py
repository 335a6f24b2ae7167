"""A job's closed body as text, data and files."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from platemodel.bench.body.margins import TITLE, margin_lines, margin_words, usual_body_margins
from platemodel.bench.body.years import year_lines, year_table
from platemodel.bench.kit import cautions
from platemodel.bench.kit.against_usual import with_shares
from platemodel.bench.kit.closed_body import job_body_model, strung_and_closed
from platemodel.bench.kit.needs import job_bench
from platemodel.bench.kit.old_bar import LOOSE, beside_old_bar, old_bar_lines
from platemodel.bench.kit.tables import aligned, records
from platemodel.bench.kit.tones import signed
from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_shape import bar_of_height
from platemodel.instrument.body_dimensions import body_dimensions
from platemodel.instrument.presets import preset_bar
from platemodel.job import Job
from platemodel.progress import Progress, no_message
from platemodel.study.body.air_tone import AirFit
from platemodel.study.body.margins import body_margins
from platemodel.study.body.model import BodyModel
from platemodel.study.body.reduced import ReducedBody
from platemodel.study.body.sinking_band import SinkingBand, sinking_band
from platemodel.study.body.sound import BodySound, FootAnswer, body_sound, foot_answer, sound_band
from platemodel.study.body.statics import BodyLoad
from platemodel.study.body.tap_sound import HeardTones, heard_tones
from platemodel.study.body.years import BodyYears, body_years
from platemodel.study.top.workbench import Workbench

SHARES = (0.0, 0.8, 1.0, 1.2)  # heights shown, times the bar's
OLD_ROW = (
    "The old bar's row is read from what was learnt on the new bar's line: the foot sinks and moves there by "
    "up to 3 % too little."
)
MEASURES = {  # part of the band to the fields that take it out
    "ribs": ("rib_thickness", "lining_width", "lining_height"),
    "blocks": ("upper_block_along", "lower_block_along"),
    "neck": ("neck_depth", "nut_from_edge", "fingerboard_depth"),
    "back": ("back_centre", "back_bouts", "back_mass"),
    "bridge": ("bridge_height",),
    "saddle": ("saddle_height",),
}


@dataclass(frozen=True, eq=False)
class BarCase:
    """A body with one height of its bar.

    Attributes
    ----------
    height : float
        m; 0 is no bar.
    sinking : tuple of float
        Of bass and treble foot on the first day, m.
    feet : tuple of FootAnswer
        With low, middle and high losses.
    old : bool
        It is the old bar, read from what was learnt for the new one's line; see `OLD_ROW`.
    """

    height: float
    sinking: tuple[float, float]
    sound: BodySound
    feet: tuple[FootAnswer, ...]
    old: bool = False

    @property
    def label(self) -> str:
        """In words."""
        return "no bar" if self.height == 0 else f"{'old ' * self.old}bar {1e3 * self.height:.1f} mm"


@dataclass(frozen=True, eq=False)
class JobBody:
    """Closed body of a job.

    Attributes
    ----------
    bar : Bar
        The job's, or the usual one where the job has none.
    load : BodyLoad
        With the bar.
    cases : tuple of BarCase
        From no bar upwards.
    air : AirFit or None
        Where the job gives an air tone.
    years : BodyYears
        Of the bass foot.
    margins : DataFrame
        See `study.body.margins.body_margins`, with those of the usual instrument beside them.
    heard : HeardTones or None
        Where the job gives body tones.
    old_bar : DataFrame or None
        The old bar beside the new one on the loose top; see `platemodel.study.top.old_bar.beside`.
    old : BarCase or None
        The closed body with the old bar.
    """

    job: Job
    model: BodyModel
    bar: Bar
    load: BodyLoad
    bass: SinkingBand
    treble: SinkingBand
    cases: tuple[BarCase, ...]
    reduced: ReducedBody
    air: AirFit | None
    years: BodyYears
    margins: pd.DataFrame
    heard: HeardTones | None = None
    old_bar: pd.DataFrame | None = None
    old: BarCase | None = None

    @property
    def told(self) -> tuple[BarCase, ...]:
        """All cases, the old bar last."""
        return self.cases if self.old is None else (*self.cases, self.old)

    @property
    def usual(self) -> BarCase:
        """The case of the bar as it is."""
        return self.cases[SHARES.index(1.0)]

    @property
    def tilt(self) -> tuple[float, float, float]:
        """Tilt of the bridge, rad: low, middle, high; + when the bass foot lies deeper."""
        bridge = self.model.top.bridge
        apart = bridge.treble_foot[1] - bridge.bass_foot[1]
        low = (self.bass.low - self.treble.high) / apart
        high = (self.bass.high - self.treble.low) / apart
        return float(np.arctan(low)), self.load.tilt, float(np.arctan(high))


def job_body(
    job: Job, progress: Progress = no_message, bench: Workbench | None = None, spring: float = 0.0
) -> JobBody:
    """Put a job's top on its body: what the bar carries, and what it does to the sound.

    Parameters
    ----------
    spring : float
        Even gap at each end of the bar when it was glued, m.
    """
    bar = job.bar or preset_bar(job.top)
    bench = bench or job_bench(job, progress=progress)
    model = bench.model
    progress("closing a usual instrument to compare with")  # first: nothing of it lies beside the job's own
    usual = usual_body_margins(job.top.kind, round(job.top.outline.body_length, 4), bench.fineness)
    progress("building the body")
    whole = job_body_model(job, model)
    progress("stringing it up")
    load, closed = strung_and_closed(job, whole, bar, progress)
    measured = tuple(part for part, names in MEASURES.items() if any(n in job.body for n in names))
    bass, treble = (sinking_band(load, foot, job.top_wood, measured) for foot in (0, 1))
    years = body_years(load, bass, spring)
    progress("after years")
    margins = with_shares(body_margins(load), usual)
    top = float(bar.heights.max())
    cases = []
    for share in SHARES:
        one = None if share == 0 else bar_of_height(bar, share * top)
        cases.append(_case(closed.reduced, one, share * top))
    heard = job.measured.body_tones
    tones = heard_tones(cases[SHARES.index(1.0)].sound, heard) if heard else None
    beside, old = beside_old_bar(job, bench, progress), None
    if beside is not None:
        one = job.old_bar
        old = replace(_case(closed.reduced.on_line_of(one), one, float(one.heights.max())), old=True)
    return JobBody(
        job, whole, bar, load, bass, treble, tuple(cases), closed.reduced, closed.air, years, margins, tones,
        beside, old,
    )  # fmt: skip


def _case(body, bar, height):
    sound = body_sound(body, bar)
    return BarCase(
        height, sound.answer.sinking(), sound, tuple(foot_answer(sound, loss) for loss in range(3))
    )


def case_table(result: JobBody) -> pd.DataFrame:
    """One row a height of the bar, the old bar last; mm, degrees, s/kg, dB."""
    bridge = result.model.top.bridge
    loud = result.usual.feet[1].mean("flow")
    rows = []
    for case in result.told:
        low, mid, high = (foot.mean() for foot in case.feet)
        lower, upper = case.feet[1].ends(bridge.x)
        rows.append({
            "bar": case.label, "bar_mm": 1e3 * case.height, "sink_bass_mm": 1e3 * case.sinking[0],
            "sink_treble_mm": 1e3 * case.sinking[1],
            "tilt_deg": tilt_deg(result, case.sinking),
            "air_hz": air_tone(case), "mobility_bass_s_per_kg": mid, "mobility_bass_low": high,
            "mobility_bass_high": low, "mobility_treble_s_per_kg": case.feet[1].mean("treble"),
            "lower_end_motion": lower, "upper_end_motion": upper,
            "flow_db": 20.0 * float(np.log10(case.feet[1].mean("flow") / loud)),
        })  # fmt: skip
    return pd.DataFrame(rows)


def bar_cell(row) -> str:
    """Height of the bar in a row of `case_table`, as tables show it."""
    old = "old, " * row.bar.startswith("old")
    return f"{old}{row.bar_mm:.1f}" if row.bar_mm else "none"


def tilt_deg(result: JobBody, sinking: tuple[float, float]) -> float:
    """Tilt of the bridge by the sinking of its feet, m; degrees, + when the bass foot lies deeper."""
    bridge = result.model.top.bridge
    apart = bridge.treble_foot[1] - bridge.bass_foot[1]
    return float(np.degrees(np.arctan((sinking[0] - sinking[1]) / apart)))


def air_tone(case: BarCase) -> float:
    """Breathing of the air, Hz: the lowest tone with most of its energy in the air."""
    table = case.sound.table
    return float(table.loc[table["air"] > 0.4, "f_hz"].min())


def margin_table(result: JobBody) -> pd.DataFrame:
    """Strength to spare, one row a part and kind of stress."""
    return result.margins


def usual_tones(result: JobBody) -> pd.DataFrame:
    """Body tones with the bar as it is; Hz, share of the air, kind in words."""
    return result.usual.sound.table


def text_lines(result: JobBody) -> list[str]:
    """Return what the page and the terminal both say, line by line."""
    bass, treble = result.bass, result.treble
    low, tilt, high = (np.degrees(v) for v in result.tilt)
    sign = (
        "the bass foot lies deeper" if low > 0 else "the treble foot lies deeper" if high < 0 else
        "either foot may lie deeper"
    )  # fmt: skip
    lines = [
        f"Bass foot sinks {_band(bass)} mm, treble foot {_band(treble)} mm on the first day.",
        f"Bridge tilts {signed(tilt)} degrees ({signed(low)} to {signed(high)}; + when the bass foot lies "
        f"deeper): {sign}.",
        f"The post carries {result.load.post_force:.0f} N. Without the pull along the body the bass foot "
        f"would sink {1e3 * result.load.upright[0]:.2f} mm.",
        f"The band would narrow most with: {bass.advice} ({100 * bass.table['share'].iloc[0]:.0f} % of it).",
    ]
    if result.old is not None:
        bass, treble = (1e3 * v for v in result.old.sinking)
        change = 100.0 * (1e3 * result.usual.sinking[0] / bass - 1.0)
        tilt = tilt_deg(result, result.old.sinking)
        lines.append(
            f"With the old bar the bass foot would sink {bass:.2f} mm, the treble foot {treble:.2f} mm "
            f"(middles, good to some 3 %), the bridge tilt {signed(tilt)} degrees; "
            f"with the new one the bass foot sinks {abs(change):.0f} % {'more' if change > 0 else 'less'}."
        )
    if result.air is not None:
        lines.append(result.air.text)
    if result.heard is not None:
        lines.append(result.heard.text)
    return lines


def louder(decibels: float) -> str:
    """Write a difference in dB with its sign."""
    return signed(decibels, 1)


def _band(one):
    return f"{1e3 * one.middle:.2f} ({1e3 * one.low:.2f} to {1e3 * one.high:.2f})"


def assumed(result: JobBody) -> str:
    """Which figures follow the usual instrument."""
    usual, total = len(result.model.body.usual), len(body_dimensions(result.job.top.kind).status())
    if usual == total:
        return f"Ribs, blocks, back, neck and lever heights are those of the usual {result.job.top.kind}."
    return f"{total - usual} of {total} figures of the body were measured; the rest is as usual."


def as_text(result: JobBody) -> str:
    """Tables for the terminal."""
    job = result.job
    lines = [cautions.text_title(job), ""]
    lines += [f"  {line}" for line in text_lines(result)]
    lines += [f"  {assumed(result)}", "", "After years"]
    lines += [f"  {line}" for line in year_lines(result.years, job.measured)]
    lines += ["", "What the bar does"]
    cells = [
        ("bar", "bass foot", "treble foot", "tilt", "air tone", "bass foot moves, s/kg", "ends of bar",
         "low sound"),
        ("mm", "sinks, mm", "mm", "deg", "Hz", "(most to least losses)", "low, up", "dB"),
    ]  # fmt: skip
    for r in case_table(result).itertuples():
        mobility = f"{r.mobility_bass_s_per_kg:.3f} ({r.mobility_bass_low:.3f} to {r.mobility_bass_high:.3f})"
        cells.append(
            (
                bar_cell(r),
                f"{r.sink_bass_mm:.2f}",
                f"{r.sink_treble_mm:.2f}",
                signed(r.tilt_deg),
                f"{r.air_hz:.0f}",
                mobility,
                f"{r.lower_end_motion:.2f}, {r.upper_end_motion:.2f}",
                louder(r.flow_db),
            )
        )
    lines += aligned(cells, left=())
    low, high = sound_band(result.model.top)
    lines += [
        f"  Means from {low:.0f} to {high:.0f} Hz; ends of the bar over its motion at the bridge;",
        "  low sound: air pumped per push on the bass foot, against the bar as it is.",
        *([] if result.old is None else [f"  {OLD_ROW}"]),
        "",
        f"Body tones with the bar of {1e3 * result.usual.height:.1f} mm",
        "     Hz    in the air   kind",
    ]
    lines += [
        f"  {r.f_hz:6.0f}   {100 * r.air:5.0f} %      {r.kind}" for r in usual_tones(result).itertuples()
    ]
    lines += ["", f"{TITLE}, bar {1e3 * result.usual.height:.1f} mm", *margin_lines(result.margins)]
    lines += [f"  {line}" for line in margin_words(result.margins, job.top.kind)]
    if result.old_bar is not None:
        lines += ["", *old_bar_lines(result.old_bar, title=LOOSE)]
    return "\n".join([*lines, "", *cautions.BODY]) + "\n"


def as_data(result: JobBody) -> dict:
    """Plain data for JSON; mm, degrees, N, Hz, s/kg."""
    return {
        **cautions.data_title(result.job),
        "warning": cautions.MARGINS,
        "sinking": {
            foot: {name: round(1e3 * getattr(band, name), 4) for name in ("low", "middle", "high")}
            for foot, band in (("bass_mm", result.bass), ("treble_mm", result.treble))
        },
        "tilt_deg": [round(float(np.degrees(v)), 4) for v in result.tilt],
        "post_n": round(result.load.post_force, 2),
        "upright_push_only_bass_mm": round(1e3 * result.load.upright[0], 4),
        "causes": records(result.bass.table),
        "usual_figures": list(result.model.body.usual),
        "bars": records(case_table(result)),
        "tones": records(usual_tones(result)),
        "years": {
            "bass_mm": dict(
                zip(("low", "middle", "high"), (1e3 * v for v in result.years.years), strict=True)
            ),
            "parts": records(year_table(result.years, result.job.measured)),
            "said": year_lines(result.years, result.job.measured),
        },
        "margins": records(result.margins),
        "least": margin_words(result.margins, result.job.top.kind)[0],
        "heard_tones": None
        if result.heard is None
        else {"heard_hz": list(result.heard.heard), "model_hz": [round(f, 1) for f in result.heard.model]},
        "air_fit": None if result.air is None else result.air.as_data(),
        "old_bar": records(result.old_bar),
        "old_bar_closed": None
        if result.old is None
        else {
            "sink_bass_mm": round(1e3 * result.old.sinking[0], 4),
            "sink_treble_mm": round(1e3 * result.old.sinking[1], 4),
            "tilt_deg": round(tilt_deg(result, result.old.sinking), 4),
        },
    }
