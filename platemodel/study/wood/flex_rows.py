"""Flex readings as rows of a fit of the wood, linear about a wood that was solved for."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from platemodel.instrument.bar import Bar
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
    """

    readings: tuple[FlexReading, ...]
    at: np.ndarray
    logs: np.ndarray
    by_logs: np.ndarray

    @classmethod
    def solved(
        cls,
        model: TopModel,
        readings: Sequence[FlexReading],
        bar: Bar | None,
        wood: Orthotropic,
        at: np.ndarray,
    ) -> "FlexRows":
        """Solve the tests of some readings for a wood, with its constants' logarithms ``at``."""
        found = flexes(model, [r.test for r in readings], bar, wood)
        logs = np.array([np.log(f.flexibility) for f in found])
        rows = np.array([f.by_logs for f in found]).reshape(len(found), len(CONSTANTS) + 1)
        return cls(tuple(readings), at, logs, rows)

    @property
    def read(self) -> np.ndarray:
        """Logarithms of the flexibilities that were read: (k,)."""
        return np.array([np.log(r.flexibility) for r in self.readings])

    def sd(self, model_sd: float) -> np.ndarray:
        """Relative standard deviation of each reading and of the model together: (k,)."""
        return np.hypot([r.relative_sd for r in self.readings], model_sd)

    def expected(self, point: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Logarithms expected at a point of the fit; its first unknowns are the constants and the thickness.

        Returns
        -------
        logs : array (k,)
        rows : array (k, len(point))
            Derivatives by all unknowns; what slips of shape do to a sag is in its doubt.
        """
        n = len(CONSTANTS)
        rows = np.zeros((len(self.logs), len(point)))
        rows[:, : n + 1] = self.by_logs
        away = np.append(point[:n] - self.at, point[n])
        return self.logs + self.by_logs @ away, rows

    def table(
        self, others: tuple[np.ndarray, np.ndarray], fitted: np.ndarray, point: np.ndarray, model_sd: float
    ) -> pd.DataFrame:
        """Set each reading beside what everything but the flexes predicts, and beside the fit.

        Parameters
        ----------
        others : (mean, covariance)
            Of the unknowns, from the species, the weight and the taps alone.
        fitted : array
            Unknowns of the fit.
        point : array
            Where the derivatives were taken.
        model_sd : float

        Returns
        -------
        DataFrame
            ``kind, weight_g, read_mm, sd_mm`` (reading and model together), ``others_mm, others_sd_mm``
            (without the flexes), ``fitted_mm, away`` (reading less the others, in standard deviations of
            both), ``agrees``.
        """
        mean, cov = others
        logs, rows = self.expected(point)
        predicted, spread = logs + rows @ (mean - point), np.sqrt(np.einsum("ij,jk,ik->i", rows, cov, rows))
        best, sd = logs + rows @ (fitted - point), self.sd(model_sd)
        away = (self.read - predicted) / np.hypot(spread, sd)
        out = []
        for k, reading in enumerate(self.readings):
            mm = 1e3 * reading.force
            out.append(
                {
                    "kind": reading.test.kind,
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
