"""Readings as values: what a table says is kept whole, and the table is made of them again."""

import json
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from core.model.files import dumps, load, loads
from core.model.readings import CrystalReading, TypedCell, readings_of, table_of
from core.model.values.errors import DesignError, FileError

TABLE = '''Label;Peak (MHz);bandwidth;loss (dB);Bag no;c0 (pF);
1;19,6600012;2890 Hz;0,9;A 7;3,1;
2;19,66o;2880;0,8;;;seven
"3;""b""";19 660 091;2,91k;−1;A 8;;
'''


def test_a_table_is_values_with_units_and_what_is_none_stays_as_typed():
    first, second, third = readings_of(TABLE)
    assert first == CrystalReading(
        label="1",
        peak_hz=19_660_001.2,
        bandwidth_hz=2890.0,
        loss_db=0.9,
        c0_f=3.1e-12,
        typed=(TypedCell(column="bag no", text="A 7"),),
    )
    assert (second.peak_hz, second.as_typed("peak")) == (None, "19,66o")
    assert second.as_typed("column 7") == "seven"
    assert (third.label, third.bandwidth_hz, third.loss_db) == ('3;"b"', 2910.0, -1.0)
    # In a column of MHz a bare number is megahertz, however large.
    assert third.as_typed("peak") == "19 660 091 MHz"


def test_the_table_is_made_again_of_the_values():
    assert table_of(readings_of(TABLE), ("label", "peak", "loss")).splitlines() == [
        "label;peak (MHz);bandwidth (Hz);loss (dB);c0 (pF);bag no;column 7",
        "1;19.6600012;2890;0.9;3.1;A 7;",
        "2;19,66o;2880;0.8;;;seven",
        '"3;""b""";19 660 091 MHz;2910;-1;;A 8;',
    ]


def test_cells_beyond_the_first_row_stay_beyond_it():
    (row,) = readings_of("label,file\na,x.s2p,3,4\n")
    assert row == CrystalReading(
        label="a", file="x.s2p", typed=(TypedCell(column=None, text="3"), TypedCell(column=None, text="4"))
    )
    assert table_of((row,), ("label", "file")) == "label;file\na;x.s2p;3;4\n"


cells = st.text(st.sampled_from('0123456789.,;"\t\n\r eEkMHzp−x='), max_size=8)
heads = st.sampled_from(
    ["peak", "peak (MHz)", "loss (dB)", "bandwidth [kHz]", "c0 (pF)", "file", "with", "Bag no", "", "T/°C"]
)


@given(
    st.lists(heads, min_size=1, max_size=6),
    st.lists(st.lists(cells, min_size=1, max_size=8), max_size=4),
    st.sampled_from(";,\t"),
)
def test_no_cell_is_lost_or_changed_between_table_and_values(names, rows, mark):
    def line(row):
        return mark.join('"{}"'.format(cell.replace('"', '""')) for cell in row)

    bare = [name.split(" (")[0].split(" [")[0] for name in names if name]
    assume(len(set(bare)) == len(bare))
    readings = readings_of("\n".join(line(row) for row in (["label", *names], *rows)))
    assert readings_of(table_of(readings, ("label", "file"))) == readings
    typed = [cell.text for each in readings for cell in each.typed]
    for row in rows:
        # Every cell is a figure, a label, a file, or stands as typed, perhaps with its column's unit.
        for cell in row[len(names) + 1 :]:
            assert not cell.strip() or cell.replace("\r\n", "\n").replace("\r", "\n").strip() in typed


@given(st.floats(-10e9, 10e9), st.floats(-1, 1), st.floats(-200, 200))
def test_a_figure_is_the_very_same_behind_the_table(hz, farad, db):
    row = CrystalReading(label="a", peak_hz=hz, bandwidth_hz=hz, c0_f=farad, loss_db=db)
    assert readings_of(table_of((row,), ("label",))) == (row,)


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("peak;loss\n1;2\n", "lacks the column label"),
        ("label;peak;Peak (MHz)\n", "names peak twice"),
        ("label;peak\n" + "1;2\n" * 60_000, "more than 200000 letters"),
        ("label;peak\n" + "1;2\n" * 2_001, "more than 2000 rows"),
    ],
    ids=["no label", "twice", "long", "many"],
)
def test_what_is_no_table_is_a_sentence(text, hint):
    with pytest.raises(DesignError, match=hint):
        readings_of(text)


