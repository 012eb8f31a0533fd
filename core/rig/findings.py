"""What the program noticed, as data: one list for the screen, the command line and the sheet.

The rules that make findings stand in `core.rig.rules`.
"""

import re
from collections.abc import Callable, Iterable
from math import inf, log10
from typing import Any, Literal

from core.model.project import Project
from core.model.values.base import Path
from core.model.values.notation import format_value
from core.record import record
from core.rig.analysis import Analysis

Severity = Literal["fault", "caution", "note"]
SEVERITIES: tuple[Severity, ...] = ("fault", "caution", "note")
#: The source of a threshold that builders use and no document states.
COMMON_PRACTICE = "common practice, no source"

#: Findings that lie over their limits alike to so many decimals of a decibel are as bad as each other.
_ALIKE = 6
_PREFIXES = {"": 1.0, "k": 1e3, "M": 1e6, "p": 1e-12}
_HYPHEN_MINUS = re.compile(r"(?<![\w.])-(?=\d)")


@record
class Edit:
    """Fields with other values, in the order in which they are put in, and what that is in words."""

    label: str
    changes: tuple[tuple[Path, Any], ...]

    def on(self, project: Project) -> Project:
        """The rig so edited; `DesignError` where it cannot be."""
        for path, value in self.changes:
            project = project.edited(path, value)
        return project

    def tried_on(self, project: Project) -> Project | None:
        """The rig so edited; None where a value is beyond what the model allows."""
        changed: Project | None = project
        for path, value in self.changes:
            changed = None if changed is None else changed.tried(path, value)
        return changed


@record(kw_only=True)
class Finding:
    """One thing noticed: what, with its number, and what to do about it.

    `stage` is a stage's key or the part of the project (`vfo`, `carrier`, `station`, ...), empty for the rig
    as a whole; `band` is empty where several are told of, or none; `path` is the field to go to; `subject`
    tells findings of one rule on one field and band apart, where there are several; `source` says where the
    threshold comes from.

    `figure` [`unit`] is the number that matters and `limit` [`unit`] what it is held against: it should be
    at most that, or `at_least`. `words` is the sentence with `<figure>` and `<limit>` in the places of the
    two (`<bare figure>` where the unit comes later), which are printed there as `shown` says: a number format
    and, behind a space, a prefix of the unit; or how many digits in engineering notation. `edits` are what
    the remedy names, each of which its rule has tried; those that rules do not try are looked for when
    somebody asks (`core.rig.remedies`).
    """

    severity: Severity
    rule: str
    stage: str = ""
    band: str = ""
    subject: str = ""
    path: Path
    words: str
    figure: float | None = None
    limit: float | None = None
    at_least: bool = False
    unit: str = ""
    shown: str = ".0f"
    remedy: str
    source: str
    edits: tuple[Edit, ...] = ()

    @property
    def key(self) -> tuple[str, str, Path, str, str]:
        """Identity that leaves the figures out: one that is selected stays selected while they change."""
        return self.rule, self.stage, self.path, self.band, self.subject

    @property
    def text(self) -> str:
        """The sentence, with its numbers and real minus signs before them."""
        text = self.words
        for name, value, printed in zip(
            ("figure", "limit"), (self.figure, self.limit), self._told_apart(), strict=True
        ):
            if value is not None:
                number, unit = printed
                text = text.replace(f"<{name}>", f"{number} {unit}".strip()).replace(f"<bare {name}>", number)
        return _HYPHEN_MINUS.sub("\u2212", text)

    @property
    def over_db(self) -> float:
        """How far the figure lies beyond its limit, negative within: decibels as they are, powers and other
        quantities by their ratio; infinite where there is nothing to compare, or a side is not above zero.
        """
        if self.figure is None or self.limit is None:
            return inf
        if self.unit.startswith("dB"):
            over = self.figure - self.limit
        elif min(self.figure, self.limit) <= 0:
            return inf
        else:
            over = (10 if self.unit == "W" else 20) * log10(self.figure / self.limit)
        return -over if self.at_least else over

    def _told_apart(self) -> tuple[tuple[str, str], tuple[str, str]]:
        """Number and unit of figure and limit, with more digits where they would read alike: the figure, and
        the limit too where that alone would read on the wrong side of it.
        """
        figure = ("", "") if self.figure is None else self._printed(self.figure, 0)
        # A limit is mostly a round number, which needs no zeros behind it.
        limit = ("", "") if self.limit is None else self._printed(self.limit, 0, "g")
        if self.figure is not None and self.limit is not None and self.figure != self.limit:
            for more in (1, 2):
                if figure[1] != limit[1] or _bare(figure[0]) != _bare(limit[0]):
                    break
                figure = self._printed(self.figure, more)
                rounded = self._printed(self.limit, more, "g")
                if (figure[1], rounded[1]) == (limit[1], limit[1]) and self._turned_over(figure, limit):
                    limit = rounded
        return figure, limit

    def _turned_over(self, figure: tuple[str, str], limit: tuple[str, str]) -> bool:
        """Whether what is printed is the other way round than what it is of."""
        assert self.figure is not None  # they are printed
        assert self.limit is not None
        return (float(figure[0]) < float(limit[0])) != (self.figure < self.limit)

    def _printed(self, value: float, more: int, *others: str) -> tuple[str, str]:
        """Number and unit, with some digits `more` than it is usually shown with."""
        if self.shown.isdigit():
            number, _, unit = format_value(value, self.unit, int(self.shown) + more).partition(" ")
            return number, unit
        spec, _, prefix = self.shown.partition(" ")
        spec = re.sub(r"\d+", lambda digits: str(int(digits[0]) + more), spec, count=1)
        number = min((format(value / _PREFIXES[prefix], each) for each in (spec, *others)), key=len)
        return number, f"{prefix}{self.unit}"


def _bare(number: str) -> str:
    """A number without the zeros that end its decimals."""
    return number.rstrip("0").rstrip(".") if "." in number else number


def ranked(findings: list[Finding]) -> tuple[Finding, ...]:
    """Worst first: by severity, then by how far each lies over its limit, those without a limit ahead."""
    # Those alike stay in the order of their bands, whatever a float's last digit says.
    return tuple(
        sorted(findings, key=lambda each: (SEVERITIES.index(each.severity), -round(each.over_db, _ALIKE)))
    )


#: A rule yields findings, and None between the steps of a long search for a remedy.
Rule = Callable[[Analysis], Iterable[Finding | None]]
#: Every rule of the themes imported so far.
RULES: list[Rule] = []


def rule(function: Rule) -> Rule:
    """Register a rule: one small function from an analysis to findings."""
    RULES.append(function)
    return function
