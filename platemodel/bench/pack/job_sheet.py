"""The job behind the first page of a pack: what was measured and planned, looks odd, or was assumed."""

import re

from matplotlib.figure import Figure

from platemodel.bench.kit import cautions
from platemodel.bench.kit.against_usual import least_line
from platemodel.bench.kit.tones import tone
from platemodel.bench.kit.typeset import HEAD, LINE, Item, head, listed, pairs, write
from platemodel.bench.modes.bands import band_phrase
from platemodel.bench.pack.first_page import conflict_items
from platemodel.bench.pack.frame import LEFT, TOP, subtitle, two_columns
from platemodel.bench.pack.plan import Plan
from platemodel.job.report import read_values
from platemodel.study.top.old_bar import in_words
from platemodel.study.top.recognise import KNOWN

LABEL = 29.0  # mm, of the labels of figures


def job_pages(plan: Plan) -> list[Figure]:
    """Lay out what the first page has no room for, on as many pages as it takes; nothing is left out.

    Returns
    -------
    list of matplotlib.figure.Figure
        A4, upright; at least one.
    """

    def headed(ax, first):
        write(ax, LEFT, TOP, f"{plan.job.name}, {'in full' if first else 'continued'}", HEAD, bold=True)
        write(ax, LEFT, TOP - LINE[HEAD], subtitle(plan.job))
        return 270.0

    return two_columns(_blocks(plan), headed)


def _blocks(plan):
    job = plan.job
    odd = [f for f in job.findings if f not in plan.layout.conflicts]
    assumed = f"{len(job.assumptions)} things were not measured and follow the usual instrument or species:"
    conflicts = [i for f in plan.layout.conflicts for i in conflict_items(f)]
    return [
        [head("What the bar should do"), *pairs(list(_results(plan)), LABEL)],
        [head("Measured and planned, mm"), *pairs(_joined(read_values(job)), LABEL)],
        *([[head("Notes"), Item(job.notes)]] if job.notes else []),
        [head("In the way"), *(conflicts or listed(["nothing"]))],
        [head("Looks odd"), *listed([f.text for f in odd] or ["nothing"])],
        [head("Assumed"), Item(assumed), *listed(job.assumptions)]
        if job.assumptions
        else [head("Assumed"), Item("nothing")],
        [head("With care"), *[Item(t) for t in cautions.PACK]],
    ]


def _joined(rows):
    """Join rows without a label to the row before, with a stroke between columns."""
    out = []
    for label, spaced in rows:
        text = re.sub(r"\s{2,}", " | ", spaced.strip()) if label.startswith(" ") else spaced
        if label or not out:
            out.append((label, text))
        else:
            out[-1] = (out[-1][0], f"{out[-1][1]}; {text}")
    return out


def _results(plan):
    modes, load, cuts = plan.modes, plan.load.load, plan.layout.cuts
    for n, name in KNOWN.items():
        before, after = modes.without.frequency(n), modes.with_bar.frequency(n)
        sure = band_phrase(modes.bands[-1], n) if modes.bands else ""
        tones = f"{tone(before, '.1f')} without bar, {tone(after, '.1f')} with it"
        yield f"mode {n}, {name}", f"{tones} {sure}".rstrip()
    yield "weight", f"{1e3 * modes.without.mass:.1f} g without bar, {1e3 * modes.with_bar.mass:.1f} g with it"
    for note in modes.lost:
        yield "", note
    if modes.old_bar is not None:
        yield "beside the old bar", in_words(modes.old_bar)
    final = plan.stops.iloc[-1]
    yield "under the bass foot", f"{final.foot_n_per_mm:.1f} N/mm"
    yield "load on the top", f"{load.downforce:.1f} N, bass foot {load.bass:.1f} N (not the strings' pull)"
    for row in load.table.itertuples():
        if row.state in ("with bar", "without bar"):
            sinks = (
                f"{row.sink_bass_mid_mm:.2f} mm ({row.sink_bass_low_mm:.2f} to {row.sink_bass_high_mm:.2f})"
            )
            yield f"sinks {row.state}", f"{sinks} on the first day"
    yield "strength left", least_line(plan.load.margins, plan.job.top.kind)
    blank = cuts.blank
    size = " x ".join(f"{1e3 * v:.1f}" for v in (blank.length, blank.height, blank.width))
    yield "blank at least", f"{size} mm (length, height, width)"
    yield "bar", ", ".join(f"{k} {1e3 * v:.1f} g" for k, v in cuts.masses.items())
    yield "clamps", f"{len(plan.glue.plan.table)} (see the page on gluing)"
