"""Texts out of files made fit to be read on one line: nothing in them steers a terminal or turns the line."""

import re

#: Control characters, line separators, halves of characters, and what nobody sees, such as the marks that
#: turn the reading order: Unicode's default ignorable code points, but not the variation selectors, which
#: belong to the sign before them.
STEERING = re.compile(
    r"[\x00-\x1f\x7f-\x9f\xad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180e\u200b-\u200f\u2028-\u202e\u2060-\u206f"
    r"\u3164\ud800-\udfff\ufeff\uffa0\ufff0-\ufffb\U0001bca0-\U0001bca3\U0001d173-\U0001d17a"
    r"\U000e0000-\U000e00ff\U000e01f0-\U000e0fff]"
)


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
