"""A job's string load as text, data and files."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from platemodel.bench.kit import cautions
from platemodel.bench.kit.against_usual import (
    FLAGGED,
    kept_margins,
    least_line,
    margin_text,
    share_words,
    with_shares,
)
from platemodel.bench.kit.ahead import begun_ahead
from platemodel.bench.kit.needs import job_bench
from platemodel.bench.kit.old_bar import beside_old_bar, old_bar_lines
from platemodel.bench.kit.tables import aligned, plain, records, span
from platemodel.bench.kit.taps_apart import taps_finding, taps_sentence
from platemodel.bench.kit.tones import sentence, signed
from platemodel.bench.kit.wood_doubt import wood_doubt_line, wood_spread
from platemodel.instrument.layout_checks import Finding
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.instrument.strings import KGF, SetUp
from platemodel.job import Job
from platemodel.progress import Progress, no_message
from platemodel.study.top.model import top_model
from platemodel.study.top.string_load import StringLoad, string_load
from platemodel.study.top.workbench import Workbench
from platemodel.wood.strength import k_def, k_mod

NOT_THE_TENSION = (
    "The pull of the strings is not the load on the top: only the part that the angle over the bridge turns "
    "downwards presses on it."
)


@dataclass(frozen=True, eq=False)
class JobLoad:
    """String load of a job.

    Attributes
    ----------
    usual : Series or None
        Margins of the usual bar on the usual top of the kind and size, by part and what.
    taps : Finding or None
        That the taps kept in the job and the model lie apart.
    wood : str
        What the doubt of the wood leaves open, in a sentence.
    old_bar : DataFrame or None
        The old bar beside the new one; see `platemodel.study.top.old_bar.beside`.
    """

    job: Job
    load: StringLoad
    usual: pd.Series | None = None
    taps: Finding | None = None
    old_bar: pd.DataFrame | None = None
    wood: str = ""

    @property
    def margins(self) -> pd.DataFrame:
        """Margins of the main state against the usual instrument's; see `with_shares`."""
        return with_shares(self.load.main.margins, self.usual)


def usual_margins(kind: str, body_length: float, fineness: float, service_class: int) -> pd.Series:
    """Margins of the usual bar on the usual top under the usual strings, by part and what.

    Parameters
    ----------
    body_length : float
        m.
    fineness : float
        Of the mesh; the same as that of the top compared, so that its error cancels.
    service_class : {1, 2, 3}
    """

    def solved():
        top = preset_top(kind, body_length)
        bar, set_up = preset_bar(top), SetUp.usual(kind, body_length)
        model = top_model(top, fineness, bar=bar)
        return string_load(model, bar, set_up, service_class=service_class, compare=False).main.margins

    return kept_margins("usual_margins", (kind, body_length, fineness, service_class), solved)


def job_load(
    job: Job,
    bar: bool = True,
    downforce: float | None = None,
    service_class: int = 1,
    progress: Progress = no_message,
    bench: Workbench | None = None,
) -> JobLoad:
    """Compute the string load of a job with and without its bar, with and without sound post.

    Parameters
    ----------
    bar : bool
        False leaves the bar out.
    downforce : float, optional
        N, given directly instead of the job's.
    service_class : {1, 2, 3}
        Of EN 1995-1-1; 1 is indoors.
    """
    bench = bench or job_bench(job, progress=progress)
    one = job.bar if bar else None
    later = [lambda: taps_finding(job, bench, progress)]
    if bar:
        later.append(lambda: beside_old_bar(job, bench, progress))
    with begun_ahead(*later):
        # the band of the sinking is that of the wood as it is known here, not of all boards of the species
        load = replace(bench.load(downforce, service_class, bar), wood_spread=wood_spread(job, bench, one))
        progress(f"pressing on a usual {job.top.kind} for comparison")
        length = round(job.top.outline.body_length, 4)
        usual = usual_margins(job.top.kind, length, bench.fineness, service_class)
        doubt = wood_doubt_line(job, bench, one)
        beside = beside_old_bar(job, bench, progress) if bar else None
        return JobLoad(job, load, usual, taps_finding(job, bench, progress), beside, doubt)


def load_lines(load: StringLoad) -> list[tuple[str, str]]:
    """Label and text: what pulls, what presses, on which foot."""
    strung, set_up = load.set_up.strings, load.set_up
    pulls = ", ".join(f"{n} {t:.0f}" for n, t in zip(strung.names, strung.tensions, strict=True))
    lines = [("pull of the strings", f"{pulls}; together {_force(strung.total, 0)}")]
    direct = abs(load.downforce - set_up.downforce_of_strings) > 1e-6 * load.downforce
    if direct:
        text = f"{_force(load.downforce)}, given directly"
    else:
        text = (
            f"{_force(load.downforce)}, at {np.degrees(set_up.included):.1f} degrees included angle: "
            f"{load.downforce / strung.total:.2f} of the pull"
        )
    lines.append(("load on the top", text))
    lines.append(("  on the feet", f"bass {load.bass:.1f} N, treble {load.treble:.1f} N"))
    if not direct and abs(set_up.tilt) > 1e-3:
        way = "fingerboard" if set_up.tilt > 0 else "tailpiece"
        lines.append(
            (
                "  leans",
                f"{abs(np.degrees(set_up.tilt)):.1f} degrees to the {way}; only the upright part presses "
                "on the top",
            )
        )
    return lines


def _force(newtons, digits=1):
    return f"{newtons:.{digits}f} N ({newtons / KGF:.1f} kgf)"


