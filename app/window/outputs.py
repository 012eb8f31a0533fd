"""What goes out of the program: the build sheet on paper or as PDF, the parts as CSV."""

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QWidget

from app.state.documents import Documents, take_typing
from app.state.settings import Settings
from app.state.workbench import Workbench
from app.style import words
from core.model.disk import write_whole
from core.model.values.errors import FileError


class Outputs(QObject):
    """The print and export commands of the window."""

    #: What happened, in a sentence.
    told = Signal(str)

    def __init__(self, bench: Workbench, documents: Documents, settings: Settings, window: QWidget) -> None:
        super().__init__(window)
        self._bench, self._documents, self._settings, self._window = bench, documents, settings, window

    # What prints and draws is imported when it is asked for: it is seldom wanted and slow to load.

    def print_sheet(self) -> None:
        """Ask for a printer and print the build sheet."""
        from app.sheet.printing import print_sheet

        take_typing(self._bench)
        print_sheet(self._bench.current, self._settings.paper, self._window)

    def preview_sheet(self) -> None:
        """Show the build sheet as the printer will print it."""
        from app.sheet.printing import preview

        take_typing(self._bench)
        preview(self._bench.current, self._settings.paper, self._window)

    def save_pdf(self) -> None:
        """Ask for a name and write the build sheet as PDF."""
        from app.sheet.pages import write_pdf

        take_typing(self._bench)
        file = self._documents.ask_target("Build sheet as PDF", ".pdf", "PDF (*.pdf)")
        if file is None:
            return
        try:
            pages = write_pdf(self._bench.current, file, self._settings.paper)
        except FileError as error:
            self._documents.say("The build sheet was not written", str(error))
        else:
            self.told.emit(f"{words.counted(pages, 'page')} written to {file}")

    def save_parts(self) -> None:
        """Ask for a name and write the parts of the filters and the VFO as CSV."""
        from core.rig.paper.parts_list import parts_csv

        take_typing(self._bench)
        file = self._documents.ask_target("Parts list as CSV", ".csv", "CSV (*.csv)")
        if file is None:
            return
        try:
            write_whole(file, parts_csv(self._bench.analysis).encode())
        except FileError as error:
            self._documents.say("The parts list was not written", str(error))
        else:
            self.told.emit(f"Parts list written to {file}")
