"""What slips in the measured thickness, arching and outline do to the tones and the weight of a model."""

from dataclasses import dataclass, replace

import numpy as np

from platemodel.fem.gradients import edge_gradient, shape_gradient, thickness_density
from platemodel.fem.shell import Shell
from platemodel.instrument.shape_errors import ShapeErrors
from platemodel.study.top.meshed_top import MeshedTop, outer_facets
from platemodel.study.top.plan_fields import bells, differentiated, product

PARTS = ("thickness", "arching", "outline")
PITCH = 1.2  # of the bells' standard deviation: their squares then add up to the same within 0.5 %
RISEN = 0.25  # share of the arch's rise below which an error of the arching fades out towards the flat rim
BATCH = 64
ORDER = 4  # of the quadrature: six points a triangle, where a stiffness takes sixteen


@dataclass(frozen=True, eq=False)
class ShapeScatter:
    """What errors of the shape do to the logarithms of k frequencies and of the weight, which comes last.

    Attributes
    ----------
    at : dict of str to array (2, m)
        By part (``PARTS``): places that the errors are made of, m.
    effects : dict of str to array (m, k + 1)
        What one standard deviation of an error about each place does; errors of two places are independent.
    """

    at: dict[str, np.ndarray]
    effects: dict[str, np.ndarray]

    def covariance(self, part: str) -> np.ndarray:
        """Covariance (k + 1, k + 1) from one of ``PARTS``."""
        return self.effects[part].T @ self.effects[part]

    def of_modes(self, places: slice) -> "ShapeScatter":
        """Return the effects on some of the frequencies, and on the weight."""
        chosen = {k: np.column_stack([e[:, :-1][:, places], e[:, -1]]) for k, e in self.effects.items()}
        return replace(self, effects=chosen)

    @property
    def rows(self) -> np.ndarray:
        """All effects (n, k + 1), a row for each of n independent standard normal numbers.

        Rows times rows of one plate in two states are the covariance of its readings.
        """
        return np.concatenate([self.effects[part] for part in PARTS])


def error_fields(box: tuple[float, float, float, float], reach: float) -> tuple[np.ndarray, float]:
    """Middles of the bells that a smooth random field is a sum of, and their height for a spread of 1.

    Parameters
    ----------
    box : (x0, y0, x1, y1)
        Where the field is wanted, m.
    reach : float
        Standard deviation of the bells, m. The field's values at a distance d go together by
        exp(-(d / (2 reach))^2).

    Returns
    -------
    middles : array (2, m)
        m.
    height : float
        Times independent standard normal numbers, one a bell.
    """
    pitch = PITCH * reach
    lines = [np.arange(a - 2 * reach, b + 2 * reach + pitch, pitch) for a, b in (box[::2], box[1::2])]
    middles = np.stack([g.ravel() for g in np.meshgrid(*lines, indexing="ij")])
    return middles, PITCH / np.sqrt(np.pi)


def arching_window(model: MeshedTop):
    """Share of an arching error that is left near the rim, which lies on a flat board: a function of x, y."""
    field = model.top.midsurface()
    rim = float(np.median(field.value(*model.top.outline.points.T)))
    rise = float(field.values.max()) - rim
    x0, y0, x1, y1 = field.box

    def window(x, y):
        height = field.value(np.clip(x, x0, x1), np.clip(y, y0, y1))
        return 1.0 - np.exp(-(((height - rim) / (RISEN * rise)) ** 2))

    return window


def shape_scatter(
    model: MeshedTop,
    shell: Shell,
    vectors: np.ndarray,
    omega2: np.ndarray,
    mass: float,
    errors: ShapeErrors,
) -> ShapeScatter:
    """Differentiate frequencies and weight by random errors of thickness, arching and outline.

    Parameters
    ----------
    shell : Shell
        Of the model, with the wood of the shapes.
    vectors : array (n_dofs, k)
        Mass-normalised shapes in the shell's DOFs; a bar's own unknowns at the end are left alone.
    omega2 : array (k,)
        1/s2.
    mass : float
        Of plate and bar, kg.

    Notes
    -----
    First order, by the exact derivatives of `platemodel.fem.gradients`. The midsurface keeps its height under
    an error of thickness, and an error of arching does not change the weight: both would be smaller by an
    order. Arching and thickness stay where they are under an error of the outline. What the error of an
    arching does to the energy of a bar on it is left out: on the demo tops a tenth of the arching's part.
    """
    length, k = model.top.outline.body_length, len(omega2)
    shell, vectors, factors = shell.sampled(ORDER), vectors[: shell.n_dofs], 0.5 / omega2
    density, areas = shell.section.density, shell.area_weights
    effect = {}
    if errors.thickness:
        table = areas[:, None] * thickness_density(shell, vectors, omega2) * factors
        thick = np.column_stack([table, density * areas / mass])
        points = shell.quadrature.points
        effect["thickness"] = lambda at: _heights(points, at, errors.thickness_reach * length).T @ thick
    if errors.arching:
        by_shape = shape_gradient(shell, vectors, omega2) * factors
        window = arching_window(model)

        def lifted(at):
            def lift(x, y):
                fade = differentiated(window, x, y)[..., None]
                return product(bells(x, y, at, errors.arching_reach * length), fade)

            change = shell.interpolate(lift).T @ by_shape
            return np.column_stack([change, np.zeros(len(change))])

        effect["arching"] = lifted
    if errors.outline:
        edge = edge_gradient(shell, outer_facets(model), vectors, omega2)
        heavy = density * edge.lengths * edge.station.surface.area * edge.thickness / mass
        rim = np.column_stack([edge.table * factors, heavy])
        line = edge.station.points
        effect["outline"] = lambda at: _heights(line, at, errors.outline_reach * length).T @ rim
    places = {part: np.zeros((2, 0)) for part in PARTS}
    effects = {part: np.zeros((0, k + 1)) for part in PARTS}
    for part, act in effect.items():
        places[part], height = error_fields(
            model.top.outline.box(), getattr(errors, f"{part}_reach") * length
        )
        batches = np.array_split(places[part], max(1, places[part].shape[1] // BATCH), axis=1)
        effects[part] = height * getattr(errors, part) * np.concatenate([act(at) for at in batches])
    return ShapeScatter(places, effects)


def _heights(points, at, radius):
    """Values of the bells of `bells` alone: (n, m)."""
    x, y = (np.exp(-0.5 * ((p[:, None] - m) / radius) ** 2) for p, m in zip(points, at, strict=True))
    return x * y
