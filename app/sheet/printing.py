"""To the printer, and to Qt's print preview."""

from PySide6.QtCore import QCoreApplication, QEventLoop
from PySide6.QtPrintSupport import QPrintDialog, QPrinter, QPrintPreviewDialog
from PySide6.QtWidgets import QDialog, QWidget

from app.sheet.pages import WHOLE, Paper, Wanted, page_layout, paint, sheet_document
from app.state.dialogs import asked
from app.state.documents import slug
from core.model.project import Project


def let_live() -> None:
    """Let the window paint itself amid long work; what is typed or clicked waits for its end."""
    QCoreApplication.processEvents(QEventLoop.ProcessEventsFlag.ExcludeUserInputEvents)


def print_sheet(project: Project, paper: Paper, parent: QWidget | None = None, of: Wanted = WHOLE) -> bool:
    """Ask for a printer and print the sheet; False when the builder gave up."""
    printer = _printer(project, paper)
    if asked(QPrintDialog(printer, parent)) != QDialog.DialogCode.Accepted:
        return False
    print_on(project, printer, of)
    return True


def preview(project: Project, paper: Paper, parent: QWidget | None = None, of: Wanted = WHOLE) -> None:
    """Show the sheet in the print preview, from which it can be printed."""
    # The dialog does not own its printer: without a name here it would be gone before the first page.
    printer = _printer(project, paper)
    dialog = QPrintPreviewDialog(printer, parent)
    dialog.setWindowTitle("Build sheet")
    dialog.paintRequested.connect(lambda target: print_on(project, target, of))
    asked(dialog)


def print_on(project: Project, printer: QPrinter, of: Wanted = WHOLE) -> int:
    """Paint the sheet on a printer as it is set up; returns the number of pages."""
    letter = printer.pageLayout().pageSize().id() == page_layout("Letter").pageSize().id()
    paper: Paper = "Letter" if letter else "A4"
    document = sheet_document(project, paper, printer.resolution(), between=let_live, of=of)
    paint(document, printer, let_live)
    return document.pages


def _printer(project: Project, paper: Paper) -> QPrinter:
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    # Print to file proposes this as the file's name.
    printer.setDocName(slug(project.name))
    printer.setPageLayout(page_layout(paper))
    printer.setFullPage(True)
    return printer
