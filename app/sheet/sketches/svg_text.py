"""Text in drawings: a builder's names for the drawing library, and its texts for Qt."""

import re


def as_text(name: str) -> str:
    """A builder's name for the drawing library, which escapes < and > itself, neither & nor its own $."""
    return name.replace("&", "&amp;").replace("$", "&#36;")


_TEXT = re.compile(
    r'<text x="(?P<x>[^"]+)" y="(?P<y>[^"]+)" dominant-baseline="(?P<at>[^"]+)"(?P<rest>[^>]*)>'
    r"(?P<lines>.*?)</text>",
    re.S,
)
_LINE = re.compile(r"<tspan[^>]*>(.*?)</tspan>", re.S)
_BOX = re.compile(r'viewBox="([^"]+)"')
_HEAD = re.compile(r'height="[^"]+" width="[^"]+" viewBox="[^"]+"')
_LEADING = 1.15


def plain_text(svg: str, size: float) -> str:
    """Each line of text as an element of its own, placed by its baseline.

    Qt's SVG is the tiny profile: it knows neither `dominant-baseline` nor shifts inside a text.
    """

    def lines(match: re.Match[str]) -> str:
        texts = _LINE.findall(match["lines"])
        y, last = float(match["y"]), len(texts) - 1
        first = {
            "central": y + 0.36 * size - _LEADING * size * last / 2,
            "hanging": y + 0.85 * size,
            "ideographic": y + 0.3 * size,
        }.get(match["at"], y)
        return "".join(
            f'<text x="{match["x"]}" y="{first + n * _LEADING * size:.2f}"{match["rest"]}>{text}</text>'
            for n, text in enumerate(texts)
        )

    # Room around, as text is wider and higher here than the drawing library reckons.
    x, y, width, height = (float(each) for each in _BOX.search(svg)[1].split())  # type: ignore[index]
    x, y, width, height = x - size, y - size, width + 2 * size, height + 2 * size
    head = f'height="{height:.2f}pt" width="{width:.2f}pt" viewBox="{x:.2f} {y:.2f} {width:.2f} {height:.2f}"'
    return _TEXT.sub(lines, _HEAD.sub(head, svg, count=1))
