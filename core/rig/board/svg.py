"""A drawing as SVG in millimetres, by which it is printed, cut and looked at elsewhere."""

from xml.etree import ElementTree as Xml

from core.rig.board.drawing import Area, Disc, Drawing, Ink, Shape, Stroke, Words

#: Fill and line of each ink on paper, legible in black and white.
PAPER: dict[Ink, tuple[str, str]] = {
    "plane": ("#ffffff", "#000000"),
    "island": ("#d9d9d9", "#000000"),
    "body": ("none", "#404040"),
    "body_line": ("none", "#808080"),
    "lead": ("#000000", "#000000"),
    "ground": ("#000000", "#000000"),
    "wire": ("none", "#000000"),
    "words": ("#000000", "none"),
    "soft_words": ("#404040", "none"),
    "by_hand": ("#000000", "none"),
    "clash": ("none", "#000000"),
    "long": ("#000000", "none"),
    "shield": ("none", "#000000"),
    "panel": ("#ffffff", "#000000"),
    "hole": ("#ffffff", "#000000"),
    "room": ("none", "#909090"),
}
#: Width of the outline of an area or a circle [m].
OUTLINE_M = 0.2e-3
#: Length of a dash, and of the gap behind it [m].
DASH_M = 1.2e-3
_SPACE = "http://www.w3.org/2000/svg"


def svg_of(drawing: Drawing, *, mirrored: bool = False) -> str:
    """The drawing at its true size: width and height in millimetres, a user unit a millimetre; `mirrored` as
    it is seen through the board.
    """
    box = drawing.box.grown(OUTLINE_M)
    width, height = (1e3 * each for each in box.size)
    top = Xml.Element(
        "svg",
        {
            "xmlns": _SPACE,
            "width": f"{width:.3f}mm",
            "height": f"{height:.3f}mm",
            "viewBox": " ".join(f"{each:.3f}" for each in (1e3 * box.left, 1e3 * box.top, width, height)),
        },
    )
    Xml.SubElement(top, "title").text = drawing.title
    parent = top
    if mirrored:
        turn = f"translate({_mm(2 * box.middle[0])} 0) scale(-1 1)"
        parent = Xml.SubElement(top, "g", {"transform": turn})
    for shape in drawing.shapes:
        _add(parent, shape)
    Xml.indent(top)
    return Xml.tostring(top, encoding="unicode") + "\n"


def _mm(metres: float) -> str:
    return f"{1e3 * metres:.3f}"


def _add(parent: Xml.Element, shape: Shape) -> None:
    fill, line = PAPER[shape.ink]
    paint = {"fill": fill, "stroke": line, "stroke-width": _mm(OUTLINE_M)}
    if isinstance(shape, Area):
        points = " ".join(f"{_mm(x)},{_mm(y)}" for x, y in shape.points)
        Xml.SubElement(parent, "polygon", {"points": points, **paint, "class": shape.ink})
    elif isinstance(shape, Disc):
        x, y = map(_mm, shape.middle)
        Xml.SubElement(
            parent, "circle", {"cx": x, "cy": y, "r": _mm(shape.radius_m), **paint, "class": shape.ink}
        )
    elif isinstance(shape, Stroke):
        points = " ".join(f"{_mm(x)},{_mm(y)}" for x, y in shape.points)
        dash = {"stroke-dasharray": _mm(DASH_M)} if shape.dashed else {}
        Xml.SubElement(
            parent,
            "polyline",
            {
                "points": points,
                "fill": "none",
                "stroke": line if line != "none" else fill,
                "stroke-width": _mm(shape.width_m),
                "class": shape.ink,
                **dash,
            },
        )
    else:
        _words(parent, shape, fill)


def _words(parent: Xml.Element, shape: Words, fill: str) -> None:
    x, y = shape.at
    # Set down by a third of the letters' height they stand around the point.
    down = 0.35 * shape.height_m
    turn = {"transform": f"rotate(-90 {_mm(x)} {_mm(y)})"} if shape.upright else {}
    Xml.SubElement(
        parent,
        "text",
        {
            "x": _mm(x),
            "y": _mm(y + down),
            "font-size": _mm(shape.height_m),
            "font-family": "sans-serif",
            "text-anchor": "start" if shape.from_left else "middle",
            "fill": fill,
            **turn,
        },
    ).text = shape.text
