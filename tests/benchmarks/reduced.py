"""What the reduced model saves and what it costs, against the full model in the same run.

Run ``python -m tests.benchmarks.reduced``; takes some minutes. Seconds depend on the machine, ratios less.
"""

import time
from dataclasses import replace

import numpy as np

from platemodel.instrument.bar_shape import bar_of_height
from platemodel.instrument.presets import preset_bar, preset_top
from platemodel.study.top.answers import bar_response
from platemodel.study.top.model import top_model
from platemodel.study.top.reduced_top import reduced_top

FINENESS = (0.5, 1.0)
COUNT = 30


def clock(answer, model, bars):
    """Median and least seconds of an answer."""
    out = []
    for bar in bars:
        start = time.perf_counter()
        answer(model, bar)
        out.append(time.perf_counter() - start)
    return float(np.median(out)), min(out)


def errors(reduced, bar, count=12):
    """True errors of modes 1, 2, 5 and of the stiffness, estimate, and whether the full model answered."""
    random, out = np.random.default_rng(2), []
    for _ in range(count):
        one = reduced.range.bar(bar, reduced.top.bridge.x, random.random(5))
        found, true = bar_response(reduced, one), bar_response(reduced.full, one)
        modes = max(abs(found.frequency(n) / true.frequency(n) - 1) for n in (1, 2, 5))
        feet = max(abs(getattr(found.foot, r) / getattr(true.foot, r) - 1) for r in ("sliding", "held"))
        out.append((modes, feet, found.error, found.source == "full"))
    return np.array(out).T


def main():
    """Print times, sizes, errors and effectivities."""
    for fineness in FINENESS:
        model = top_model(preset_top("violin"), fineness)
        bar = preset_bar(model.top)
        start = time.perf_counter()
        reduced = reduced_top(model, bar)
        made = time.perf_counter() - start
        bars = [bar_of_height(bar, h) for h in np.linspace(7e-3, 15e-3, COUNT)]
        full, _ = clock(bar_response, model, bars[:3])
        bar_response(reduced, bar)
        quick, best = clock(bar_response, reduced, bars * 4)
        factors = np.linspace(0.8, 1.2, COUNT)
        woods = [replace(bar, wood=replace(bar.wood, E_L=bar.wood.E_L * f)) for f in factors]
        wood, _ = clock(bar_response, reduced, woods)
        other = replace(bar, width=1.1 * bar.width)
        first, second = (clock(bar_response, reduced, [other])[0] for _ in range(2))
        modes, feet, estimate, fell = errors(reduced, bar)
        least = (estimate / np.maximum(modes, feet).clip(1e-9)).min()
        print(f"fineness {fineness}, {model.shell.n_dofs} unknowns: {reduced!r}")
        print(f"  full model {full:.2f} s a bar; reduced model made in {made:.1f} s = {made / full:.1f} bars")
        print(f"  height {1e3 * quick:.1f} ms ({1e3 * best:.1f} at best), 1/{full / quick:.0f} of a bar")
        print(f"  wood {1e3 * wood:.1f} ms")
        print(f"  another width {first:.2f} s = {first / full:.1f} bars, then {1e3 * second:.1f} ms")
        print(f"  {len(modes)} random bars: modes off by {modes.max():.1e}, stiffness {feet.max():.1e}")
        print(f"  estimate up to {estimate.max():.1e}, least {least:.1f} errors; {int(fell.sum())} in full")


if __name__ == "__main__":
    main()
