"""Stresses of a solved shell: forces in the local frame, stresses of both faces in the wood's axes."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from platemodel.fem.arrays import Floats
from platemodel.fem.section import Section, compliance_in, over_thickness, plane_stress
from platemodel.fem.shell import Shell
from platemodel.fem.station import Station
from platemodel.fem.strains import strains

INNER, OUTER = -1, 1


@dataclass(frozen=True, eq=False)
class ShellStress:
    """Section forces and face stresses at n points of a shell.

    Attributes
    ----------
    points : array (2, n)
        Parameters of the points.
    membrane : array (n, 3)
        N11, N22, N12 in the local frame, N/m; axis 1 is the projection of the grain.
    moment : array (n, 3)
        M11, M22, M12, N; positive presses the outer face together.
    shear : array (n, 2)
        Transverse shear forces Q1, Q2, N/m; zero for a thin shell, where no shear strain is known.
    inner, outer : array (n, 3, 3)
        Stress tensors of the two faces in the wood's axes L, R, T, Pa.
    """

    points: np.ndarray
    membrane: np.ndarray
    moment: np.ndarray
    shear: np.ndarray
    inner: np.ndarray
    outer: np.ndarray

    @cached_property
    def faces(self) -> dict:
        """By face, ``inner`` and ``outer``: `FaceStress`."""
        return {"inner": FaceStress.of(self.inner), "outer": FaceStress.of(self.outer)}


@dataclass(frozen=True, eq=False)
class FaceStress:
    """Face stresses of the kinds that handbooks give strengths for, at n points, Pa.

    Attributes
    ----------
    along : array (n,)
        Along the grain, tension positive.
    across_tension, across_compression : array (n,)
        Greatest and least principal stress square to the grain.
    shear : array (n,)
        On planes along the grain.
    """

    along: np.ndarray
    across_tension: np.ndarray
    across_compression: np.ndarray
    shear: np.ndarray

    @classmethod
    def of(cls, tensor: np.ndarray) -> "FaceStress":
        """From stress tensors in the wood's axes (n, 3, 3)."""
        rr, tt, rt = tensor[:, 1, 1], tensor[:, 2, 2], tensor[:, 1, 2]
        middle, radius = 0.5 * (rr + tt), np.hypot(0.5 * (rr - tt), rt)
        shear = np.hypot(tensor[:, 0, 1], tensor[:, 0, 2])
        return cls(tensor[:, 0, 0], middle + radius, middle - radius, shear)


def shell_stress(shell: Shell, u: ArrayLike, station: Station | None = None) -> ShellStress:
    """Recover the stresses of a shell from its displacements.

    Parameters
    ----------
    u : array (n_dofs,)
        Displacements in the shell's DOFs; more (a rib's own) are not read.
    station : Station, optional
        Where; default the shell's quadrature points.

    Notes
    -----
    With strain e - z k at distance z from the midsurface: N = A e, M = D k, Q = S (s - t e), t the shear that
    a stretch causes where the grain leaves the surface, and face stresses q (e -+ h k / 2) in plane stress,
    turned into the wood's axes. Where the grain dives through the face a stretch along it is seen across the
    grain too.
    """
    return shell_stresses(shell, np.asarray(u, dtype=float)[:, None], station)[0]


def shell_stresses(shell: Shell, vectors: ArrayLike, station: Station | None = None) -> list[ShellStress]:
    """Recover the stresses of several displacements (n_dofs, k) at once; see `shell_stress`."""
    station = shell.quadrature if station is None else station
    section = shell.section
    found = strains(shell, np.asarray(vectors, dtype=float), station)
    h = np.asarray(section.thickness(*station.points), dtype=float)
    q, g, tilt = plane_stress(compliance_in(station.axes, section.compliance, section.axes))
    stiff = over_thickness(q, g, tilt, h)
    faces = [
        _material(q @ (found.membrane - side * 0.5 * h[:, None, None] * found.bending), station, section)
        for side in (INNER, OUTER)
    ]
    parts = (
        stiff.membrane @ found.membrane,
        stiff.bending @ found.bending,
        stiff.shear @ found.free_shear(stiff.tilt),
    )
    return [
        ShellStress(station.points, *(part[:, :, j] for part in parts), *(face[j] for face in faces))
        for j in range(found.membrane.shape[2])
    ]


def _material(plane: Floats, station: Station, section: Section) -> Floats:
    """Stress tensors in the wood's axes from plane stresses 11, 22, 12 in local frames: (k, n, 3, 3)."""
    plane = np.moveaxis(plane, 2, 0)
    tensor = np.zeros((*plane.shape[:2], 3, 3))
    tensor[..., 0, 0], tensor[..., 1, 1] = plane[..., 0], plane[..., 1]
    tensor[..., 0, 1] = tensor[..., 1, 0] = plane[..., 2]
    if section.axes is None:
        return tensor
    # wood's axes in the local frame
    turn = np.asarray(section.axes, dtype=float) @ np.swapaxes(station.axes, 1, 2)
    return turn @ tensor @ np.swapaxes(turn, 1, 2)
