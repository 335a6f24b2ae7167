"""NGSolve: the body as a few wedges of any polynomial order through it, curved to its true shape."""

import time
from importlib import metadata, util

import numpy as np
from scipy.sparse.linalg import LinearOperator, eigsh

from platemodel.study.top.meshed_top import bar_axes
from tests.benchmarks.tools.ccx import RIGID, Found
from tests.benchmarks.tools.plan import BAR, Body, Plan

SHIFT = -(
    (2 * np.pi * 60.0) ** 2
)  # of the order of the first elastic eigenvalue, so that K - shift M is definite


def version() -> str | None:
    """Version of the library; None when it is not installed."""
    return metadata.version("ngsolve") if util.find_spec("ngsolve") else None


def wedges(body: Body, plan: Plan, layers: int, bar_layers: int):
    """Straight wedges over the plan: the third coordinate is the level of `Body.place`, in metres / 100.

    Returns
    -------
    ngsolve.Mesh
        Regions ``plate`` and ``bar``.
    """
    import ngsolve
    from netgen import meshing

    made = meshing.Mesh(dim=3)
    below = bar_layers if body.bar is not None else 0
    levels = np.r_[np.linspace(-1, 0, below + 1)[:-1], np.linspace(0, 1, layers + 1)]
    number = {}

    def node(point, level):
        key = (int(point), level)
        if key not in number:
            x, y = plan.points[:, point]
            number[key] = made.Add(meshing.MeshPoint(meshing.Pnt(x, y, 0.01 * levels[level])))
        return number[key]

    made.SetMaterial(1, "plate")
    made.SetMaterial(2, "bar")
    for corners, part in zip(plan.triangles.T, plan.part, strict=True):
        for k in range(0 if part == BAR else below, below + layers):
            ids = [node(p, k + up) for up in (0, 1) for p in corners]
            made.Add(meshing.Element3D(1 if k >= below else 2, ids))
    return ngsolve.Mesh(made)


def curve(body: Body, plan: Plan, mesh, order: int):
    """Deform the mesh to the body, as a field of the given order."""
    import ngsolve
    from ngsolve import dx, x, y, z
    from ngsolve.comp import IntegrationRuleSpace

    points = IntegrationRuleSpace(mesh, order=2 * order)
    places = []
    for what in (x, y, z):
        field = ngsolve.GridFunction(points)
        field.Interpolate(what)
        places.append(field.vec.FV().NumPy().copy())
    straight, level = np.array(places[:2]), 100.0 * places[2]
    true = body.place(bowed(plan, straight), level)
    space = ngsolve.VectorH1(mesh, order=order)
    u, v = space.TnT()
    field, rules = ngsolve.GridFunction(space), points.GetIntegrationRules()
    parts = []
    for move in true - np.array(places):
        part = ngsolve.GridFunction(points)
        part.vec.FV().NumPy()[:] = move
        parts.append(part)
    a = ngsolve.BilinearForm(u * v * dx).Assemble()
    f = ngsolve.LinearForm(ngsolve.CF(tuple(parts)) * v * dx(intrules=rules)).Assemble()
    field.vec.data = a.mat.Inverse(inverse="sparsecholesky") * f.vec
    return field


def bowed(plan: Plan, straight):
    """Carry points of the straight triangles (2, n) to the curved ones."""
    from matplotlib.tri import Triangulation

    home = Triangulation(*plan.points, plan.triangles.T).get_trifinder()(*straight)
    a, b, c = (plan.points[:, plan.triangles[k, home]] for k in range(3))

    def area(p, q, r):
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    whole = area(a, b, c)
    weights = np.stack([area(straight, b, c), area(a, straight, c), area(a, b, straight)]) / whole
    bow = np.stack([4 * weights[0] * weights[1], 4 * weights[1] * weights[2], 4 * weights[2] * weights[0]])
    return straight + np.einsum("sn,nsd->dn", bow, plan.bulge[home])


def stiffness(wood, axes):
    """Matrix of wood in space, strains xx, yy, zz, 2yz, 2xz, 2xy: (6, 6), Pa."""
    compliance = wood.compliance()
    full = np.zeros((3, 3, 3, 3))
    pairs = ((0, 0), (1, 1), (2, 2), (1, 2), (0, 2), (0, 1))
    six = np.linalg.inv(compliance)
    for i, (a, b) in enumerate(pairs):
        for j, (c, d) in enumerate(pairs):
            full[a, b, c, d] = full[b, a, c, d] = full[a, b, d, c] = full[b, a, d, c] = six[i, j]
    turned = np.einsum("ai,bj,ck,dl,abcd->ijkl", axes, axes, axes, axes, full)
    return np.array([[turned[a, b, c, d] for c, d in pairs] for a, b in pairs])


def run(body: Body, plan: Plan, order: int, layers: int = 1, bar_layers: int = 2, count: int = 8) -> Found:
    """Elastic modes of the free body, one thread.

    Parameters
    ----------
    body : Body
    plan : Plan
    order : int
        Of displacements and of geometry.
    layers, bar_layers : int
        Wedges through the plate and up the bar.
    count : int
    """
    import ngsolve
    from ngsolve import InnerProduct, dx

    ngsolve.SetNumThreads(1)
    mesh = wedges(body, plan, layers, bar_layers)
    mesh.SetDeformation(curve(body, plan, mesh, order))
    start = time.process_time()
    space = ngsolve.VectorH1(mesh, order=order)
    u, v = space.TnT()

    def strain(w):
        g = ngsolve.Grad(w)
        return ngsolve.CF(
            (g[0, 0], g[1, 1], g[2, 2], g[1, 2] + g[2, 1], g[0, 2] + g[2, 0], g[0, 1] + g[1, 0])
        )

    k, m = ngsolve.BilinearForm(space, symmetric=True), ngsolve.BilinearForm(space, symmetric=True)
    parts = [("plate", body.top.wood, body.top.grain_axes())]
    if body.bar is not None:
        parts.append(("bar", body.bar.wood, bar_axes(body.bar)))
    for name, wood, axes in parts:
        c = ngsolve.CF(tuple(stiffness(wood, axes).ravel()), dims=(6, 6))
        k += InnerProduct(c * strain(u), strain(v)) * dx(name)
        m += wood.density * u * v * dx(name)
    k.Assemble()
    m.Assemble()
    shifted = k.mat.CreateMatrix()
    shifted.AsVector().data = k.mat.AsVector() - SHIFT * m.mat.AsVector()
    solve = shifted.Inverse(inverse="sparsecholesky")
    found = eigsh(
        _operator(k.mat, space.ndof),
        RIGID + count,
        _operator(m.mat, space.ndof),
        SHIFT,
        OPinv=_operator(solve, space.ndof),
        v0=np.random.default_rng(1).random(space.ndof),
        tol=1e-9,
        return_eigenvectors=False,
    )
    seconds = time.process_time() - start
    hz = np.sort(np.sqrt(np.abs(found)) / (2 * np.pi))
    return Found(hz[RIGID:], space.ndof, seconds)


def _operator(matrix, n):
    """NGSolve matrix as scipy sees it."""
    left, right = matrix.CreateColVector(), matrix.CreateRowVector()

    def apply(values):
        left.FV().NumPy()[:] = np.ravel(values)
        right.data = matrix * left
        return right.FV().NumPy().copy()

    return LinearOperator((n, n), apply, dtype=float)
