"""Trimming by tap for a job: result, pictures and page."""
