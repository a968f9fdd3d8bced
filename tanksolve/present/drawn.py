"""Line drawings at true size: sheets of lines, circles and words in mm, written as SVG, PDF or DXF.

A plate, a strip and a drawing for the welder are each a list of :class:`Sheet`. y points up, the origin is
the sheet's lower left corner. PDF needs reportlab and DXF ezdxf: the extra ``tanksolve[report]``.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from html import escape
from pathlib import Path
from typing import Any, Literal

from tanksolve.errors import OutputError
from tanksolve.files import write_text, write_whole

__all__ = ["Circle", "Line", "Path2D", "Sheet", "Text", "check_drawn_path", "save_sheets", "wide"]

Point = tuple[float, float]
_DPI_POINTS = 72.0 / 25.4  # PDF points in a mm
_FONT = "DejaVuSans"
_LAYERS = {  # colour of lines, and of the layer in DXF
    "outline": ("#000000", 7),
    "hidden": ("#555555", 8),
    "liquid": ("#1f6fae", 5),
    "zone": ("#17693a", 3),
    "dimension": ("#333333", 1),
    "words": ("#000000", 7),
    "warning": ("#b3261e", 1),
}


@dataclass(frozen=True)
class Line:
    """A straight line [mm]; ``pen`` is its width, ``dashes`` on and off, none for a whole line."""

    start: Point
    end: Point
    layer: str = "outline"
    pen: float = 0.35
    dashes: tuple[float, ...] = ()


@dataclass(frozen=True)
class Path2D:
    """A run of straight lines through points [mm]; ``fill`` is a colour, for closed ones."""

    points: Sequence[Point]
    layer: str = "outline"
    pen: float = 0.35
    closed: bool = True
    fill: str = ""


@dataclass(frozen=True)
class Circle:
    """A circle [mm]."""

    centre: Point
    radius: float
    layer: str = "outline"
    pen: float = 0.35


@dataclass(frozen=True)
class Text:
    """Words ``size`` mm high (capitals are 0.73 of it), their anchor at a point, turned by degrees."""

    words: str
    at: Point
    size: float = 3.0
    anchor: Literal["start", "middle", "end"] = "start"
    turn: float = 0.0
    bold: bool = False
    layer: str = "words"


Part = Line | Path2D | Circle | Text


@dataclass
class Sheet:
    """One sheet: its title for readers of the file, its size [mm], and what is drawn on it."""

    title: str
    width: float
    height: float
    parts: list[Part] = field(default_factory=list)

    def add(self, *parts: Part) -> None:
        """Draw these."""
        self.parts.extend(parts)

    def box(self, low: Point, high: Point, **how: Any) -> None:
        """Draw a rectangle."""
        (x0, y0), (x1, y1) = low, high
        self.add(Path2D(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), **how))


def wide(words: str, size: float, bold: bool = False) -> float:
    """Width of words [mm] in the font of all drawings."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextToPath

    font = FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal", size=100)
    return float(TextToPath().get_text_width_height_descent(words, font, False)[0]) * size / 100.0


# ---- files --------------------------------------------------------------------------------------------


def check_drawn_path(path: Path, sheets: str, endings: Sequence[str] = (".svg", ".pdf")) -> None:
    """Refuse, before anything is computed, a file that no drawing can be written to. Raises OutputError."""
    from tanksolve.files import check_text_path

    check_text_path(path, tuple(endings), "--output")
    library = {".pdf": "reportlab", ".dxf": "ezdxf"}.get(path.suffix.lower())
    if library and not _installed(library):
        raise OutputError(
            f"{sheets} as {path.suffix[1:].upper()} needs the library {library}",
            where="--output",
            allowed=".svg without it",
            next_step="pip install 'tanksolve[report]'",
        )


def _installed(library: str) -> bool:
    import importlib.util

    return importlib.util.find_spec(library) is not None


