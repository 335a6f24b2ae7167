"""Plate modes of a job: result, pictures, page."""
