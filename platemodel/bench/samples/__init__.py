"""Samples of wood: result, pictures, one test piece."""
