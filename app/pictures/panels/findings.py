"""What the program noticed, as the panel lists it."""

from app.style import words
from core.model.project import Project
from core.model.values.base import Path
from core.record import record
from core.rig.analysis import Analysis
from core.rig.findings import SEVERITIES, Finding

#: What a finding names besides stages.
_PARTS = ("vfo", "carrier", "station", "speaker", "microphone", "read_out", "supply")


@record
class FindingRow:
    """A finding under its heading: how bad, and where."""

    finding: Finding
    head: str


@record
class FindingsPicture:
    """All findings, worst first, and how many there are of the two worst severities among them."""

    rows: tuple[FindingRow, ...]
    count: str


def picture_of(analysis: Analysis) -> FindingsPicture:
    """What the findings panel shows of a design."""
    from core.rig.rules import inspect

    findings = inspect(analysis)
    counts = [(sum(f.severity == each for f in findings), each) for each in SEVERITIES]
    return FindingsPicture(
        tuple(FindingRow(finding, head_of(analysis.project, finding)) for finding in findings),
        ", ".join([words.counted(n, each) for n, each in counts if n][:2]),
    )


def place_of(finding: Finding) -> Path:
    """The part of the rig that a finding speaks of; empty for the rig as a whole."""
    stage = finding.stage
    if stage in _PARTS:
        return (stage,)
    return ("stages", stage) if stage else ()


def head_of(project: Project, finding: Finding) -> str:
    """How bad a finding is, of which part, and on which band."""
    place = place_of(finding)
    name = words.title_of(project, place) if place else "Rig"
    if place[:1] == ("stages",):
        names = {stage.id: stage.name for stage in project.stages}
        name = names.get(str(place[1]), str(place[1]))
    parts = [words.severity(finding.severity), name]
    if finding.band:
        parts.append(words.band(finding.band))
    return " · ".join(parts)
