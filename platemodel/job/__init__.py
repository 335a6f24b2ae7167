"""The job folder: reads and checks a workshop's measurements; only here do millimetres become metres."""

from platemodel.job.reader import JOB_FILE, Job, Measured, read_job

__all__ = ["JOB_FILE", "Job", "Measured", "read_job"]
