"""The workbench: the only object of the program that changes."""

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Signal

from core.model.bands import Band
from core.model.base import Model, Path
from core.model.errors import CopperError, DesignError
from core.model.project import Project, Stage
from core.model.stage import Way

if TYPE_CHECKING:
    from core.rig.analysis import Analysis

#: Steps of undo that are kept. A step shares all untouched parts with its neighbours: about 2 kB.
UNDO_LIMIT = 500


@dataclass(frozen=True, slots=True)
class _Step:
    """A design that an edit replaced, and what the edit was called."""

    project: Project
    label: str


class Workbench(QObject):
    """The present design, its history, the held design and its file; and what of it is looked at.

    The design changes by `edit` and the structural edits only. An edit that gives no valid design is
    refused: the design stays, the reason is returned and sent with `refused`. What is looked at (band,
    direction, dial, selection) is not part of the design and not undone.
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
        self._current = project or Project()
        self._saved: Project | None = self._current
        self._undo: list[_Step] = []
        self._redo: list[_Step] = []
        self._gesture: Hashable | None = None
        self._held: Project | None = None
        self._file: FilePath | None = None
        self._found: str | None = None
        self._analysis: Analysis | None = None
        self._held_analysis: Analysis | None = None
        self._way: Way = "receive"
        self._band = self._current.bands[0].name
        self._dials: dict[str, float] = {}
        self._selection: Path = ()

    # The design

    @property
    def current(self) -> Project:
        """The present design."""
        return self._current

    @property
    def analysis(self) -> "Analysis":
        """Everything computed about the present design, each figure when somebody first asks."""
        if self._analysis is None or self._analysis.project is not self._current:
            self._analysis = _analysis_of(self._current)
        return self._analysis

    @property
    def held(self) -> Project | None:
        """The design kept for comparison, if any."""
        return self._held

    @property
    def held_analysis(self) -> "Analysis | None":
        """Everything computed about the held design; None when none is held."""
        if self._held is None:
            self._held_analysis = None
        elif self._held_analysis is None or self._held_analysis.project is not self._held:
            self._held_analysis = _analysis_of(self._held)
        return self._held_analysis

    @property
    def file(self) -> FilePath | None:
        """Where the design was opened from or saved to."""
        return self._file

    @property
    def dirty(self) -> bool:
        """Whether the present design differs from the one in the file."""
        return self._current is not self._saved and self._current != self._saved

    def edit(self, path: Path, value: Any, gesture: Hashable | None = None) -> str | None:
        """Put `value` at `path`. Returns None, or the reason why the design stays as it was.

        Consecutive edits with the same `gesture` (a slider from press to release, a digit stepped
        again and again) are one step of undo.
        """
        return self.change(
            lambda project: project.edited(path, value), label=title_of(self._current, path), gesture=gesture
        )

    def change(
        self, edit: Callable[[Project], Project], *, label: str, gesture: Hashable | None = None
    ) -> str | None:
        """Replace the design by `edit` of it, as one step of undo called `label`; see `edit`."""
        try:
            new = edit(self._current)
        except CopperError as error:
            self.refused.emit(str(error))
            return str(error)
        if new == self._current:
            return None
        if gesture is None or gesture != self._gesture:
            self._undo.append(_Step(self._current, label))
            del self._undo[:-UNDO_LIMIT]
        self._gesture = gesture
        self._redo.clear()
        self._show(new)
        return None

    def end_gesture(self) -> None:
        """The next edit begins a new step of undo, whatever its gesture."""
        self._gesture = None

    # Structural edits

    def insert_stage(self, position: int, stage: Stage) -> str | None:
        """Put a stage at `position` of the project's stages and select it."""
        key = self._current.free_key(stage.id)
        reason = self.change(lambda p: p.stage_inserted(position, stage), label=f"new {stage.name}")
        if reason is None:
            self.select(("stages", key))
        return reason

    def remove_stage(self, id: str) -> str | None:
        """Take a stage out of the design and select its neighbour."""
        shown = [stage.id for stage in self.shown_stages()]
        place = shown.index(id) if id in shown else -1
        selected = self._selection[:2] == ("stages", id)
        reason = self.change(lambda p: p.stage_removed(id), label=f"removing {self._name(id)}")
        if reason is None and selected:
            shown = [stage.id for stage in self.shown_stages()]
            self.select(("stages", shown[min(place, len(shown) - 1)]) if shown and place >= 0 else ())
        return reason

    def duplicate_stage(self, id: str) -> str | None:
        """Put a copy of a stage behind it and select the copy."""
        key = self._current.free_key(id)
        reason = self.change(lambda p: p.stage_duplicated(id), label=f"copying {self._name(id)}")
        if reason is None:
            self.select(("stages", key))
        return reason

    def switch_stage(self, id: str) -> str | None:
        """Take a stage out of the signal path or put it back; it keeps its settings."""
        return self.edit(("stages", id, "in_path"), not self._current.stage(id).in_path)

    def move_stage(self, id: str, gap: int) -> str | None:
        """Move a stage to a gap between the shown stages: gap 0 is before the first in signal order.

        Stages of the other direction keep their places.
        """
        shown = [stage.id for stage in self.shown_stages()]
        here = shown.index(id)
        if gap in (here, here + 1):
            return None
        before, after = shown[:gap], shown[gap:]
        neighbour, behind = (before[-1], True) if before else (after[0], False)
        if self._way == "transmit":
            behind = not behind
        others = [stage.id for stage in self._current.stages if stage.id != id]
        position = others.index(neighbour) + behind
        return self.change(lambda p: p.stage_moved(id, position), label=f"moving {self._name(id)}")

    def position_of_gap(self, gap: int) -> int:
        """The position in the project's stages of a gap between the shown stages."""
        shown = [stage.id for stage in self.shown_stages()]
        keys = [stage.id for stage in self._current.stages]
        receive = self._way == "receive"
        if gap > 0:
            return keys.index(shown[gap - 1]) + receive
        return keys.index(shown[0]) + (not receive) if shown else len(keys)

    def shown_stages(self) -> tuple[Stage, ...]:
        """Stages that belong to the direction looked at, in signal order, those switched out included."""
        shown = tuple(s for s in self._current.stages if s.direction in (self._way, "both"))
        return shown if self._way == "receive" else shown[::-1]

    def _name(self, id: str) -> str:
        return next((stage.name for stage in self._current.stages if stage.id == id), id)

    # History

    @property
    def undo_label(self) -> str | None:
        """What undo would take back; None when there is nothing."""
        return self._undo[-1].label if self._undo else None

    @property
    def redo_label(self) -> str | None:
        """What redo would bring back; None when there is nothing."""
        return self._redo[-1].label if self._redo else None

    def undo(self) -> None:
        """Go back one step."""
        self._travel(self._undo, self._redo)

    def redo(self) -> None:
        """Go forward one step."""
        self._travel(self._redo, self._undo)

    def _travel(self, source: list[_Step], target: list[_Step]) -> None:
        self.settling.emit()
        if not source:
            return
        step = source.pop()
        target.append(_Step(self._current, step.label))
        self._gesture = None
        self._show(step.project)

    def hold(self) -> None:
        """Keep the present design for comparison."""
        self.settling.emit()
        self._held = self._current
        self.changed.emit()

    def clear_hold(self) -> None:
        """Forget the held design."""
        self._held = None
        self.changed.emit()

    # Files

    def start(self, project: Project, file: FilePath | None = None, *, saved: bool = True) -> None:
        """Put another design on the bench; its history begins here. Not `saved`: it has no file yet."""
        # What waits belongs to the design that goes.
        self.settling.emit()
        self._undo.clear()
        self._redo.clear()
        self._gesture = None
        self._held = None
        self._file = file
        self._found = _fingerprint(file)
        self._saved = project if saved else None
        self._dials.clear()
        self._selection = ()
        self._band = project.bands[0].name
        self._show(project)

    def open(self, file: FilePath) -> None:
        """Open a project file; `FileError` leaves everything as it was."""
        from core.model import files

        found = files.fingerprint(file)
        self.start(files.load(file), file)
        # Of before it was read: a change between the two is one more question, never one too few.
        self._found = found

    def save(self, file: FilePath | None = None) -> None:
        """Save to `file`, or where the design came from; `FileError` leaves the old file whole."""
        from core.model import files

        self.settling.emit()
        target = file or self._file
        if target is None:
            raise ValueError("A design without a file needs a name to be saved under.")
        files.save(self._current, target)
        self._file = target
        self._found = files.fingerprint(target)
        self._saved = self._current
        self.changed.emit()

    def changed_outside(self) -> bool:
        """Whether the design's file holds something else than it did when it was read or written here."""
        now = _fingerprint(self._file)
        return now is not None and now != self._found

    def take_theirs(self) -> None:
        """Take what the file holds now, as one step of undo; `FileError` changes nothing."""
        from core.model import files

        if self._file is None:
            return
        found, theirs = files.fingerprint(self._file), files.load(self._file)
        self.change(lambda _: theirs, label="taking what the file holds now")
        self._found, self._saved = found, theirs
        self.changed.emit()

    # What is looked at

    @property
    def band_name(self) -> str:
        """Name of the band looked at."""
        return self._band

    @property
    def band(self) -> Band:
        """The band looked at."""
        return self._current.band(self._band)

    @property
    def way(self) -> Way:
        """Direction looked at."""
        return self._way

    @property
    def dial_hz(self) -> float:
        """Where the dial stands on this band [Hz]; each band remembers its own."""
        band = self.band
        return min(max(self._dials.get(band.name, _middle(band)), band.low_hz), band.high_hz)

    @property
    def selection(self) -> Path:
        """What is selected: `("stages", key)`, `("vfo",)`, ...; empty for the rig as a whole."""
        return self._selection

    @property
    def selected_stage(self) -> Stage | None:
        """The selected stage, if a stage is selected."""
        if self._selection[:1] != ("stages",):
            return None
        return self._current.stage(str(self._selection[1]))

    def look_at_band(self, name: str) -> None:
        """Look at another band; `DesignError` when there is none of that name."""
        self._current.band(name)
        if name != self._band:
            self._band = name
            self.changed.emit()

    def look_at_way(self, way: Way) -> None:
        """Look at receive or transmit."""
        if way != self._way:
            self._way = way
            self.changed.emit()

    def turn_dial(self, hz: float) -> None:
        """Turn the dial of this band to `hz`, or to the end of the band."""
        before = self.dial_hz
        self._dials[self._band] = hz
        if self.dial_hz != before:
            self.changed.emit()

    def select(self, path: Path) -> None:
        """Select a place of the design; only stages and the rig's other parts are kept, not fields."""
        selection = self._selectable(path)
        if selection != self._selection:
            self._selection = selection
            stage = self.selected_stage
            if stage is not None and stage.direction not in (self._way, "both"):
                self._way = "transmit" if stage.direction == "transmit" else "receive"
            self.changed.emit()

    def jump(self, path: Path, band: str | None = None) -> None:
        """Select a place, look at its band, and ask the window to focus its field."""
        if path[:1] == ("bands",) and len(path) > 1:
            band = str(path[1])
        if band and any(b.name == band for b in self._current.bands):
            self.look_at_band(band)
        self.select(path)
        self.jumped.emit(path)

    def _selectable(self, path: Path) -> Path:
        if path[:1] == ("stages",) and len(path) > 1:
            try:
                return ("stages", self._current.at(path[:2]).id)
            except DesignError:
                return ()
        if path[:1] in (("vfo",), ("carrier",), ("station",), ("speaker",), ("microphone",)):
            return path[:1]
        return ()

    def _show(self, project: Project) -> None:
        old, self._current = self._current, project
        if all(band.name != self._band for band in project.bands):
            # A renamed band stays the one looked at.
            names = [band.name for band in old.bands]
            place = names.index(self._band) if self._band in names else 0
            renamed = project.bands[min(place, len(project.bands) - 1)].name
            if self._band in self._dials:
                self._dials[renamed] = self._dials[self._band]
            self._band = renamed
        self._selection = self._selectable(self._selection)
        self.changed.emit()


def title_of(project: Project, path: Path) -> str:
    """What a place is called: the field's title, behind the name of the stage or band it belongs to."""
    owner = title = ""
    value: Any = project
    for depth, step in enumerate(path):
        field = type(value).model_fields.get(str(step)) if isinstance(value, Model) else None
        if field is not None:
            title = field.title or str(step)
        try:
            value = project.at(path[: depth + 1])
        except DesignError:
            break
        if isinstance(value, Model):
            owner = getattr(value, "name", "") or (title if field is not None else owner)
    if not owner or owner == title:
        return title
    return f"{owner}: {title[:1].lower()}{title[1:]}" if title[1:2].islower() else f"{owner}: {title}"


def _middle(band: Band) -> float:
    """A round dial frequency [Hz] near the middle of the band, where the dial stands at first."""
    step = 1e3 if band.high_hz - band.low_hz > 4e3 else 1.0
    return round(band.centre_hz / step) * step


def _fingerprint(file: FilePath | None) -> str | None:
    from core.model import files

    return None if file is None else files.fingerprint(file)


def _analysis_of(project: Project) -> "Analysis":
    from core.rig.analysis import Analysis

    return Analysis(project)
