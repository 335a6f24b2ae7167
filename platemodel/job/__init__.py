"""The job folder: reads and checks a workshop's measurements; only here do millimetres become metres."""

from platemodel.job.keep import keep_taps
from platemodel.job.reader import JOB_FILE, Job, Measured, read_job
from platemodel.job.taps import TapReading, typed_sd

__all__ = ["JOB_FILE", "Job", "Measured", "TapReading", "keep_taps", "read_job", "typed_sd"]
