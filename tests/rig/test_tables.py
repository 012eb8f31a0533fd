"""Tables of readings: what a row lacks or has too much of is said, and the other rows stay."""

from dataclasses import replace

import pytest

from core.model.values.errors import DesignError
from core.model.values.tables import read_table
from core.stages.crystals.crystals import Fixture
from tests.bags import read_batch

GOOD = "good,9000000,1115,0.98"


def batch(*rows: str, head: str = "label,peak (Hz),bandwidth,loss"):
    return read_batch("\n".join([head, *rows]), "bandwidth", Fixture())


def test_decimal_commas_among_commas_are_refused_with_what_stands_beyond():
    """Read as cells, `1,9,000100,350,1,2` is a crystal of 9 MHz with 50e15 H."""
    good, bad = batch(GOOD, "1,9,000100,350,1,2", head="label,peak (MHz),bandwidth,loss")[:2]
    assert good.refused != ""  # 9e12 Hz
    assert bad.parameters is None
    assert bad.refused == (
        "1: “1, 2” stands beyond the columns that the first row names; part columns by semicolons where "
        "commas are decimal marks."
    )


def test_a_missing_cell_is_named_and_a_trailing_comma_is_none():
    good, short, trailing = batch(GOOD, "b,9000000,1115", f"as {GOOD},,")
    assert short.refused == "b: loss is empty; fill it in."
    assert replace(trailing.parameters, label="good") == good.parameters


def test_lines_are_counted_as_an_editor_counts_them():
    lines = ["label,peak", "", '"two\nlines",9000000', "  ", ",,,", "b,1,2,3"]
    assert [row.line for row in read_table("\n".join(lines), {"label": ""}, 9)] == [4, 7]


@pytest.mark.parametrize("value", ["1e300", "1e308", "1e-300", "-1e300", "9e99", "1e", "1e" + "9" * 5000])
@pytest.mark.parametrize("column", [1, 2, 3])
def test_one_row_does_not_stop_the_others(value, column):
    cells = GOOD.split(",")
    cells[column] = value
    rows = batch(GOOD, ",".join(["bad", *cells[1:]]), f"as {GOOD}")
    assert rows[0].parameters == replace(rows[2].parameters, label="good")
    if rows[1].parameters is None:
        assert rows[1].refused.endswith(".")
        assert len(rows[1].refused) < 200


@pytest.mark.parametrize("method", ["series_capacitor", "parallel_capacitor"])
@pytest.mark.parametrize("value", ["1e300", "1e-300", "1e150", "0", "-1"])
def test_no_reading_raises(method, value):
    heads = {"series_capacitor": "label,without,with", "parallel_capacitor": "label,series,parallel,with"}
    for cells in ([value, "9002345"], ["9000000", value], [value, value]):
        cells += ["9001000"] if method == "parallel_capacitor" else []
        for c0 in ("", "3.5p", value):
            text = f"{heads[method]},c0\na,{','.join([*cells, c0])}\n"
            (row,) = read_batch(text, method, Fixture())
            assert row.parameters is None or row.parameters.lm_h > 0


@pytest.mark.parametrize("mark", ["", '"'])
def test_a_cell_that_is_too_long_and_a_quotation_mark_that_is_never_closed(mark):
    said = (
        "The row that begins in line {} of the table has a cell of more than 131072 letters; shorten it, or"
    )
    with pytest.raises(DesignError, match=said.format(3) + " close the quotation mark that opens it."):
        batch(GOOD, mark + "x" * 131_073)
    with pytest.raises(DesignError, match=said.format(1)):
        read_table(mark + "x" * 131_073, {"label": ""}, 10)
    # Rows of several lines before it are counted by their lines.
    with pytest.raises(DesignError, match=said.format(4)):
        batch('"a\nb",9000000,350,1', mark + "x\n" * 66_000 if mark else "x" * 131_073)
    (_, row) = batch(GOOD, "x" * 131_072)
    assert row.refused, "the longest that is read"


def test_rows_without_end_are_refused():
    with pytest.raises(DesignError, match="more than 2000 rows"):
        batch(*[GOOD] * 2001)
    assert len(batch(*[GOOD] * 2000)) == 2000


def test_labels_are_one_line():
    (row,) = batch('"a\nb\x1b[2J",9000000,x,1')
    assert row.label == "a b\\x1b[2J"
    assert row.refused.startswith("a b\\x1b[2J: bandwidth: ")
