"""A free square plate of aluminium: its lowest modes, and how they move."""

from platemodel import fem

side, thickness = 0.3, 3e-3  # m
material = fem.Section(fem.constant(thickness), fem.isotropic_compliance(70e9, 0.3), density=2700.0)
plate = fem.Shell(fem.rectangle(side, side, 6, 6), fem.flat(), material)
modes = fem.System(plate).modes(6)

shown = fem.point_rows(plate, [[0.0], [side / 2]], (0, 0, 1)) @ modes.vectors
print(plate)
for frequency, motion in zip(modes.frequencies, abs(shown[0]), strict=True):
    print(f"{frequency:7.1f} Hz, middle of a side {motion:5.2f} (mass-normalised)")
