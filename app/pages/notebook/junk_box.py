"""Junk box: the parts on hand, typed in a table or brought from one, and whether they come first."""

from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtWidgets import QCheckBox, QFileDialog, QMenu, QPushButton, QVBoxLayout

from app.pages.notebook.own_list import keep_own, own_file, read_own, read_parts, write_parts
from app.pictures.bench.junk_box import COLUMN_OF, HEADS, HELP, JunkBoxPicture, picture_of
from app.plots.base import Card
from app.state.workbench import Workbench
from app.style.plain import Text
from app.widgets.drawn import Drawn
from app.widgets.flow_row import FlowRow
from app.widgets.typed_table import TypedLine, TypedTable
from app.widgets.view import View
from core.model.notebook.junk_box import KINDS, JunkBox, OnHand, PartOnHand
from core.model.notebook.junk_box_table import COLUMNS, ReadTable, cells_of, merged, part_of
from core.model.values.errors import CopperError, DesignError, FileError

_PARTS = ("junk_box", "parts")
#: Problems of a table that are told one by one.
_MOST_TOLD = 6


class JunkBoxPage(Drawn[JunkBoxPicture], View):
    """The table of counted parts with what is done to it."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__()
        self._bench = bench
        self.first = QCheckBox("Junk box first")
        self.first.setToolTip(JunkBox.model_fields["first"].description or "")
        self.first.clicked.connect(self._switch)
        self.table = TypedTable("Parts on hand", self._give)
        self.table.removed.connect(self._remove_row)
        self.table.told.connect(self._tell)
        self.table.picked.connect(self._show_present)
        self.summary = Text()
        self.summary.setWordWrap(True)
        self.summary.setProperty("look", "soft")
        self.told = Text()
        self.told.setWordWrap(True)
        self.told.setVisible(False)
        self.add = QPushButton("Add")
        kinds = QMenu(self.add)
        for kind in KINDS:
            kinds.addAction(kind.spelled.capitalize(), partial(self._add, kind))
        self.add.setMenu(kinds)
        self.remove = QPushButton("Remove")
        self.remove.setToolTip("Takes the line out of the list; Delete in the table does the same")
        self.remove.clicked.connect(lambda: self._remove_row(self.table.row))
        self.bring = QPushButton("Import CSV…")
        self.bring.setToolTip(
            "Adds the parts of a table; what is in the list already gets the count that it has there. "
            f"Its first row names the columns {', '.join(COLUMNS)}"
        )
        self.bring.clicked.connect(self._import)
        self.send = QPushButton("Export CSV…")
        self.send.clicked.connect(self._export)
        self.take_own = QPushButton("Take my own list")
        self.take_own.setToolTip(f"Adds the parts that were kept as your own, from {own_file()}")
        self.take_own.clicked.connect(self._take_own)
        self.keep_own = QPushButton("Keep as my own list")
        self.keep_own.setToolTip("Makes this list your own, which new rigs begin with")
        self.keep_own.clicked.connect(self._keep_own)
        buttons = FlowRow(spacing=6)
        for each in (self.add, self.remove, self.bring, self.send, self.take_own, self.keep_own):
            buttons.add(each)
        self.table.setMinimumHeight(160)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(Card("Junk box", self.table, corner=self.first), 1)
        for part in (self.told, self.summary, buttons):
            column.addWidget(part)

    def refresh(self, bench: Workbench) -> None:
        self.show_picture(picture_of(bench.analysis))

    def draw(self, picture: JunkBoxPicture) -> None:
        self.first.setChecked(picture.first)
        self.summary.setText(picture.summary)
        self.table.show_lines(
            HEADS,
            HELP,
            [
                TypedLine(
                    (number, line.part.kind), line.cells, line.typed, role="soft" if line.short else "ink"
                )
                for number, line in enumerate(picture.lines)
            ],
        )
        self._show_present()

    def restyle(self) -> None:
        self.table.restyle()

    @property
    def _parts(self) -> tuple[PartOnHand, ...]:
        return self._bench.current.junk_box.parts

    def _show_present(self) -> None:
        self.remove.setEnabled(self.table.row is not None)
        self.send.setEnabled(bool(self._parts))

    # -- what the builder does -----------------------------------------------------------------------

    def _switch(self, on: bool) -> None:
        self._bench.edit(("junk_box", "first"), on)
        self.forget()
        self.refresh(self._bench)

    def _give(self, row: int, column: int, text: str) -> str | None:
        """Put what was typed into a line."""
        part = self._parts[row]
        cells = dict(zip(COLUMNS, (part.spelled, *cells_of(part), part.note), strict=True))
        cells[COLUMN_OF[column]] = text
        try:
            changed = part_of(cells)
        except CopperError as error:
            return str(error)
        return self._bench.edit((*_PARTS, row), changed)

    def _add(self, kind: type[OnHand]) -> None:
        if self._change((*self._parts, kind()), f"adding a {kind.spelled}"):
            self.refresh(self._bench)
            line = self.picture.lines[-1]
            self.table.type_in(len(self._parts) - 1, min(line.typed))

    def _remove_row(self, row: int | None) -> None:
        if row is not None:
            part = self._parts[row]
            self._change((*self._parts[:row], *self._parts[row + 1 :]), f"taking out a {part.spelled}")

    def _change(self, parts: tuple[OnHand, ...], label: str) -> bool:
        refused = self._bench.change(lambda project: project.edited(_PARTS, parts), label=label)
        self._tell(refused or "")
        return refused is None

    def _tell(self, text: str) -> None:
        self.told.setText(text)
        self.told.setVisible(bool(text))

    def _import(self) -> None:
        name, _ = QFileDialog.getOpenFileName(
            self, "Parts on hand", str(self._bench.folder), "CSV (*.csv *.txt);;All files (*)"
        )
        if name:
            self._take(lambda: read_parts(Path(name)), f"parts of {Path(name).name}")

    def _take_own(self) -> None:
        self._take(read_own, "my own list of parts")

    def _take(self, read: Callable[[], ReadTable], label: str) -> None:
        try:
            found = read()
        except FileError as error:
            self._tell(str(error))
            return
        if not found.parts and not found.problems:
            self._tell("There are no parts in that list.")
            return
        if self._change(merged(self._parts, found.parts), f"taking {label}"):
            self._tell(_problems(found))

    def _export(self) -> None:
        name, _ = QFileDialog.getSaveFileName(
            self, "Parts on hand as CSV", str(self._bench.folder / "junk box.csv"), "CSV (*.csv)"
        )
        if name:
            self._written(lambda: write_parts(Path(name), self._parts), "")

    def _keep_own(self) -> None:
        self._written(lambda: keep_own(self._parts), f"Kept as your own list in {own_file()}.")

    def _written(self, write: Callable[[], None], done: str) -> None:
        try:
            write()
        except (FileError, DesignError) as error:
            self._tell(str(error))
        else:
            self._tell(done)


def _problems(found: ReadTable) -> str:
    """Which lines of a table were not read, and why."""
    if not found.problems:
        return ""
    told = [str(each) for each in found.problems[:_MOST_TOLD]]
    more = len(found.problems) - len(told)
    count = len(found.problems)
    return "\n".join(
        [
            f"{len(found.parts)} parts were read and {count} line{'s' if count > 1 else ''} not:",
            *told,
            *([f"and {more} more lines."] if more > 0 else []),
        ]
    )
