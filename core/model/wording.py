"""Texts out of files made fit to be read on one line: nothing in them steers a terminal or turns the line."""

import re

#: Control characters, what turns the reading order, line separators, and halves of characters.
STEERING = re.compile(r"[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")


def visible(text: str) -> str:
    """The text on one line: line breaks and tabs are blanks, other steering characters their codes.

    >>> visible("20m\\n\\x1b[2J")
    '20m \\\\x1b[2J'
    """
    return STEERING.sub(_code, text)


def _code(match: re.Match[str]) -> str:
    sign = match[0]
    return " " if sign in "\t\n\r\v\f\u2028\u2029" else sign.encode("unicode_escape").decode()


def shortened(text: str, most: int = 60) -> str:
    """The text, or its beginning and end with an ellipsis between where it is longer than `most`.

    >>> shortened("abcdefghij" * 10, 20)
    'abcdefghijabcd…fghij'
    """
    tail = most // 4
    return text if len(text) <= most else f"{text[: most - tail - 1]}…{text[-tail:]}"
