"""The bar that a notebook goes on with: the folder's, or the usual one where the folder has none."""

from dataclasses import replace

from platemodel.instrument.presets import preset_bar
from platemodel.job import Job


def with_a_bar(job: Job) -> tuple[Job, str]:
    """Give a job without a bar the usual one for its size.

    Returns
    -------
    job : Job
        With a bar.
    words : str
        Whose bar it is, a sentence.
    """
    given = job.bar is not None
    job = job if given else replace(job, bar=preset_bar(job.top))
    height, length, width = (1e3 * v for v in (job.bar.heights.max(), job.bar.length, job.bar.width))
    size = f"{height:.1f} mm high, {length:.0f} mm long, {width:.1f} mm wide"
    if given:
        return job, f"The bar of the folder: {size}."
    return job, f"The folder has no bar. The usual bar for this size stands in for it: {size}."
