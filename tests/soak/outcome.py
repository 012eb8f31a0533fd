"""What came of one thing tried."""

import json
import re
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, NamedTuple

from core.model.files import dumps
from core.model.project import Project

#: A number that is none, as Python prints it; no part of a word.
NOT_FINITE = re.compile(r"(?<![\w-])[−-]?(nan|inf)(?![\w-])", re.IGNORECASE)


class Outcome(NamedTuple):
    """`what` came of it in a few words, the same words for the same thing; `again` makes it once more."""

    what: str
    again: str


def prints_no_number(text: str, project: Project) -> bool:
    """Whether a number in what was printed of a project is none; one of its names may well be “nan”."""
    for name in sorted(filter(NOT_FINITE.search, _texts(json.loads(dumps(project)))), key=len, reverse=True):
        text = text.replace(name, "…")
    return NOT_FINITE.search(text) is not None


def _texts(data: Any) -> Iterator[str]:
    """Every text among the values of nested objects and arrays."""
    if isinstance(data, str):
        yield data
    members = data.values() if isinstance(data, dict) else data if isinstance(data, list) else ()
    for member in members:
        yield from _texts(member)


@contextmanager
def patience(seconds: int) -> Iterator[None]:
    """End a case that takes far too long with an error, where the system can wake a program."""
    if not hasattr(signal, "SIGALRM"):
        yield
        return

    def late(*_: object) -> None:
        raise TimeoutError(f"not done in {seconds} s")

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)
