"""A copy of unsaved work in the user's state folder, so that a crash or a power cut loses nothing."""

from dataclasses import dataclass
from pathlib import Path
from uuid import uuid4

from PySide6.QtCore import QLockFile, QObject, QStandardPaths, QTimer

from app.workbench import Workbench
from core.model import files
from core.model.errors import FileError
from core.model.project import Project

#: The copy is written when no edit came for so long, milliseconds.
PAUSE_MS = 2000


def state_folder() -> Path:
    """Where this user's programs keep such things."""
    place = QStandardPaths.StandardLocation
    return Path(QStandardPaths.writableLocation(place.AppLocalDataLocation)) / "recovery"


@dataclass(frozen=True, slots=True)
class Leftover:
    """Unsaved work of a session that did not end well, and the file it belonged to, if any."""

    copy: Path
    file: Path | None

    def load(self) -> Project:
        """The design; `FileError` when the copy cannot be read."""
        return files.load(self.copy)

    def discard(self) -> None:
        """Delete the copy."""
        for file in (self.copy, _note(self.copy), self.copy.with_suffix(".lock"), _backup(self.copy)):
            file.unlink(missing_ok=True)


class Recovery(QObject):
    """Writes unsaved work to a file of this session and removes it when the work is saved or given up.

    A lock file tells the copies of running sessions from those left over.
    """

    def __init__(self, bench: Workbench, folder: Path | None = None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._bench = bench
        self._folder = folder or state_folder()
        self._copy = self._folder / f"{uuid4().hex}.json"
        self._lock: QLockFile | None = None
        self._written: Project | None = None
        self._timer = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._timer.timeout.connect(self.write)
        bench.changed.connect(self._note_change)

    def leftovers(self) -> tuple[Leftover, ...]:
        """Copies of sessions that are gone."""
        found = []
        for copy in sorted(self._folder.glob("*.json")):
            lock = QLockFile(str(copy.with_suffix(".lock")))
            lock.setStaleLockTime(0)
            if copy == self._copy or not lock.tryLock(0):
                continue
            lock.unlock()
            note = _note(copy)
            name = note.read_text("utf-8").strip() if note.exists() else ""
            found.append(Leftover(copy, Path(name) if name else None))
        return tuple(found)

    def write(self) -> None:
        """Write the copy now, if there is unsaved work. A disk that refuses must not stop the work."""
        project = self._bench.current
        if not self._bench.dirty or project is self._written:
            return
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            if self._lock is None:
                self._lock = QLockFile(str(self._copy.with_suffix(".lock")))
                self._lock.setStaleLockTime(0)
                self._lock.tryLock(0)
            files.save(project, self._copy)
            _backup(self._copy).unlink(missing_ok=True)
            _note(self._copy).write_text(str(self._bench.file or ""), "utf-8")
        except (OSError, FileError):
            return
        self._written = project

    def close(self) -> None:
        """The session ended well: nothing is left over."""
        self._timer.stop()
        self._remove()
        if self._lock is not None:
            self._lock.unlock()
            self._lock = None

    def _note_change(self) -> None:
        if self._bench.dirty:
            if self._bench.current is not self._written:
                self._timer.start()
        else:
            self._timer.stop()
            self._remove()

    def _remove(self) -> None:
        if self._written is not None:
            self._written = None
            for file in (self._copy, _note(self._copy), _backup(self._copy)):
                file.unlink(missing_ok=True)


def _note(copy: Path) -> Path:
    return copy.with_suffix(".path")


def _backup(copy: Path) -> Path:
    return copy.with_name(copy.name + ".bak")
