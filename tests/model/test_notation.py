"""Numbers as builders write them."""

from math import isfinite

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.style.numbers import THIN, number_text
from core.model.values.errors import DesignError
from core.model.values.notation import format_frequency, format_value, parse, parse_near, signed
from core.model.values.quantities import Unit


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("14.1 MHz", "Hz", 14.1e6),
        ("14,1 MHz", "Hz", 14.1e6),
        ("14.1M", "Hz", 14.1e6),
        ("14100k", "Hz", 14.1e6),
        ("14.1 mhz", "Hz", 14.1e6),
        ("14 100 kHz", "Hz", 14.1e6),
        ("14.200\u202f00 MHz", "Hz", 14.2e6),
        ("14.200 00 MHz", "Hz", 14.2e6),
        ("500", "Hz", 500.0),
        ("1e6", "Hz", 1e6),
        ("4k7", "Ω", 4700.0),
        ("4k7Ω", "Ω", 4700.0),
        ("4R7", "Ω", 4.7),
        ("4,7 kΩ", "Ω", 4700.0),
        ("4.7 Kohm", "Ω", 4700.0),
        ("2n2", "F", 2.2e-9),
        ("62p", "F", 62e-12),
        ("3,5 pF", "F", 3.5e-12),
        ("1µ5", "H", 1.5e-6),
        ("1μ5", "H", 1.5e-6),
        ("1.5 uH", "H", 1.5e-6),
        ("3 mH", "H", 3e-3),
        ("-6.5 dB", "dB", -6.5),
        ("−6,5 dB", "dB", -6.5),
        ("+7 dBm", "dBm", 7.0),
        ("100 mW", "W", 0.1),
        ("0.5 m", "m", 0.5),
        ("40 000", "", 40000.0),
        (".5", "", 0.5),
    ],
)
def test_what_a_builder_means(text, unit, value):
    assert parse(text, unit) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "unit", "hint"),
    [
        ("", "Hz", "Nothing was typed"),
        ("14,100.5", "Hz", "more than one decimal mark"),
        ("14.1.2", "Hz", "more than one decimal mark"),
        ("nan", "Hz", "not a number"),
        ("inf", "Hz", "not a number"),
        ("1e999", "Hz", "too large"),
        ("62 pF", "H", "not a value in H"),
        ("4R7", "F", "resistance"),
        ("fast", "dB", "not a number"),
        ("14.1 MHz MHz", "Hz", "not a value in Hz"),
        ("5 %", "", "not a plain number"),
    ],
)
def test_what_nobody_can_mean_is_refused_with_the_reason(text, unit, hint):
    with pytest.raises(DesignError, match=hint) as refusal:
        parse(text, unit)
    assert "type a number such as" in str(refusal.value)


@given(st.floats(1e-14, 1e10), st.sampled_from(["Hz", "F", "H", "Ω", "W", "V"]))
def test_what_is_shown_can_be_typed(value, unit):
    assert parse(format_value(value, unit, 12), unit) == pytest.approx(value, rel=1e-10)


@given(st.floats(-199, 199), st.sampled_from(["dB", "dBm", "dBc"]))
def test_levels_shown_can_be_typed(value, unit):
    shown = format_value(value, unit, 6)
    assert "-" not in shown
    assert parse(shown, unit) == pytest.approx(value, rel=1e-4, abs=1e-3)


#: What nobody would type, and what is nearly or wholly a number.
TEXTS = st.text(max_size=20) | st.from_regex(
    r"[-+−]?[0-9]{1,4}[.,]?[0-9]{0,3} ?[kMmµnp]?(Hz|F)?", fullmatch=True
)


@given(TEXTS, st.sampled_from(["Hz", "F", "dB", "", "Ω", "m"]))
def test_any_text_is_a_number_or_a_sentence(text, unit):
    try:
        value = parse(text, unit)
    except DesignError as refusal:
        sentence = str(refusal)
    else:
        sentence = "."
        assert isfinite(value)
    assert sentence.endswith(".")


def test_frequencies_as_on_a_dial():
    assert format_frequency(14.2e6) == "14.200\u202f00 MHz"
    assert format_frequency(19_660_800, 1) == "19.660\u202f800 MHz"
    assert format_frequency(-250, 1) == "−0.000\u202f250 MHz"


