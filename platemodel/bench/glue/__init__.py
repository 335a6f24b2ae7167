"""Fitting and gluing for a job: result, pictures, page."""
