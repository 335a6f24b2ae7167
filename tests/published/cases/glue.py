"""Closing a gap, a bar on an elastic seat, heat that flows into wood."""

from types import SimpleNamespace

import numpy as np
import shapely
from scipy.interpolate import CubicSpline
from scipy.special import erfc

from platemodel.fem import Section, Shell, constant, flat
from platemodel.fem.mesh import rectangle
from platemodel.instrument.bar import Bar
from platemodel.instrument.bridge import Bridge
from platemodel.instrument.gaps import Gaps
from platemodel.study.gluing.closing import close_gaps
from platemodel.study.gluing.closing_on_top import locked_in
from platemodel.study.gluing.conduction import (
    AirFace,
    Layer,
    Stack,
    contact_temperature,
    film_decay,
    vapour_density,
)
from platemodel.study.gluing.elastic_seat import SeatedBeam
from platemodel.study.top.model import TopModel
from platemodel.wood import Orthotropic, from_species
from platemodel.wood.thermal import Thermal, conductivity, specific_heat
from tests.published.cases.case import Case

MM, GPA = 1e-3, 1e9
LENGTH, WIDE, HIGH = 270 * MM, 5.5 * MM, 12 * MM
SPRUCE = from_species("tonewood spruce", E_L=12 * GPA)
HETENYI = "Hetenyi, Beams on Elastic Foundation, 1946"
INCROPERA = "Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, 4th ed. 1996, "
CARSLAW = "Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed. 1959, "
HANDBOOK = "Forest Products Laboratory, Wood Handbook, FPL-GTR-190, 2010, chapter 4, "


def straight(wood=SPRUCE, heights=(HIGH, HIGH), length=LENGTH, width=WIDE, y=0.0):
    """Bar along x from 0."""
    return Bar(0.0, y, length, y, width, np.linspace(0, length, len(heights)), np.array(heights), wood)


def closed(gap):
    """Force at an end and peak stress, N and MPa, of a bar that touches in the middle."""
    found = close_gaps(straight(), Gaps([0, LENGTH / 2, LENGTH], [gap, 0, gap]), film=0.0, shear=False)
    return [found.force[0], 1e-6 * found.peak_stress]


def cantilever(gap):
    """P = 3 EI v / l^3 and sigma = 3 E c v / l^2 with half the bar as l."""
    inertia, half = WIDE * HIGH**3 / 12, LENGTH / 2
    return 3 * 12e9 * inertia * gap / half**3, 1e-6 * 3 * 12e9 * HIGH / 2 * gap / half**2


# --- two equal layers, one of them bent ----------------------------------------------------------------

LAYER, STRIP, ALONG, BEND, OVER = 4 * MM, 20 * MM, 300 * MM, 1 * MM, 20 * MM
#: No Poisson effect, and stiff in shear as the beam of the formula is.
EVEN_WOOD = Orthotropic("even", 450.0, 10 * GPA, 10 * GPA, 10 * GPA, 9 * GPA, 9 * GPA, 9 * GPA, 0, 0, 0)


def strip_model(cells=(17, 2)):
    """Strip of plate in place of a top."""
    shell = Shell(
        rectangle(ALONG + 2 * OVER, STRIP, *cells).translated((-OVER, -STRIP / 2)),
        flat(),
        Section(constant(LAYER), EVEN_WOOD.compliance(), EVEN_WOOD.density),
        shear=False,
    )
    outline = SimpleNamespace(
        polygon=shapely.box(-OVER, -STRIP / 2 - MM, ALONG + OVER, STRIP / 2 + MM), body_length=ALONG
    )
    bridge = Bridge(ALONG / 2, 0.9 * STRIP, 0.3 * STRIP, 4 * MM)
    top = SimpleNamespace(outline=outline, sound_holes=(), bridge=bridge)
    return TopModel(top, shell, 1.0, lasting=False)


