"""Every quantity has a floor and a ceiling, lists have an end, and names are text of one line."""

import typing

import pytest
from annotated_types import Ge, Gt, Le, Lt

from core.model.stages.filters import LowPassFilter
from core.model.stages.oscillators import CarrierOscillator
from core.model.stages.tank import points_of
from core.model.values.base import Model
from core.model.values.errors import DesignError
from core.model.values.quantities import Unit
from core.model.values.wording import visible


def _quantities(annotation):
    """The annotated numbers inside a field's type, e.g. that of `tuple[Farad, ...] | None`."""
    marks = getattr(annotation, "__metadata__", ())
    if any(isinstance(mark, Unit) for mark in marks):
        yield marks
    for inner in typing.get_args(annotation):
        yield from _quantities(inner)


def _models(base=Model):
    for each in base.__subclasses__():
        yield each
        yield from _models(each)


@pytest.mark.parametrize("model", sorted(set(_models()), key=lambda each: each.__name__))
def test_no_quantity_comes_as_near_to_zero_as_it_likes(model):
    for name, hint in typing.get_type_hints(model, include_extras=True).items():
        for marks in _quantities(hint):
            lows = [mark.ge for mark in marks if isinstance(mark, Ge)]
            lows += [mark.gt for mark in marks if isinstance(mark, Gt)]
            highs = [mark.le for mark in marks if isinstance(mark, Le)]
            highs += [mark.lt for mark in marks if isinstance(mark, Lt)]
            assert lows, name
            assert highs, name
            # "Greater than zero" alone lets 1e-300 through, whose square is nothing.
            assert not any(isinstance(mark, Gt) and mark.gt == 0 for mark in marks), name
            assert max(map(abs, (*lows, *highs))) <= 1e10, name


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("stages", "low_pass", "filters", 0, "coil_q"), 1e-300),
        (("stages", "low_pass", "filters", 0, "capacitor_q"), 0.9),
        (("stages", "ladder", "crystal", "quality_factor"), 1e-30),
        (("stages", "ladder", "crystal", "motional_inductance_h"), 1e-300),
        (("vfo", "tank", "variable", "reduction"), 1e-300),
        (("vfo", "tank", "variable", "travel_turns"), 1e-310),
        (("vfo", "tank", "coil_self_f"), 1e-19),
        (("read_out", "counter", "gate_s"), 1e-310),
        (("station", "power_w"), 1e-300),
        (("speaker", "distance_m"), 1e-300),
        (("if_hz",), 9999.0),
        (("if_hz",), 1.1e9),
        (("bands", "20m", "low_hz"), 1.0),
        (("junk_box", "capacitors_f"), (1e-10,) * 501),
        (("junk_box", "crystals_hz"), (9e6,) * 501),
        (("stages", "low_pass", "filters"), (LowPassFilter(),) * 17),
        (("stages", "low_pass", "filters", 0, "bands"), ("20m",) * 17),
        (("name",), "two\nlines"),
        (("name",), "\x1b[31mred"),
        (("name",), "turned \u202e round"),
        (("bands", "20m", "name"), "20\x07m"),
        (("bands", "20m", "name"), "20\ud800m"),
        (("stages", "ladder", "name"), "a\u2028b"),
    ],
)
def test_what_no_builder_meets_is_refused_in_a_sentence(tern, path, value):
    with pytest.raises(DesignError) as refusal:
        tern.edited(path, value)
    sentence = str(refusal.value)
    assert sentence.endswith(".")
    assert sentence.isprintable()
    assert len(sentence) < 200


@pytest.mark.parametrize(
    "sign",
    # Direction marks, a soft hyphen, blanks without width, joiners, a filler, a byte order mark, a tag.
    list("\u061c\u200e\u200f\xad\u200b\u200c\u200d\u2060\u034f\u115f\u180e\u3164\ufeff\U000e0041"),
)
@pytest.mark.parametrize(
    "path",
    [("name",), ("bands", "20m", "name"), ("stages", "ladder", "name"), ("stages", "low_pass", "name")],
)
def test_a_name_holds_no_sign_that_nobody_sees(tern, path, sign):
    with pytest.raises(DesignError) as refusal:
        tern.edited(path, f"2{sign}0")
    assert str(refusal.value).endswith(f"the invisible character U+{ord(sign):04X}; leave it out.")
    # Where such a sign comes out of a file it is shown by its code.
    assert visible(f"2{sign}0") == f"2{sign.encode('unicode_escape').decode()}0"


def test_a_list_without_end_is_refused_by_its_count(tern):
    with pytest.raises(DesignError, match=r"must have at most 500 entries\."):
        tern.edited(("junk_box", "capacitors_f"), (1e-10,) * 501)


def test_a_measured_table_is_held_to_the_limits_of_a_capacitor():
    for table in ("0 100p; 100 1e-30", "0 1000000; 100 10p"):
        with pytest.raises(DesignError, match="Capacitance: must be at"):
            points_of(table)


def test_what_builders_really_have_stays_allowed(tern):
    for path, value in (
        (("stages", "ladder", "crystal", "motional_inductance_h"), 8e3),
        (("carrier", "coil_h"), 1e-9),
        (("vfo", "tank", "stray_f"), 0.05e-12),
        (("read_out", "counter", "gate_s"), 1e-3),
        (("bands", "20m", "name"), "20 <&> 'hot' é"),
        (("name",), "Rig \u260e\ufe0f नमस्ते \U0001f4fb"),
    ):
        tern.edited(path, value)
    assert CarrierOscillator.checked(trimmer_low_f=1e-13).trimmer_low_f == 1e-13
