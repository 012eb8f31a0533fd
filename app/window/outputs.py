"""What goes out of the program: the build sheet on paper or as PDF, the parts as CSV."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QWidget

from app.state.documents import Documents, take_typing
from app.state.settings import Settings
from app.state.workbench import Workbench
from app.style import words
from core.model.disk import write_whole
from core.model.values.errors import FileError

if TYPE_CHECKING:
    from app.sheet.pages import Wanted


class Outputs(QObject):
    """The print and export commands of the window."""

    #: What happened, in a sentence.
    told = Signal(str)

    def __init__(self, bench: Workbench, documents: Documents, settings: Settings, window: QWidget) -> None:
        super().__init__(window)
        self._bench, self._documents, self._settings, self._window = bench, documents, settings, window

    # What prints and draws is imported when it is asked for: it is seldom wanted and slow to load.

    @property
    def _wanted(self) -> "Wanted":
        from app.sheet.choice import wanted

        return wanted(self._settings, self._bench.file)

    def print_sheet(self) -> None:
        """Ask for a printer and print the build sheet."""
        from app.sheet.printing import print_sheet

        take_typing(self._bench)
        print_sheet(self._bench.current, self._settings.paper, self._window, self._wanted)

    def preview_sheet(self) -> None:
        """Show the build sheet as the printer will print it."""
        from app.sheet.printing import preview

        take_typing(self._bench)
        preview(self._bench.current, self._settings.paper, self._window, self._wanted)

    def save_pdf(self) -> None:
        """Ask for a name and write the build sheet as PDF."""
        from app.sheet.pages import write_pdf
        from app.sheet.printing import let_live

        def write(file: Path) -> str:
            pages = write_pdf(self._bench.current, file, self._settings.paper, let_live, self._wanted)
            return words.counted(pages, "page")

        self._write("Build sheet as PDF", ".pdf", write, "The build sheet was not written")

    def save_parts(self) -> None:
        """Ask for a name and write the parts of the filters and the VFO as CSV."""
        from core.rig.paper.parts_list import parts_csv

        def write(file: Path) -> str:
            write_whole(file, parts_csv(self._bench.analysis).encode())
            return "Parts list"

        self._write("Parts list as CSV", ".csv", write, "The parts list was not written")

    def _write(self, title: str, suffix: str, write: Callable[[Path], str], failed: str) -> None:
        """Ask for a name, write what was asked for, and say what was written or why it was not."""
        take_typing(self._bench)
        file = self._documents.ask_target(title, suffix, f"{suffix[1:].upper()} (*{suffix})")
        if file is None:
            return
        try:
            written = write(file)
        except FileError as error:
            self._documents.say(failed, str(error))
        else:
            self.told.emit(f"{written} written to {file}")
