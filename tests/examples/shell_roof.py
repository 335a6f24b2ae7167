"""A cylindrical concrete roof on two stiff end walls sags under its own weight (units of the source)."""

import numpy as np

from platemodel import fem

radius, length, arc = 25.0, 50.0, 50.0 * np.deg2rad(40)


def vault(x, s):
    """The cylinder over its length x and the arc s from its top, with derivatives."""
    a, o = s / radius, np.zeros_like(x)
    r, r_x, zero = (x, radius * np.sin(a), radius * np.cos(a)), (o + 1, o, o), (o, o, o)
    r_s, r_ss = (o, np.cos(a), -np.sin(a)), (o, -np.sin(a) / radius, -np.cos(a) / radius)
    return fem.SurfacePoints(*(np.stack(v, axis=1) for v in (r, r_x, r_s, zero, zero, r_ss)))


concrete = fem.Section(fem.constant(0.25), fem.isotropic_compliance(4.32e8, 0.0), density=1.0)
mesh = fem.rectangle(length, arc, 12, 8, origin=(0.0, -arc / 2))
roof = fem.Shell(mesh, fem.Surface(vault), concrete, shear=False)
walls = fem.hold(roof, fem.boundary_facets(mesh, ["left", "right"]), [(0, 1, 0), (0, 0, 1)])
fixed = fem.hold_point(roof, (length / 2, 0.0), [(1, 0, 0)])  # the walls leave it loose along x
sag = fem.System(roof, (), (walls, fixed)).solve(fem.pressure_load(roof, 90.0, direction=(0, 0, -1)))
edge = -(fem.point_rows(roof, [[length / 2], [arc / 2]], (0, 0, 1)) @ sag)[0]
print(f"the free edge sags by {edge:.4f}")
