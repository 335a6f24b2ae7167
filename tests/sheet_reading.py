"""Reads sheets back from the PDF and the SVG."""

import re
from xml.etree import ElementTree

import matplotlib as mpl
import numpy as np

from platemodel.bench import sheets

NEAR = 0.1  # mm, what the sheets promise
ISO_216 = {"A4": (210.0, 297.0), "A3": (297.0, 420.0)}  # mm
POINT = 25.4 / 72  # mm


def pdf_pages(pages, path):
    """Page boxes in mm and the lines on each page, (n, 2) in mm each, read from an uncompressed PDF."""
    with sheets.true_size(), mpl.rc_context({"pdf.compression": 0}):
        sheets.save_pages(pages, path)
    data = path.read_bytes().decode("latin-1")
    boxes = [[float(v) * POINT for v in m.split()] for m in re.findall(r"/MediaBox \[([^\]]+)\]", data)]
    streams = [m for m in re.findall(r"stream\n(.*?)\nendstream", data, re.DOTALL) if " l\n" in m]
    number = r"-?[\d.]+"
    lines = []
    for stream in streams:
        if "re\n" not in stream and " m\n" not in stream:
            continue
        found = re.findall(rf"{number} {number} m\n(?:{number} {number} l\n)+", stream)
        lines.append([np.array(re.findall(rf"({number}) ({number}) [ml]", f), float) * POINT for f in found])
    return boxes, [page for page in lines if len(page) > 20]


def segments(lines, length, upright=False):
    """Middles of the two-point lines of a length that lie level or stand upright."""
    axis = 1 if upright else 0
    out = []
    for line in lines:
        run = np.ptp(line, axis=0)
        if len(line) == 2 and abs(run[axis] - length) < NEAR and run[1 - axis] < 0.001:
            out.append(line.mean(axis=0))
    return np.array(out)


def svg_paths(path):
    """Size in mm, viewBox and the first path under each named group, in mm from the upper left corner."""
    root = ElementTree.parse(path).getroot()
    name = "{http://www.w3.org/2000/svg}"
    group = next(g for g in root.iter(f"{name}g") if g.get("id") == "millimetres")
    scale = float(re.fullmatch(r"scale\(([\d.]+)\)", group.get("transform")).group(1))
    out = {}
    for g in group.iter(f"{name}g"):
        p = g.find(f"{name}path")
        if p is not None and g.get("id"):
            numbers = re.findall(r"[ML] (-?[\d.]+) (-?[\d.]+)", p.get("d"))
            out.setdefault(g.get("id"), scale * np.array(numbers, float))
    return root.get("width"), root.get("height"), root.get("viewBox"), out
