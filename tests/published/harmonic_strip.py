"""The same strip as a shell with the package's rib: harmonic along the bar, finite elements across only.

The shell's energy is written out here once more, for one wave; the rib's is the package's, with what the
plate does on the lines of its seat taken from the elements across (quintic for the displacement, quadratic
for shear).
"""

import numpy as np
from scipy.linalg import eigh
from skfem import MeshTri

from platemodel.fem.junction import INNER
from platemodel.fem.massless import massless_condensed
from platemodel.fem.reach import WHOLE
from platemodel.fem.rib import Rib, RibWood
from platemodel.fem.seat import IN, Seat
from platemodel.fem.section import Section, constant, stiffness
from platemodel.fem.shell import Shell
from platemodel.fem.surface import flat


def _hermite():
    """Monomials on 0..1 from value, slope and curvature at both ends."""
    rows = [
        [np.prod(range(j - d + 1, j + 1)) * x ** (j - d) if j >= d else 0.0 for j in range(6)]
        for x in (0.0, 1.0)
        for d in range(3)
    ]
    return np.linalg.inv(np.array(rows, dtype=float))


_HERMITE = _hermite()


class Strip:
    """Finite elements across a strip, everything else exp(i k t).

    Parameters
    ----------
    breaks : array
        Ends of the elements across, m.
    section : platemodel.fem.section.Section
        Of constant thickness.
    axes : array (3, 3)
        t, b, n in space.
    k : float
        rad/m.
    """

    def __init__(self, breaks, section, axes, k):
        self.x, self.k, self.density = np.asarray(breaks, dtype=float), k, section.density
        self.thickness = float(section.thickness(np.zeros(1), np.zeros(1))[0])
        self.stiffness = stiffness(section, axes[None], np.array([self.thickness]))
        self.nodes, self.shears = 3 * len(self.x), 2 * len(self.x) - 1
        self.size = 3 * self.nodes + 2 * self.shears

    def rows(self, x, element=None):
        """What the strip does at a place across: dict of (size,)."""
        e = int(np.clip(np.searchsorted(self.x, x, side="right") - 1, 0, len(self.x) - 2))
        e = e if element is None else element
        length = self.x[e + 1] - self.x[e]
        xi = (x - self.x[e]) / length
        power = [
            [np.prod(range(j - d + 1, j + 1)) * xi ** (j - d) if j >= d else 0.0 for j in range(6)]
            for d in range(3)
        ]
        basis = np.array(power, dtype=float) @ _HERMITE * np.tile([1.0, length, length**2], 2)
        basis /= length ** np.arange(3)[:, None]
        quadratic = np.array([(1 - xi) * (1 - 2 * xi), 4 * xi * (1 - xi), xi * (2 * xi - 1)])
        slope = np.array([4 * xi - 3, 4 - 8 * xi, 4 * xi - 1]) / length
        wave = 1j * self.k

        def displacement(component, derivative):
            out = np.zeros(self.size, dtype=complex)
            start = component * self.nodes + 3 * e
            out[start : start + 6] = basis[derivative]
            return out

        def shear(component, values):
            out = np.zeros(self.size, dtype=complex)
            start = 3 * self.nodes + component * self.shears + 2 * e
            out[start : start + 3] = values
            return out

        u, v, w = (displacement(c, 0) for c in range(3))
        u_b, v_b, w_b = (displacement(c, 1) for c in range(3))
        s_t, s_b = (shear(c, quadratic) for c in range(2))
        bend_b = displacement(2, 2) - shear(1, slope)
        return {
            "u_t": u,
            "u_b": v,
            "u_n": w,
            "u_t,b": u_b,
            "e_t": wave * u,
            "e_b": v_b,
            "g_tb": u_b + wave * v,
            "q_t": wave * w,
            "q_b": w_b,
            "k_t": wave**2 * w,
            "bend_t": wave**2 * w - wave * s_t,
            "bend_b": bend_b,
            "bend_tb": 2.0 * wave * w_b - shear(0, slope) - wave * s_b,
            "s_t": s_t,
            "s_b": s_b,
            "d_t": wave * w - s_t,
            "d_b": w_b - s_b,
        }

    def matrices(self):
        """Stiffness and mass of the shell, Hermitian."""
        stiff, mass = (np.zeros((self.size, self.size), dtype=complex) for _ in range(2))
        xi, weight = np.polynomial.legendre.leggauss(6)
        of, h = self.stiffness, self.thickness
        for e in range(len(self.x) - 1):
            half = 0.5 * (self.x[e + 1] - self.x[e])
            for x, w in zip(self.x[e] + half * (xi + 1.0), weight * half, strict=True):
                r = self.rows(x, e)
                membrane = np.array([r["e_t"], r["e_b"], r["g_tb"]])
                bent = np.array([r["bend_t"], r["bend_b"], r["bend_tb"]])
                sheared = np.array([r["s_t"], r["s_b"]]) - of.tilt[0] @ membrane
                pairs = ((membrane, of.membrane[0]), (bent, of.bending[0]), (sheared, of.shear[0]))
                for rows, matrix in pairs:
                    stiff += w * rows.conj().T @ matrix @ rows
                moved, turned = np.array([r["u_t"], r["u_b"], r["u_n"]]), np.array([r["d_t"], r["d_b"]])
                mass += w * self.density * h * moved.conj().T @ moved
                mass += w * self.density * h**3 / 12.0 * turned.conj().T @ turned
        return stiff, mass

    def seat_rows(self, width):
        """Rows of a seat whose middle is at 0, by the names of `Seat.rows`."""
        lines = [self.rows(place * width) for place in (-WHOLE, WHOLE, -INNER, INNER)]
        out = {}
        for suffix, (a, b) in (("", lines[:2]), (IN, lines[2:])):
            gap = width if suffix == "" else 2.0 * INNER * width
            mean = {name: 0.5 * (a[name] + b[name]) for name in a}
            across = {name: (b[name] - a[name]) / gap for name in a}
            own = {name: mean[name] for name in ("e_t", "k_t", "q_t", "u_t", "u_b", "u_n")}
            own["s_t"] = self.k**2 * mean["u_b"]
            own |= {"q_b": across["u_n"], "twist": across["q_t"], "l_0": across["e_t"], "l_1": across["k_t"]}
            own |= {
                "e_b": across["u_b"],
                "k_b": across["d_b"],
                "g_tb": across["u_t"] + 1j * self.k * mean["u_b"],
            }
            out |= {name + suffix: row for name, row in own.items()}
        return out


