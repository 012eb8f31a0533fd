"""Opening and saving with the questions that go with it."""

from pathlib import Path

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QApplication, QFileDialog, QWidget

from app.photographs.beside import taken_along
from app.state.dialogs import Icon, Role, asked, box, choose
from app.state.recovery import Recovery
from app.state.settings import Settings
from app.state.workbench import Workbench
from core.model.project import Project
from core.model.values.errors import CopperError

_OTHER = "Save mine under another name…"
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
        take_typing(self._bench)
        return self.save_as() if self._bench.file is None else self._save(self._bench.file)

    def save_as(self) -> bool:
        """Ask for a name and save."""
        take_typing(self._bench)
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
        take_typing(self._bench)
        if not self._bench.dirty:
            return True
        text = f"“{self._bench.current.name}” has changes that are not in its file."
        question = box(self._window, "Unsaved changes", text, "Save them before going on?")
        answer = choose(
            question,
            (
                ("Save", Role.AcceptRole),
                ("Give them up", Role.DestructiveRole),
                ("Stay here", Role.RejectRole),
            ),
            escape="Stay here",
        )
        return self.save() if answer == "Save" else answer == "Give them up"

    def recover(self, recovery: Recovery) -> None:
        """Offer the unsaved work of sessions that ended badly."""
        for leftover in recovery.leftovers():
            try:
                project = leftover.load()
            except CopperError as error:
                kept = leftover.set_aside()
                text = f"A copy of unsaved work cannot be read; it is kept as {kept}. {error}"
                self.say("Unsaved work found", text)
                continue
            text = f"“{project.name}” was not saved when the program last ended."
            where = f" It belongs to {leftover.file}." if leftover.file else ""
            if leftover.host:
                where += f" The machine “{leftover.host}” may still be at work on it."
            answer = choose(
                box(self._window, "Unsaved work found", text, f"Bring it back?{where}"),
                (
                    ("Bring it back", Role.AcceptRole),
                    ("Delete it", Role.DestructiveRole),
                    ("Ask again next time", Role.RejectRole),
                ),
                escape="Ask again next time",
            )
            if answer == "Bring it back" and self.may_leave():
                self._bench.start(project, leftover.file, saved=False)
                recovery.adopt(leftover)
                return
            if answer == "Delete it":
                leftover.discard()

    def say(self, title: str, sentence: str) -> None:
        """Show one sentence that needs to be seen before going on."""
        asked(box(self._window, title, sentence, icon=Icon.Warning))

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
        if file == self._bench.file and self._bench.changed_outside():
            answer = self._ask_whose(file)
            if answer != "Keep mine":
                return self._take_theirs() if answer == "Open theirs" else answer == _OTHER and self.save_as()
        former = self._bench.file
        try:
            self._bench.save(file)
        except CopperError as error:
            self.say("The project was not saved", str(error))
            return False
        self._settings.remember_file(file)
        lacking = list(taken_along(self._bench.current, former, file))
        if lacking:
            self.say("Not every photograph came along", " ".join(lacking))
        return True

    def _ask_whose(self, file: Path) -> str:
        """Another window or program wrote the design's file: whose design is to be in it?"""
        text = f"{file.name} was changed by another window or program since it was read or saved here."
        more = (
            f"“Keep mine” keeps theirs as {file.name}.bak. "
            "“Open theirs” shows what the file holds now; one undo brings yours back."
        )
        return choose(
            box(self._window, "The file was changed", text, more, Icon.Warning),
            (
                (_OTHER, Role.AcceptRole),
                ("Keep mine", Role.DestructiveRole),
                ("Open theirs", Role.ActionRole),
                ("Stay here", Role.RejectRole),
            ),
            escape="Stay here",
        )

    def _take_theirs(self) -> bool:
        """Put what the file holds now on the bench; False, because what was to be saved is not."""
        try:
            self._bench.take_theirs()
        except CopperError as error:
            self.say("This file cannot be opened", str(error))
        return False

    def _folder(self) -> str:
        if self._bench.file is not None:
            return str(self._bench.folder)
        recent = self._settings.recent
        return str(recent[0].parent if recent else Path.home())


def take_typing(bench: Workbench) -> None:
    """Give what is being typed to the design, before the design leaves, is printed or compared."""
    commit = getattr(QApplication.focusWidget(), "commit", None)
    if commit is not None:
        commit()
    bench.settling.emit()


def slug(name: str) -> str:
    """A name of the design as the name of a file."""
    words = "".join(c if c.isalnum() else "-" for c in name.lower()).split("-")
    return "-".join(word for word in words if word) or "rig"
