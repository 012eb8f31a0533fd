"""Board plan: islands and parts to scale, moved by hand, of a stage, of all together, of supply and helper;
and both panels.
"""

from collections.abc import Callable
from pathlib import Path as FilePath

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QCheckBox,
    QFileDialog,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
)

from app.boards.canvas import ScaleCanvas
from app.boards.hand import freeing, placing
from app.boards.package_choice import PackageChoice
from app.boards.panel_fields import PanelFields
from app.pages.beside import in_a_column, scrolled
from app.pictures.rig.board_plan import BOARDS, What, packages_of, picture_of
from app.plots.base import Card
from app.state.documents import slug
from app.state.settings import Settings
from app.state.workbench import Workbench
from app.style.plain import Text
from app.widgets.drawn import Drawn
from app.widgets.flow_row import FlowRow
from app.widgets.folding import Folding
from app.widgets.two_way import TwoWay
from app.widgets.view import FieldsView
from core.model.boards.board import Board, Panel
from core.model.project import Project
from core.model.values.base import Path
from core.model.values.errors import CopperError
from core.rig.board.boards import HELPER, SUPPLY, VFO
from core.rig.board.drawing import BY_HAND, Drawing, Thing
from core.rig.board.plan import Place

_LOOKS: tuple[What, ...] = ("stage", "whole", "front", "rear", "supply", "helper")
_NAMES: dict[What, str] = {
    "stage": "Selected stage",
    "whole": "Whole board",
    "front": "Front",
    "rear": "Rear",
    "supply": "Supply",
    "helper": "Helper",
}
#: Below this the page scrolls, pixels.
_LEAST_HEIGHT = 400
_HELP = (
    "Drag a part or an island (Escape: back where it was), or move it with the arrow keys (Shift: ten steps) "
    "and turn it with R. "
    "Page Up and Page Down pick another one, Delete lets it be placed again, + − and the wheel zoom, "
    "0 shows all."
)


