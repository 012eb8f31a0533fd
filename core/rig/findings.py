"""What the program noticed, as data: one list for the screen, the command line and the sheet.

A rule is one small function from an analysis to findings, registered by `@rule`. A finding's identity
is (rule, stage, band), so that one which is selected stays selected while its figures change.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from importlib import import_module
from typing import TYPE_CHECKING, Literal

from core.model.base import Path

if TYPE_CHECKING:
    from core.rig.analysis import Analysis

Severity = Literal["fault", "caution", "note"]
SEVERITIES: tuple[Severity, ...] = ("fault", "caution", "note")


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing noticed: what, with its numbers, and what to do about it.

    `stage` is a stage's key or the part of the project (`vfo`, `carrier`, `station`, ...); `path` is the
    field to go to; `source` says where the threshold comes from.
    """

    severity: Severity
    rule: str
    stage: str
    band: str
    text: str
    remedy: str
    source: str
    path: Path

    @property
    def key(self) -> tuple[str, str, str]:
        """Identity that leaves the figures out."""
        return self.rule, self.stage, self.band


Rule = Callable[["Analysis"], Iterable[Finding]]
_RULES: list[Rule] = []
_THEMES = (
    "structure",
    "filters",
    "ladders",
    "frequencies",
    "spurs",
    "oscillators",
    "receive",
    "transmit",
    "emissions",
)


def rule(function: Rule) -> Rule:
    """Register a rule."""
    _RULES.append(function)
    return function


def find(analysis: Analysis) -> tuple[Finding, ...]:
    """Every finding of every rule, faults first, otherwise in the order of the rules."""
    # Importing a theme registers its rules; here and not above, because rules read the analysis.
    for theme in _THEMES:
        import_module(f"core.rig.rules.{theme}")
    found = [_typeset(finding) for each in _RULES for finding in each(analysis)]
    return tuple(sorted(found, key=lambda finding: SEVERITIES.index(finding.severity)))


_HYPHEN_MINUS = re.compile(r"(?<![\w.])-(?=\d)")


def _typeset(finding: Finding) -> Finding:
    """The finding with real minus signs before its numbers."""
    return replace(finding, text=_HYPHEN_MINUS.sub("\u2212", finding.text))
