"""Find the wood of a bar blank or strip from its weight and taps.

Find density, stiffness and speed of sound of a bar blank or strip, with bands, from its size, weight and tap.
Repeat --tap-hz and --way for two tones of one piece.
"""

from platemodel.cli.common import (
    Run,
    UsageError,
    Verb,
    add_json,
    add_number,
    figures_from_options,
    in_metres,
    number,
    show_result,
)

WAYS = ("flat", "edge")
WOOD = 200, 1000  # kg/m3, from balsa-like to the hardest; only to catch slips


def add(verb: Verb) -> Run:
    """Add the verb's arguments; return what runs it."""
    size, pitch = number(0.1, 2000, "mm"), number(1, 20000, "Hz")
    verb.add_argument("--length-mm", type=size, required=True, metavar="MM", help="along the piece")
    verb.add_argument(
        "--width-mm", type=size, required=True, metavar="MM", help="greater side of the section"
    )
    verb.add_argument("--thickness-mm", type=size, required=True, metavar="MM", help="smaller side")
    verb.add_argument(
        "--mass-g", type=number(0.01, 20000, "g"), required=True, metavar="G", help="weight of the piece"
    )
    verb.add_argument(
        "--tap-hz", type=pitch, action="append", default=[], metavar="HZ", help="lowest bending tone"
    )
    verb.add_argument(
        "--way",
        choices=WAYS,
        action="append",
        default=[],
        help="how it bends at each tap, in order: flat (over its smaller side, the default) or edge",
    )
    verb.add_argument(
        "--end-tap-hz", type=pitch, metavar="HZ", help="lowest tone when tapped on the end grain"
    )
    add_number(verb, "pulse-us", 1, 10000, "time of a pulse from end to end")
    verb.add_argument(
        "--across", action="store_true", help="the strip was cut across the grain, along the rays"
    )
    verb.add_argument(
        "--rings",
        choices=("width", "thickness"),
        help="side of the section along which the rings stand; default width (a bar blank on its side), for "
        "a strip across the grain thickness",
    )
    verb.add_argument("--species", help="row of the species table (default tonewood spruce)")
    add_json(verb)
    return _run


def _run(args):
    from platemodel.bench.samples.piece import REPORT
    from platemodel.wood import USUAL_SPECIES
    from platemodel.wood.strip import LongitudinalTap, SoundSpeed, Strip, StripTap, strip_fit

    ways = args.way or ["flat"] * min(1, len(args.tap_hz))
    if len(ways) != len(args.tap_hz):
        msg = f"{len(args.tap_hz)} taps but {len(ways)} ways; give one --way for each --tap-hz"
        raise UsageError(msg)
    if args.width_mm < args.thickness_mm:
        msg = f"--width-mm {args.width_mm:g} must be the greater side; swap it with --thickness-mm"
        raise UsageError(msg)
    rings = args.rings or ("thickness" if args.across else "width")
    along, rays = ("R", "L") if args.across else ("L", "R")
    sizes = (in_metres(mm) for mm in (args.length_mm, args.width_mm, args.thickness_mm))
    with figures_from_options():
        strip = Strip(*sizes, 1e-3 * args.mass_g, along, "T" if rings == "thickness" else rays)
        tests = [strip, *(StripTap(strip, f, way) for f, way in zip(args.tap_hz, ways, strict=True))]
        tests += [LongitudinalTap(strip, args.end_tap_hz)] if args.end_tap_hz else []
        tests += [SoundSpeed(strip, 1e-6 * args.pulse_us)] if args.pulse_us else []
        if not WOOD[0] <= round(strip.density) <= WOOD[1]:
            range_of_wood = f"{WOOD[0]} to {WOOD[1]}"
            msg = f"size and weight make {strip.density:.0f} kg/m3; {range_of_wood} is wood: check them"
            raise UsageError(msg)
        fit = strip_fit(args.species or USUAL_SPECIES, tests)
    show_result(args, REPORT, fit)
