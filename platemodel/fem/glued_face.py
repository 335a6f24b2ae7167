"""What a plate gives between its section, which stays straight, and a face that is glued to something."""

import numpy as np
from scipy import linalg
from skfem import Basis, CellBasis, ElementTriP2, FacetBasis, MeshTri

from platemodel.fem.arrays import Floats
from platemodel.fem.section import rotate_compliance
from platemodel.fem.shell import Shell

# A pull on one face, or a drag along it, that leaves no resultant: the stress through the plate is a cubic,
# or a parabola (Reissner's of 1945, from memory). PULL and DRAG are the stiffnesses for the face's motion in
# moduli over thickness, the others integrals over the thickness of the squared profile of displacement, which
# is 1 at the face.
PULL, PULLED = 35.0 / 13.0, 2081.0 / 12168.0
DRAG, DRAGGED = 15.0 / 2.0, 11.0 / 112.0


def face_stiffness(shell: Shell, plan: MeshTri) -> Floats:
    """Stiffness of a plate's face against its section.

    Parameters
    ----------
    shell : Shell
        Nearly level where the plan is, and going on beyond its edge.
    plan : MeshTri
        What is glued on, in the plate's parameters.

    Returns
    -------
    array (n * 3, n * 3)
        For nodal motions x, y, z at the corners and mid-sides of the plan's triangles, N/m.

    Notes
    -----
    Over the plan the face moves by chi against the section: it costs PULL or DRAG times chi squared, and
    where chi changes from place to place the profile is sheared (upright chi) or stretched (chi along the
    face). Beyond the plan's edge chi decays; per length of edge that costs the geometric mean of both
    stiffnesses.
    """
    basis = Basis(plan, ElementTriP2(), intorder=4)
    edge = FacetBasis(plan, ElementTriP2(), intorder=4)
    compliance = _in_space(shell)
    sheared = np.linalg.inv(compliance[np.ix_([4, 3], [4, 3])])
    stretched = np.linalg.inv(compliance[np.ix_([0, 1, 5], [0, 1, 5])])
    ground, slopes = np.zeros((3, 3)), np.zeros((3, 2, 3, 2))  # component, direction, component, direction
    ground[:2, :2], ground[2, 2] = DRAG * sheared, PULL / compliance[2, 2]
    pair = np.array([[0, 2], [2, 1]])
    slopes[:2, :, :2] = DRAGGED * stretched[pair[:, :, None, None], pair[None, None]]
    slopes[2, :, 2] = PULLED * sheared
    out = np.zeros((basis.N, 3, basis.N, 3))
    shape, slope, h = _at(basis, shell)
    local = np.einsum("ieq,jeq,eq,cd->eicjd", shape, shape, basis.dx / h, ground, optimize=True)
    local += np.einsum("iaeq,jbeq,eq,cadb->eicjd", slope, slope, basis.dx * h, slopes, optimize=True)
    _add(out, basis, local)
    shape, _, h = _at(edge, shell)
    normal = edge.normals[:, :, 0]
    decay = np.stack(
        [_geometric_mean(ground, s) for s in np.einsum("cadb,ae,be->ecd", slopes, normal, normal)]
    )
    _add(out, edge, np.einsum("ieq,jeq,eq,ecd->eicjd", shape, shape, edge.dx, decay, optimize=True))
    return out.reshape(3 * basis.N, -1)


def _in_space(shell: Shell) -> Floats:
    """Compliance in axes x, y, z; wood that follows the surface as if the plate were level."""
    section = shell.section
    if section.axes is None:
        return section.compliance
    return rotate_compliance(section.compliance, section.axes.T[None])[0]


def _at(basis: CellBasis | FacetBasis, shell: Shell) -> tuple[Floats, Floats, Floats]:
    """Shapes (6, e, q), slopes (6, 2, e, q) and the plate's thickness (e, q) at the points of a basis."""
    shape = np.array([np.broadcast_to(basis.basis[i][0], basis.dx.shape) for i in range(6)])
    slope = np.array([basis.basis[i][0].grad for i in range(6)])
    x, y = np.asarray(basis.global_coordinates())
    h = np.asarray(shell.section.thickness(x.ravel(), y.ravel()), dtype=float)
    return shape, slope, np.broadcast_to(h, x.size).reshape(x.shape)


def _add(out: Floats, basis: CellBasis | FacetBasis, local: Floats) -> None:
    dofs = basis.element_dofs.T
    for c in range(3):
        for d in range(3):
            np.add.at(out[:, c, :, d], (dofs[:, :, None], dofs[:, None, :]), local[:, :, c, :, d])


def _geometric_mean(a: Floats, b: Floats) -> Floats:
    """Of two positive matrices: what holds the end of S u'' = K u (Riccati's equation for it)."""
    root = np.real(linalg.sqrtm(a))
    inverse = np.linalg.inv(root)
    return root @ np.real(linalg.sqrtm(inverse @ b @ inverse)) @ root
