"""Verb ``blank``."""

import argparse
import math
import sys

from platemodel.cli.common import OK, USAGE, show
from platemodel.wood.species import USUAL_SPECIES

WAYS = ("flat", "edge")


def add(verbs) -> None:
    """Describe the verb's arguments."""
    verb = verbs.add_parser(
        "blank",
        help="find the wood of a bar blank or strip from its weight and taps",
        description="Density, stiffness and speed of sound of a bar blank or strip, with bands, from size, "
        "weight and tap. Repeat --tap-hz and --way for two tones of one piece.",
    )
    number = _positive
    verb.add_argument("--length-mm", type=number, required=True, metavar="MM")
    verb.add_argument(
        "--width-mm", type=number, required=True, metavar="MM", help="greater side of the section"
    )
    verb.add_argument("--thickness-mm", type=number, required=True, metavar="MM", help="smaller side")
    verb.add_argument("--mass-g", type=number, required=True, metavar="G")
    verb.add_argument(
        "--tap-hz", type=number, action="append", default=[], metavar="HZ", help="lowest bending tone"
    )
    verb.add_argument(
        "--way",
        choices=WAYS,
        action="append",
        default=[],
        help="of each tap, in order: flat (smaller side bends; the default) or edge",
    )
    verb.add_argument(
        "--end-tap-hz", type=number, metavar="HZ", help="lowest tone when tapped on the end grain"
    )
    verb.add_argument("--pulse-us", type=number, metavar="US", help="time of a pulse from end to end")
    verb.add_argument(
        "--across", action="store_true", help="the strip was cut across the grain, along the rays"
    )
    verb.add_argument(
        "--rings",
        choices=("width", "thickness"),
        help="side of the section along which the rings stand; default width (a bar blank on its side), for "
        "a strip across the grain thickness",
    )
    verb.add_argument("--species", default=USUAL_SPECIES, help="row of the species table")
    verb.add_argument("--json", action="store_true", help="print JSON instead of text")
    verb.set_defaults(run=_run)


def _positive(text):
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = math.nan
    if not 0 < value < 1e6:
        msg = f"{text!r}: a positive number is needed; the unit is in the option's name"
        raise argparse.ArgumentTypeError(msg)
    return value


def _run(args):
    from platemodel.bench.samples import piece_report
    from platemodel.wood.strip import LongitudinalTap, SoundSpeed, Strip, StripTap, strip_fit

    ways = args.way or ["flat"] * min(1, len(args.tap_hz))
    try:
        if len(ways) != len(args.tap_hz):
            msg = f"{len(args.tap_hz)} taps but {len(ways)} ways; give one --way for each --tap-hz"
            raise ValueError(msg)
        if args.width_mm < args.thickness_mm:
            msg = f"--width-mm {args.width_mm:g} is the greater side; swap it with --thickness-mm"
            raise ValueError(msg)
        rings = args.rings or ("thickness" if args.across else "width")
        along, rays = ("R", "L") if args.across else ("L", "R")
        strip = Strip(
            1e-3 * args.length_mm,
            1e-3 * args.width_mm,
            1e-3 * args.thickness_mm,
            1e-3 * args.mass_g,
            along,
            "T" if rings == "thickness" else rays,
        )
        tests = [strip, *(StripTap(strip, f, way) for f, way in zip(args.tap_hz, ways, strict=True))]
        tests += [LongitudinalTap(strip, args.end_tap_hz)] if args.end_tap_hz else []
        tests += [SoundSpeed(strip, 1e-6 * args.pulse_us)] if args.pulse_us else []
        if not 200 <= strip.density <= 1000:
            msg = f"size and weight make {strip.density:.0f} kg/m3; 200 to 1000 is wood: check them"
            raise ValueError(msg)
        fit = strip_fit(args.species, tests)
    except ValueError as error:
        print(f"platemodel blank: {error}", file=sys.stderr)
        return USAGE
    show(args, lambda: piece_report.as_data(fit), lambda: piece_report.as_text(fit))
    return OK
