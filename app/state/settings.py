"""What the program remembers between sessions; nothing of a design."""

import os
from pathlib import Path
from typing import Literal

from PySide6.QtCore import QByteArray, QLocale, QSettings, QStandardPaths

from core.model.disk import read_regular
from core.model.values.errors import FileError

ThemeChoice = Literal["system", "light", "dark"]
THEME_CHOICES: tuple[ThemeChoice, ...] = ("system", "light", "dark")
Paper = Literal["A4", "Letter"]
PAPERS: tuple[Paper, ...] = ("A4", "Letter")
#: Files in the menu of recent ones.
RECENT_LIMIT = 8
#: Settings are a few hundred bytes.
_LARGEST_BYTES = 1_000_000


class Settings:
    """Theme, recent files and geometry, kept by Qt where the system keeps such things."""

    def __init__(self, file: Path | None = None) -> None:
        """`file` keeps the settings in an INI file of one's own, as tests do."""
        self._store: QSettings | _Forgetful
        if not _readable(file or _usual_file()):
            self._store = _Forgetful()
        elif file:
            self._store = QSettings(str(file), QSettings.Format.IniFormat)
        else:
            self._store = QSettings("Copperclad", "Copperclad")

    @property
    def theme(self) -> ThemeChoice:
        """Light, dark, or as the system has it."""
        kept = self._store.value("theme", "system")
        return next((choice for choice in THEME_CHOICES if choice == kept), "system")

    @theme.setter
    def theme(self, choice: ThemeChoice) -> None:
        self._store.setValue("theme", choice)

    @property
    def paper(self) -> Paper:
        """The paper that sheets are laid out for; what is customary in the user's country at first."""
        metric = QLocale.system().measurementSystem() != QLocale.MeasurementSystem.ImperialUSSystem
        kept = self._store.value("paper", "A4" if metric else "Letter")
        return next((paper for paper in PAPERS if paper == kept), "A4")

    @paper.setter
    def paper(self, choice: Paper) -> None:
        self._store.setValue("paper", choice)

    @property
    def left_off_sheet(self) -> tuple[str, ...]:
        """The groups of sections that are left off the build sheet; none at first."""
        kept = self._store.value("left_off_sheet", [])
        words = kept if isinstance(kept, list) else [kept]
        return tuple(word for word in words if isinstance(word, str) and word)

    @left_off_sheet.setter
    def left_off_sheet(self, groups: tuple[str, ...]) -> None:
        self._store.setValue("left_off_sheet", list(groups))

    @property
    def recent(self) -> tuple[Path, ...]:
        """Files opened or saved lately, the latest first."""
        kept = self._store.value("recent", [])
        names = kept if isinstance(kept, list) else [kept]
        return tuple(Path(name) for name in names if isinstance(name, str) and name)

    def remember_file(self, file: Path) -> None:
        """Put a file on top of the recent ones."""
        file = file.absolute()
        names = [file, *(other for other in self.recent if other != file)]
        self._store.setValue("recent", [str(name) for name in names[:RECENT_LIMIT]])

    def forget_file(self, file: Path) -> None:
        """Take a file off the recent ones, because it is gone."""
        self._store.setValue("recent", [str(other) for other in self.recent if other != file.absolute()])

    def remember_layout(self, name: str, state: QByteArray) -> None:
        """Keep the geometry of a window or the state of a splitter."""
        self._store.setValue(f"layout/{name}", state)

    def layout(self, name: str) -> QByteArray | None:
        """A kept geometry or state."""
        kept = self._store.value(f"layout/{name}")
        return kept if isinstance(kept, QByteArray) else None


class _Forgetful(dict[str, object]):
    """What stands for the settings where their file is none: remembered until the program ends."""

    value = dict.get

    def setValue(self, name: str, value: object) -> None:
        self[name] = value


def _readable(file: Path) -> bool:
    """Whether settings can be read from a file, or made where there is none. Qt would wait at a pipe."""
    try:
        read_regular(file, _LARGEST_BYTES, "a file of settings")
    except FileError:
        return not os.path.lexists(file)
    return True


def _usual_file() -> Path:
    """Where Qt keeps the settings, on systems where that is a file."""
    place = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.GenericConfigLocation)
    return Path(place) / "Copperclad" / "Copperclad.conf"
