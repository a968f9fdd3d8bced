"""Drawings read back from their files, in mm with y up: what a printer or a cutter will see."""

from pathlib import Path

import ezdxf
import pdfplumber

MM = 25.4 / 72.0


def pdf_page(path: Path, number: int = 0):
    """Size, straight lines and rectangles (x0, y0, x1, y1), curves as points, the text, and where each word is."""
    with pdfplumber.open(path) as file:
        page = file.pages[number]
        high = float(page.height)
        size = (float(page.width) * MM, high * MM)
        lines = [_ends(one["pts"], high) for one in page.lines]
        runs = [[_point(p, high) for p in one["pts"]] for one in page.curves]
        boxes = [_box(one, high) for one in page.rects]
        words = page.extract_text()
        places = {
            w["text"]: (w["x0"] * MM, (high - w["bottom"]) * MM) for w in page.extract_words()
        }
    return size, lines, boxes, runs, words, places


def pdf_lines_of(path: Path, pen: float):
    """The straight lines of a page drawn with a pen of this width [mm]."""
    with pdfplumber.open(path) as file:
        page = file.pages[0]
        widths = {round(one["linewidth"], 3) for one in page.lines}
        nearest = min(widths, key=lambda w: min(abs(w - pen), abs(w * MM - pen)))
        found = [one for one in page.lines if round(one["linewidth"], 3) == nearest]
        return [_ends(one["pts"], float(page.height)) for one in found]


def _point(point, high):
    return float(point[0]) * MM, (high - float(point[1])) * MM


def _ends(points, high):
    (x0, y0), (x1, y1) = (_point(p, high) for p in (points[0], points[-1]))
    return x0, y0, x1, y1


def _box(one, high):
    return one["x0"] * MM, (high - one["bottom"]) * MM, one["x1"] * MM, (high - one["top"]) * MM


def dxf(path: Path):
    """The drawing's unit, and by layer its lines, circles as (x, y, radius), runs of points and words."""
    drawing = ezdxf.readfile(path)
    found: dict[str, dict[str, list]] = {}
    for entity in drawing.modelspace():
        layer = found.setdefault(
            entity.dxf.layer, {"lines": [], "circles": [], "runs": [], "words": []}
        )
        kind = entity.dxftype()
        if kind == "LINE":
            layer["lines"].append((*tuple(entity.dxf.start)[:2], *tuple(entity.dxf.end)[:2]))
        elif kind == "CIRCLE":
            layer["circles"].append((*tuple(entity.dxf.center)[:2], entity.dxf.radius))
        elif kind == "LWPOLYLINE":
            layer["runs"].append([tuple(p) for p in entity.get_points("xy")])
        else:
            layer["words"].append(entity.dxf.text)
    return drawing.units, found
