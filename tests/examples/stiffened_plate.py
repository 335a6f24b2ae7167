"""A clamped aluminium plate with one rib glued below: its modes, and how far a pressure bends it."""

from platemodel import fem

side, density = 0.2032, 2823.0  # m, kg/m3
metal = fem.isotropic_compliance(68.7e9, 0.29)
section = fem.Section(fem.constant(1.37e-3), metal, density)
plate = fem.Shell(fem.rectangle(side, side, 8, 8), fem.flat(), section, shear=False)
seat = fem.Seat(plate, start=(0.0, side / 2), end=(side, side / 2), width=6.35e-3)
rib = fem.Rib(seat, height=12.7e-3, wood=fem.RibWood(metal, density), shear=False)
edges = fem.boundary_facets(plate.mesh)
system = fem.System(plate, (rib,), (fem.hold(plate, edges), fem.clamp(plate, edges)))

modes = system.modes(6)
pressed = system.solve(fem.pressure_load(plate, -1e3))
sunk = -(fem.point_rows(plate, [[side / 2], [side / 4]], (0, 0, 1)) @ pressed[: plate.n_dofs])[0]
print(system)
print("modes", modes.frequencies.round(1), f"Hz; 1 kPa bends a half by {1e6 * sunk:.1f} micrometres")
