"""Sliders, panels and folded answers for notebooks."""
