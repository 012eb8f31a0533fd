"""The workbench: the only object of the program that changes."""

from collections.abc import Callable, Hashable
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Signal

from app.state.history import History
from app.state.look import Look, Looking
from app.state.project_file import ProjectFile
from app.style.words import title_of
from core.model.bands import Band
from core.model.project import Project, Stage
from core.model.stages.stage import Way
from core.model.values.base import Path
from core.model.values.errors import CopperError

if TYPE_CHECKING:
    from core.rig.analysis import Analysis


class Workbench(QObject):
    """History, file and look, and word of whatever changes in them.

    The design changes by `edit` and `change` only. An edit that gives no valid design is refused: the
    design stays, the reason is returned and sent with `refused`.
    """

    #: Something is different now: the design, the file, the held design, or what is looked at.
    changed = Signal()
    #: The design is about to be saved, left or compared: give it now what waits for a pause in typing.
    settling = Signal()
    #: An edit gave no valid design; one sentence.
    refused = Signal(str)
    #: Bring this place of the design before the builder's eyes and the focus into its field.
    jumped = Signal(tuple)

    def __init__(self, project: Project | None = None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        project = project or Project()
        self.history = History(project)
        self._file = ProjectFile(holds=project)
        self._looking = Looking(project)
        self._analysis: Analysis | None = None
        self._held_analysis: Analysis | None = None

    # The design

    @property
    def current(self) -> Project:
        """The present design."""
        return self.history.current

    @property
    def analysis(self) -> "Analysis":
        """Everything computed about the present design, each figure when somebody first asks."""
        self._analysis = _analysed(self.history.current, self._analysis)
        return self._analysis

    @property
    def held(self) -> Project | None:
        """The design kept for comparison, if any."""
        return self.history.held

    @property
    def held_analysis(self) -> "Analysis | None":
        """Everything computed about the held design; None when none is held."""
        held = self.history.held
        self._held_analysis = None if held is None else _analysed(held, self._held_analysis)
        return self._held_analysis

    def edit(self, path: Path, value: Any, gesture: Hashable | None = None) -> str | None:
        """Put `value` at `path`. Returns None, or the reason why the design stays as it was.

        Consecutive edits with the same `gesture` (a slider from press to release, a digit stepped
        again and again) are one step of undo.
        """
        return self.change(
            lambda project: project.edited(path, value), label=title_of(self.current, path), gesture=gesture
        )

    def change(
        self, edit: Callable[[Project], Project], *, label: str, gesture: Hashable | None = None
    ) -> str | None:
        """Replace the design by `edit` of it, as one step of undo called `label`; see `edit`."""
        old = self.current
        try:
            new = edit(old)
        except CopperError as error:
            self.refused.emit(str(error))
            return str(error)
        if new != old:
            self.history.take(new, label, gesture)
            self._follow(old)
        return None

    def undo(self) -> None:
        """Go back one step."""
        self._travel(self.history.back)

    def redo(self) -> None:
        """Go forward one step."""
        self._travel(self.history.forward)

    def hold(self) -> None:
        """Keep the present design for comparison."""
        self.settling.emit()
        self.history.held = self.current
        self.changed.emit()

    def clear_hold(self) -> None:
        """Forget the held design."""
        self.history.held = None
        self.changed.emit()

    def _travel(self, go: Callable[[], bool]) -> None:
        self.settling.emit()
        old = self.current
        if go():
            self._follow(old)

    def _follow(self, old: Project) -> None:
        self._looking.follow(old, self.current)
        self.changed.emit()

    # Its file

    @property
    def file(self) -> FilePath | None:
        """Where the design was opened from or saved to."""
        return self._file.place

    @property
    def folder(self) -> FilePath:
        """Where whoever asks for a file begins: beside the design's own, else in the builder's folder."""
        return FilePath.home() if self.file is None else self.file.parent

    @property
    def dirty(self) -> bool:
        """Whether the present design differs from the one in the file."""
        return self._file.lacks(self.current)

    def start(self, project: Project, file: FilePath | None = None, *, saved: bool = True) -> None:
        """Put another design on the bench; its history begins here. Not `saved`: it has no file yet."""
        self._begin(project, ProjectFile.of(file, project if saved else None))

    def open(self, file: FilePath) -> None:
        """Open a project file; `FileError` leaves everything as it was."""
        opened = ProjectFile.read(file)
        assert opened.holds is not None  # what reading gives
        self._begin(opened.holds, opened)

    def save(self, file: FilePath | None = None) -> None:
        """Save to `file`, or where the design came from; `FileError` leaves the old file whole."""
        self.settling.emit()
        self._file = self._file.written(self.current, file)
        self.changed.emit()

    def changed_outside(self) -> bool:
        """Whether the design's file holds something else than it did when it was read or written here."""
        return self._file.changed_outside()

    def take_theirs(self) -> None:
        """Take what the file holds now, as one step of undo; `FileError` changes nothing."""
        if self._file.place is None:
            return
        theirs = ProjectFile.read(self._file.place)
        self.change(lambda mine: theirs.holds or mine, label="taking what the file holds now")
        self._file = theirs
        self.changed.emit()

    def _begin(self, project: Project, file: ProjectFile) -> None:
        # What waits belongs to the design that goes.
        self.settling.emit()
        self.history.begin(project)
        self._looking.begin(project)
        self._file = file
        self.changed.emit()

    # What is looked at

    @property
    def look(self) -> Look:
        """Band, direction and dial looked at, and what is selected."""
        return self._looking.look(self.current)

    @property
    def band_name(self) -> str:
        """Name of the band looked at."""
        return self._looking.band

    @property
    def band(self) -> Band:
        """The band looked at."""
        return self.current.band(self._looking.band)

    @property
    def way(self) -> Way:
        """Direction looked at."""
        return self._looking.way

    @property
    def dial_hz(self) -> float:
        """Where the dial stands on this band [Hz]; each band remembers its own."""
        return self.look.dial_hz

    @property
    def selection(self) -> Path:
        """What is selected: `("stages", key)`, `("vfo",)`, ...; empty for the rig as a whole."""
        return self._looking.selection

    @property
    def selected_stage(self) -> Stage | None:
        """The selected stage, if a stage is selected."""
        key = self.look.stage
        return None if key is None else self.current.stage(key)

    def look_at_band(self, name: str) -> None:
        """Look at another band; `DesignError` when there is none of that name."""
        self.current.band(name)
        self._look(lambda: self._looking.at_band(name))

    def look_at_way(self, way: Way) -> None:
        """Look at receive or transmit."""
        self._look(lambda: self._looking.at_way(way))

    def turn_dial(self, hz: float) -> None:
        """Turn the dial of this band to `hz`, or to the end of the band."""
        self._look(lambda: self._looking.turn_dial(hz))

    def select(self, path: Path) -> None:
        """Select a place of the design; only stages and the rig's other parts are kept, not fields."""
        self._look(lambda: self._looking.select(self.current, path))

    def jump(self, path: Path, band: str | None = None) -> None:
        """Select a place, look at its band, and ask the window to focus its field."""
        if path[:1] == ("bands",) and len(path) > 1:
            band = str(path[1])
        if band and any(b.name == band for b in self.current.bands):
            self.look_at_band(band)
        self.select(path)
        self.jumped.emit(path)

    def _look(self, turn: Callable[[], None]) -> None:
        before = self.look
        turn()
        if self.look != before:
            self.changed.emit()


def _analysed(project: Project, former: "Analysis | None") -> "Analysis":
    """The analysis of a design: the former one if it is of this very design."""
    if former is not None and former.project is project:
        return former
    from core.rig.analysis import Analysis

    return Analysis(project)
