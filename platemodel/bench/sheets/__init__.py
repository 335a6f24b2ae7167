"""Sheets at true size: layout of the bar, side template, tables for the bench."""

from platemodel.bench.kit.paper import save_svg, true_size
from platemodel.bench.kit.paper_files import save_pages
from platemodel.bench.sheets.layout_sheet import layout_drawing, layout_pages
from platemodel.bench.sheets.template_sheet import template_drawing, template_pages
from platemodel.bench.sheets.tiles import Tiling, tiling

__all__ = [
    "Tiling",
    "layout_drawing",
    "layout_pages",
    "save_pages",
    "save_svg",
    "template_drawing",
    "template_pages",
    "tiling",
    "true_size",
]
