"""The rules behind the findings, one small function a rule, one file a theme.

They stand above the analysis and read it as a page or the sheet does.

A finding: a function with `@rule` in the theme's file under `rig/rules/`, which is named in its `__init__`.
One that tries things for its remedy yields None after each. It gives its figure and limit as numbers with
their unit, and a sentence with `<figure>` and `<limit>` in it, remedy, source and the path to jump to;
`subject` tells several on one field apart. A way to set it off goes into `SPOILT` in
`tests/spoilt.py`.
"""

import re
from dataclasses import replace

from core.model.values.quantities import spelled
from core.rig.analysis import Analysis
from core.rig.findings import RULES, Finding, ranked

# Importing a theme registers its rules.
from core.rig.rules import (  # noqa: F401
    amplifiers,
    coils,
    emissions,
    filters,
    frequencies,
    ladders,
    oscillators,
    receive,
    spurs,
    strong_stations,
    structure,
    transmit,
)
from core.rig.rules.bench import boards, transistors_on_hand, types_on_hand, variables_on_hand  # noqa: F401
from core.rig.rules.mixing import drive as mixer_drive  # noqa: F401
from core.rig.rules.mixing import leaks  # noqa: F401
from core.rig.rules.power import (  # noqa: F401
    amplifier,
    audio,
    contacts,
    crystals,
    drive,
    fed,
    regulators,
    supply,
    switching,
    transistors,
)
from core.stages.steps import Steps, finished, kept


def inspect(analysis: Analysis) -> tuple[Finding, ...]:
    """Every finding of every rule, worst first."""
    return finished(inspection(analysis))


# The present design's and the held one's: each is asked for by several views.
@kept(4)
def inspection(analysis: Analysis) -> Steps[tuple[Finding, ...]]:
    """`inspect` in steps, none of which tries more than one change against a finding."""
    names = [band.name for band in analysis.project.bands if spelled(band.name) != band.name]
    found = []
    for rule in RULES:
        for finding in rule(analysis):
            if finding is None:
                yield
            else:
                found.append(_typeset(finding, names))
        yield
    return ranked(found)


def _typeset(finding: Finding, names: list[str]) -> Finding:
    """The finding with bands of these names as they are written."""
    words, remedy = finding.words, finding.remedy
    for name in names:
        word = re.compile(rf"\b{re.escape(name)}\b")
        words, remedy = word.sub(spelled(name), words), word.sub(spelled(name), remedy)
    return replace(finding, words=words, remedy=remedy)
