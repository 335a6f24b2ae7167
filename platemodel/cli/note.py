"""Write a line into the job's history.

Add what was measured, decided, cut or found to history.jsonl of the job folder. Lines are only ever added.
"""

import argparse
from pathlib import Path

from platemodel.cli.common import Run, Verb, add_folder
from platemodel.record import KINDS, Record


def add(verb: Verb) -> Run:
    """Add the verb's arguments; return what runs it."""
    add_folder(verb)
    verb.add_argument("text", metavar="TEXT", nargs="?", default="", help="what happened, in your own words")
    verb.add_argument("--kind", choices=KINDS, default="note", help="kind of entry; default note")
    verb.add_argument(
        "--value",
        type=_value,
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help="a figure with its unit in the name, as height_mm=11.5; may be repeated",
    )
    verb.add_argument(
        "--picture",
        type=Path,
        action="append",
        default=[],
        metavar="FILE",
        help="PNG or JPEG inside the job folder; may be repeated",
    )
    return _run


def _value(text):
    name, equals, value = text.partition("=")
    if not (name and equals and value):
        msg = f"{text!r}: write NAME=VALUE, as height_mm=11.5"
        raise argparse.ArgumentTypeError(msg)
    if value.casefold() in ("yes", "true", "no", "false"):
        return name, value.casefold() in ("yes", "true")
    for read in (int, float):
        try:
            return name, read(value.replace(",", "."))
        except ValueError:
            continue
    return name, value


def _run(args):
    entry = Record(args.folder).append(args.kind, dict(args.value), args.text, args.picture)
    print(f"{entry.number}  {entry.at}  {entry.kind}")
