"""The job folder: reads and checks a workshop's measurements; only here do millimetres become metres."""

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
