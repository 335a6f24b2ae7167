"""A job's choice of a bar as text, data and files."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace

import numpy as np
import pandas as pd

from platemodel.bench.choice.sentences import (
    change_text,
    height_caution,
    heights_text,
    higher_lines,
    to_spare,
    verdict,
)
from platemodel.bench.kit import cautions
from platemodel.bench.kit.ahead import begun_ahead
from platemodel.bench.kit.closed_body import closed_body, job_body_model
from platemodel.bench.kit.finding_words import finding_data, finding_lines, short
from platemodel.bench.kit.needs import job_bench, needed_bar
from platemodel.bench.kit.old_bar import old_bar_lines, old_figures
from platemodel.bench.kit.tables import aligned, plain, records
from platemodel.bench.kit.taps_apart import taps_finding
from platemodel.bench.kit.tones import lost_tones, sentences
from platemodel.errors import GeometryError, JobError, Problem
from platemodel.instrument.candidate_lines import candidate_lines
from platemodel.instrument.layout_checks import Finding
from platemodel.instrument.mark_checks import in_the_way
from platemodel.job import JOB_FILE, Job
from platemodel.progress import Progress, no_message
from platemodel.study.choosing.choose import BarChoice, choose_bar
from platemodel.study.choosing.freedom import Freedom
from platemodel.study.choosing.targets import targets_of
from platemodel.study.choosing.wood_bands import WoodDoubt
from platemodel.study.top.figures import BODY_FIGURES, FIGURES, figure_text, usual_reference
from platemodel.study.top.old_bar import beside, flex_figures
from platemodel.study.top.recognise import KNOWN
from platemodel.study.top.workbench import Workbench
from platemodel.wood import WoodEstimate
from platemodel.wood.estimate import doubt_of

FINENESS = 1.0  # as of all pages; the usual top has the same mesh, so that its error cancels in shares

SHORT = {  # heads of columns
    "foot_n_per_mm": "foot N/mm", "sink_mm": "sinks mm", "body_sink_mm": "in body mm",
    "body_mobility_s_per_kg": "moves s/kg", "bar_g": "bar g",
}  # fmt: skip

LINE = "line"  # free: the bar is looked for on each of a few lines
ALIKE = 0.02  # of the weight: bars no further apart are equally light, and what stands in the way decides
#: Kinds of conflicts that rule a line out while another is free of them.
RULED_OUT = ("hole", "crack", "cleat", "worm", "plate")


@dataclass(frozen=True)
class TriedLine:
    """A line that a bar was looked for on.

    Attributes
    ----------
    height_mm, bar_g : float
        Of the bar found on it.
    met : bool
        It meets all targets.
    conflicts : tuple of str
        What stands in its way.
    lines : tuple of str
        What to type in [bar] for it.
    """

    name: str
    height_mm: float
    bar_g: float
    met: bool
    conflicts: tuple[str, ...]
    lines: tuple[str, ...]
    chosen: bool = False


@dataclass(frozen=True, eq=False)
class JobChoice:
    """Bar chosen for a job.

    Attributes
    ----------
    old_bar : DataFrame or None
        The old bar beside the chosen one; see `platemodel.study.top.old_bar.beside`.
    lines : tuple of TriedLine
        Where the bar's line was free: every line that was tried; else empty.
    taps : Finding or None
        That the taps kept in the job and the model lie apart.
    """

    job: Job
    choice: BarChoice
    old_bar: pd.DataFrame | None = None
    lines: tuple[TriedLine, ...] = ()
    taps: Finding | None = None

    @property
    def in_the_way(self) -> tuple[Finding, ...]:
        """What stands in the way of the chosen bar where it lies."""
        return in_the_way(self.job.top, self.choice.bar, self.job.marks)

    @property
    def notes(self) -> list[str]:
        """What to know before reading the tones: taps that lie apart, and modes that cannot be told."""
        found = [] if self.taps is None else [self.taps.message]
        tones = {n: self.choice.figures[f"f{n}_hz"] for n in KNOWN}
        return sentences([*found, *lost_tones(tones)])


def job_choice(
    job: Job,
    asked: Mapping[str, float] | None = None,
    free: Sequence[str] = ("height",),
    blanks: Mapping[str, WoodEstimate] | None = None,
    fineness: float = FINENESS,
    progress: Progress = no_message,
    bench: Workbench | None = None,
    old: Mapping[str, float] | None = None,
) -> JobChoice:
    """Choose a bar for a job.

    Parameters
    ----------
    job : Job
        With a bar: its line, wood and profile are kept.
    asked : mapping, optional
        Targets as in ``Job.targets``, which they replace one by one.
    free : sequence of str
        See `study.choosing.choose.choose_bar`; with ``line`` every line of `instrument.candidate_lines` is
        tried, and the lightest bar that meets all is taken; of equally light ones the least in the way.
    blanks : mapping of name to WoodEstimate, optional
    fineness : float
        Of the mesh.
    bench : Workbench, optional
        Of the job, where others have computed on it already; its mesh then counts, not ``fineness``.
    old : mapping, optional
        Figures of the old bar, where they are known already.

    Raises
    ------
    JobError
        A job without bar.
    ValueError
        Targets that cannot be.
    """
    bar = needed_bar(job, "choosing (its line and wood are kept)")
    if LINE in free:
        rest = tuple(name for name in free if name != LINE) or ("height",)
        planned = bench or job_bench(job, fineness, progress)
        known = old_figures(job, planned, progress)

        def choose(one):
            own = planned if one.bar is bar else None
            return job_choice(one, asked, rest, blanks, fineness, progress, own, known)

        return _over_lines(job, bar, choose, progress)
    bench = bench or job_bench(job, fineness, progress)
    progress("the usual bar on the usual top")
    length = round(job.top.outline.body_length, 4)
    wanted = merged(job.targets, asked or {})
    with begun_ahead(lambda: old_figures(job, bench, progress)):
        reference = usual_reference(job.top.kind, length, bar.section_fill, bench.fineness)
    old = old or old_figures(job, bench, progress)
    if old is None and "foot_of_old" in wanted:
        words = "describe the old bar in [old_bar]: its place, length, width, height"
        raise JobError([Problem(JOB_FILE, "old_bar", "nothing", words)])
    targets = targets_of(wanted, reference, old)
    body = None
    if any(t.figure in BODY_FIGURES for t in targets):
        progress("building the body")
        body = closed_body(job, job_body_model(job, bench.model), bar, progress).figures
    with begun_ahead(lambda: taps_finding(job, bench, progress)):
        choice = choose_bar(
            bench.model, bar, targets, Freedom(tuple(free)),
            WoodDoubt(doubt_of(bar.wood), job.top_wood, blanks or {}),
            set_up=job.set_up, reference=reference, progress=progress, body=body,
        )  # fmt: skip
    together = None if old is None else beside(old, choice.figures | flex_figures(bench.model, choice.bar))
    return JobChoice(job, choice, together, taps=taps_finding(job, bench, progress))


def _over_lines(job, bar, choose, progress):
    """Choose on each line; the lightest that meets all, of those with nothing grave in the way."""
    found = [c for c in candidate_lines(job.top, bar, job.marks) if c.seated]
    if not found:
        msg = "no line has wood under the whole bar; make it shorter or narrower, or measure the hole again"
        raise GeometryError(msg)
    results = []
    for candidate in found:
        progress(f"the line {candidate.name}")
        results.append(choose(replace(job, bar=candidate.bar)))
    clear = [not any(f.kind in RULED_OUT for f in c.conflicts) for c in found]
    grams = np.array([float(r.choice.figures["bar_g"]) for r in results])
    grave = [(not free, not r.choice.met) for free, r in zip(clear, results, strict=True)]
    lightest = min(g for g, one in zip(grams, grave, strict=True) if one == min(grave))
    alike = grams <= (1.0 + ALIKE) * lightest
    rank = [
        (*one, not near, len(c.conflicts) if near else 0, g)
        for one, near, c, g in zip(grave, alike, found, grams, strict=True)
    ]
    best = min(range(len(rank)), key=rank.__getitem__)
    tried = tuple(
        TriedLine(
            c.name, r.choice.height_mm, float(r.choice.figures["bar_g"]), bool(r.choice.met),
            tuple(short(f) for f in c.conflicts), c.lines, k == best,
        )
        for k, (c, r) in enumerate(zip(found, results, strict=True))
    )  # fmt: skip
    return replace(results[best], lines=tried)


def line_texts(result: JobChoice) -> list[str]:
    """Lines that were tried, a text each, and what to type for the one that was taken."""
    out = []
    for t in result.lines:
        met = "meets all targets" if t.met else "misses a target"
        way = "; in the way: " + ", ".join(t.conflicts) if t.conflicts else "; nothing in the way"
        mark = "taken: " if t.chosen else ""
        out.append(f"{mark}{t.name}: {t.height_mm:.1f} mm, {t.bar_g:.1f} g, {met}{way}")
    out += [f"type in [bar]: {line}" for t in result.lines if t.chosen for line in t.lines]
    return out


def way_out(result: JobChoice) -> list[str]:
    """Say where else the bar may go, if what is in its way asks for another line and none was tried."""
    if result.lines or not any(f.kind in RULED_OUT for f in result.in_the_way):
        return []
    return ["To look on other lines too: platemodel choose FOLDER --free line."]


#: Targets on the closed body, by the names of ``Job.targets``.
OF_THE_BODY = {"body_sinking", "least_body_mobility", "most_body_mobility"}
#: Targets of which one takes the place of another.
_INSTEAD = ({"foot_share", "foot", "foot_of_old"}, {"mode_5", "least_mode_5", "most_mode_5"})


def merged(old: Mapping[str, float], new: Mapping[str, float]) -> dict[str, float]:
    """Targets of a job with some replaced; a stiffness in N/mm replaces a share, and so on."""
    out = dict(old)
    for group in _INSTEAD:
        if group & set(new):
            out = {k: v for k, v in out.items() if k not in group}
    return out | dict(new)


def as_text(result: JobChoice) -> str:
    """Tables for the terminal."""
    job, choice = result.job, result.choice
    lines = [cautions.text_title(job), *result.notes, "", verdict(choice)]
    lines += [f"  {t}" for t in height_caution(choice)]
    lines += [f"  Why: {c.text}" for c in choice.conflicts]
    if result.in_the_way:
        found = [part for f in result.in_the_way for part in finding_lines(f)]
        lines += ["", "In the way of this bar", *found, *(f"  {t}" for t in way_out(result))]
    if result.lines:
        lines += ["", "Lines", *(f"  {t}" for t in line_texts(result))]
    lines += ["", "Targets"]
    for target, row in zip(choice.targets, choice.margins.itertuples(), strict=True):
        state = "binds" if row.met and row.binds else "met" if row.met else "MISSED"
        lines.append(f"  {state:7s}{target.text}")
        found = figure_text(target.figure, row.found)
        woods = f"met with {100 * row.chance:.0f} % of the woods it may be"
        lines.append(f"         found {found}, {to_spare(target, row.margin)}; {woods}")
    lines += ["", "Figures, with the 90 % band of the wood"]
    for row in choice.bands.itertuples():
        low, mid, high = (figure_text(row.figure, v) for v in (row.low, row.value, row.high))
        band = f"  {low} to {high}" if row.high > row.low else ""
        lines.append(f"  {row.what:46s}{mid:>9s} {row.unit:5s}{band}".rstrip())
    lines += ["", "How much higher than usual", *(f"  {t}" for t in higher_lines(choice))]
    lines += ["", heights_text(choice), "", "What half a millimetre of height does"]
    names = [n for n in FIGURES if n in choice.figures and n not in ("height_mm", "strip_n_m2", "ratio_5_2")]
    steps = [["", *(_short(n) for n in names)]]
    for r in choice.steps.to_dict("records"):
        label = f"{r['step_mm']:+.1f} mm" if r["step_mm"] else f"{r['height_mm']:.1f} mm"
        found = (change_text(n, r[f"d_{n}"]) if r["step_mm"] else figure_text(n, r[n]) for n in names)
        steps.append([label, *found])
    others = [["", "height", *(_short(n) for n in names), "needs mm"]]
    for r in choice.comparison.to_dict("records"):
        found = (figure_text(n, r[n]) for n in names)
        others.append([r["bar"], f"{r['height_mm']:.1f}", *found, _mm(r["needed_height_mm"])])
    if not any(row[-1] for row in others[1:]):
        others = [row[:-1] for row in others]
    lines += [*aligned(steps), "", "Beside other bars", *aligned(others)]
    lines += ["", *old_bar_lines(result.old_bar, "chosen")] if result.old_bar is not None else []
    lines += [
        "",
        "The bands cover only how well the wood of top and bar is known, neither the mesh nor the ribs.",
        *cautions.CHOICE,
    ]
    return "\n".join(lines) + "\n"


def _mm(value):
    return f"{value:.1f}" if np.isfinite(value) else ""


def _short(name):
    return SHORT.get(name, name.replace("_hz", " Hz").replace("f", "mode ", 1))


def as_data(result: JobChoice) -> dict:
    """Plain data for JSON; mm, g, Hz, N/mm."""
    choice, bar = result.choice, result.choice.bar
    low, high = choice.height_band
    return {
        **cautions.data_title(result.job),
        "met": choice.met,
        "verdict": verdict(choice),
        "notes": result.notes,
        "bar": {
            "height_mm": plain(1e3 * bar.heights.max()),
            "length_mm": plain(1e3 * bar.length),
            "width_mm": plain(1e3 * bar.width),
            "end_heights_mm": [plain(1e3 * h) for h in bar.heights[[0, -1]]],
            "higher_than_usual_mm": plain(choice.higher_mm),
            "height_band_mm": [plain(low), plain(high)],
            "higher_than_usual": higher_lines(choice),
        },
        "targets": records(choice.margins),
        "lines": [asdict(t) for t in result.lines],
        "conflicts": [{"targets": list(c.targets), "text": c.text} for c in choice.conflicts],
        "in_the_way": [finding_data(f) for f in result.in_the_way],
        "at_end_of_range": list(choice.at_end),
        "figures": records(choice.bands),
        "half_millimetre": records(choice.steps),
        "others": records(choice.comparison),
        "curve": records(choice.curve),
        "old_bar": records(result.old_bar),
    }
