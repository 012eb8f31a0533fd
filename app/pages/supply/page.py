"""Supply: what feeds the rig, what protects it, what still works, and its circuit."""

from PySide6.QtWidgets import QWidget

from app.pages.beside import BesidePage, in_a_column, scrolled
from app.pages.supply.diagram import DiagramView
from app.pages.supply.plots import LanePlot
from app.panels.forms import Form
from app.panels.parts_table import PartsTable
from app.pictures.panels.parts import of_supply
from app.pictures.rig.supply import SupplyPicture, What, picture_of
from app.pictures.told import Told
from app.plots.base import Card
from app.stage_views.cards.schematic_view import SchematicView
from app.state.workbench import Workbench
from app.style.plain import Text
from app.widgets.drawn import Drawn
from app.widgets.figure_table import FigureTable
from app.widgets.number_field import NumberField
from app.widgets.two_way import TwoWay
from app.widgets.view import FieldsView
from core.model.project import Project
from core.model.station import Station
from core.model.values.base import Path

_LOOKS: tuple[tuple[What, str], ...] = (
    ("feeds", "Currents"),
    ("protects", "Protection"),
    ("works", "Voltage and time"),
    ("circuit", "Circuit"),
)
_TABLES = (
    *("currents", "totals", "polarity", "fuse", "lead", "regulators", "relays", "decoupling"),
    *("events", "key_down"),
)
_OF_STATION = frozenset({"supply_v", "ripple_v"})
_NOTHING = Told((), ())
#: Height of the schematic at least, pixels.
_DRAWING = 520


class SupplyPage(Drawn[SupplyPicture | str], BesidePage, FieldsView):
    """The supply's fields on the left; on the right what comes of them, one of four ways at a time."""

    least = (420, 1000)

    def __init__(self, bench: Workbench) -> None:
        super().__init__()
        self._bench = bench
        others = frozenset(Project.model_fields) - {"supply"}
        self.form = Form(Project, bench, without=others)
        self.nominal = Form(Station, bench, without=frozenset(Station.model_fields) - _OF_STATION)
        self.sentence = Text()
        self.sentence.setWordWrap(True)
        self.looks = TwoWay([name for _, name in _LOOKS], "Shown")
        self.looks.chosen.connect(lambda _: self.refresh(bench))
        self.diagram = DiagramView()
        self.tables = {name: FigureTable(fitted=True) for name in _TABLES}
        self.works = LanePlot("voltage at the rig", "V")
        self.sequence = LanePlot("from key down", "ms")
        for plot in (self.works, self.sequence):
            plot.setMinimumHeight(230)
        self.schematic = SchematicView()
        self.parts = PartsTable(bench)
        self.schematic.setMinimumHeight(_DRAWING)
        self._cards = {
            "diagram": Card("Who feeds whom: R in receive, T in transmit at full output", self.diagram),
            "totals": Card("Altogether", self.tables["totals"]),
            "currents": Card("On in receive, on in transmit, and what it draws", self.tables["currents"]),
            "polarity": Card("The supply connected backwards", self.tables["polarity"]),
            "fuse": Card("Fuse", self.tables["fuse"]),
            "lead": Card("Lead", self.tables["lead"]),
            "regulators": Card("Regulators", self.tables["regulators"]),
            "relays": Card("Relays", self.tables["relays"]),
            "decoupling": Card("Decoupling", self.tables["decoupling"]),
            "works": Card("What still works", self.works),
            "sequence": Card("From key down to power and back", self.sequence),
            "events": Card("In this order", self.tables["events"]),
            "key_down": Card("What the receiver gets of it", self.tables["key_down"]),
            "schematic": Card("Ends of one name are joined", self.schematic),
            "parts": Card("Parts", self.parts),
        }
        inside = in_a_column(*self._cards.values(), QWidget(), stretch=(*(0,) * len(self._cards), 1), gap=8)
        self._results = scrolled(inside)
        self.lay_out(
            "Source, protection and switching",
            (self.nominal, self.form),
            in_a_column(self.looks, self.sentence, self._results, stretch=(0, 0, 1)),
            shares=(2, 5),
        )

    @property
    def what(self) -> What:
        """What is looked at."""
        return _LOOKS[self.looks.place][0]

    def refresh(self, bench: Workbench) -> None:
        self.form.show_model(bench.current, ())
        self.nominal.show_model(bench.current.station, ("station",))
        self.show_picture(picture_of(bench.analysis, bench.held_analysis, self.what))

    def settle(self, bench: Workbench) -> None:
        self.schematic.settle()

    def restyle(self) -> None:
        for plot in (self.works, self.sequence):
            plot.restyle()
        self.schematic.restyle()
        self.parts.restyle()
        super().restyle()

    def draw(self, picture: SupplyPicture | str) -> None:
        planned = not isinstance(picture, str)
        self.looks.setVisible(planned)
        self._results.setVisible(planned)
        if isinstance(picture, str):
            self.sentence.setText(picture)
            return
        self.sentence.setText(picture.title)
        for name, card in self._cards.items():
            shown = getattr(picture, name)
            card.setVisible(shown is not None and not (isinstance(shown, Told) and not shown.rows))
        if picture.diagram is not None:
            self.diagram.show_picture(picture.diagram)
        for name, table in self.tables.items():
            # What is hidden holds nothing old.
            table.show_told(getattr(picture, name) or _NOTHING)
        if picture.schematic is not None:
            self.schematic.show_circuit(picture.schematic)
            self.parts.show_picture(of_supply(picture.schematic))
        if picture.works is not None:
            self.works.show_picture(picture.works)
            self._cards["works"].annotate(picture.works.note)
        if picture.sequence is not None:
            self.sequence.show_picture(picture.sequence)
            self._cards["sequence"].annotate(picture.sequence.note)

    def focus_field(self, path: Path) -> None:
        self.refresh(self._bench)
        field = self.form.field_at(path)
        if field is not None:
            field.setFocus()
            if isinstance(field, NumberField):
                field.selectAll()
