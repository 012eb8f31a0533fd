"""Board plan: islands and parts to scale, moved by hand; all boards together; front and rear panel."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QListWidget, QListWidgetItem, QPushButton, QVBoxLayout, QWidget

from app.boards.canvas import ScaleCanvas
from app.pages.beside import in_a_column
from app.pictures.rig.board_plan import What, board_looked_at, picture_of
from app.plots.base import Card
from app.state.workbench import Workbench
from app.style.plain import Text
from app.widgets.drawn import Drawn
from app.widgets.folding import Folding
from app.widgets.two_way import TwoWay
from app.widgets.view import View
from core.rig.board.boards import StageBoard
from core.rig.board.drawing import BY_HAND, Drawing, Thing
from core.rig.board.edits import freed, put
from core.rig.board.plan import Place

_LOOKS: tuple[What, ...] = ("stage",)
_NAMES: dict[What, str] = {
    "stage": "Selected stage",
    "whole": "Whole board",
    "front": "Front panel",
    "rear": "Rear panel",
}
_HELP = (
    "Drag a part or an island, or move it with the arrow keys (Shift: ten steps) and turn it with R. "
    "Page Up and Page Down pick another one, Delete lets it be placed again, + − and the wheel zoom, "
    "0 shows all."
)


class BoardPlanPage(Drawn[Drawing | str], View):
    """The drawing, and beside it what is on it and what is to be said of it."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__()
        self._bench = bench
        self._gesture = 0
        self.looks = TwoWay([_NAMES[each] for each in _LOOKS], "Shown")
        self.looks.chosen.connect(lambda _: self._looked())
        self.looks.setVisible(len(_LOOKS) > 1)
        self.canvas = ScaleCanvas("Board")
        self.canvas.setToolTip(_HELP)
        self.canvas.moved.connect(self._moved)
        self.canvas.released.connect(lambda key: self._free((key,)))
        self.canvas.picked.connect(self._picked)
        self.again = QPushButton("Place all automatically")
        self.again.setToolTip("Takes back everything that was put by hand on this board")
        self.again.clicked.connect(lambda: self._free(None))
        self.sentence, self.told = Text(), Text()
        for text in (self.sentence, self.told):
            text.setWordWrap(True)
        self.told.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.things = QListWidget()
        self.things.setAccessibleName("Parts and islands")
        self.things.currentRowChanged.connect(self._chosen)
        self._card = Card("Board", self.canvas)
        self._beside = Card("On the board", in_a_column(self.told, self.things, stretch=(0, 1)))
        self._beside.setMinimumWidth(190)
        self._whole = Folding(self._card, self._beside, shares=(5, 2))
        head = QWidget()
        row = QHBoxLayout(head)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.looks)
        row.addStretch(1)
        row.addWidget(self.again)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        column.addWidget(head)
        column.addWidget(self.sentence)
        column.addWidget(self._whole, 1)
        self.setMinimumHeight(440)

    @property
    def what(self) -> What:
        """What is looked at."""
        return _LOOKS[self.looks.place]

    def fold(self, narrow: bool) -> None:
        self._whole.fold(narrow, (3, 2))
        self.setMinimumHeight(800 if narrow else 440)

    def refresh(self, bench: Workbench) -> None:
        self.show_picture(picture_of(bench.analysis, bench.look, self.what))

    def draw(self, picture: Drawing | str) -> None:
        missing = isinstance(picture, str)
        self.sentence.setVisible(missing)
        self._whole.setVisible(not missing)
        if isinstance(picture, str):
            self.again.setEnabled(False)
            self.sentence.setText(picture)
            return
        self.again.setEnabled(any(BY_HAND in each.states for each in picture.things))
        self._card.entitle(picture.title)
        self.canvas.show_drawing(picture)
        self.told.setText("\n".join(picture.told))
        self._list(picture.things)

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

    # -- the hand ---------------------------------------------------------------------------------

    def _board(self) -> StageBoard | None:
        found = board_looked_at(self._bench.analysis, self._bench.look)
        return None if isinstance(found, str) else found

    def _moved(self, key: str, place: Place, amid: bool) -> None:
        """One step of undo from picking up to letting go."""
        board, gesture = self._board(), ("board", self._gesture)
        if board is not None:
            self._bench.change(
                lambda project: put(project, board.stage, board.bands, {key: place}),
                label=f"Place of {self._name(key)}",
                gesture=gesture,
            )
        if not amid:
            self._gesture += 1

    def _free(self, keys: tuple[str, ...] | None) -> None:
        board = self._board()
        if board is not None:
            self._bench.change(
                lambda project: freed(project, board.stage, board.bands, keys),
                label="Places on the board" if keys is None else f"Place of {self._name(keys[0])}",
            )

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

    def _chosen(self, row: int) -> None:
        picture = self.shown_picture
        if isinstance(picture, Drawing) and 0 <= row < len(picture.things):
            self.canvas.pick(picture.things[row].key)

    def _looked(self) -> None:
        self.forget()
        self.refresh(self._bench)
