"""Recordings of taps: result, pictures, predicted sounds."""
