"""The IF survey as a table that sorts and filters, and the survey run off the GUI thread."""

from PySide6.QtCore import (
    QAbstractTableModel,
    QEvent,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    QSortFilterProxyModel,
    Qt,
    Signal,
)
from PySide6.QtGui import QFont, QFontMetrics
from PySide6.QtWidgets import (
    QAbstractItemView,
    QCheckBox,
    QHBoxLayout,
    QHeaderView,
    QLineEdit,
    QSizePolicy,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from app.pictures.bench.survey import COLUMNS, count_of, crossing_order, told
from app.style.column_widths import least_width, shared, width
from app.style.marking import show_reason
from app.style.numbers import NO_UNIT, Style, read_number
from app.style.plain import Text, tip
from app.widgets.drawn import Drawn
from app.widgets.flow_row import FlowRow
from core.model.values.errors import DesignError
from core.model.values.notation import parse
from core.model.values.quantities import Unit
from core.rig.survey.if_survey import SurveyRow

_HERTZ = Unit("Hz", scaled=True)
_Index = QModelIndex | QPersistentModelIndex
_ROOT = QModelIndex()
#: Rows by whose texts the columns are made wide enough: measuring all of them takes a second.
_MEASURED_ROWS = 60
_TERMS = len(COLUMNS) - 1
_RATIO = next(n for n, each in enumerate(COLUMNS) if each.title == "ratio")
#: Beside a head, for the arrow that tells the order, pixels.
_ARROW = 14
#: Height of a row of one line and of two, pixels.
_LINE, _TWO_LINES = 24, 38
#: Texts of no more letters than this are not broken.
_SHORT = 12


class _SurveyModel(QAbstractTableModel):
    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.rows: tuple[SurveyRow, ...] = ()

    def show_rows(self, rows: tuple[SurveyRow, ...]) -> None:
        self.beginResetModel()
        self.rows = rows
        self.endResetModel()

    def rowCount(self, parent: _Index = _ROOT) -> int:
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent: _Index = _ROOT) -> int:
        return len(COLUMNS)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> object:
        if orientation != Qt.Orientation.Horizontal:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return COLUMNS[section].title
        return COLUMNS[section].help if role == Qt.ItemDataRole.ToolTipRole else None

    def data(self, index: _Index, role: int = 0) -> object:
        row, column = self.rows[index.row()], COLUMNS[index.column()]
        if role == Qt.ItemDataRole.DisplayRole:
            return column.text(row)
        if role == Qt.ItemDataRole.UserRole:
            return column.sort(row)
        if role == Qt.ItemDataRole.ToolTipRole:
            return tip(told(row))
        return None


