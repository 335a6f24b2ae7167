"""The job folder: reads and checks a workshop's measurements; only here do millimetres become metres.

Readers in this room append what is wrong to the list ``problems`` they are given, and what they had to assume
to ``notes``, so that one run names everything.
"""

from platemodel.job.job import JOB_FILE, Job, Measured
from platemodel.job.keep import keep_taps
from platemodel.job.reader import read_job
from platemodel.job.stages import StageRow, add_stage, read_stages, stage_bars
from platemodel.job.taps import TapReading, typed_sd

__all__ = [
    "JOB_FILE",
    "Job",
    "Measured",
    "StageRow",
    "TapReading",
    "add_stage",
    "keep_taps",
    "read_job",
    "read_stages",
    "stage_bars",
    "typed_sd",
]
