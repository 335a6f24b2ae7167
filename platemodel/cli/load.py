"""See what the strings do to the top: sinking, tilt, margins.

Work out how far the top sinks under its strings, with and without bar and sound post, how the bridge tilts,
and how the stresses compare with the wood's strength. A comparison and a warning, not a certificate.
"""

from platemodel.cli.common import Run, Verb, add_folder, add_no_bar, add_number, add_output, run_report
from platemodel.job import read_job


def add(verb: Verb) -> Run:
    """Add the verb's arguments; return what runs it."""
    add_folder(verb)
    add_output(verb, "the page and the tables")
    add_no_bar(verb)
    add_number(
        verb, "downforce-n", 5, 1000, "load on the top in newtons, instead of the strings' tensions and angle"
    )
    verb.add_argument(
        "--service-class",
        type=int,
        choices=(1, 2, 3),
        default=1,
        help="damp of the place, after EN 1995-1-1, for strength and creep: 1 indoors (default), 2 under a "
        "roof, 3 outdoors",
    )
    return _run


def _run(args):
    job = read_job(args.folder)
    from platemodel.bench.load.report import REPORT
    from platemodel.bench.load.result import job_load

    def compute(tell):
        return job_load(job, not args.no_bar, args.downforce_n, args.service_class, progress=tell)

    run_report(args, REPORT, compute)
