"""Verb ``wood``."""

import sys

from platemodel.cli.common import OK, PROBLEM, add_folder, add_output, show, teller
from platemodel.job import read_job


def add(verbs) -> None:
    """Describe the verb's arguments."""
    verb = verbs.add_parser(
        "wood",
        help="find the wood of the top from its weight and taps",
        description="Find density and stiffness of the top's wood from its weight and the taps kept in the "
        "job folder, with bands, and say which further tap would help most.",
    )
    add_folder(verb)
    add_output(verb, "the sheet and the table")
    state = verb.add_mutually_exclusive_group()
    state.add_argument(
        "--bar-on", dest="bar_on", action="store_true", default=None, help="use the taps with bar"
    )
    state.add_argument("--bar-off", dest="bar_on", action="store_false", help="use the taps without bar")
    verb.add_argument(
        "--stated", action="store_true", help="take the moduli stated in job.toml as measured to 5 %%"
    )
    verb.add_argument("--despite-doubts", action="store_true", help="fit taps that look wrong all the same")
    verb.set_defaults(run=_run)


def _run(args):
    tell = teller(args)
    job = read_job(args.folder)
    from platemodel.bench.wood import result as wood_report
    from platemodel.study.wood.wood_fit import TapError

    if args.out is not None:
        wood_report.target_files(args.out, args.force)  # refuse before the computing, not after it
    try:
        result = wood_report.job_wood(job, args.bar_on, args.stated, args.despite_doubts, progress=tell)
    except TapError as error:
        found = [d.message for d in error.doubts]
        show(args, lambda: {"ok": False, "job": job.name, "doubts": found}, lambda: "")
        print(f"{args.folder}: the taps look wrong, no wood was fitted", file=sys.stderr)
        for message in found:
            print(f"  - {message}", file=sys.stderr)
        if args.despite_doubts:
            print("  no sound wood rings like this, so there is nothing to fit", file=sys.stderr)
        else:
            print("  --despite-doubts fits them all the same", file=sys.stderr)
        return PROBLEM
    show(args, lambda: wood_report.as_data(result), lambda: wood_report.as_text(result))
    if args.out is not None:
        tell("drawing the page")
        for path in wood_report.write_files(result, args.out, args.force):
            print(path, file=sys.stderr)
    return OK
