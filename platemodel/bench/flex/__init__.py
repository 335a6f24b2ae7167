"""Flexing the top of a job by hand: result, pictures, page."""
