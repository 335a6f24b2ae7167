"""Verb ``history``."""

import sys

from platemodel.cli.common import OK, PROBLEM, add_folder, add_output, show, teller
from platemodel.errors import JobError
from platemodel.record import read_history


def add(verbs) -> None:
    """Describe the verb's arguments."""
    verb = verbs.add_parser(
        "history",
        help="show the job's history, check that no line was changed",
        description="Print the lines of history.jsonl, check their seals, and make pages with the pictures.",
    )
    add_folder(verb)
    add_output(verb, "the pages")
    verb.set_defaults(run=_run)


def _run(args):
    tell = teller(args)
    history = read_history(args.folder)
    from platemodel.bench.record import page as record_page

    title, notes = _title(args.folder)
    show(
        args,
        lambda: record_page.as_data(history),
        lambda: record_page.as_text(history, title + (f". {notes.upper()}" if notes else "")),
    )
    if args.out is not None:
        tell("drawing the pages")
        print(record_page.write_page(history, title, args.out, args.force, notes), file=sys.stderr)
    return OK if history.sound else PROBLEM


def _title(folder):
    """Name of the job; a history is shown even when job.toml cannot be read."""
    from platemodel.job import read_job

    try:
        job = read_job(folder)
    except JobError:
        return f"History: {folder.resolve().name}", ""
    return f"History: {job.name}", "Invented data, no real instrument." if job.invented else ""