@pytest.mark.parametrize(
    ("text", "turns"), [("180°", 0.5), ("180 deg", 0.5), ("0,5", 0.5), ("10 turns", 10), ("1.5", 1.5)]
)
def test_a_rotation_is_in_turns_or_degrees(text, turns):
    assert parse(text, "turns") == pytest.approx(turns)
    assert parse(format_value(turns, "turns"), "turns") == pytest.approx(turns)


@given(st.floats(-1e6, 1e6), st.integers(1, 9))
def test_no_more_digits_are_shown_than_asked(value, digits):
    for unit in ("dB", "", "turns"):
        text = format_value(value, unit, digits).partition(" ")[0].replace("\u2212", "")
        shown = text.partition("e")[0].replace(".", "").lstrip("0")
        whole = text.partition("e")[0].partition(".")[0]
        # Whole numbers keep their zeros; decimals end with the last digit asked.
        assert len(shown) <= max(digits, len(whole))


@pytest.mark.parametrize("unit", ["Hz", "", "turns", "dB", "Ω"])
@pytest.mark.parametrize(
    "text",
    ["1e", "1e" + "9" * 5000, "1e-" + "9" * 5000 + "x", "9" * 5000, "1e5000"],
)
def test_digits_without_end_are_refused_in_a_sentence_that_has_one(text, unit):
    with pytest.raises(DesignError, match=r"type a number such as") as refusal:
        parse(text, unit)
    assert len(str(refusal.value)) < 150


@pytest.mark.parametrize(
    ("value", "places", "unit", "text"),
    [
        (-2.2, 0, "Hz/K", "−2 Hz/K"),
        (-0.4, 0, "Hz/K", "0 Hz/K"),
        (0.4, 0, "", "0"),
        (7.0, 0, "dBm", "+7 dBm"),
        (-0.04, 1, "dB", "0.0 dB"),
    ],
)
def test_a_signed_number_has_a_minus_sign_and_zero_has_none(value, places, unit, text):
    assert signed(value, places, unit) == text


@pytest.mark.parametrize(("farad", "text"), [(0.831e-12, "0.831 pF"), (62e-12, "62 pF"), (2e-15, "0.002 pF")])
def test_small_capacitors_are_spoken_of_in_picofarads(farad, text):
    assert format_value(farad, "F", 3) == text


@pytest.mark.parametrize(
    ("text", "shown", "near", "meant"),
    [
        ("14.1", "MHz", 14.2e6, 14.1e6),
        ("21480", "MHz", 21.48e6, 21.48e6),
        ("500", "kHz", 2400.0, 500.0),
        ("1", "MHz", 14e6, 1e6),
        ("14\u2019100 kHz", "MHz", 14.2e6, 14.1e6),
        ("\u22123", "kHz", 5e3, -3e3),
    ],
)
def test_a_bare_number_is_read_beside_the_value_on_show(text, shown, near, meant):
    assert parse_near(text, "Hz", shown, near) == pytest.approx(meant, rel=1e-12)


def test_a_share_is_read_in_per_cent():
    assert parse_near("2 %", "%", "%", 0.05, 0, 1) == pytest.approx(0.02)
    assert parse_near("2", "%", "%", 0.05, 0, 1) == pytest.approx(0.02)
    assert parse_near("0.02", "%", "%", 0.05, 0, 1) == pytest.approx(0.02)


@pytest.mark.parametrize(
    ("value", "unit", "digits", "text"),
    [
        (999.96, "Ω", 4, "1 kΩ"),
        (999.94, "Ω", 4, "999.9 Ω"),
        (-2.2e-6, "H", 3, "−2.2 µH"),
        (0.5, "Hz", 3, "0.5 Hz"),
        (12.5e9, "Hz", 4, "12.5 GHz"),
        (3e13, "Hz", 2, "30000 GHz"),
        (4.5e-17, "W", 3, "0.045 fW"),
        (1e-18, "F", 3, "0.000001 pF"),
        (0.0, "F", 3, "0 F"),
        (1234567.0, "Hz", 3, "1.23 MHz"),
    ],
)
def test_engineering_notation(value, unit, digits, text):
    assert format_value(value, unit, digits) == text


@given(st.floats(1e-18, 1e12), st.sampled_from(["Hz", "F", "H", "Ω", "V"]), st.sampled_from([1, -1]))
def test_fields_write_as_everything_else_does(value, unit, sign):
    field = number_text(sign * value, Unit(unit, scaled=True))
    assert field.replace(THIN, "") == format_value(sign * value, unit, 10)
