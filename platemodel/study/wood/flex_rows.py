"""Flex readings as rows of a fit of the wood, linear about a wood that was solved for."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_shape import scaled_wood
from platemodel.instrument.flex_test import FlexReading
from platemodel.study.top.flex import flexes
from platemodel.study.top.model import TopModel
from platemodel.wood import CONSTANTS, Orthotropic

AGREES = 2.5  # standard deviations within which a reading agrees with what the others predict


@dataclass(frozen=True, eq=False)
class FlexRows:
    """Logarithms of flexibilities about one wood, and their derivatives.

    Attributes
    ----------
    readings : tuple of FlexReading
    at : array (10,)
        Logarithms of that wood's constants.
    logs : array (k,)
        Of the flexibilities there, m/N.
    by_logs : array (k, 11)
        Derivatives by the constants and, last, by the thickness everywhere. A sag goes nearly as a product of
        powers, so that this serves until the wood is solved for again.
    by_bar : array (k,)
        Derivatives by the logarithm of a common factor on the bar's moduli.
    bar_log : float
        That logarithm, where it was solved.
    """

    readings: tuple[FlexReading, ...]
    at: np.ndarray
    logs: np.ndarray
    by_logs: np.ndarray
    by_bar: np.ndarray
    bar_log: float = 0.0

    @classmethod
    def solved(
        cls,
        model: TopModel,
        readings: Sequence[FlexReading],
        bar: Bar | None,
        wood: Orthotropic,
        at: np.ndarray,
        bar_log: float = 0.0,
    ) -> "FlexRows":
        """Solve the tests of some readings for a wood, with its constants' logarithms ``at``."""
        if bar is not None and bar_log:
            bar = replace(bar, wood=scaled_wood(bar.wood, np.exp(bar_log), 1.0))
        found = flexes(model, [r.test for r in readings], bar, wood)
        logs = np.array([np.log(f.flexibility) for f in found])
        rows = np.array([f.by_logs for f in found]).reshape(len(found), len(CONSTANTS) + 1)
        by_bar = np.array([f.by_bar for f in found])
        return cls(tuple(readings), at, logs, rows, by_bar, bar_log)

    def none(self) -> "FlexRows":
        """Return the same without any readings."""
        return FlexRows((), self.at, self.logs[:0], self.by_logs[:0], self.by_bar[:0], self.bar_log)

    @property
    def read(self) -> np.ndarray:
        """Logarithms of the flexibilities that were read: (k,)."""
        return np.array([np.log(r.flexibility) for r in self.readings])

    def sd(self, model_sd: float) -> np.ndarray:
        """Relative standard deviation of each reading and of the model together: (k,)."""
        return np.hypot([r.relative_sd for r in self.readings], model_sd)

    def table(
        self,
        expected: tuple[np.ndarray, np.ndarray],
        others: tuple[np.ndarray, np.ndarray],
        fitted: np.ndarray,
        sd: np.ndarray,
    ) -> pd.DataFrame:
        """Set each reading beside what everything but the flexes predicts, and beside the fit.

        Parameters
        ----------
        expected : (logs, rows)
            Logarithms at the point of the fit, and their derivatives by all unknowns.
        others : (away, covariance)
            From that point to the unknowns that the species, the weight and the taps alone tell, and their
            covariance.
        fitted : array
            From that point to the unknowns of the fit.
        sd : array (k,)
            Of each reading and the model together, relative.

        Returns
        -------
        DataFrame
            ``kind, weight_g, read_mm, sd_mm`` (reading and model together), ``others_mm, others_sd_mm``
            (without the flexes), ``fitted_mm, away`` (reading less the others, in standard deviations of
            both), ``agrees``.
        """
        (logs, rows), (mean, cov) = expected, others
        predicted, spread = logs + rows @ mean, np.sqrt(np.einsum("ij,jk,ik->i", rows, cov, rows))
        best = logs + rows @ fitted
        away = (self.read - predicted) / np.hypot(spread, sd)
        out = []
        for k, reading in enumerate(self.readings):
            mm = 1e3 * reading.force
            out.append(
                {
                    "kind": reading.test.name,
                    "weight_g": reading.weight_g,
                    "read_mm": 1e3 * reading.sag,
                    "sd_mm": 1e3 * reading.sag * sd[k],
                    "others_mm": mm * np.exp(predicted[k]),
                    "others_sd_mm": mm * np.exp(predicted[k]) * spread[k],
                    "fitted_mm": mm * np.exp(best[k]),
                    "away": away[k],
                    "agrees": bool(abs(away[k]) < AGREES),
                }
            )
        return pd.DataFrame(out)
