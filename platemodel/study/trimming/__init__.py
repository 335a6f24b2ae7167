"""Cutting the glued bar down by tap: the next careful cut and the stop points."""