def most_sinking(load: StringLoad) -> float:
    """Largest sinking that is reported, mm: half the height of the arch, far beyond a linear model."""
    return 0.5e3 * float(load.model.top.arching.value(*load.grid.points).max())


def beyond(most: float) -> str:
    """Say where the model ends."""
    return f"The model is linear and fails where sinking nears the arch: no figures above {most:.0f} mm."


def sinking_text(row: Any, name: str, most: float) -> str:
    """Middle and band of a sinking, mm; beyond the model it only says over how much."""
    low, mid, high = (getattr(row, f"{name}_{n}_mm") for n in ("low", "mid", "high"))
    if low > most:
        return f"over {most:.0f}"
    shown = (f"{v:.2f}" if v <= most else f"over {most:.0f}" for v in (mid, low, high))
    return "{} ({} to {})".format(*shown)


def as_text(result: JobLoad) -> str:
    """Tables for the terminal."""
    job, load = result.job, result.load
    lines = [cautions.text_title(job), *taps_sentence(result.taps), ""]
    lines += [f"  {label:22s}{text}" for label, text in load_lines(load)]
    lines += [
        f"  {NOT_THE_TENSION}",
        "",
        "How far the feet sink, mm, and how the bridge tilts, degrees",
    ]
    most = most_sinking(load)
    cells = [("", "bass, day one", "after years", "treble", "tilt", "post, N")]
    for row in load.table.itertuples():
        sunk = (sinking_text(row, name, most) for name in ("sink_bass", "years"))
        post = f"{row.post_n:.0f}" if row.post_n else "-"
        cells.append((row.state, *sunk, f"{row.sink_treble_mm:.2f}", tilt_text(row), post))
    lines += aligned(cells, left=(0, 1, 2))
    lines += [
        "  In brackets: from to.",
        f"  Years: first sinking times {1 + k_def(1):.1f} to {1 + k_def(3):.1f}. Tilt: + when the bass foot "
        "is the deeper one, - when the treble foot is.",
        f"  {post_line(load)}",
        f"  {beyond(most)}",
        *([f"  {result.wood}"] if result.wood else []),
        "",
        f"Margins {load.main.label}: long-term strength over stress, MPa",
    ]
    cells = [("part", "what", "against usual", "stress", "strength", "margin (from to)", "x, y mm")]
    for row in result.margins.itertuples():
        cells.append(
            (
                row.part.removeprefix("top "),
                row.what,
                share_words(row.share) + " !" * (row.share < FLAGGED),
                span(f"{row.stress_low_mpa:.2f}", f"{row.stress_high_mpa:.2f}"),
                f"{row.long_term_mpa:.1f}",
                margin_text(row),
                f"{row.x_mm:.0f}, {row.y_mm:+.0f}",
            )
        )
    lines += aligned(cells, left=(0, 1, 2, 5))
    kept = k_mod("permanent", load.service_class)
    lines += [
        f"  Strength: handbook mean of clear wood times {kept:.2f} for a load that stays for decades.",
        f"  Against usual: the usual bar on the usual {job.top.kind} of this length; ! below {FLAGGED:g}.",
        f"  {sentence(least_line(result.margins, job.top.kind))}",
        "",
        *([*old_bar_lines(result.old_bar), ""] if result.old_bar is not None else []),
        f"{cautions.MARGINS} Ribs, back, glue, cracks and the strings' pull along the body are not in it; "
        f"the verb body has ribs, back and pull. The maker decides. {cautions.RESTORER}",
    ]
    return "\n".join(lines) + "\n"


def tilt_text(row: Any) -> str:
    """Tilt of the bridge with its range, degrees, signs shown."""
    return f"{signed(row.tilt_deg)} ({signed(row.tilt_low_deg)} to {signed(row.tilt_high_deg)})"


def post_line(load: StringLoad) -> str:
    """Say how far the sound post gives."""
    post = load.set_up.post
    if not post.present:
        return "The sound post is out."
    soft, stiff = (1e-3 * k for k in post.spring_ends)
    if soft == stiff:
        return f"Post and back give 1 mm for {soft:.0f} N."
    return f"Post and back give 1 mm for {soft:.0f} to {stiff:.0f} N, as usual ones do; no measurement given."


def as_data(result: JobLoad) -> dict:
    """Plain data for JSON; mm, degrees, N, MPa. An infinite margin is null."""
    load = result.load
    return {
        **cautions.data_title(result.job),
        "warning": cautions.MARGINS,
        "taps": None if result.taps is None else result.taps.message,
        "load": {
            "tensions_n": dict(zip(load.set_up.strings.names, load.set_up.strings.tensions, strict=True)),
            "total_tension_n": load.set_up.strings.total,
            "downforce_n": plain(load.downforce),
            "bass_foot_n": plain(load.bass),
            "treble_foot_n": plain(load.treble),
        },
        "states": records(load.table),
        "margins": {s.label: records(s.margins) for s in load.states},
        "against_usual": records(result.margins[["part", "what", "margin", "usual", "share"]]),
        "least": least_line(result.margins, result.job.top.kind),
        "usual_margins": None if result.usual is None else _usual_records(result.usual),
        "wood_doubt": result.wood,
        "old_bar": records(result.old_bar),
    }


def margin_rows(result: JobLoad) -> pd.DataFrame:
    """Margins of all states, with a column ``state``."""
    parts = [s.margins.assign(state=s.label) for s in result.load.states]
    table = pd.concat(parts, ignore_index=True)
    return table[["state", *(c for c in table.columns if c != "state")]]


def _usual_records(usual):
    return [{"part": part, "what": what, "margin": plain(m)} for (part, what), m in usual.items()]
