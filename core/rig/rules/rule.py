"""What makes a function a rule."""

from collections.abc import Callable, Iterable

from core.rig.analysis import Analysis
from core.rig.findings import Finding

#: A rule yields findings, and None between the steps of a long search for a remedy.
Rule = Callable[[Analysis], Iterable[Finding | None]]
#: Every rule of the themes imported so far.
RULES: list[Rule] = []


def rule(function: Rule) -> Rule:
    """Register a rule: one small function from an analysis to findings."""
    RULES.append(function)
    return function