def save_sheets(sheets: Sequence[Sheet], path: Path) -> tuple[Path, ...]:
    """Write sheets by the path's ending; SVG and DXF take one file a sheet. Returns the files written.

    Raises OutputError.
    """
    ending = path.suffix.lower()
    if ending == ".pdf":
        write_whole(path, lambda temporary: _write_pdf(sheets, temporary))
        return (path,)
    paths = tuple(
        path if len(sheets) == 1 else path.with_stem(f"{path.stem}-{k}")
        for k in range(1, len(sheets) + 1)
    )
    for sheet, one in zip(sheets, paths, strict=True):
        if ending == ".svg":
            write_text(one, as_svg(sheet))
        else:
            write_whole(one, _dxf_writer(sheet))
    return paths


def _dxf_writer(sheet: Sheet) -> Callable[[Path], None]:
    return lambda temporary: _write_dxf(sheet, temporary)


# ---- SVG ----------------------------------------------------------------------------------------------


def as_svg(sheet: Sheet) -> str:
    """The sheet as SVG, a user unit being a millimetre; words are escaped."""
    parts = "\n".join(_svg_part(part, sheet.height) for part in sheet.parts)
    size = f'width="{sheet.width:g}mm" height="{sheet.height:g}mm"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="0 0 {sheet.width:g} {sheet.height:g}">\n'
        f"<title>{escape(sheet.title)}</title>\n"
        f'<rect width="100%" height="100%" fill="#ffffff"/>\n{parts}\n</svg>\n'
    )


def _svg_part(part: Part, top: float) -> str:
    colour = _LAYERS[part.layer][0]
    if isinstance(part, Text):
        x, y = part.at[0], top - part.at[1]
        turn = f' transform="rotate({-part.turn:g} {x:.4f} {y:.4f})"' if part.turn else ""
        weight = ' font-weight="bold"' if part.bold else ""
        return (
            f'<text x="{x:.4f}" y="{y:.4f}" font-family="DejaVu Sans, sans-serif" font-size="{part.size:g}" '
            f'text-anchor="{part.anchor}" fill="{colour}"{weight}{turn}>{escape(part.words)}</text>'
        )
    how = f'stroke="{colour}" stroke-width="{part.pen:g}"'
    if isinstance(part, Circle):
        x, y = part.centre[0], top - part.centre[1]
        return f'<circle cx="{x:.4f}" cy="{y:.4f}" r="{part.radius:.4f}" fill="none" {how}/>'
    if isinstance(part, Line):
        dashes = f' stroke-dasharray="{" ".join(map(str, part.dashes))}"' if part.dashes else ""
        (x0, y0), (x1, y1) = part.start, part.end
        return f'<line x1="{x0:.4f}" y1="{top - y0:.4f}" x2="{x1:.4f}" y2="{top - y1:.4f}" {how}{dashes}/>'
    points = " ".join(f"{x:.4f},{top - y:.4f}" for x, y in part.points)
    kind = "polygon" if part.closed else "polyline"
    return f'<{kind} points="{points}" fill="{part.fill or "none"}" stroke-linejoin="round" {how}/>'


# ---- PDF ----------------------------------------------------------------------------------------------


def fonts_for_pdf() -> tuple[str, str]:
    """Names of the plain and the bold font, registered with reportlab: matplotlib brings the files."""
    import matplotlib
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    for name in (_FONT, f"{_FONT}-Bold"):
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(folder / f"{name}.ttf")))
    return _FONT, f"{_FONT}-Bold"


def _write_pdf(sheets: Sequence[Sheet], path: Path) -> None:
    from reportlab.pdfgen.canvas import Canvas

    plain, bold = fonts_for_pdf()
    canvas = Canvas(str(path), invariant=1)
    canvas.setTitle(sheets[0].title)
    for sheet in sheets:
        canvas.setPageSize((sheet.width * _DPI_POINTS, sheet.height * _DPI_POINTS))
        canvas.scale(_DPI_POINTS, _DPI_POINTS)
        canvas.setLineJoin(1)
        for part in sheet.parts:
            _pdf_part(canvas, part, bold if isinstance(part, Text) and part.bold else plain)
        canvas.showPage()
    canvas.save()


