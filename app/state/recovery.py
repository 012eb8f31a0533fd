"""A copy of unsaved work in the user's state folder, so that a crash or a power cut loses little."""

import os
from pathlib import Path
from uuid import uuid4

from PySide6.QtCore import QLockFile, QObject, QSysInfo, QTimer, Signal

from app.state.mishaps import data_folder
from app.state.workbench import Workbench
from core.model import files
from core.model.disk import cause, read_regular, write_whole
from core.model.project import Project
from core.model.values.errors import FileError
from core.record import record

#: The copy is written when no edit came for so long, milliseconds ...
PAUSE_MS = 2000
#: ... and amid edits without a pause this long after the first that it lacks, milliseconds.
LONGEST_MS = 8000
#: No system names a file with more bytes than this.
_LONGEST_PATH = 65_536


def state_folder() -> Path:
    """Where this user's programs keep such things."""
    return data_folder() / "recovery"


@record
class Leftover:
    """Unsaved work of a session that did not end well.

    `file` is the file it belonged to, if any; `host` the machine that says it is still at work on it, which
    cannot be asked from here.
    """

    copy: Path
    file: Path | None
    host: str = ""

    def load(self) -> Project:
        """The design; `FileError` when the copy cannot be read."""
        return files.load(self.copy)

    def set_aside(self) -> Path:
        """Keep a copy that cannot be read where no session offers it again; returns where it is now."""
        aside = self.copy.with_name(f"{self.copy.name}.unreadable")
        try:
            self.copy.rename(aside)
        except OSError:
            return self.copy
        for file in _companions(self.copy):
            _remove(file)
        return aside

    def discard(self) -> None:
        """Delete the copy and everything that belongs to it."""
        for file in (self.copy, *_companions(self.copy)):
            _remove(file)


class Recovery(QObject):
    """Writes unsaved work to a file of this session and removes it when the work is saved or given up.

    A lock file tells the copies of running sessions from those left over.
    """

    #: The copy cannot be written; one sentence, once until it can be written again.
    told = Signal(str)

    def __init__(self, bench: Workbench, folder: Path | None = None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._bench = bench
        self._folder = folder or state_folder()
        self._copy = self._folder / f"{uuid4().hex}.json"
        self._lock: QLockFile | None = None
        self._written: Project | None = None
        self._adopted: list[Leftover] = []
        self._refused = False
        self._rest = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._longest = QTimer(self, singleShot=True, interval=LONGEST_MS)
        for timer in (self._rest, self._longest):
            timer.timeout.connect(self.write)
        bench.changed.connect(self._note_change)

    def leftovers(self) -> tuple[Leftover, ...]:
        """Copies of sessions that are gone, whatever became of their lock files."""
        found = []
        for copy in sorted(self._folder.glob("*.json")):
            host = None if copy == self._copy else _stranger(copy.with_suffix(".lock"))
            if host is not None:
                found.append(Leftover(copy, _noted(_note(copy)), host))
        return tuple(found)

    def adopt(self, leftover: Leftover) -> None:
        """The work left over is on the bench now: its copy stays until this session has written its own."""
        self._adopted.append(leftover)
        self.write()

    def write(self) -> None:
        """Write the copy now, if there is unsaved work. A disk that refuses must not stop the work."""
        self._rest.stop()
        self._longest.stop()
        project = self._bench.current
        if not self._bench.dirty or project is self._written:
            return
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            if self._lock is None:
                self._lock = QLockFile(str(self._copy.with_suffix(".lock")))
                self._lock.setStaleLockTime(0)
                self._lock.tryLock(0)
            write_whole(self._copy, files.dumps(project).encode(), over_project=True)
            file = self._bench.file
            _note(self._copy).write_bytes(os.fsencode(file.absolute()) if file else b"")
        except (OSError, FileError) as error:
            self._refuse(error)
            return
        self._written, self._refused = project, False
        self._discard_adopted()

    def close(self) -> None:
        """The session ended well: nothing is left over."""
        self._forget()
        if self._lock is not None:
            self._lock.unlock()
            self._lock = None

    def _note_change(self) -> None:
        if not self._bench.dirty:
            self._forget()
        elif self._bench.current is not self._written:
            self._rest.start()
            if not self._longest.isActive():
                self._longest.start()

    def _forget(self) -> None:
        """The work is in its file or given up."""
        self._rest.stop()
        self._longest.stop()
        self._discard_adopted()
        if self._written is not None:
            self._written = None
            for file in (self._copy, _note(self._copy)):
                _remove(file)

    def _discard_adopted(self) -> None:
        for leftover in self._adopted:
            leftover.discard()
        self._adopted.clear()

    def _refuse(self, error: Exception) -> None:
        if not self._refused:
            self._refused = True
            self.told.emit(
                f"No copy of unsaved work can be kept in {self._folder} ({cause(error)}); "
                "save often, or make room there."
            )


def _stranger(lock_file: Path) -> str | None:
    """None when a session of this machine holds the lock; else the other machine that says it does, or "".

    A lock that a power cut left empty or that names nobody holds nothing.
    """
    lock = QLockFile(str(lock_file))
    lock.setStaleLockTime(0)
    if lock.tryLock(0):
        lock.unlock()
        return ""
    if lock.error() != QLockFile.LockError.LockFailedError:
        return ""
    pid, host, _ = lock.getLockInfo()
    if pid and host == QSysInfo.machineHostName():
        return None
    return host if pid else ""


def _note(copy: Path) -> Path:
    """The file that says which project a copy belongs to."""
    return copy.with_suffix(".path")


def _noted(note: Path) -> Path | None:
    """The project a note names; None when it names none or is damaged."""
    try:
        name = os.fsdecode(read_regular(note, _LONGEST_PATH, "a note"))
    except (FileError, UnicodeDecodeError):
        return None
    return Path(name) if "\0" not in name and Path(name).is_absolute() else None


def _companions(copy: Path) -> tuple[Path, ...]:
    """What may lie beside a copy: note, lock, an earlier version, and what a kill amid writing left."""
    beside = (_note(copy), copy.with_suffix(".lock"), copy.with_name(f"{copy.name}.bak"))
    return (*beside, *copy.parent.glob(f".{copy.name}.*.tmp"))


def _remove(file: Path) -> None:
    try:
        file.unlink(missing_ok=True)
    except OSError:
        return  # In a folder that lets nothing be removed it is offered again, which loses nothing.
