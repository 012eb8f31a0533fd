"""Opening and saving with the questions that go with it."""

from pathlib import Path

from PySide6.QtCore import QObject, Qt
from PySide6.QtWidgets import QApplication, QFileDialog, QMessageBox, QWidget

from app.recovery import Leftover
from app.settings import Settings
from app.workbench import Workbench
from core.model.errors import CopperError
from core.model.project import Project

#: Names from a file are never read as markup.
_PLAIN = Qt.TextFormat.PlainText
_FILTER = "Copperclad projects (*.json);;All files (*)"


class Documents(QObject):
    """The file commands. Nothing unsaved is lost without a question; a refused file changes nothing."""

    def __init__(self, bench: Workbench, settings: Settings, window: QWidget) -> None:
        super().__init__(window)
        self._bench, self._settings, self._window = bench, settings, window

    def open(self, file: Path | None = None) -> bool:
        """Open a file, or ask for one. False when the design on the bench stays."""
        if not self.may_leave():
            return False
        if file is None:
            name, _ = QFileDialog.getOpenFileName(self._window, "Open project", self._folder(), _FILTER)
            if not name:
                return False
            file = Path(name)
        try:
            self._bench.open(file)
        except CopperError as error:
            self.say("This file cannot be opened", str(error))
            self._settings.forget_file(file)
            return False
        self._settings.remember_file(file)
        return True

    def save(self) -> bool:
        """Save where the design came from; ask for a name when it came from nowhere."""
        take_typing()
        return self.save_as() if self._bench.file is None else self._save(self._bench.file)

    def save_as(self) -> bool:
        """Ask for a name and save."""
        take_typing()
        proposed = str(self._bench.file or Path(self._folder()) / f"{slug(self._bench.current.name)}.json")
        name, _ = QFileDialog.getSaveFileName(self._window, "Save project as", proposed, _FILTER)
        if not name:
            return False
        file = Path(name)
        return self._save(file if file.suffix else file.with_suffix(".json"))

    def start(self, project: Project) -> bool:
        """Put a new design on the bench, after the question about the old one."""
        if not self.may_leave():
            return False
        self._bench.start(project, saved=False)
        return True

    def may_leave(self) -> bool:
        """Ask what to do with unsaved changes. False: stay."""
        take_typing()
        if not self._bench.dirty:
            return True
        question = QMessageBox(self._window)
        question.setIcon(QMessageBox.Icon.Question)
        question.setWindowTitle("Unsaved changes")
        question.setText(f"“{self._bench.current.name}” has changes that are not in its file.")
        question.setTextFormat(_PLAIN)
        question.setInformativeText("Save them before going on?")
        save = question.addButton("Save", QMessageBox.ButtonRole.AcceptRole)
        drop = question.addButton("Give them up", QMessageBox.ButtonRole.DestructiveRole)
        stay = question.addButton("Stay here", QMessageBox.ButtonRole.RejectRole)
        question.setDefaultButton(save)
        question.setEscapeButton(stay)
        question.exec()
        if question.clickedButton() is save:
            return self.save()
        return question.clickedButton() is drop

    def recover(self, leftovers: tuple[Leftover, ...]) -> None:
        """Offer the unsaved work of sessions that ended badly."""
        for leftover in leftovers:
            try:
                project = leftover.load()
            except CopperError:
                leftover.discard()
                continue
            question = QMessageBox(self._window)
            question.setIcon(QMessageBox.Icon.Question)
            question.setWindowTitle("Unsaved work found")
            question.setTextFormat(_PLAIN)
            question.setText(f"“{project.name}” was not saved when the program last ended.")
            where = f" It belongs to {leftover.file}." if leftover.file else ""
            question.setInformativeText(f"Bring it back?{where}")
            take = question.addButton("Bring it back", QMessageBox.ButtonRole.AcceptRole)
            drop = question.addButton("Delete it", QMessageBox.ButtonRole.DestructiveRole)
            later = question.addButton("Ask again next time", QMessageBox.ButtonRole.RejectRole)
            question.setEscapeButton(later)
            question.exec()
            if question.clickedButton() is take and self.may_leave():
                self._bench.start(project, leftover.file, saved=False)
                leftover.discard()
                return
            if question.clickedButton() is drop:
                leftover.discard()

    def say(self, title: str, sentence: str) -> None:
        """Show one sentence that needs to be seen before going on."""
        box = QMessageBox(self._window)
        box.setIcon(QMessageBox.Icon.Warning)
        box.setWindowTitle(title)
        box.setTextFormat(_PLAIN)
        box.setText(sentence)
        box.exec()

    def ask_target(self, title: str, suffix: str, kinds: str) -> Path | None:
        """Ask where to write an export; the design's own name with `suffix` is proposed."""
        name = slug(self._bench.current.name)
        proposed = (self._bench.file or Path(self._folder()) / f"{name}.json").with_suffix(suffix)
        chosen, _ = QFileDialog.getSaveFileName(self._window, title, str(proposed), kinds)
        if not chosen:
            return None
        file = Path(chosen)
        return file if file.suffix else file.with_suffix(suffix)

    def _save(self, file: Path) -> bool:
        try:
            self._bench.save(file)
        except CopperError as error:
            self.say("The project was not saved", str(error))
            return False
        self._settings.remember_file(file)
        return True

    def _folder(self) -> str:
        if self._bench.file is not None:
            return str(self._bench.file.parent)
        recent = self._settings.recent
        return str(recent[0].parent if recent else Path.home())


def take_typing() -> None:
    """Give what is typed in the focused field to the design, before the design leaves."""
    commit = getattr(QApplication.focusWidget(), "commit", None)
    if commit is not None:
        commit()


def slug(name: str) -> str:
    """A name of the design as the name of a file."""
    words = "".join(c if c.isalnum() else "-" for c in name.lower()).split("-")
    return "-".join(word for word in words if word) or "rig"
