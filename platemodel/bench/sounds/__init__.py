"""Predicted taps of a job: result and sound files."""
