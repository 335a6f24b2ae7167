"""First tone of a rigid box with two slots open to half a space, by 3-D finite elements.

``python make_cavity.py 3 2`` solves with elements of 3 and of 2 mm in the slots and prints the tones; the
values quoted in the tests come from here. Needs netgen. The open half space ends at a half sphere, beyond
which a source goes on as 1/r: dp/dn = -p/R.
"""

import sys

import numpy as np
from netgen.occ import Box, Glue, OCCGeometry, Pnt, Sphere
from scipy.sparse.linalg import eigsh
from skfem import Basis, BilinearForm, ElementTetP2, FacetBasis, MeshTet, asm

SOUND = 343.0
LX, LY, DEPTH, WALL = 0.350, 0.190, 0.040, 0.003
SLOTS = ((0.150, 0.055, 0.075, 0.0065), (0.150, 0.128, 0.075, 0.0065))  # x, y, length, width
RADIUS = 0.30


def first_tone(size, edge=None):
    """Frequency in Hz with elements of ``size`` (m) in the slots and ``edge`` along their edges."""
    box = Box(Pnt(0, 0, -DEPTH), Pnt(LX, LY, 0))
    centre = np.array([0.5 * LX, 0.5 * LY, WALL])
    outside = Sphere(Pnt(*centre), RADIUS) - Box(Pnt(-1, -1, -1), Pnt(1, 1, WALL))
    slots = [Box(Pnt(x, y, 0), Pnt(x + a, y + b, WALL)) for x, y, a, b in SLOTS]
    for slot in slots:
        slot.maxh = size
        for face in slot.faces:
            face.maxh = size
        for line in slot.edges:
            line.maxh = edge or size
    made = OCCGeometry(Glue([box, *slots, outside])).GenerateMesh(maxh=0.05, grading=0.35)
    points = np.array([q.p for q in made.Points()]).T
    tets = np.array([[v.nr - 1 for v in e.vertices] for e in made.Elements3D()]).T
    mesh = MeshTet(np.ascontiguousarray(points), np.ascontiguousarray(tets))
    basis = Basis(mesh, ElementTetP2())
    stiff = asm(BilinearForm(lambda u, v, w: sum(u.grad[i] * v.grad[i] for i in range(3))), basis)
    mass = asm(BilinearForm(lambda u, v, w: u * v), basis)
    far = mesh.facets_satisfying(
        lambda x: np.sqrt(((x - centre[:, None]) ** 2).sum(axis=0)) > 0.97 * RADIUS, boundaries_only=True
    )
    stiff = stiff + asm(
        BilinearForm(lambda u, v, w: u * v / RADIUS), FacetBasis(mesh, ElementTetP2(), facets=far)
    )
    values, shapes = eigsh(stiff.tocsc(), 4, mass.tocsc(), sigma=(2 * np.pi * 250 / SOUND) ** 2)
    inside = basis.get_dofs(elements=lambda x: x[2] < 0).all()
    even = [abs(s[inside].mean()) / np.abs(s).max() for s in shapes.T]  # one pressure all over the box
    return float(np.sqrt(values[int(np.argmax(even))]) * SOUND / 2 / np.pi), basis.N, tets.shape[1]


if __name__ == "__main__":
    for millimetres in sys.argv[1:]:
        size, _, edge = millimetres.partition("/")
        tone, unknowns, tets = first_tone(1e-3 * float(size), 1e-3 * float(edge or size))
        print(f"{millimetres} mm: {tone:.2f} Hz, {unknowns} unknowns, {tets} tetrahedra", flush=True)
