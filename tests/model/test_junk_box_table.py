"""The junk box as a table: what is read, what is refused by line, and the way there and back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.model.files import dumps, loads
from core.model.notebook.junk_box import (
    CapacitorOnHand,
    CoreOnHand,
    CrystalOnHand,
    DiodeOnHand,
    JunkBox,
    RelayOnHand,
    TransistorOnHand,
    VariableOnHand,
    WireOnHand,
)
from core.model.notebook.junk_box_table import parts_in, table_of
from core.model.values.errors import DesignError, FileError

TABLE = """\
kind,value,to,type,count,note
crystal,9 MHz,,,10,bag of the fair
capacitor,82 pF,,C0G,5,
capacitor,100n,,other,40,X7R
core,,,T50-6,4,
wire,0.4 mm,,,12 m,
transistor,,,2N3904,20,
diode,,,1N5711,8,
variable capacitor,10 pF,365 pF,,1,air
relay,12 V,,2 change-over,2,
"""
PARTS = (
    CrystalOnHand(frequency_hz=9e6, count=10, note="bag of the fair"),
    CapacitorOnHand(capacitance_f=82e-12, count=5),
    CapacitorOnHand(capacitance_f=100e-9, type="other", count=40, note="X7R"),
    CoreOnHand(core="T50-6", count=4),
    WireOnHand(diameter_m=0.4e-3, length_m=12.0),
    TransistorOnHand(device="2N3904", count=20),
    DiodeOnHand(device="1N5711", count=8),
    VariableOnHand(low_f=10e-12, high_f=365e-12, note="air"),
    RelayOnHand(coil_v=12.0, contacts="2 change-over", count=2),
)


def test_a_table_of_every_kind_is_read():
    found = parts_in(TABLE)
    assert found.problems == ()
    assert found.parts == PARTS


@pytest.mark.parametrize(
    "text",
    [
        "\ufeff" + TABLE,
        TABLE.replace(",", ";"),
        TABLE.replace(",", "\t"),
        TABLE.replace("\n", "\r\n"),
        TABLE.replace("0.4 mm", '"0,4 mm"'),
        TABLE.replace(",", ";").replace("0.4 mm", "0,4 mm"),
        TABLE.replace("crystal", "Crystals").replace("variable capacitor", "variable_capacitor"),
        TABLE.replace("wire", "\nwire"),
    ],
    ids=["mark", "semicolons", "tabs", "returns", "quoted", "decimal comma", "words", "empty line"],
)
def test_tables_as_other_programs_write_them(text):
    found = parts_in(text)
    assert found.problems == ()
    assert found.parts == PARTS


def test_units_may_stand_in_the_header():
    assert parts_in("kind;value (pF);count\ncapacitor;82;5\ncapacitor;2,2;1\n").parts == (
        CapacitorOnHand(capacitance_f=82e-12, count=5),
        CapacitorOnHand(capacitance_f=2.2e-12),
    )


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("capacitor,82,,,5,", "82 has no unit; write for instance 82 pF."),
        ("capacitor,,,,5,", "The column value is empty; write for instance 82 pF."),
        ("capacitor,2,2 pF,,5,,", "2 has no unit"),
        ("capacitor,1 pF,,,5,,x", "There are more cells than columns (x is one too many); a decimal comma"),
        ("coil,82 µH,,,5,", "coil is no kind of part; write one of crystal, capacitor, core"),
        (",82 pF,,,5,", "An empty cell is no kind of part"),
        ("capacitor,82 pF,,,five,", "five is no whole number of pieces"),
        ("capacitor,82 pF,,,-5,", "-5 is no whole number of pieces"),
        ("capacitor,82 pF,,X7R,5,", "X7R is no kind of capacitor that is told apart here; write one of c0g"),
        ("capacitor,82 Hz,,,5,", "“82 Hz” is not a value in F"),
        ("capacitor,82 F,,,5,", "Capacitance: must be at most 1 F."),
        ("core,,,,5,", "The column type is empty; write its designation, for instance T50-6."),
        ("variable capacitor,10 pF,,,1,", "The column to is empty"),
        ("wire,40 m,,,1,", "Diameter: must be at most 10 mm."),
        ("capacitor,82 pF,,,100001,", "Pieces: must be at most 100000."),
    ],
)
def test_a_line_that_is_no_part_is_refused_with_its_number_and_the_others_are_read(row, reason):
    found = parts_in(f"kind,value,to,type,count,note\ncore,,,T37-2,1,\n{row}\ncore,,,T50-2,1,\n")
    assert [each.core for each in found.parts] == ["T37-2", "T50-2"]
    (problem,) = found.problems
    assert problem.line == 3
    assert str(problem).startswith(f"Line 3: {reason}")


def test_what_is_no_such_table_is_one_sentence():
    for text, reason in (
        ("", "The table is empty"),
        ("part,value\nC,1 pF\n", "The table lacks the column kind; its first row must name kind."),
        ("kind,kind\nC,1 pF\n", "names kind twice"),
        ("kind\n" + "core\n" * 501, "more than 500 rows"),
        ("x" * 500_001, "more than 500000 letters"),
    ):
        with pytest.raises(DesignError, match=reason):
            parts_in(text)


NAMES = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "Zs", "S")), max_size=20).map(
    lambda text: " ".join(text.split())
)
COUNTS = st.integers(0, 1000)
ANY_PART = st.one_of(
    st.builds(CrystalOnHand, frequency_hz=st.floats(1e3, 1e9), count=COUNTS, note=NAMES),
    st.builds(
        CapacitorOnHand,
        capacitance_f=st.floats(1e-13, 1e-2),
        type=st.sampled_from(["c0g", "n150", "n1500", "p100", "silver_mica", "polystyrene", "other"]),
        count=COUNTS,
        note=NAMES,
    ),
    st.builds(CoreOnHand, core=st.just("=FT37-43"), count=COUNTS, note=NAMES),
    st.builds(WireOnHand, diameter_m=st.floats(1e-5, 1e-2), length_m=st.floats(0.1, 100)),
    st.builds(VariableOnHand, low_f=st.floats(1e-12, 1e-10), high_f=st.floats(1e-12, 1e-9), note=NAMES),
    st.builds(RelayOnHand, coil_v=st.floats(1, 50), contacts=NAMES, count=COUNTS),
)


@given(st.lists(ANY_PART, max_size=8))
def test_a_table_comes_back_as_it_was_written(parts):
    text = table_of(parts)
    if parts:
        assert parts_in(text).problems == ()
        assert parts_in(text).parts == tuple(parts)


def test_nothing_in_a_written_table_is_a_formula():
    written = table_of([CoreOnHand(core="=1+1", note="@sum")])
    assert written.splitlines()[1] == "core,,,'=1+1,1,'@sum"


def test_a_project_keeps_its_junk_box(tern):
    full = tern.edited(("junk_box",), JunkBox(first=True, parts=PARTS, crystals_hz=(9e6, 10e6)))
    assert loads(dumps(full)) == full
    assert full.junk_box.every_crystal_hz == (9e6, 10e6)
    assert full.junk_box.every_capacitor_f == (82e-12,)


def test_a_broken_part_in_a_file_is_named_by_its_line(tern):
    text = dumps(tern.edited(("junk_box", "parts"), PARTS)).replace('"length_m": 12.0', '"length_m": "long"')
    line = next(n for n, each in enumerate(text.splitlines(), 1) if '"long"' in each)
    with pytest.raises(FileError, match=rf"line {line}: .*length_m cannot be used: must be a number"):
        loads(text)
