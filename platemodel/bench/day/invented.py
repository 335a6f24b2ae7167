"""An invented day, to show what a day can decide: readings with every error that is named."""

from dataclasses import dataclass, replace

import numpy as np

from platemodel.bench.day.result import FINENESS, TOLERANCE, day_heights
from platemodel.instrument.bar_cuts import with_bridge_height
from platemodel.instrument.bar_range import BarRange
from platemodel.instrument.field import SmoothField
from platemodel.job import Job
from platemodel.job.day import FLEXED, MODES, DayRow
from platemodel.study.top.figures import TopFigures
from platemodel.study.top.workbench import Workbench
from platemodel.wood.moisture import SLOPES, equilibrium_moisture

GRAMS = {"along": 500.0, "across": 200.0, "twist": 50.0}  # twice the light hand's: a practice top


@dataclass(frozen=True)
class DayErrors:
    """What goes wrong on an invented day; standard deviations unless said otherwise.

    Attributes
    ----------
    thickness, arching : float
        Of the measured top, at a place, m; smooth over the plate.
    tap : float
        Of one mean of three taps, relative.
    gauge : float
        m.
    places : float
        Pegs and weight off their marks, relative.
    height : float
        Of the bar as measured, m.
    weighing : float
        kg.
    humidity : (float, float)
        At the first and the last row, fraction; the wood follows half of it.
    glue : float
        Water that the glue brought and that dries out over the day, kg.
    belief : float
        Mode 5 moves by so many times what the model says; 1 is the model.
    """

    thickness: float = 0.1e-3
    arching: float = 0.5e-3
    tap: float = 0.005
    gauge: float = 0.01e-3
    places: float = 0.01
    height: float = 0.1e-3
    weighing: float = 0.3e-3
    humidity: tuple[float, float] = (0.45, 0.52)
    glue: float = 0.3e-3
    belief: float = 1.0


def invented_day(
    job: Job, errors: DayErrors = DayErrors(), seed: int = 1, fineness: float = FINENESS
) -> list[DayRow]:
    """Invent the readings of a day on a top that is not quite the one that was measured.

    Parameters
    ----------
    job : Job
        With a bar.
    fineness : float
        Of the mesh.
    """
    rng = np.random.default_rng(seed)
    top = _other_top(job.top, errors, rng)
    heights = np.array(day_heights(job))
    true = 1e-3 * heights + rng.normal(0.0, errors.height, len(heights))
    bars = [with_bridge_height(job.bar, h, top.bridge.x) for h in true]
    tall = [float(b.heights.max()) for b in bars]
    ends = float(job.bar.heights[[0, -1]].min()), float(job.bar.heights[[0, -1]].max())
    span = BarRange(
        (0.98 * min(tall), 1.02 * max(tall)), (0.9 * ends[0], 1.1 * ends[1]), (1.0, 4.0), (1, 1), (1, 1)
    )
    bench = Workbench(top, job.bar, fineness=fineness)
    figures = TopFigures(bench.reduced(span, TOLERANCE), flexes=bench.bar_flexes(span))
    found = [figures.of(one) for one in (None, *bars)]
    humidity = np.linspace(*errors.humidity, len(found))
    moisture = [equilibrium_moisture(h) for h in humidity]
    middle = 0.5 * (tall[0] + tall[-1])
    rows = []
    for k, (height, one) in enumerate(zip([0.0, *heights], found, strict=True)):
        wet = 0.5 * (moisture[k] - moisture[0])
        stiffer = wet * np.mean([SLOPES[c] for c in ("E_L", "E_R", "G_LR")])
        water = errors.glue * np.exp(-k / 2) * (height > 0)
        mass = figures.model.mass * (1 + wet) + 1e-3 * one["bar_g"] + water
        taps = {}
        for n in MODES:
            f = one[f"f{n}_hz"] * np.exp(0.5 * stiffer - 0.5 * wet) * (1 - 0.5 * water / mass)
            if n == 5 and height:
                at = figures.of(with_bridge_height(job.bar, middle, top.bridge.x))["f5_hz"]
                f *= (one["f5_hz"] / at) ** (errors.belief - 1.0)
            taps[n] = float(f * np.exp(rng.normal(0.0, errors.tap)))
        sags = {}
        for kind in FLEXED:
            true_sag = one[f"flex_{kind}_mm"] * GRAMS[kind] / 100.0 * np.exp(-stiffer)
            sag = true_sag * np.exp(rng.normal(0.0, errors.places)) + 1e3 * rng.normal(0.0, errors.gauge)
            sags[kind] = GRAMS[kind], float(sag)
        weighed = float(mass + rng.normal(0.0, errors.weighing))
        rows.append(DayRow(1e-3 * float(height), weighed, taps, sags, float(humidity[k]), note="invented"))
    return rows


def _other_top(top, errors, rng):
    """Return the top as it really is: thickness and arching off by smooth random fields."""
    return replace(
        top,
        thickness=_off(top.thickness, errors.thickness, 0.06 * top.outline.body_length, rng),
        arching=_off(top.arching, errors.arching, 0.12 * top.outline.body_length, rng, fade=True),
    )


def _off(field: SmoothField, sd, reach, rng, fade=False):
    x, y = np.meshgrid(field.x, field.y, indexing="ij")
    out = np.zeros_like(field.values)
    for _ in range(60):
        wave = rng.normal(0.0, 1.0 / reach, 2) / np.sqrt(2.0)
        out += np.cos(wave[0] * x + wave[1] * y + rng.uniform(0.0, 2 * np.pi))
    out *= sd * np.sqrt(2.0 / 60)
    if fade:  # the rim lies on a flat board
        rise = (field.values - field.values.min()) / np.ptp(field.values)
        out = out * np.clip(2.0 * rise, 0.0, 1.0)
    return replace(field, values=field.values + out)
