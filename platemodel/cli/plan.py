"""Verb ``plan``."""

import sys
from pathlib import Path

from platemodel.cli.common import OK, USAGE, add_cutting, add_folder, in_metres, teller
from platemodel.errors import PlatemodelError
from platemodel.job import read_job
from platemodel.job.gaps import GAPS_FILE, read_gaps


def add(verbs) -> None:
    """Describe the verb's arguments."""
    verb = verbs.add_parser(
        "plan",
        help="run everything and write the bench pack",
        description="The main job: compute layout, seat, template, cut list, stop points, gluing, plate "
        "modes and string load of the bar in job.toml and write them as one bench pack (PDF, SVG, CSV) into "
        "a new numbered folder. Nothing is written unless all of it succeeds; earlier packs are kept.",
    )
    add_folder(verb)
    verb.add_argument(
        "--out",
        metavar="DIR",
        type=Path,
        help="where the packs go; default the folder packs in the job folder",
    )
    verb.add_argument("--paper", choices=("A4", "A3"), default="A4", help="of the sheets at 1:1; default A4")
    add_cutting(verb)
    verb.add_argument("--quiet", action="store_true", help="no messages on stderr")
    verb.set_defaults(run=_run)


def _run(args):
    tell = teller(args)
    job = read_job(args.folder)
    gaps = None
    if job.bar is not None and args.spring_mm == 0 and (args.folder / GAPS_FILE).exists():
        gaps = read_gaps(args.folder / GAPS_FILE, job.bar.length)
    from platemodel.bench.pack import bench_pack as plan

    if args.out is None:
        args.out = args.folder / "packs"
    try:
        result = plan.plan_job(job, 1e-3 * args.spring_mm, in_metres(args.roughing_mm), gaps, progress=tell)
    except PlatemodelError:
        raise
    except ValueError as error:
        print(f"platemodel plan: {error}", file=sys.stderr)
        return USAGE
    for path in plan.write_pack(result, args.out, args.paper, tell):
        print(path)
    return OK
