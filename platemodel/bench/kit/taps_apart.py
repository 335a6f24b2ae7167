"""Whether the taps kept in a job and the model of its top agree: one finding, the same for all verbs."""

from dataclasses import replace

import numpy as np

from platemodel.bench.kit.needs import job_bench
from platemodel.bench.kit.tones import sentence
from platemodel.errors import PlatemodelError
from platemodel.instrument.layout_checks import Finding
from platemodel.job import Job
from platemodel.progress import Progress, no_message
from platemodel.study.top.recognise import KNOWN
from platemodel.study.top.workbench import Workbench

BORNE_OUT = 0.05  # relative, up to which taps bear the model out; a judgement
# Relative, beyond which no wood of the kind explains a tap: three standard deviations of what the spread of
# the species, arching and thickness leave open are 17 to 32 % on four unlike tops (`study.wood`).
IMPOSSIBLE = 0.3
KIND = "taps and model"
# A mesh that answers at once, and how far its modes 1, 2 and 5 lie from those of the usual mesh: at most
# 0.55 %, of 14 unlike tops, bare and with a bar.
ROUGH, ROUGH_ERROR = 0.5, 0.006


def taps_finding(job: Job, bench: Workbench | None = None, progress: Progress = no_message) -> Finding | None:
    """Compare the taps kept in a job with its model, by modes 1, 2 and 5.

    Parameters
    ----------
    bench : Workbench, optional
        Of the job, on the usual mesh. Without one a coarse mesh judges first, and the usual one is laid only
        where it leaves a doubt, so that the finding is the same.

    Returns
    -------
    Finding or None
        None where nothing was tapped, or where all lies within `BORNE_OUT`.
    """
    readings = [r for r in _readings(job) if r.mode in KNOWN]
    if not readings:
        return None
    if bench is None:
        rough = _off(readings, job_bench(job, ROUGH, progress))
        if len(rough) == len(readings) and max(map(abs, rough.values())) <= BORNE_OUT - ROUGH_ERROR:
            return None
    off = _off(readings, bench or job_bench(job, progress=progress))
    if not off:
        return None
    worst = max(off, key=lambda r: abs(np.log1p(off[r])))
    share, computed = abs(off[worst]), worst.frequency / (1.0 + off[worst])
    if share <= BORNE_OUT:
        return None
    side, bar = ("above" if off[worst] > 0 else "below"), ("with" if worst.bar_on else "without")
    heard = (
        f"mode {worst.mode} {bar} bar was heard at {worst.frequency:.1f} Hz, {100 * share:.0f} % {side} the "
        f"{computed:.1f} Hz computed"
    )
    return Finding(KIND, f"{heard}; {_advice(job, share)}", 100 * share, 100 * BORNE_OUT, "measured")


def _off(readings, bench):
    """How far each reading lies from the model, relative; without those whose mode it does not know."""
    computed = {on: bench.tones(on) for on in {r.bar_on for r in readings}}
    off = {r: r.frequency / computed[r.bar_on][r.mode] - 1.0 for r in readings}
    return {r: share for r, share in off.items() if np.isfinite(share)}


def _readings(job):
    """Taps of the last states without bar and with the bar as planned."""
    states = {state.name: state for state in job.states}
    barred = job.heard(True).values() if job.bar is not None else ()
    return [*job.heard(False).values(), *(r for r in barred if states[r.state].height is None)]


def _advice(job, share):
    if share > IMPOSSIBLE:
        return (
            "no wood of the kind explains that much: was it another mode, another plate, or a figure in the "
            "wrong unit? Check taps, thickness and arching; all figures here leave the taps aside"
        )
    if job.wood_from:
        return (
            "the wood was found from taps already, so look at thickness, arching and the hold; trust heights "
            "and weights more than tones"
        )
    return (
        "run `wood` first (with --keep it writes the wood found into job.toml); until then all figures are "
        "for the wood in job.toml, and the taps change nothing"
    )


def with_taps_finding(job: Job, bench: Workbench | None = None, progress: Progress = no_message) -> Job:
    """Return the job with this finding first among its others, as every list of what looks odd has it.

    Parameters
    ----------
    bench : Workbench, optional
        See `taps_finding`.
    """
    try:
        found = taps_finding(job, bench, progress)
    except PlatemodelError as error:  # a top that cannot be meshed, which its own findings tell more of
        text = f"taps were kept, but could not be compared with the model: {error}"
        found = Finding(KIND, text, np.nan, np.nan, "measured")
    return job if found is None else replace(job, findings=(found, *job.findings))


def taps_sentence(found: Finding | None) -> list[str]:
    """Return the finding as one sentence; none where there is none."""
    return [] if found is None else [sentence(found.message)]
