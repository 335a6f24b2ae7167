"""Find the wood of the top from its weight and taps.

Find the density and stiffness of the top's wood, with bands, from its weight and the taps kept in the job
folder, and say which further tap would help most.
"""

import sys

from platemodel.cli.common import PROBLEM, Run, Verb, add_bar_state, add_folder, add_output, run_report, show
from platemodel.job import read_job


def add(verb: Verb) -> Run:
    """Add the verb's arguments; return what runs it."""
    add_folder(verb)
    add_output(verb, "the page and the table")
    add_bar_state(verb, "use the taps with the bar on", "use the taps with the bar off")
    verb.add_argument(
        "--stated", action="store_true", help="take the moduli in job.toml as measured, to within 5 %%"
    )
    verb.add_argument(
        "--leave-out",
        metavar="STATE",
        action="append",
        default=[],
        help="a state of states.csv whose readings are not used; may be given again",
    )
    verb.add_argument("--despite-doubts", action="store_true", help="fit taps even if they look wrong")
    verb.add_argument(
        "--keep",
        action="store_true",
        help="write the wood found into job.toml; the lines it replaces stay there as comments",
    )
    return _run


def _run(args):
    job = read_job(args.folder)
    from platemodel.bench.wood.report import REPORT
    from platemodel.bench.wood.result import job_wood
    from platemodel.job.keep_wood import keep_wood
    from platemodel.study.wood.wood_fit import TapError

    def compute(tell):
        return job_wood(job, args.bar_on, args.stated, args.despite_doubts, args.leave_out, progress=tell)

    try:
        result = run_report(args, REPORT, compute)
        if args.keep:
            path = keep_wood(args.folder, result.fit.estimate, result.found_from)
            print(
                f"{path}: the wood found stands in [wood.top], the lines before it as comments",
                file=sys.stderr,
            )
    except TapError as error:
        found = [d.message for d in error.doubts]
        show(args, lambda: {"ok": False, "name": job.name, "doubts": found}, lambda: "")
        print(f"{args.folder}: the taps look wrong, so no wood was fitted", file=sys.stderr)
        for message in found:
            print(f"  - {message}", file=sys.stderr)
        if args.despite_doubts:
            print("  no sound wood rings like this, so there is nothing to fit", file=sys.stderr)
        else:
            print("  --despite-doubts fits them anyway", file=sys.stderr)
        return PROBLEM
