"""Compare bar blanks or wedges, alone or on a top.

Rank the samples of a CSV table for a purpose, with bands. With a job, also see what each would do as a bar on
its top.
"""

from pathlib import Path

from platemodel.cli.common import Run, UsageError, Verb, add_output, errors_name, run_report
from platemodel.job import read_job
from platemodel.job.samples import read_samples

PURPOSES = ("lightest", "nearest", "match")


def add(verb: Verb) -> Run:
    """Add the verb's arguments; return what runs it."""
    verb.add_argument("table", metavar="CSV", type=Path, help="table of samples")
    verb.add_argument("--job", metavar="FOLDER", type=Path, help="job folder of the top")
    verb.add_argument(
        "--like",
        choices=("violin", "viola", "cello"),
        help="without a job: whose usual bar the blanks are to match in stiffness, default violin",
    )
    verb.add_argument(
        "--purpose",
        choices=PURPOSES,
        default="lightest",
        help="lightest bar for equal stiffness (default), nearest to --reference, match to the job's top",
    )
    verb.add_argument("--reference", metavar="NAME", help="sample that the others are measured against")
    add_output(verb, "the tables and the page")
    return _run


def _run(args):
    _check_options(args)
    with errors_name(args, args.table):
        samples = read_samples(args.table)
    by_name = {s.name: s for s in samples}
    if args.reference and (args.reference not in by_name or len(by_name) < 2):
        msg = f"no sample {args.reference!r} among others; there are {', '.join(by_name)}"
        raise UsageError(msg)
    args.folder = args.job
    job = read_job(args.job) if args.job else None
    from platemodel.bench.kit.needs import needed_bar
    from platemodel.bench.samples.report import REPORT, names
    from platemodel.bench.samples.result import job_samples
    from platemodel.study.wood.samples import GluedBar, common_moisture, lightest, match, nearest

    if job is not None:
        needed_bar(job, "comparing samples on a top")
    purpose, moisture = None, common_moisture(samples)
    if args.like:
        purpose = lightest(GluedBar.usual(args.like))
    elif args.purpose == "match":
        purpose = match(job.top.wood)
    elif args.purpose == "nearest":
        reference = by_name.pop(args.reference)
        purpose = nearest(reference.estimate(moisture), args.reference)

    def compute(tell):
        return job_samples(tuple(by_name.values()), purpose, job, moisture=moisture, progress=tell)

    run_report(args, REPORT, compute, names(job is not None))


def _check_options(args):
    wrong = None
    if args.purpose == "nearest" and not args.reference:
        wrong = "--purpose nearest needs --reference NAME, one of the samples"
    elif args.purpose != "nearest" and args.reference:
        wrong = "--reference goes with --purpose nearest"
    elif args.purpose == "match" and not args.job:
        wrong = "--purpose match needs --job FOLDER, the top to match"
    elif args.like and (args.job or args.purpose != "lightest"):
        wrong = "--like goes with the lightest bar without a job"
    if wrong:
        raise UsageError(wrong)
