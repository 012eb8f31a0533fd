"""The number field, as a builder types into it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication, QLineEdit, QVBoxLayout, QWidget

from app.panels.forms import Form
from app.style.numbers import THIN, Style, number_text
from app.widgets.number_field import NumberField
from core.model.bench import Scatter
from core.model.project import Project
from core.model.readout import ReadOut
from core.model.stages.amplifiers import PowerAmplifier
from core.model.stages.filters import BandPassFilter, LadderFilter, LowPassFilter
from core.model.stages.oscillators import CarrierOscillator
from core.model.stages.tank import Tank
from core.model.values.notation import parse
from core.model.values.quantities import Unit

HZ = Unit("Hz", scaled=True)
FARAD = Unit("F", scaled=True)
OHM = Unit("Ω", scaled=True)


class Design:
    """Stands in for the design: keeps what it is given, refuses what `refuse` says."""

    def __init__(self) -> None:
        self.given: list[float | None] = []
        self.gestures: list[object] = []
        self.refusal: str | None = None

    def apply(self, value, gesture):
        if self.refusal:
            return self.refusal
        self.given.append(value)
        self.gestures.append(gesture)
        return None


@pytest.fixture
def design():
    return Design()


@pytest.fixture
def stand(qtbot):
    """A window with a second field, so that the focus has somewhere to go."""
    window = QWidget()
    QVBoxLayout(window)
    window.other = QLineEdit()
    window.layout().addWidget(window.other)
    qtbot.addWidget(window)
    window.show()
    return window


def made(stand, design, unit=HZ, value=14.2e6, **more):
    field = NumberField(design.apply, unit, **more)
    stand.layout().addWidget(field)
    field.show()
    field.set_value(value)
    return field


def retype(qtbot, field, text, enter=True):
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, text)
    if enter:
        qtbot.keyClick(field, Qt.Key.Key_Return)


@pytest.mark.parametrize(
    ("unit", "value", "typed", "meant"),
    [
        (HZ, 14.2e6, "14,1 MHz", 14.1e6),
        (HZ, 14.2e6, "14.1M", 14.1e6),
        (HZ, 14.2e6, "14100k", 14.1e6),
        (HZ, 14.2e6, "14.1", 14.1e6),
        (HZ, 2400.0, "2700", 2700.0),
        (HZ, 2400.0, "2,7", 2700.0),
        (FARAD, 82e-12, "62", 62e-12),
        (FARAD, 82e-12, "2n2", 2.2e-9),
        (OHM, 1000.0, "4k7", 4700.0),
        (Unit("dB"), 1.0, "-6,5", -6.5),
        (Unit("-"), 200.0, "180", 180.0),
    ],
)
def test_a_number_means_what_a_builder_means(qtbot, stand, design, unit, value, typed, meant):
    field = made(stand, design, unit, value)
    retype(qtbot, field, typed)
    assert design.given == [pytest.approx(meant, rel=1e-12)]
    assert field.reason == ""
    if unit.symbol != "-":
        assert field.text().endswith(unit.symbol)


def test_what_is_no_number_is_marked_and_the_valid_one_stays(qtbot, stand, design):
    field = made(stand, design)
    retype(qtbot, field, "14.1 pF")
    assert design.given == []
    assert field.value == 14.2e6
    assert field.property("wrong") is True
    assert field.reason in field.toolTip()
    assert field.text() == "14.1 pF"
    qtbot.keyClick(field, Qt.Key.Key_Escape)
    assert field.text() == "14.2 MHz"
    assert field.property("wrong") is False


def test_leaving_the_field_commits_it(qtbot, stand, design):
    field = made(stand, design)
    retype(qtbot, field, "14.25 MHz", enter=False)
    assert design.given == []
    stand.other.setFocus()
    assert design.given == [14.25e6]


def test_a_refused_value_is_marked_with_the_designs_reason(qtbot, stand, design):
    field = made(stand, design)
    design.refusal = "Dial from: too high."
    said = []
    field.marked.connect(said.append)
    retype(qtbot, field, "15 MHz")
    assert said == ["Dial from: too high."]
    assert field.value == 14.2e6


def test_arrow_keys_step_the_digit_at_the_cursor(qtbot, stand, design):
    field = made(stand, design, value=19_660_800.0, style=Style(places=6, exponent=6))
    assert field.text() == f"19.660{THIN}800 MHz"
    field.setFocus()
    field.setCursorPosition(field.text().index("6"))
    qtbot.keyClick(field, Qt.Key.Key_Up)
    assert design.given[-1] == 19_760_800.0
    assert field.text() == f"19.760{THIN}800 MHz"
    qtbot.keyClick(field, Qt.Key.Key_Down)
    qtbot.keyClick(field, Qt.Key.Key_Down)
    assert design.given[-1] == 19_560_800.0
    field.setCursorPosition(field.text().index(THIN))
    qtbot.keyClick(field, Qt.Key.Key_Up)
    assert design.given[-1] == 19_560_900.0, "behind a group the next digit is stepped"
    field.setCursorPosition(len(field.text()))
    qtbot.keyClick(field, Qt.Key.Key_Up)
    assert design.given[-1] == 19_560_901.0, "behind the number its last digit is stepped"
    qtbot.keyClick(field, Qt.Key.Key_PageUp)
    assert design.given[-1] == 19_560_911.0
    assert len(set(design.gestures)) == 1, "one gesture as long as the focus stays"


def test_a_carry_keeps_the_cursor_at_its_digit(qtbot, stand, design):
    field = made(stand, design, Unit("dB"), 9.9)
    field.setFocus()
    field.setCursorPosition(2)
    qtbot.keyClick(field, Qt.Key.Key_Up)
    assert design.given == [10.0]
    assert field.text() == "10.0 dB"
    qtbot.keyClick(field, Qt.Key.Key_Up)
    assert design.given[-1] == 10.1


def test_stepping_through_zero(qtbot, stand, design):
    field = made(stand, design, Unit("dB"), 0.5)
    field.setFocus()
    field.setCursorPosition(0)
    qtbot.keyClick(field, Qt.Key.Key_Down)
    assert design.given == [-0.5]
    qtbot.keyClick(field, Qt.Key.Key_Up)
    assert design.given[-1] == 0.5


def test_a_refused_step_leaves_the_text(qtbot, stand, design):
    field = made(stand, design)
    field.setFocus()
    design.refusal = "no"
    qtbot.keyClick(field, Qt.Key.Key_Up)
    assert field.text() == "14.2 MHz"
    assert field.value == 14.2e6


def wheel(field, turn=120):
    at = QPointF(field.rect().center())
    event = QWheelEvent(
        at,
        field.mapToGlobal(at),
        QPoint(0, 0),
        QPoint(0, turn),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    event.ignore()
    QApplication.sendEvent(field, event)
    return event.isAccepted()


def test_the_wheel_turns_only_a_field_with_focus(qtbot, stand, design):
    field = made(stand, design)
    stand.other.setFocus()
    assert not wheel(field)
    assert design.given == []
    field.setFocus()
    field.setCursorPosition(1)
    assert wheel(field)
    assert design.given == [15.2e6]


def test_nothing_from_outside_changes_what_is_being_typed(qtbot, stand, design):
    field = made(stand, design)
    retype(qtbot, field, "14.3", enter=False)
    field.set_value(14.15e6)
    assert field.text() == "14.3"
    qtbot.keyClick(field, Qt.Key.Key_Escape)
    assert field.text() == "14.15 MHz"


def test_an_empty_optional_field_means_computed(qtbot, stand, design):
    field = NumberField.for_field(BandPassFilter.model_fields["inductance_h"], design.apply)
    stand.layout().addWidget(field)
    field.set_value(1.5e-6)
    field.setFocus()
    field.selectAll()
    qtbot.keyClick(field, Qt.Key.Key_Delete)
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert design.given == [None]
    assert field.placeholderText() == "a sensible one"


def test_a_field_that_must_not_be_empty_says_so(qtbot, stand, design):
    field = made(stand, design)
    field.setFocus()
    field.selectAll()
    qtbot.keyClick(field, Qt.Key.Key_Delete)
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert "cannot be empty" in field.reason
    assert design.given == []


def test_whole_numbers_stay_whole(qtbot, stand, design):
    field = NumberField.for_field(
        LadderFilter.model_fields["poles"], design.apply, style=Style(places=0, whole=True)
    )
    stand.layout().addWidget(field)
    field.set_value(8)
    retype(qtbot, field, "7.5")
    assert design.given == []
    assert "whole number" in field.reason
    retype(qtbot, field, "6")
    assert design.given == [6]


def test_the_tooltip_says_what_it_is_its_unit_and_what_is_usual(qtbot, stand, design):
    field = NumberField.for_field(Project.model_fields["if_hz"], design.apply)
    for words in ("Intermediate frequency", "Unit: Hz", "Usually 4 to 22 MHz"):
        assert words in field.toolTip()
    assert field.accessibleName() == "IF"


@given(st.floats(min_value=1e-13, max_value=9e9), st.sampled_from([HZ, FARAD, OHM, Unit("dB"), Unit("-")]))
def test_what_is_written_can_be_read_again(value, unit):
    text = number_text(value, unit)
    assert parse(text, unit.symbol) == pytest.approx(value, rel=1e-8, abs=0 if unit.scaled else 1e-14)


@pytest.mark.parametrize(
    ("name", "shown", "typed", "meant"),
    [
        ("if_hz", 21.48e6, "21480", 21.48e6),
        ("if_hz", 21.48e6, "21.5", 21.5e6),
        ("if_hz", 21.48e6, "3", 3e6),
        ("capacitor_tolerance", 0.05, "2 %", 0.02),
        ("capacitor_tolerance", 0.05, "2", 0.02),
        ("capacitor_tolerance", 0.05, "0,02", 0.02),
        ("efficiency", 0.5, "45", 0.45),
        ("inductance_h", None, "1.2", 1.2e-6),
        ("padder_f", None, "300", 300e-12),
        ("helper_hz", None, "12", 12e6),
        ("lowest_audio_hz", None, "280", 280.0),
        ("cutoff_hz", None, "16.5", 16.5e6),
    ],
)
def test_a_bare_number_is_read_in_the_unit_a_field_shows_or_is_sized_for(
    qtbot, stand, design, name, shown, typed, meant
):
    owners = (
        Project,
        Scatter,
        PowerAmplifier,
        CarrierOscillator,
        Tank,
        ReadOut,
        LowPassFilter,
        BandPassFilter,
    )
    of = next(owner.model_fields[name] for owner in owners if name in owner.model_fields)
    field = NumberField.for_field(of, design.apply)
    stand.layout().addWidget(field)
    field.set_value(shown)
    retype(qtbot, field, typed)
    assert design.given == ([] if meant == shown else [pytest.approx(meant, rel=1e-12)])
    assert field.value == pytest.approx(meant, rel=1e-12)


def test_what_is_read_otherwise_than_the_unit_on_show_is_told_while_it_is_typed(qtbot, stand, design):
    field = made(stand, design, HZ, 21.48e6, style=Style(places=6, exponent=6))
    told = []
    field.told.connect(told.append)
    retype(qtbot, field, "21480", enter=False)
    assert told[-1] == "“21480” is read as 21.48 MHz"
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert field.text() == f"21.480{THIN}000 MHz"
    retype(qtbot, field, "21.5", enter=False)
    assert told[-1] == ""


def test_a_share_is_shown_in_per_cent_and_refused_beyond_the_whole(qtbot, bench):
    form = Form(Scatter, bench)
    qtbot.addWidget(form)
    form.show()
    form.show_model(bench.current.scatter, ("scatter",))
    field = form.field_at(("capacitor_tolerance",))
    assert field.text() == "5 %"
    retype(qtbot, field, "200 %")
    assert field.reason == "Capacitor tolerance: must be at most 100 %."
    retype(qtbot, field, "2 %")
    assert bench.current.scatter.capacitor_tolerance == 0.02


def test_a_value_beyond_its_limits_is_refused_in_words_and_with_what_was_read(qtbot, bench):
    form = Form(BandPassFilter, bench)
    qtbot.addWidget(form)
    form.show()
    place = ("stages", "band_pass", "filters", 0)
    form.show_model(bench.current.at(place), place)
    field = form.field_at(("resonators",))
    retype(qtbot, field, "9")
    assert "must be at most" in field.reason
    assert "input should" not in field.reason.lower()


def test_a_refused_step_leaves_no_mark_on_a_valid_text(qtbot, stand, design):
    field = made(stand, design, HZ, 14.35e6)
    said = []
    field.refused.connect(said.append)
    design.refusal = "The dial goes to 14.35 MHz."
    field.setFocus()
    qtbot.keyClick(field, Qt.Key.Key_Up)
    assert field.text() == "14.35 MHz"
    assert field.property("wrong") is False
    assert said == ["The dial goes to 14.35 MHz."]
