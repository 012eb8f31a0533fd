"""What the program noticed, as data: one list for the screen, the command line and the sheet.

A finding's identity is (rule, stage, band), so that one which is selected stays selected while its figures
change. The rules that make them stand in `core.rig.rules`.
"""

from dataclasses import dataclass
from typing import Literal

from core.model.base import Path

Severity = Literal["fault", "caution", "note"]
SEVERITIES: tuple[Severity, ...] = ("fault", "caution", "note")
#: The source of a threshold that builders use and no document states.
COMMON_PRACTICE = "common practice, no source"


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
