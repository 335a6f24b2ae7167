"""Mechanics only: shells on parametrised surfaces, eccentric ribs, supports, modes and statics.

Knows nothing of instruments and imports no other room.
"""

from platemodel.fem.eigen import Modes
from platemodel.fem.loads import point_load, pressure_load
from platemodel.fem.material import RibWood, isotropic_compliance
from platemodel.fem.mesh import Fineness, Loop, mesh_plan, rectangle
from platemodel.fem.plate_in_air import AirPanels
from platemodel.fem.rib import Rib
from platemodel.fem.rib_stress import RibForces, rib_forces
from platemodel.fem.seat import Seat
from platemodel.fem.section import Section, constant
from platemodel.fem.shell import Shell
from platemodel.fem.slender_band import SlenderBand
from platemodel.fem.stress import ShellStress, shell_stress
from platemodel.fem.supports import (
    Constraint,
    Spring,
    boundary_facets,
    clamp,
    edge_rotation,
    edge_spring,
    hold,
    hold_point,
    point_rows,
    point_spring,
)
from platemodel.fem.surface import Surface, SurfacePoints, flat, graph
from platemodel.fem.system import System
from platemodel.threads import one_blas_thread

__all__ = [
    "AirPanels",
    "SlenderBand",
    "Constraint",
    "Fineness",
    "Loop",
    "Modes",
    "Rib",
    "RibForces",
    "RibWood",
    "Seat",
    "Section",
    "Shell",
    "ShellStress",
    "Spring",
    "Surface",
    "SurfacePoints",
    "System",
    "boundary_facets",
    "clamp",
    "constant",
    "edge_rotation",
    "edge_spring",
    "flat",
    "graph",
    "hold",
    "hold_point",
    "isotropic_compliance",
    "mesh_plan",
    "point_load",
    "point_rows",
    "point_spring",
    "pressure_load",
    "rectangle",
    "rib_forces",
    "shell_stress",
]

one_blas_thread()
