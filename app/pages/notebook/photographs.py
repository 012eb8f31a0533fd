"""Photographs of the rig, beside its file."""

from datetime import datetime
from pathlib import Path

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QImage, QPixmap, QResizeEvent
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QPushButton, QVBoxLayout

from app.photographs.beside import put
from app.photographs.pictures import image_of, prepared
from app.state.workbench import Workbench
from app.style.plain import Text
from app.widgets.choice_box import ChoiceBox
from app.widgets.drawn import Drawn
from app.widgets.flow_row import FlowRow
from app.widgets.typed_table import TypedLine, TypedTable
from app.widgets.view import View
from core.model.notebook.bench_log import Photograph
from core.model.project import Project
from core.model.values.errors import CopperError, FileError
from core.record import record

_PHOTOGRAPHS = ("photographs",)
_HEADS = ("Photograph", "Of", "Date", "Caption")
_HELP = ("Its file", "The stage that it shows", "Day and time", "What it shows")
_DATE, _CAPTION = 2, 3


def now() -> str:
    """Day and time, as what is noted is dated."""
    return f"{datetime.now():%Y-%m-%d %H:%M}"


@record
class PhotographsPicture:
    """The photographs of a design in a file, with the names of its stages."""

    photographs: tuple[Photograph, ...]
    names: tuple[tuple[str, str], ...]
    file: Path | None


class PhotographsView(Drawn[PhotographsPicture], View):
    """The list, and the one that is looked at."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__()
        self._bench = bench
        self._image: QImage | None = None
        self.table = TypedTable("Photographs", self._give)
        self.table.setMinimumHeight(90)
        self.table.picked.connect(self._show_present)
        self.table.removed.connect(self._remove)
        self.picture_label = Text()
        self.picture_label.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.picture_label.setWordWrap(True)
        self.picture_label.setMinimumSize(QSize(160, 140))
        self.bring = QPushButton("Add a photograph…")
        self.bring.setToolTip("JPEG or PNG; a copy lies in a folder beside the project's file")
        self.bring.clicked.connect(self._bring)
        self.take_out = QPushButton("Remove")
        self.take_out.setToolTip("Takes it out of the log; the file stays in the folder")
        self.take_out.clicked.connect(lambda: self._remove(self.table.row))
        self.of = ChoiceBox(least=12)
        self.of.setAccessibleName("Stage that the photograph shows")
        self.of.activated.connect(lambda n: self._edit("stage", self.of.itemData(n)))
        self.told = Text()
        self.told.setWordWrap(True)
        self.told.setVisible(False)
        buttons = FlowRow(spacing=6)
        for part in (self.bring, self.of, self.take_out):
            buttons.add(part)
        row = QHBoxLayout()
        row.addWidget(self.table, 1)
        row.addWidget(self.picture_label, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(row, 1)
        column.addWidget(self.told)
        column.addWidget(buttons)

    def refresh(self, bench: Workbench) -> None:
        names = tuple((stage.id, stage.name) for stage in bench.current.stages)
        self.show_picture(PhotographsPicture(bench.current.photographs, names, bench.file))

    def draw(self, picture: PhotographsPicture) -> None:
        names = dict(picture.names)
        lines = [
            TypedLine(
                (n, each.name),
                (each.name, names.get(each.stage, "the rig"), each.date, each.caption),
                frozenset({_DATE, _CAPTION}),
            )
            for n, each in enumerate(picture.photographs)
        ]
        self.table.show_lines(_HEADS, _HELP, lines)
        wanted = [("", "the rig"), *picture.names]
        if [(self.of.itemData(n), self.of.itemText(n)) for n in range(self.of.count())] != wanted:
            self.of.clear()
            for key, name in wanted:
                self.of.addItem(name, key)
        if self.table.row is None and lines:
            self.table.pick(len(lines) - 1)
        self._show_present()

    def restyle(self) -> None:
        self.table.restyle()

    @property
    def present(self) -> Photograph | None:
        """The photograph that is looked at."""
        row, all_ = self.table.row, self._bench.current.photographs
        return all_[row] if row is not None and row < len(all_) else None

    def _show_present(self) -> None:
        present = self.present
        self.take_out.setEnabled(present is not None)
        self.of.setEnabled(present is not None)
        self._image = None
        if present is None:
            self.picture_label.setText("No photograph yet.")
            return
        self.of.setCurrentIndex(max(self.of.findData(present.stage), 0))
        try:
            self._image = image_of(present, self._bench.file)
        except FileError as error:
            self.picture_label.setText(str(error))
            return
        self._fit()

    def _fit(self) -> None:
        if self._image is not None:
            room = self.picture_label.size()
            kept, smooth = Qt.AspectRatioMode.KeepAspectRatio, Qt.TransformationMode.SmoothTransformation
            self.picture_label.setPixmap(QPixmap.fromImage(self._image.scaled(room, kept, smooth)))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    # -- what the builder does ---------------------------------------------------------------------------

    def _bring(self) -> None:
        file = self._bench.file
        if file is None:
            self._tell("Save the design first: photographs lie beside its file.")
            return
        names, _ = QFileDialog.getOpenFileNames(
            self, "Photographs", str(file.parent), "Photographs (*.jpg *.jpeg *.png);;All files (*)"
        )
        lacking = []
        for name in names:
            try:
                self._take(Path(name), file)
            except CopperError as error:
                lacking.append(str(error))
        if names:
            self._tell(" ".join(lacking))

    def _take(self, source: Path, file: Path) -> None:
        suffix, content = prepared(source)
        name, digest = put(file, source.name, suffix, content)
        photograph = Photograph.checked(name=name, digest=digest, date=now())

        def made(project: Project) -> Project:
            return project.edited(_PHOTOGRAPHS, (*project.photographs, photograph))

        self._bench.change(made, label=f"photograph {name}")

    def _give(self, row: int, column: int, text: str) -> str | None:
        field = {_DATE: "date", _CAPTION: "caption"}[column]
        return self._bench.edit((*_PHOTOGRAPHS, row, field), text)

    def _edit(self, field: str, value: str) -> None:
        row = self.table.row
        if row is not None:
            self._bench.edit((*_PHOTOGRAPHS, row, field), value)

    def _remove(self, row: int | None) -> None:
        if row is not None and row < len(self._bench.current.photographs):
            self._bench.change(
                lambda project: project.edited(
                    _PHOTOGRAPHS, (*project.photographs[:row], *project.photographs[row + 1 :])
                ),
                label="taking out a photograph",
            )

    def _tell(self, text: str) -> None:
        self.told.setText(text)
        self.told.setVisible(bool(text))
