"""How errors of the measured thickness and arching change the taps and the weight that a model predicts."""

from dataclasses import dataclass, replace

import numpy as np

from platemodel.fem.shell import Shell
from platemodel.instrument.bar import Bar
from platemodel.study.top.model import TopModel
from platemodel.study.top.plan_fields import bells, differentiated, product
from platemodel.study.top.sensitivity import shape_derivatives

PITCH = 1.2  # of the bells' standard deviation: their squares then add up to the same within 0.5 %
RISEN = 0.25  # share of the arch's rise below which an error of the arching fades out towards the flat rim
BATCH = 64
ORDER = 4  # of the quadrature: six points a triangle, where a stiffness takes sixteen


@dataclass(frozen=True)
class ShapeErrors:
    """How far a carefully measured plate is off what was measured, as smooth random fields.

    Attributes
    ----------
    thickness, arching : float
        Standard deviation at a point, m.
    thickness_reach, arching_reach : float
        Of the body length: errors at places twice as far apart as this are related by exp(-1). Thickness is
        read every 20 mm, arches are taken every 60 to 80 mm on a violin.
    """

    thickness: float = 0.1e-3
    arching: float = 0.5e-3
    thickness_reach: float = 0.06
    arching_reach: float = 0.12


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


def arching_window(model: TopModel):
    """Share of an arching error that is left near the rim, which lies on a flat board: a function of x, y."""
    field = model.top.midsurface()
    rim = float(np.median(field.value(*model.top.outline.points.T)))
    rise = float(field.values.max()) - rim
    x0, y0, x1, y1 = field.box

    def window(x, y):
        height = field.value(np.clip(x, x0, x1), np.clip(y, y0, y1))
        return 1.0 - np.exp(-(((height - rim) / (RISEN * rise)) ** 2))

    return window


def reading_effects(
    model: TopModel,
    shell: Shell,
    bar: Bar | None,
    vectors: np.ndarray,
    omega2: np.ndarray,
    mass: float,
    errors: ShapeErrors = ShapeErrors(),
) -> np.ndarray:
    """Work out what errors of thickness and arching do to the logarithms of frequencies and weight.

    Parameters
    ----------
    model : TopModel
    shell : Shell
        Of the model, with the wood of the shapes.
    bar : Bar or None
        The bar that is on.
    vectors : array (n_dofs, k)
        Mass-normalised shapes in the DOFs of shell and bar.
    omega2 : array (k,)
        1/s2.
    mass : float
        Of plate and bar, kg.
    errors : ShapeErrors

    Returns
    -------
    array (n, k + 1)
        A row for each of n independent standard normal numbers that the errors are made of, the weight last.
        Rows times rows of one plate in two states are the covariance of its readings.

    Notes
    -----
    First order, by the exact derivatives of `platemodel.study.top.sensitivity`. The midsurface keeps its
    height under an error of thickness, and an error of arching does not change the weight: both would be
    smaller by an order.
    """
    if not (errors.thickness or errors.arching):
        return np.zeros((0, len(omega2) + 1))
    out = []
    length = model.top.outline.body_length
    shell = Shell(shell.mesh, shell.surface, shell.section, shear=shell.shear, order=ORDER)
    model = replace(model, shell=shell)
    box = model.top.outline.box()
    n = shell.n_dofs
    by = shape_derivatives(model, bar, vectors[:n], vectors[n:], omega2, 0.5 / omega2)
    weight = np.concatenate([shell.area_weights, np.zeros(len(by.areas) - len(shell.area_weights))])
    rows = np.column_stack([by.by_thickness, shell.section.density * weight / mass])
    for at, scale in _batches(box, errors.thickness_reach * length, errors.thickness):
        out.append(scale * (bells(*by.places, at, errors.thickness_reach * length)[0].T @ rows))
    window = arching_window(model)
    for at, scale in _batches(box, errors.arching_reach * length, errors.arching):

        def lift(x, y, at=at):
            fade = differentiated(window, x, y)[..., None]
            return product(bells(x, y, at, errors.arching_reach * length), fade)

        part = scale * (shell.interpolate(lift).T @ by.by_shape)
        out.append(np.pad(part, ((0, 0), (0, 1))))
    return np.vstack(out)


def _batches(box, reach, sd):
    middles, height = error_fields(box, reach)
    for at in np.array_split(middles, max(1, middles.shape[1] // BATCH), axis=1):
        yield at, height * sd
