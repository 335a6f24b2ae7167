"""Fitting and gluing: gaps that close, clamps, heat in the glue line."""
