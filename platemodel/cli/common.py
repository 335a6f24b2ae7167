"""What the verbs share: exit codes, usual arguments, messages, output."""

import argparse
import json
import math
import string
import sys
from argparse import ArgumentParser, Namespace
from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING, TypeVar

from platemodel.errors import PlatemodelError
from platemodel.progress import Progress

if TYPE_CHECKING:
    from platemodel.bench.kit.report import Report

Verb = ArgumentParser
Run = Callable[[Namespace], int | None]  # does what the arguments ask; the exit code, where it is not OK
OK, PROBLEM, USAGE = 0, 1, 2
PLAIN = frozenset(string.ascii_letters + string.digits + "/\\._-+:~")  # what a path needs no quotes for
BAR_OFF, BAR_ON = "--bar-off", "--bar-on"
Result = TypeVar("Result")
#: What the end of an option's name says of its unit, and what stands for the figure in the help.
UNITS = {
    "mm": ("mm", "MM"), "g": ("g", "G"), "n": ("N", "N"), "hz": ("Hz", "HZ"), "us": ("µs", "US"),
    "c": ("°C", "C"), "percent": ("%", "PERCENT"),
}  # fmt: skip


class UsageError(Exception):
    """Options that do not go together, or a figure out of its range."""


@contextmanager
def figures_from_options() -> Iterator[None]:
    """Turn a figure that the computing refuses into wrong usage; errors of the package pass as they are."""
    try:
        yield
    except PlatemodelError:
        raise
    except ValueError as error:
        raise UsageError(str(error)) from error


@contextmanager
def errors_name(args: Namespace, path: Path) -> Iterator[None]:
    """Let the message about an error found meanwhile name this path instead of the job folder."""
    args.reading = path
    yield
    args.reading = None


def add_folder(verb: ArgumentParser) -> None:
    """Add the job folder to a verb's arguments."""
    verb.add_argument("folder", metavar="FOLDER", type=Path, help="job folder")


def add_output(verb: ArgumentParser, what: str) -> None:
    """Add ``--out``, ``--json``, ``--force`` and ``--quiet``; ``what`` names the files that are written."""
    verb.add_argument(
        "--out", metavar="DIR", type=Path, help=f"folder for {what}; without it no files are written"
    )
    add_json(verb)
    verb.add_argument("--force", action="store_true", help="replace files that are already there")
    add_quiet(verb)


def add_json(verb: ArgumentParser) -> None:
    """Add ``--json``."""
    verb.add_argument("--json", action="store_true", help="print JSON instead of text")


def add_quiet(verb: ArgumentParser) -> None:
    """Add ``--quiet``."""
    verb.add_argument("--quiet", action="store_true", help="print no progress messages")


def add_no_bar(verb: ArgumentParser) -> None:
    """Add ``--no-bar``."""
    verb.add_argument("--no-bar", action="store_true", help="leave the bar out")


def add_bar_state(verb: ArgumentParser, on: str, off: str) -> None:
    """Add ``--bar-on`` and ``--bar-off``, of which one may be given, with their helps."""
    state = verb.add_mutually_exclusive_group()
    state.add_argument(BAR_ON, dest="bar_on", action="store_true", default=None, help=on)
    state.add_argument(BAR_OFF, dest="bar_on", action="store_false", help=off)


def add_number(
    verb: ArgumentParser, name: str, low: float, high: float, words: str, default: float | None = None
) -> None:
    """Add an option with a figure within a range; its name, without ``--``, ends in the unit (`UNITS`)."""
    unit, metavar = UNITS[name.rpartition("-")[2]]
    verb.add_argument(f"--{name}", type=number(low, high, unit), default=default, metavar=metavar, help=words)


def add_sheets(verb: ArgumentParser) -> None:
    """Add what sheets at 1:1 ask for: ``--paper``, ``--whole``, ``--spring-mm`` and ``--roughing-mm``."""
    verb.add_argument(
        "--paper", choices=("A4", "A3"), default="A4", help="paper for the sheets at 1:1; default A4"
    )
    words = "draw the whole top at 1:1; else a strip along the bar, on few sheets"
    verb.add_argument("--whole", action="store_true", help=words)
    for name, usual, words in (
        ("spring", 0.0, "even gap at each end; default 0"),
        ("roughing", None, "height left on for gluing; default 1, for a cello 2"),
    ):
        add_number(verb, f"{name}-mm", 0, 5, words, usual)


