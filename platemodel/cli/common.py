"""What the verbs share: exit codes, usual arguments, messages, output."""

import argparse
import json
import math
import sys
from collections.abc import Callable
from pathlib import Path

OK, PROBLEM, USAGE = 0, 1, 2


def add_folder(verb) -> None:
    """Add the job folder to a verb's arguments."""
    verb.add_argument("folder", metavar="FOLDER", type=Path, help="job folder")


def add_output(verb, what: str) -> None:
    """Add ``--out``, ``--json``, ``--force`` and ``--quiet``; ``what`` names the files that are written."""
    verb.add_argument(
        "--out", metavar="DIR", type=Path, help=f"folder for {what}; nothing is written without it"
    )
    verb.add_argument("--json", action="store_true", help="print JSON instead of text")
    verb.add_argument("--force", action="store_true", help="replace files that are there")
    verb.add_argument("--quiet", action="store_true", help="no messages on stderr")


def add_cutting(verb) -> None:
    """Add ``--spring-mm`` and ``--roughing-mm``."""
    for name, usual, words in (
        ("spring", 0.0, "even gap at each end, default 0"),
        ("roughing", None, "height left on for gluing, default 1, for a cello 2"),
    ):
        verb.add_argument(f"--{name}-mm", type=number(0, 5, "mm"), default=usual, metavar="MM", help=words)


def in_metres(mm: float | None) -> float | None:
    """Millimetres in metres; None, for the usual figure, stays."""
    return None if mm is None else 1e-3 * mm


def teller(args) -> Callable[[str], None]:
    """Return a function that tells on stderr what is being done, unless ``--quiet``."""

    def tell(text):
        if not args.quiet:
            print(f"{text} ...", file=sys.stderr, flush=True)

    return tell


def show(args, data: Callable[[], object], text: Callable[[], str]) -> None:
    """Print the data as JSON or the text, as the arguments ask."""
    if args.json:
        print(json.dumps(data(), indent=2, ensure_ascii=False))
    else:
        print(text(), end="")


def number(low: float, high: float, unit: str) -> Callable[[str], float]:
    """Return a reader of a number within a range for ``add_argument``; a decimal comma is taken too."""

    def read(text):
        try:
            value = float(text.replace(",", "."))
        except ValueError:
            value = math.nan
        if not low <= value <= high:
            msg = f"{text!r}: allowed {low:g} to {high:g} {unit}".rstrip()
            raise argparse.ArgumentTypeError(msg)
        return value

    return read
