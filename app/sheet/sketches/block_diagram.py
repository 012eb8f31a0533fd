"""One direction of a rig as blocks, the level behind each below it, as SVG."""

from pathlib import Path

import jinja2

from app.sheet.content.blocks import Diagram, DiagramBox

#: Width of the drawing, and of a stage with its arrow; height of a row without its levels, and of a level.
_WIDTH, _CELL, _ROW, _LEVEL = 840.0, 105.0, 74.0, 13.0
#: Half the size of a sign, and the height of its middle in the row.
_HALF, _MIDDLE = 17.0, 24.0
#: Letters of a stage's name in a line, and of a band's.
_LETTERS, _BAND = 17, 7
_AMPLIFIERS = ("amp", "PA", "AF")


def diagram_svg(diagram: Diagram) -> str:
    """The stages from left to right in rows; a mixer has its oscillator's drive below its sign."""
    abreast = int(_WIDTH // _CELL)
    high = _ROW + _LEVEL * len(diagram.bands)
    boxes = (DiagramBox(diagram.start, "", "", diagram.start_levels), *diagram.boxes)
    cells = []
    for n, box in enumerate(boxes):
        row, column = divmod(n, abreast)
        cells.append(
            {
                "x": _CELL * column,
                "y": high * row,
                "shape": _shape(box, n),
                "short": box.short,
                "name": _lines(box.name),
                "driven": box.driven,
                "levels": [
                    f"{_short(band)} {level}" if len(diagram.bands) > 1 else level
                    for band, level in zip(diagram.bands, box.levels, strict=True)
                ],
                "last": n == len(boxes) - 1,
            }
        )
    rows = -(-len(boxes) // abreast)
    return _template().render(
        width=_WIDTH,
        height=high * rows,
        cells=cells,
        cell=_CELL,
        half=_HALF,
        middle=_MIDDLE,
        level=_LEVEL,
    )


def _short(band: str) -> str:
    """A band's name as far as there is room for it."""
    return band if len(band) <= _BAND else f"{band[: _BAND - 1]}…"


def _shape(box: DiagramBox, place: int) -> str:
    if place == 0:
        return "end"
    if box.driven:
        return "mixer"
    return "amplifier" if box.short in _AMPLIFIERS else "box"


def _lines(name: str) -> list[str]:
    """A name in two lines at most, what is longer shortened."""
    lines = [""]
    for word in name.split():
        if lines[-1] and len(f"{lines[-1]} {word}") > _LETTERS:
            lines.append(word)
        else:
            lines[-1] = f"{lines[-1]} {word}".strip()
    if len(lines) > 2:
        lines = [lines[0], f"{lines[1]}…"]
    return [each if len(each) <= _LETTERS + 1 else f"{each[:_LETTERS]}…" for each in lines]


def _template() -> jinja2.Template:
    loader = jinja2.FileSystemLoader(Path(__file__).parents[1] / "templates")
    return jinja2.Environment(loader=loader, autoescape=True).get_template("diagram.svg.jinja")
