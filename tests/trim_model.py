"""A top with formulas for tones: answers bars at once, for tests of trimming."""

from types import SimpleNamespace

import numpy as np

from platemodel.instrument.bar_cuts import bridge_height
from platemodel.job import read_job
from platemodel.resources import data_path

JOB = read_job(data_path("jobs", "modern_violin"))
BAR, X = JOB.bar, JOB.top.bridge.x
REFERENCE = {1: 92.0, 2: 157.0, 5: 352.0}  # Hz, a bar of about 12 mm
PLACES_SEEN = np.linspace(BAR.x_start + 1e-4, BAR.x_end - 1e-4, 41)


class FormulaTop:
    """Tones and stiffness that fall with the height at the bridge and the mean height of the bar's halves.

    Parameters
    ----------
    factor : dict
        Mode number to a factor on its frequency: wood that is not as thought.
    gain : float
        On the logarithm of every change: a top that minds its bar more or less than thought.
    """

    def __init__(self, factor=None, gain=1.0):
        self.factor, self.gain = factor or {}, gain
        self.top = SimpleNamespace(bridge=SimpleNamespace(x=X))

    def tones(self, bar):
        h = np.interp(PLACES_SEEN, bar.stations, bar.heights)
        lower, upper, at = 100 * h[:20].mean(), 100 * h[20:].mean(), bridge_height(bar, X) / 0.012
        plain = {
            1: 70 + 20 * at + lower + upper,
            2: 130 + 15 * lower + 12 * at,
            5: 290 + 25 * (lower + upper) + 12 * at,
        }
        return {
            n: self.factor.get(n, 1.0) * REFERENCE[n] * (f / REFERENCE[n]) ** self.gain
            for n, f in plain.items()
        }

    def response(self, bar, set_up=None):
        tones = self.tones(bar)
        h = np.interp(PLACES_SEEN, bar.stations, bar.heights)
        stiffness = 1e5 * (0.2 + 0.6 * bridge_height(bar, X) / 0.012 + 20 * h.mean())
        return SimpleNamespace(frequency=tones.get, foot=SimpleNamespace(middle=stiffness))

    def foot_stiffness(self, bar, post=True):
        return self.response(bar).foot