def _pdf_part(canvas: Any, part: Part, font: str) -> None:
    colour = _LAYERS[part.layer][0]
    if isinstance(part, Text):
        canvas.saveState()
        canvas.setFillColor(colour)
        canvas.setFont(font, part.size)
        canvas.translate(*part.at)
        canvas.rotate(part.turn)
        draw = {
            "start": canvas.drawString,
            "middle": canvas.drawCentredString,
            "end": canvas.drawRightString,
        }
        draw[part.anchor](0.0, 0.0, part.words)
        canvas.restoreState()
        return
    canvas.setStrokeColor(colour)
    canvas.setLineWidth(part.pen)
    if isinstance(part, Circle):
        canvas.circle(*part.centre, part.radius)
        return
    if isinstance(part, Line):
        canvas.setDash(*([list(part.dashes)] if part.dashes else [[]]))
        canvas.line(*part.start, *part.end)
        canvas.setDash([])
        return
    path = canvas.beginPath()
    path.moveTo(*part.points[0])
    for point in part.points[1:]:
        path.lineTo(*point)
    if part.closed:
        path.close()
    if part.fill:
        canvas.setFillColor(part.fill)
    canvas.drawPath(path, stroke=1, fill=int(bool(part.fill)))


# ---- DXF ----------------------------------------------------------------------------------------------


def _write_dxf(sheet: Sheet, path: Path) -> None:
    """One drawing in mm, each layer with its colour; fills are left to the layer's lines."""
    import ezdxf
    from ezdxf import units
    from ezdxf.enums import TextEntityAlignment

    drawing = ezdxf.new("R2010", setup=True)  # type: ignore[attr-defined]
    drawing.units = units.MM
    for name, (_, colour) in _LAYERS.items():
        drawing.layers.add(name, color=colour)
    space = drawing.modelspace()
    align = {
        "start": TextEntityAlignment.LEFT,
        "middle": TextEntityAlignment.CENTER,
        "end": TextEntityAlignment.RIGHT,
    }
    for part in sheet.parts:
        how: dict[str, Any] = {"layer": part.layer}
        if isinstance(part, Text):
            put = space.add_text(
                part.words, height=0.73 * part.size, rotation=part.turn, dxfattribs=how
            )
            put.set_placement(part.at, align=align[part.anchor])
            continue
        how["lineweight"] = min((13, 18, 25, 35, 50, 70), key=lambda w: abs(w - 100.0 * part.pen))
        if isinstance(part, Circle):
            space.add_circle(part.centre, part.radius, dxfattribs=how)
        elif isinstance(part, Line):
            if part.dashes:
                how["linetype"] = "DASHED"
            space.add_line(part.start, part.end, dxfattribs=how)
        else:
            space.add_lwpolyline(list(part.points), close=part.closed, dxfattribs=how)
    drawing.saveas(path)


def arrowed(
    sheet: Sheet, start: Point, end: Point, words: str, *, size: float = 2.6, away: float = 1.0
) -> None:
    """A dimension: a line with a slanted stroke at either end and its words in the middle beside it."""
    layer = "dimension"
    (x0, y0), (x1, y1) = start, end
    long = math.hypot(x1 - x0, y1 - y0)
    turn = math.degrees(math.atan2(y1 - y0, x1 - x0))
    if turn > 90.0 or turn <= -90.0:
        turn -= math.copysign(180.0, turn)
    nx, ny = -math.sin(math.radians(turn)), math.cos(math.radians(turn))
    sheet.add(Line(start, end, layer, 0.18))
    for x, y in (start, end):
        sheet.add(Line((x - 0.9, y - 0.9), (x + 0.9, y + 0.9), layer, 0.25))
    outside = wide(words, size) > long - 2.0
    middle = (0.5 * (x0 + x1) + away * nx, 0.5 * (y0 + y1) + away * ny)
    if outside:
        step = 0.5 * (long + wide(words, size)) + 2.0
        middle = (
            middle[0] + step * math.cos(math.radians(turn)),
            middle[1] + step * math.sin(math.radians(turn)),
        )
    sheet.add(Text(words, middle, size, "middle", turn, layer="dimension"))