def spring_back():
    """Rise of the middle over the bend of the bar: held in a form, and with the plate free to give."""
    bar = straight(EVEN_WOOD, (LAYER, LAYER), ALONG, STRIP)
    held, free = locked_in(strip_model(), bar, Gaps([0, ALONG / 2, ALONG], [BEND, 0, BEND]), film=0.0)
    return [held.sagitta / BEND, free.sagitta / BEND]


# --- beam on an elastic seat ---------------------------------------------------------------------------

SEAT, EI, PUSH = 2.5e7, 9.5, 100.0
LAMBDA = (SEAT / 4 / EI) ** 0.25


def seated(length, place, elements=120, pressed=0.0):
    """Deflection at the middle and the end, m, under a push; ``pressed`` (N/m) keeps the seat in touch."""
    s = np.linspace(0, length, elements + 1)
    beam = SeatedBeam(s, np.full(elements, EI), np.full(elements, SEAT))
    loads = beam.load([place], [PUSH])[:, 0]
    even = beam.load([length / 2], [pressed * length], length)[:, 0]
    w = beam.solve(loads + even).deflection - pressed / SEAT
    return w[elements // 2], w[0]


def finite(length):
    """Hetenyi's free beam with a push in the middle: deflection there and at the ends."""
    b = LAMBDA * length
    below = np.sinh(b) + np.sin(b)
    middle = PUSH * LAMBDA / (2 * SEAT) * (np.cosh(b) + np.cos(b) + 2) / below
    return middle, 2 * PUSH * LAMBDA / SEAT * np.cosh(b / 2) * np.cos(b / 2) / below


def um(values):
    return [1e6 * v for v in values]


# --- heat ------------------------------------------------------------------------------------------------

PLAIN = Thermal(0.11, 420.0, 1600.0)
WATERY = Thermal(0.52, 1100.0, 3300.0)


def half_spaces():
    """Temperature 1 and 3 mm from the contact of two thick bodies, after 10 s."""
    stack = Stack([Layer(PLAIN, 0.04, 20.0, "high"), Layer(WATERY, 0.06, 60.0, "low")])
    _, t = stack.run(10.0, at=np.array([10.0]))
    out = []
    for layer, places in ((0, (-3e-3, -1e-3)), (1, (1e-3, 3e-3))):
        inside = stack.of == layer
        out += list(CubicSpline(stack.depth[inside], t[inside, 0])(0.04 + np.array(places)))
    return out


def half_spaces_exact():
    contact = contact_temperature(PLAIN, 20.0, WATERY, 60.0)
    out = []
    for depth, body, start in ((3, PLAIN, 20), (1, PLAIN, 20), (1, WATERY, 60), (3, WATERY, 60)):
        share = erfc(depth * 1e-3 / 2 / np.sqrt(body.diffusivity * 10.0))
        out.append(start + (contact - start) * share)
    return tuple(out)


def slab(biot, fourier):
    """Middle and face of a wall cooled from both sides, as shares of its first excess."""
    half = 5e-3
    coefficient = biot * PLAIN.conductivity / half
    face = AirFace(coefficient, 0.0)
    stack = Stack([Layer(PLAIN, 2 * half, 1.0, "both")], face, face)
    time = fourier * half**2 / PLAIN.diffusivity
    t = stack.run(time, at=np.array([time]))[1][:, 0]
    return [np.interp(half, stack.depth, t), t[0]]


def stirred():
    """Film that leads heat at once, between thick woods: its share of the first excess at 2 and 20 s."""
    film = Thermal(1e4, 1100.0, 3300.0)
    stack = Stack([Layer(PLAIN, 0.05, 0.0, "high"), Layer(film, 0.3e-3, 1.0), Layer(PLAIN, 0.05, 0.0, "low")])
    times = np.array([2.0, 20.0])
    return stack.mean(stack.run(20.0, at=times)[1], 1)


CASES = (
    Case(
        id="G1",
        title="Closing a gap at both ends of an even bar",
        source="Timoshenko & Gere, Mechanics of Materials, appendix G: cantilever with a load at its end, "
        "P = 3 EI v / l^3, worked by hand as 11.6 N and 12 MPa, 35 N and 36 MPa",
        status="closed form",
        conditions="270 x 5.5 x 12 mm, E 12 GPa, no shear; touches in the middle, gaps of 1 and 3 mm.",
        unit="N, MPa",
        labels=("end, 1 mm", "stress, 1 mm", "end, 3 mm", "stress, 3 mm"),
        published=(*cantilever(1 * MM), *cantilever(3 * MM)),
        compute=lambda: [*closed(1 * MM), *closed(3 * MM)],
        tolerance=1e-3,
        reason="moments are taken in the middles of 400 pieces",
    ),
    Case(
        id="G2",
        title="Spring-back of two equal layers of which one was bent",
        source="composite beam: EI of one layer over that of both glued, 1/8 (the 1/n^2 of a laminated "
        "member bent in all n layers is n times as much); free: both layers give alike, 1/2",
        status="closed form",
        conditions="300 x 20 mm strip, two layers of 4 mm of the same stuff, E 10 GPa, no Poisson effect, "
        "the bar bent by 1 mm at its ends; the strip goes on by 20 mm beyond them.",
        unit="",
        labels=("held in a form", "free"),
        published=(1 / 8, 1 / 2),
        compute=spring_back,
        tolerance=0.01,
        reason="the forces act on squares of 20 mm, and the bar shears",
    ),
    Case(
        id="G3",
        title="Long beam on an elastic seat under a push",
        source=f"{HETENYI}: P lambda / 2k far from the ends, 2 P lambda / k at an end",
        status="closed form",
        conditions="EI 9.5 N m2, seat 25 MN/m2, 100 N; pressed evenly besides, so that nothing lifts.",
        unit="micrometres",
        labels=("in the middle", "at the end"),
        published=tuple(um((PUSH * LAMBDA / 2 / SEAT, 2 * PUSH * LAMBDA / SEAT))),
        compute=lambda: um([seated(0.8, 0.4, 160, 5e3)[0], seated(0.8, 0.0, 160, 5e3)[1]]),
        tolerance=1e-4,
        reason="5 mm elements",
    ),
    Case(
        id="G4",
        title="Short beam on an elastic seat, free ends, push in the middle",
        source=f"{HETENYI}, beams of finite length, free ends (from memory)",
        status="from memory",
        conditions="As G3 without the even pressure; lambda l = 1.5 and 2.5.",
        unit="micrometres",
        labels=("middle, 1.5", "end, 1.5", "middle, 2.5", "end, 2.5"),
        published=tuple(um((*finite(1.5 / LAMBDA), *finite(2.5 / LAMBDA)))),
        compute=lambda: um(
            [*seated(1.5 / LAMBDA, 0.75 / LAMBDA), *seated(2.5 / LAMBDA, 1.25 / LAMBDA)],
        ),
        tolerance=1e-4,
        reason="the formula holds while nothing lifts; the beam is fine",
    ),
    Case(
        id="G5",
        title="Two thick bodies that meet",
        source=f"{CARSLAW}2.15; {INCROPERA}section 5.7 (from memory): one contact temperature, weighed by "
        "effusivity, and an error function to each side",
        status="closed form",
        conditions="Wood at 20, glue at 60 degrees C; 3 and 1 mm inside each, 10 s after contact; slabs of "
        "40 and 60 mm.",
        unit="degrees C",
        labels=("wood, 3 mm", "wood, 1 mm", "glue, 1 mm", "glue, 3 mm"),
        published=half_spaces_exact(),
        compute=half_spaces,
        tolerance=1e-3,
        reason="cells of 0.1 mm at the contact and larger inwards",
    ),
    Case(
        id="G6",
        title="Plane wall cooled from both sides",
        source=f"{INCROPERA}table 5.1 (from memory): Bi 1, zeta 0.8603, C 1.1191; Bi 0.1, 0.3111, 1.0160",
        status="from memory",
        conditions="First term at Fo 0.5 for Bi 1, Fo 2 for Bi 0.1; middle and face.",
        unit="",
        labels=("middle, Bi 1", "face, Bi 1", "middle, Bi 0.1", "face, Bi 0.1"),
        published=(
            1.1191 * np.exp(-(0.8603**2) * 0.5),
            1.1191 * np.exp(-(0.8603**2) * 0.5) * np.cos(0.8603),
            1.0160 * np.exp(-(0.3111**2) * 2.0),
            1.0160 * np.exp(-(0.3111**2) * 2.0) * np.cos(0.3111),
        ),
        compute=lambda: [*slab(1.0, 0.5), *slab(0.1, 2.0)],
        tolerance=2e-3,
        reason="one term of the series at Fo 0.5 leaves out 0.1 %; the face is read half a thin cell inside",
    ),
    Case(
        id="G7",
        title="Well-stirred film between thick bodies",
        source=f"{CARSLAW}12.4 (from memory): exp(x^2) erfc(x), x the bodies' effusivities times the root of "
        "the time over the film's heat capacity",
        status="closed form",
        conditions="0.3 mm film with the heat capacity of glue, led at once; wood on both sides; 2 and 20 s.",
        unit="",
        labels=("2 s", "20 s"),
        published=tuple(film_decay(Thermal(1.0, 1100.0, 3300.0), 0.3e-3, PLAIN, np.array([2.0, 20.0]))),
        compute=stirred,
        tolerance=2e-3,
        reason="cells of 0.03 mm beside the film",
    ),
    Case(
        id="G8",
        title="Thermal conductivity of spruce across the grain",
        source=f"{HANDBOOK}table 4-7: Engelmann (0.37) and Sitka spruce (0.42), oven-dry and at 12 %",
        status="from memory",
        conditions="Specific gravity at that moisture.",
        unit="W/(m K)",
        labels=("Engelmann dry", "Engelmann 12 %", "Sitka dry", "Sitka 12 %"),
        published=(0.09, 0.11, 0.10, 0.12),
        compute=lambda: [
            conductivity(1000 * g * (1 + m), m) for g, m in ((0.37, 0), (0.37, 0.12), (0.42, 0), (0.42, 0.12))
        ],
        tolerance=0.05,
        reason="the table has two digits",
    ),
    Case(
        id="G9",
        title="Specific heat of wood",
        source=f"{HANDBOOK}table of the heat capacity of solid wood",
        status="from memory",
        conditions="Oven-dry, 12 and 20 % at 280 and 300 K.",
        unit="kJ/(kg K)",
        labels=("280 K dry", "280 K 12 %", "300 K dry", "300 K 12 %", "300 K 20 %"),
        published=(1.2, 1.5, 1.3, 1.7, 1.9),
        compute=lambda: [
            1e-3 * specific_heat(k - 273.15, m)
            for k, m in ((280, 0), (280, 0.12), (300, 0), (300, 0.12), (300, 0.2))
        ],
        tolerance=0.04,
        reason="the table has two digits",
    ),
    Case(
        id="G10",
        title="Saturated water vapour",
        source="steam tables: 17.3, 51.2 and 130 g/m3 at 20, 40 and 60 degrees C",
        status="from memory",
        conditions="Magnus formula and the law of ideal gases.",
        unit="g/m3",
        labels=("20", "40", "60"),
        published=(17.3, 51.2, 130.2),
        compute=lambda: [1e3 * vapour_density(t) for t in (20.0, 40.0, 60.0)],
        tolerance=0.01,
        reason="vapour at 60 degrees is half a per cent off an ideal gas",
    ),
)
