"""What goes out of the program: the build sheet on paper or as PDF, the parts as CSV."""

import csv
from io import StringIO

from PySide6.QtCore import QObject, QSaveFile
from PySide6.QtWidgets import QWidget

from app.documents import Documents
from app.workbench import Workbench


class Outputs(QObject):
    """The print and export commands of the window."""

    def __init__(self, bench: Workbench, documents: Documents, window: QWidget) -> None:
        super().__init__(window)
        self._bench, self._documents, self._window = bench, documents, window

    def save_parts(self) -> None:
        """Write the parts of every filter as CSV."""
        file = self._documents.ask_target("Parts list as CSV", ".csv", "CSV (*.csv)")
        if file is None:
            return
        target = QSaveFile(str(file))
        done = target.open(QSaveFile.OpenModeFlag.WriteOnly)
        if done:
            target.write(parts_csv(self._bench).encode())
            done = target.commit()
        if not done:
            self._documents.say(
                "The parts list was not written",
                f"{file} cannot be written ({target.errorString()}); choose another folder.",
            )


def parts_csv(bench: Workbench) -> str:
    """One line a part, SI values, as the parts tables show them."""
    text = StringIO()
    lines = csv.writer(text)
    lines.writerow(("stage", "bands", "part", "kind", "designed", "preferred", "as built", "unit", "note"))
    for each in bench.analysis.parts:
        part = each.part
        lines.writerow(
            (
                each.stage,
                " ".join(each.bands),
                part.ref,
                part.kind,
                repr(part.designed),
                repr(part.preferred),
                "" if part.as_built is None else repr(part.as_built),
                part.unit,
                part.note,
            )
        )
    return text.getvalue()