def breaks(width, left, right):
    """Ends of elements across: close beside the bar and at the free edges."""
    near = width * np.array([-5, -3.2, -1.6, -0.9, -0.5, -0.25, 0.25, 0.5, 0.9, 1.6, 3.2, 5])
    edge = np.array([0.0, 1.0e-3, 3.0e-3])
    middle = np.linspace(-left, right, int((left + right) / 5e-3))
    free = (np.abs(middle) > 6 * width) & (middle > -left + 5e-3) & (middle < right - 5e-3)
    return np.sort(np.concatenate([middle[free], near, -left + edge, right - edge]))


def frequencies(wood, axes, width, height, thickness, left, right, k, count=8, plate_axes=None):
    """Lowest frequencies of the shell with the package's rib, Hz: (count,).

    Parameters
    ----------
    wood : Orthotropic
        Of plate and bar.
    axes : array (3, 3)
        Rows L, R, T of its axes in t, b, n.
    plate_axes : array (3, 3), optional
        Those of the plate, where they are not the bar's.
    width, height, thickness, left, right, k
        See `tests.published.harmonic_solid.frequencies`.
    """
    of_plate = axes if plate_axes is None else plate_axes
    section = Section(
        constant(thickness), wood.compliance(), wood.density, axes=of_plate, along=(1.0, 0.0, 0.0)
    )
    shell = Shell(MeshTri.init_tensor(np.linspace(0, 0.2, 4), np.linspace(-0.05, 0.05, 4)), flat(), section)
    seat = Seat(shell, (0.05, 0.0), (0.15, 0.0), width)
    strip = Strip(breaks(width, left, right), section, np.eye(3), k)
    stiff, mass = strip.matrices()
    if height:
        rib = Rib(seat, height, RibWood(wood.compliance(), wood.density, axes))
        stiff, mass = _with_rib(rib, strip, width, stiff, mass)
    values = eigh(*massless_condensed(stiff, mass), subset_by_index=(0, count - 1), eigvals_only=True)
    return np.sqrt(np.abs(values)) / (2.0 * np.pi)


def _with_rib(rib, strip, width, stiff, mass):
    """Add a rib's squares at its middle, per length; its own fields come last."""
    own = len(rib.own_names) // 2
    size = strip.size + own
    rows = {name: np.concatenate([row, np.zeros(own)]) for name, row in strip.seat_rows(width).items()}
    for i, name in enumerate(rib.own_names[::2]):
        rows[name] = np.eye(size)[strip.size + i]
        rows["d" + name] = 1j * strip.k * rows[name]
    at = len(rib.seat.weights) // 2
    out = []
    for shell, squares in zip((stiff, mass), rib.squares, strict=True):
        whole = np.zeros((size, size), dtype=complex)
        whole[: strip.size, : strip.size] = shell
        for coefficients, weight in squares:
            row = sum(
                np.broadcast_to(c, rib.seat.weights.shape)[at] * rows[name]
                for name, c in coefficients.items()
            )
            density = np.broadcast_to(weight, rib.seat.weights.shape)[at] / rib.seat.weights[at]
            whole += density * np.outer(row.conj(), row)
        out.append(whole)
    return out
