"""What stands around the editor's form: its title, and whether parts and a held design are shown below."""

from app.state.look import Look
from app.style import words
from core.model.project import Project
from core.model.values.base import Path
from core.record import record
from core.stages.kinds.table import KINDS

_TITLES: dict[Path, str] = {
    (): "The rig",
    ("vfo",): "VFO",
    ("carrier",): "Carrier oscillator",
    ("station",): "Antenna and site",
    ("speaker",): "Speaker",
    ("microphone",): "Microphone",
}


@record
class EditorPicture:
    """The editor of what is selected; `kind` is told below the title where it says something else."""

    selection: Path
    title: str
    kind: str
    parts: bool
    held: bool


def picture_of(project: Project, held: Project | None, look: Look) -> EditorPicture:
    """What the editor's panel shows besides the form."""
    stage = None if look.stage is None else project.stage(look.stage)
    title = _TITLES[look.selection] if stage is None else stage.name
    kind = "" if stage is None else words.kind(stage.kind)
    parts = stage is not None and KINDS[stage.kind].making is not None
    if look.selection == ("vfo",):
        parts = project.vfo.tank is not None
    elif look.selection == ("carrier",):
        parts = project.carrier.circuit is not None
    return EditorPicture(look.selection, title, "" if kind == title else kind, parts, held is not None)
