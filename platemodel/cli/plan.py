"""Work everything out and write the bench pack.

The main job. Work out layout, seat, template, cut list, stop points, gluing, plate modes and string load of
the bar in job.toml, and write them as one bench pack (PDF, SVG, CSV) into a new numbered folder. Either all
of it is written or nothing; earlier packs stay as they are.
"""

import argparse
from pathlib import Path

from platemodel.bench.pack.part_names import PARTS
from platemodel.cli.common import (
    Run,
    Verb,
    add_folder,
    add_quiet,
    add_sheets,
    figures_from_options,
    in_metres,
    loaded_for_drawing,
    teller,
)
from platemodel.files import writable
from platemodel.job import read_job
from platemodel.job.gaps import GAPS_FILE, read_gaps


def add(verb: Verb) -> Run:
    """Add the verb's arguments; return what runs it."""
    add_folder(verb)
    verb.add_argument(
        "--out",
        metavar="DIR",
        type=Path,
        help="where the packs go; default the folder packs in the job folder",
    )
    add_sheets(verb)
    verb.add_argument(
        "--only",
        metavar="NAME,...",
        type=_parts,
        default=(),
        help=f"only these parts, and nothing computed for the others: {', '.join(PARTS)}",
    )
    verb.add_argument(
        "--body",
        action="store_true",
        help="put in the page of the closed body even if job.toml tells nothing of ribs, back or neck",
    )
    add_quiet(verb)
    return _run


def _parts(text):
    names = [name.strip() for name in text.split(",") if name.strip()]
    wrong = [name for name in names if name not in PARTS]
    if wrong or not names:
        msg = f"{text!r}: choose among {', '.join(PARTS)}"
        raise argparse.ArgumentTypeError(msg)
    return tuple(names)


def _run(args):
    tell = teller(args)
    job = read_job(args.folder)
    gaps = None
    if job.bar is not None and args.spring_mm == 0 and (args.folder / GAPS_FILE).exists():
        gaps = read_gaps(args.folder / GAPS_FILE, job.bar.length)
    from platemodel.bench.pack.bench_pack import write_pack
    from platemodel.bench.pack.plan import plan_job

    if args.out is None:
        args.out = args.folder / "packs"
    writable(args.out)  # half a minute before the pack is
    with figures_from_options(), loaded_for_drawing():
        spring, roughing = in_metres(args.spring_mm), in_metres(args.roughing_mm)
        plan = plan_job(job, spring, roughing, gaps, progress=tell, body=args.body, only=args.only)
    for path in write_pack(plan, args.out, args.paper, tell, args.whole, args.only):
        print(path)