# Files of format 3, which kept both tables as text

OLD = Path(__file__).with_name("version_3.json")


def test_the_tables_of_a_file_of_format_3_are_the_same_as_values():
    rig = load(OLD)
    assert rig.schema_version == 4
    points = [(each.travel, each.capacitance_f) for each in rig.vfo.tank.variable.table]
    assert points == [(0, 100e-12), (0.25, 70e-12), (0.5, 48.5e-12), (0.75, 28e-12), (1, 10e-12)]
    readings = rig.crystal_batch.readings
    assert [each.label for each in readings] == [str(n) for n in range(1, 21)]
    assert (readings[0].peak_hz, readings[0].bandwidth_hz) == (19_660_772.0, 4157.0)
    assert (readings[0].loss_db, readings[0].c0_f) == (0.49, 3.1e-12)
    assert (readings[4].loss_db, readings[4].as_typed("loss")) == (None, "o,52")
    assert readings[5].as_typed(None) == "seven"
    assert {each.as_typed("bag") for each in readings} == {"first", "second"}
    assert rig.crystal_batch.left_out == ("14",)
    assert loads(dumps(rig)) == rig


def _old(table=None, points=None, **fields):
    data = json.loads(OLD.read_text())
    if table is not None:
        data["crystal_batch"]["table"] = table
    if points is not None:
        data["vfo"]["tank"]["variable"]["table"] = points
    data["vfo"]["tank"]["variable"]["law"] = "straight_capacitance"
    return loads(json.dumps({**data, **fields}), "old.json")


@pytest.mark.parametrize("text", ["1;19,66;4000;0,5\n", "label;peak\n", "label;peak\n" + "1;2\n" * 2001])
def test_old_readings_that_are_no_table_are_a_draft(text):
    batch = _old(table=text).crystal_batch
    assert (batch.readings, batch.draft) == ((), text)


def test_an_old_tuning_table_that_nothing_read_goes_into_the_notes():
    assert _old(points="0 100p; half way 48p", notes="Mine.").notes == (
        "Mine.\nMeasured table of the tuning capacitor, which could not be read: 0 100p; half way 48p"
    )
    assert len(_old(points="x", notes="n" * 20_000).notes) == 20_000
    assert _old(points="", notes="Mine.").notes == "Mine."


@pytest.mark.parametrize("table", [7, None, ["a"], {"a": 1}])
def test_old_tables_that_were_refused_are_refused(table):
    data = json.loads(OLD.read_text())
    data["vfo"]["tank"]["variable"]["table"] = table
    with pytest.raises(FileError, match=r"vfo\.tank\.variable\.table"):
        loads(json.dumps(data))
    data = json.loads(OLD.read_text())
    data["crystal_batch"]["table"] = table
    with pytest.raises(FileError, match="crystal_batch"):
        loads(json.dumps(data))
    data = json.loads(OLD.read_text())
    data["vfo"]["tank"]["variable"]["table"] = "0 100p; 100 what"
    with pytest.raises(FileError, match=r"vfo\.tank\.variable\.table.*must be a list"):
        loads(json.dumps(data))


def test_a_bag_in_a_file_has_no_row_of_nulls(tern):
    stored = json.loads(dumps(tern))["crystal_batch"]["readings"][0]
    assert stored == {"label": "1", "peak_hz": 19660772.0, "bandwidth_hz": 4157.0, "loss_db": 0.49}


def test_readings_and_a_draft_exclude_each_other(tern):
    with pytest.raises(DesignError, match="take one of them out"):
        tern.edited(("crystal_batch", "draft"), "a;b")