class BoardPlanPage(Drawn[Drawing | str], FieldsView):
    """The drawing, and beside it what is on it and what is to be said of it."""

    def __init__(self, bench: Workbench, settings: Settings) -> None:
        super().__init__()
        self._bench, self._settings = bench, settings
        self._gesture = 0
        #: The design before what is under way was picked up.
        self._before: Project | None = None
        self.looks = TwoWay([_NAMES[each] for each in _LOOKS], "Shown")
        self.looks.chosen.connect(lambda _: self._looked())
        self.canvas = ScaleCanvas("Board")
        self.canvas.setToolTip(_HELP)
        self.canvas.moved.connect(self._moved)
        self.canvas.given_up.connect(self._give_up)
        self.canvas.released.connect(self._free)
        self.canvas.picked.connect(self._picked)
        self.again = QPushButton("Place all automatically")
        self.again.setToolTip("Takes back everything that was put by hand on this board")
        self.again.clicked.connect(lambda: self._free(None))
        self.mirrored = QCheckBox("Mirrored")
        self.mirrored.setToolTip("Printed and saved as it is seen through the board")
        self.print_it, self.save = QPushButton("Print…"), QPushButton("Save as…")
        self.print_it.setToolTip("Prints at the true size, on several sheets where it is larger than one")
        self.save.setToolTip("Writes a PDF or an SVG at the true size")
        self.print_it.clicked.connect(self._print)
        self.save.clicked.connect(self._save)
        self.sentence, self.told, self.message = Text(), Text(), Text()
        for text in (self.sentence, self.told, self.message):
            text.setWordWrap(True)
        self.told.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.told.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.things = QListWidget()
        self.things.setAccessibleName("Parts and islands")
        self.things.setWordWrap(True)
        self.things.currentRowChanged.connect(self._chosen)
        self._card = Card("Board", self.canvas)
        self.package = PackageChoice(bench)
        self._beside = Card(
            "What there is",
            in_a_column(scrolled(self.told), self.things, self.package, stretch=(1, 2, 0)),
        )
        self._beside.setMinimumWidth(190)
        self._whole = Folding(self._card, self._beside, shares=(5, 2))
        self.panel = PanelFields(bench)
        self.panel.hide()
        head = FlowRow(spacing=8)
        for part in (self.looks, self.again, self.mirrored, self.print_it, self.save):
            head.add(part)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        for each in (head, self.panel, self.sentence, self.message):
            column.addWidget(each)
        column.addWidget(self._whole, 1)
        # Where there is only a sentence it stands at the top.
        column.addStretch(0)
        self.setMinimumHeight(_LEAST_HEIGHT)

    @property
    def what(self) -> What:
        """What is looked at."""
        return _LOOKS[self.looks.place]

    def fold(self, narrow: bool) -> None:
        self._whole.fold(narrow, (3, 2))
        self.setMinimumHeight(800 if narrow else _LEAST_HEIGHT)

    def refresh(self, bench: Workbench) -> None:
        what = self.what
        self.panel.setVisible(what in ("front", "rear"))
        if what in ("front", "rear"):
            picked = self.canvas.thing
            self.panel.show_panel(what, None if picked is None else int(picked.key))
        self.show_picture(picture_of(bench.analysis, bench.look, self.what))

    def draw(self, picture: Drawing | str) -> None:
        missing = isinstance(picture, str)
        self.sentence.setVisible(missing)
        self._whole.setVisible(not missing)
        self.message.hide()
        for button in (self.print_it, self.save):
            button.setEnabled(not missing)
        if isinstance(picture, str):
            self.again.setEnabled(False)
            self.sentence.setText(picture)
            return
        self.again.setEnabled(any(BY_HAND in each.states for each in picture.things))
        self.canvas.turns = self.what in BOARDS
        self._card.entitle(picture.title)
        self.canvas.show_drawing(picture)
        self.told.setText("\n".join(picture.told))
        self._list(picture.things)
        self._show_packages()

    def _list(self, things: tuple[Thing, ...]) -> None:
        wanted = [f"{each.name}: {', '.join(each.states)}" if each.states else each.name for each in things]
        self.things.blockSignals(True)
        while self.things.count() > len(wanted):
            self.things.takeItem(self.things.count() - 1)
        for n, text in enumerate(wanted):
            if n == self.things.count():
                self.things.addItem(QListWidgetItem(text))
            elif self.things.item(n).text() != text:
                self.things.item(n).setText(text)
        keys = [each.key for each in things]
        picked = self.canvas.thing
        self.things.setCurrentRow(-1 if picked is None else keys.index(picked.key))
        self.things.blockSignals(False)

    def restyle(self) -> None:
        self.canvas.restyle()
        self.forget()

    def focus_field(self, path: Path) -> None:
        """Show the board or panel that a place of the design is of."""
        held = self._bench.current.at(path[:2]) if len(path) > 1 else None
        if isinstance(held, Panel):
            self.looks.buttons[_LOOKS.index(held.side)].click()
        elif isinstance(held, Board) and held.stage in (SUPPLY, HELPER):
            self.looks.buttons[_LOOKS.index("supply" if held.stage == SUPPLY else "helper")].click()
        elif isinstance(held, Board):
            own = held.stage in (VFO, "carrier")
            self._bench.select((held.stage,) if own else ("stages", held.stage))
            self.looks.buttons[0].click()
        self.canvas.setFocus()

    # -- the hand ---------------------------------------------------------------------------------

    def _moved(self, key: str, place: Place, amid: bool) -> None:
        """One step of undo from picking up to letting go."""
        edit = placing(self._bench, self.what, key, place)
        if edit is not None:
            if self._before is None:
                self._before = self._bench.current
            self._change(edit, key)
        if not amid:
            self._let_go()

    def _give_up(self) -> None:
        before, thing = self._before, self.canvas.thing
        if before is not None and thing is not None:
            self._change(lambda _: before, thing.key)
        self._let_go()

    def _change(self, edit: Callable[[Project], Project], key: str) -> None:
        gesture = ("board", self._gesture)
        self._bench.change(edit, label=f"Place of {self._name(key)}", gesture=gesture)

    def _let_go(self) -> None:
        self._gesture, self._before = self._gesture + 1, None

    def _free(self, key: str | None) -> None:
        edit = freeing(self._bench, self.what, key)
        if edit is not None:
            label = "Places on the board" if key is None else f"Place of {self._name(key)}"
            self._bench.change(edit, label=label)

    def _name(self, key: str) -> str:
        picture = self.shown_picture
        things = picture.things if isinstance(picture, Drawing) else ()
        return next((each.name for each in things if each.key == key), key)

    def _picked(self, key: str) -> None:
        picture = self.shown_picture
        if isinstance(picture, Drawing):
            keys = [each.key for each in picture.things]
            self.things.blockSignals(True)
            self.things.setCurrentRow(keys.index(key) if key in keys else -1)
            self.things.blockSignals(False)
            self._show_packages()
            if self.what in ("front", "rear"):
                self.refresh(self._bench)

    def _show_packages(self) -> None:
        picked = self.canvas.thing
        key = None if picked is None else picked.key
        self.package.show_choices(packages_of(self._bench.analysis, self._bench.look, self.what, key))

    def _chosen(self, row: int) -> None:
        picture = self.shown_picture
        if isinstance(picture, Drawing) and 0 <= row < len(picture.things):
            self.canvas.pick(picture.things[row].key)

    def _looked(self) -> None:
        self.forget()
        self.refresh(self._bench)

    # -- paper ------------------------------------------------------------------------------------

    def _title(self, drawing: Drawing) -> str:
        return f"{self._bench.current.name}: {drawing.title}"

    def _say(self, sentence: str) -> None:
        self.message.setText(sentence)
        self.message.setVisible(bool(sentence))

    def _print(self) -> None:
        from app.boards.printing import print_drawing

        picture = self.shown_picture
        if isinstance(picture, Drawing):
            title, paper = self._title(picture), self._settings.paper
            print_drawing(picture, title, paper, self, mirrored=self.mirrored.isChecked())

    def _save(self) -> None:
        picture = self.shown_picture
        if not isinstance(picture, Drawing):
            return
        start = str(self._bench.folder / f"{slug(self._title(picture))}.pdf")
        name, _ = QFileDialog.getSaveFileName(self, "Board plan", start, "PDF (*.pdf);;SVG (*.svg)")
        if name:
            file = FilePath(name)
            target = file if file.suffix else file.with_suffix(".pdf")
            self._say(self.saved(picture, target))

    def saved(self, drawing: Drawing, file: FilePath) -> str:
        """Write a drawing as PDF or SVG; what happened, in a sentence."""
        from app.boards.paper import written

        paper, mirrored = self._settings.paper, self.mirrored.isChecked()
        try:
            return written(drawing, file, self._title(drawing), paper, mirrored=mirrored)
        except CopperError as error:
            return str(error)
