"""Put the top on its ribs and string it: sinking, tilt, body tones, how freely the feet move.

Put the top on ribs, linings, blocks, back and neck, under the whole pull of the strings and with air inside:
what the bar carries, and what it does to the sound. What was not measured follows the usual instrument and
widens the band. A comparison and a warning, not a certificate.
"""

from platemodel.cli.common import Run, Verb, add_folder, add_number, add_output, run_report
from platemodel.job import read_job


def add(verb: Verb) -> Run:
    """Add the verb's arguments; return what runs it."""
    add_folder(verb)
    add_number(
        verb,
        "spring-mm",
        0,
        5,
        "spring of the bar: even gap at each end before it was glued; default 0",
        default=0.0,
    )
    add_output(verb, "the page and the tables")
    return _run


def _run(args):
    job = read_job(args.folder)
    from platemodel.bench.body.report import REPORT
    from platemodel.bench.body.result import job_body

    run_report(args, REPORT, lambda tell: job_body(job, tell, spring=1e-3 * args.spring_mm))
