"""What an edit that mends a finding does: figures now and then, findings that go and that come."""

from app.pictures.panels.differences import Row, differences
from app.pictures.panels.findings import head_of
from core.record import record
from core.rig.analysis import Analysis
from core.rig.findings import Edit, Finding
from core.rig.rules import inspect


@record
class RemedyPicture:
    """An edit with the figures that differ on a band, and the findings that go and come, each as one text."""

    label: str
    rows: tuple[Row, ...]
    gone: tuple[str, ...]
    come: tuple[str, ...]


def picture_of(now: Analysis, then: Analysis, edit: Edit, band: str) -> RemedyPicture:
    """What the edit that leads from one design to the other does."""
    before, after = ({each.key: each for each in inspect(design)} for design in (now, then))
    return RemedyPicture(
        edit.label,
        differences(now, then, band),
        tuple(_told(now, each) for key, each in before.items() if key not in after),
        tuple(_told(then, each) for key, each in after.items() if key not in before),
    )


def _told(analysis: Analysis, finding: Finding) -> str:
    return f"{head_of(analysis.project, finding)}: {finding.text}"