class _Sieve(QSortFilterProxyModel):
    """Sorts by figures, not by their texts, and keeps the rows that the filter fields let through."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setSortRole(Qt.ItemDataRole.UserRole)
        self.max_vfo_hz: float | None = None
        self.max_ratio: float | None = None
        self.least_order: float | None = None
        self.text = ""
        self.on_hand = False

    def filterAcceptsRow(self, source_row: int, source_parent: _Index) -> bool:
        model = self.sourceModel()
        assert isinstance(model, _SurveyModel)
        row = model.rows[source_row]
        return (
            (self.max_vfo_hz is None or row.vfo_high_hz <= self.max_vfo_hz)
            and (self.max_ratio is None or row.vfo_ratio <= self.max_ratio)
            and (self.least_order is None or crossing_order(row) >= self.least_order)
            and (not self.text or self.text in row.crystal)
            and (not self.on_hand or row.in_junk_box)
        )


class SurveyTable(Drawn[tuple[SurveyRow, ...]], QWidget):
    """Filter fields over the table; `row` is the one selected."""

    #: Another row is selected, or none.
    picked = Signal()
    #: A row was double-clicked or confirmed with Enter.
    opened = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._model = _SurveyModel(self)
        self._sieve = _Sieve(self)
        self._sieve.setSourceModel(self._model)
        self.view = QTableView()
        self.view.setModel(self._sieve)
        self.view.setSortingEnabled(True)
        self.view.sortByColumn(0, Qt.SortOrder.AscendingOrder)
        self.view.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.view.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.view.verticalHeader().hide()
        self.view.verticalHeader().setDefaultSectionSize(_LINE)
        self.view.setShowGrid(False)
        self.view.setAccessibleName("IF survey")
        self.view.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.view.horizontalHeader().setDefaultAlignment(
            Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        )
        self.view.horizontalHeader().sortIndicatorChanged.connect(lambda *_: self._share_width())
        self.view.setTabKeyNavigation(False)
        self.view.selectionModel().selectionChanged.connect(lambda *_: self.picked.emit())
        self.view.activated.connect(lambda *_: self.opened.emit())
        self.max_vfo = self._field("VFO up to", _HERTZ, "8 MHz", "max_vfo_hz")
        self.max_ratio = self._field("ratio up to", NO_UNIT, "1.3", "max_ratio")
        self.least_order = self._field("no crossing below order", NO_UNIT, "7", "least_order")
        self.crystal = QLineEdit()
        self.crystal.setPlaceholderText("19.66")
        self.crystal.setAccessibleName("Crystal contains")
        self.crystal.textChanged.connect(self._take_text)
        self.on_hand = QCheckBox("only on hand")
        self.on_hand.setToolTip("Only crystals that are in the junk box")
        self.on_hand.toggled.connect(self._take_on_hand)
        self.count = Text()
        self.count.setWordWrap(True)
        self.count.setProperty("look", "soft")
        bar = FlowRow(spacing=10, row_spacing=4)
        for caption, field in (
            ("VFO up to", self.max_vfo),
            ("ratio up to", self.max_ratio),
            ("no crossing below order", self.least_order),
            ("crystal", self.crystal),
        ):
            bar.add(_captioned(caption, field))
        bar.add(self.on_hand)
        self.view.viewport().installEventFilter(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(bar)
        column.addWidget(self.count)
        column.addWidget(self.view, 1)

    @property
    def row(self) -> SurveyRow | None:
        """The selected row."""
        chosen = self.view.selectionModel().selectedRows()
        return self._model.rows[self._sieve.mapToSource(chosen[0]).row()] if chosen else None

    def show_rows(self, rows: tuple[SurveyRow, ...]) -> None:
        """Show a survey; the best row of another one is selected."""
        self.show_picture(rows)
        self._count()

    def draw(self, picture: tuple[SurveyRow, ...]) -> None:
        self._model.show_rows(picture)
        self._share_width()
        self.view.sortByColumn(0, Qt.SortOrder.AscendingOrder)
        if self._sieve.rowCount():
            self.view.selectRow(0)

    def show_computing(self) -> None:
        """Say that a survey is under way; the former rows, if any, stay until it is done."""
        self.count.setText("Computing…")

    def pick(self, if_hz: float, schemes: tuple[str, ...]) -> bool:
        """Select the row of this IF [Hz] and schemes; False when it is not shown."""
        for position in range(self._sieve.rowCount()):
            row = self._model.rows[self._sieve.mapToSource(self._sieve.index(position, 0)).row()]
            if row.if_hz == if_hz and row.schemes == schemes:
                self.view.selectRow(position)
                # The best rows stay in sight, wherever this one stands.
                self.view.scrollToTop()
                return True
        return False

    def _field(self, caption: str, unit: Unit, example: str, name: str) -> QLineEdit:
        field = QLineEdit()
        field.setPlaceholderText(example)
        field.setAccessibleName(caption)
        help = f"Only rows with {caption} this; empty: all. For example {example}."
        field.setToolTip(help)
        near = parse(example, unit.written)
        field.textChanged.connect(lambda text: self._take_limit(field, text, unit, near, name, help))
        return field

    def _take_limit(self, field: QLineEdit, text: str, unit: Unit, near: float, name: str, help: str) -> None:
        value: float | None = None
        wrong = ""
        if text.strip():
            try:
                value = read_number(text, unit, Style(), near)
            except DesignError as error:
                wrong = str(error)
        show_reason(field, wrong, help)
        setattr(self._sieve, name, value)
        self._sift()

    def _take_text(self, text: str) -> None:
        self._sieve.text = text.strip().replace(",", ".")
        self._sift()

    def _take_on_hand(self, on: bool) -> None:
        self._sieve.on_hand = on
        self._sift()

    def _sift(self) -> None:
        self._sieve.invalidate()
        self._count()
        self.picked.emit()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Resize:
            self._share_width()
        return super().eventFilter(watched, event)

    def _share_width(self) -> None:
        """Every column shows its texts whole, the terms begin with them.

        In a narrow window the terms are left to what stands below the table and to the tooltips, schemes and
        VFO take two lines, and at last the ratio goes, which the VFO's range tells.
        """
        bold = QFont(self.view.font())
        bold.setBold(True)
        heads, ordinary, room = QFontMetrics(bold), self.view.fontMetrics(), self.view.viewport().width()
        ordered = self.view.horizontalHeader().sortIndicatorSection()
        natural, least = {}, {}
        for n, column in enumerate(COLUMNS):
            head = width(column.title, heads) + (_ARROW if n == ordered else 0)
            texts = {column.text(row) for row in self._model.rows[:_MEASURED_ROWS]} if n != _TERMS else ()
            natural[n] = max([head, *(width(text, ordinary) for text in texts)])
            least[n] = max([head, *(least_width(text, ordinary, _SHORT) for text in texts)])
        shown = list(range(len(COLUMNS)))
        if sum(natural.values()) > room:
            shown.remove(_TERMS)
            if sum(least[n] for n in shown) > room:
                shown.remove(_RATIO)
        wanted = [natural[n] for n in shown]
        widths = shared(wanted, [least[n] for n in shown], room, even=_TERMS not in shown)
        for n in range(len(COLUMNS)):
            self.view.setColumnHidden(n, n not in shown)
        for n, wide in zip(shown, widths, strict=True):
            self.view.setColumnWidth(n, wide)
        whole = all(wide >= want for wide, want in zip(widths, wanted, strict=True))
        self.view.verticalHeader().setDefaultSectionSize(_LINE if whole else _TWO_LINES)

    def _count(self) -> None:
        self.count.setText(count_of(self._model.rows, self._sieve.rowCount()))


def _captioned(caption: str, field: QLineEdit) -> QWidget:
    """A field with its caption, kept together where the row breaks."""
    group = QWidget()
    group.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
    row = QHBoxLayout(group)
    row.setContentsMargins(0, 0, 0, 0)
    row.setSpacing(5)
    label = Text(caption)
    label.setProperty("look", "soft")
    field.setFixedWidth(72)
    row.addWidget(label)
    row.addWidget(field)
    return group