def quoted(path: Path) -> str:
    """Write a path as it can be typed again after a command: in quotes where it holds spaces and the like."""
    text = str(path)
    return text if set(text) <= PLAIN else f'"{text}"'


def in_metres(mm: float | None) -> float | None:
    """Millimetres in metres; None, for the usual figure, stays."""
    return None if mm is None else 1e-3 * mm


def teller(args: Namespace) -> Progress:
    """Return a function that prints short status messages on stderr, unless ``--quiet``."""

    def tell(text: str) -> None:
        if not args.quiet:
            print(f"{text} ...", file=sys.stderr, flush=True)

    return tell


def show(args: Namespace, data: Callable[[], object], text: Callable[[], str]) -> None:
    """Print the data as JSON or the text, as the arguments ask."""
    if args.json:
        print(json.dumps(data(), indent=2, ensure_ascii=False))
    else:
        print(text(), end="")


def show_result(args: Namespace, report: "Report[Result]", result: Result) -> None:
    """Print a result as the arguments ask, long lines broken between words."""
    from platemodel.bench.kit.wrapped_text import wrapped

    show(args, lambda: report.data(result), lambda: wrapped(report.text(result)) + "\n")


@contextmanager
def loaded_for_drawing() -> Iterator[None]:
    """Load the drawing library, which takes a second, while something is computed."""
    thread = Thread(target=import_module, args=("matplotlib.backends.backend_pdf",))
    thread.start()
    try:
        yield
    finally:
        thread.join()  # a process that ends in the middle of loading may crash


def run_report(
    args: Namespace,
    report: "Report[Result]",
    compute: Callable[[Progress], Result],
    names: Sequence[str] | None = None,
) -> Result:
    """Compute, print, and write the files if ``--out`` is given: the steps of most verbs.

    Parameters
    ----------
    args : Namespace
        With what `add_output` adds.
    report : Report
    compute : callable
        Makes the result; is given a function for short status messages.
    names : sequence of str, optional
        Files that the result will have; default all of the report's.

    Returns
    -------
    object
        The result.

    Raises
    ------
    FileExistsError
        A file is there already, and ``--force`` was not given. Raised before anything is computed.
    """
    tell = teller(args)
    if args.out is None:
        result = compute(tell)
    else:
        report.target_files(args.out, args.force, names)
        with loaded_for_drawing():
            result = compute(tell)
    show_result(args, report, result)
    if args.out is not None:
        tell("drawing the pages")
        for path in report.write_files(result, args.out, args.force):
            print(path, file=sys.stderr)
    return result


def number(low: float, high: float, unit: str) -> Callable[[str], float]:
    """Return a reader of a number within a range for ``add_argument``; a decimal comma is taken too."""

    def read(text: str) -> float:
        value = _float(text)
        if not low <= value <= high:
            msg = f"{text!r}: allowed {low:g} to {high:g} {unit}".rstrip()
            raise argparse.ArgumentTypeError(msg)
        return value

    return read


def tones(modes: Collection[int], low: float, high: float) -> Callable[[str], dict[int, float]]:
    """Return a reader of frequencies by mode, as ``5=345.5,2=150``, for ``add_argument``."""

    def read(text: str) -> dict[int, float]:
        out = {}
        for part in _tones(text):
            name, _, value = part.partition("=")
            mode, f = int(name) if name.strip().isdecimal() else 0, _float(value)
            if mode not in modes or not low <= f <= high:
                allowed = ", ".join(map(str, modes))
                msg = (
                    f"{part!r}: write MODE=HZ, several with a decimal point as 5=345.5,2=150; modes "
                    f"{allowed}, {low:g} to {high:g} Hz"
                )
                raise argparse.ArgumentTypeError(msg)
            if mode in out:
                msg = f"mode {mode} is given twice; give it once"
                raise argparse.ArgumentTypeError(msg)
            out[mode] = f
        return out

    return read


def _tones(text):
    """Parts of a list of tones; with ; between them a decimal comma is taken too, as in 5=345,5;2=150."""
    if ";" in text or text.count("=") == 1:
        return [part for part in text.split(";") if part.strip()]
    return text.split(",")


def _float(text):
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return math.nan
