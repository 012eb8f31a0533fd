"""Mixers of transistors in a rig: supply, test points, sheet, board and netlist read the one circuit."""

import pytest

from core.model.files import dumps, loads
from core.rig.analysis import Analysis
from core.rig.board.boards import board_of
from core.rig.board.checks import misjoined
from core.rig.figures.mixers import MIXER
from core.rig.mixer_facts import mixers_of
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.export import netlist_of
from core.rig.supply.consumers import feeding
from core.rig.workshop.test_points import points_of


@pytest.fixture(scope="module")
def rig(sample):
    made = sample.edited(("stages", "mixer", "type"), "transistor_array")
    return made.edited(("stages", "detector", "type"), "transistor_array")


@pytest.fixture(scope="module")
def analysis(rig):
    return Analysis(rig)


def test_the_file_keeps_it(rig):
    assert loads(dumps(rig)) == rig


def test_test_points_are_its_direct_currents(analysis):
    rest = analysis.design("mixer", "20m").rest
    points = {each.place: each for each in points_of(analysis) if each.stage == "mixer"}
    assert points["current"].dc_a == pytest.approx(sum(rest.rails_a.values()))
    assert points["transistor:1.emitter"].dc_v == pytest.approx(rest.volts["e1"])
    assert points["transistor:3.base"].dc_v == pytest.approx(rest.volts["l"])
    # The lower collectors carry the tail's current between them: voltages by the resistors alone.
    fitted = {row.ref: row.fitted for row in analysis.design("mixer", "20m").parts}
    drop = rest.volts["e1"] - rest.volts["t"]
    assert drop / fitted["RD1"] == pytest.approx(rest.volts["t"] / fitted["RE"] / 2, rel=1e-3)


def test_the_supply_feeds_it(rig, analysis):
    fed = feeding(analysis)
    assert fed is not None
    consumer = next(each for each in fed.consumers if each.key == "mixer")
    assert consumer.powered == (True, True)
    assert consumer.made_for_v == 12.0
    design = analysis.design("mixer", "20m")
    assert design.supply_a == pytest.approx(1.5e-3, rel=0.03)
    # At less it takes less, as its resistors say.
    assert design.at_supply_a(12.0) == pytest.approx(design.supply_a)
    assert 0.6 * design.supply_a < design.at_supply_a(9.0) < 0.8 * design.supply_a


def test_sheet_board_and_netlist_have_it(analysis):
    sections = {each.stage: each for each in build_sheet(analysis).filters}
    refs = [row.ref for row in sections["detector"].parts]
    assert {"RV", "RE", "RBU", "RBM", "RBL", "T2"} <= set(refs)
    assert [f"Q{n}" for n in range(1, 7)] == [ref for ref in refs if ref in {f"Q{n}" for n in range(1, 7)}]
    assert [each.ref for each in sections["mixer"].windings][:2] == ["T1", "T1, second winding"]
    board = board_of(analysis, "mixer")
    assert misjoined(board.plan, board.items) == ()
    text = netlist_of(analysis, "mixer", "20m")
    assert sum(line.startswith("Q_") for line in text.splitlines()) == 6
    assert "V_rail_supply supply 0 DC 12.0" in text
    # It works one way: in transmit the IF goes in where in receive the dial does.
    for way in ("receive", "transmit"):
        assert "v(converted)*cos" in netlist_of(analysis, "mixer", "20m", way)


def test_figures_of_transistors_are_told_as_estimates_until_they_are_read(rig, analysis):
    table = {figure.key: figure for figure in MIXER}
    estimate = "an estimate: capacitances are left out"
    miss = "gain up to 1.5 dB too high, as seen at 14 MHz with 2N3904 at 1 mA of tail current"

    def told(of):
        return table["figures_from"].get(next(each for each in mixers_of(of) if each.name == "Mixer"))

    assert told(analysis).startswith(f"its circuit, {estimate}, {miss}")
    for key in ("gain_db", "noise_figure_db", "iip3_dbm", "p1db_in_dbm"):
        assert f"of transistors {estimate}" in table[key].source
    assert table["gain_db"].source.endswith(miss)
    readings = {"gain_db": -3.0, "noise_figure_db": 9.0, "iip3_dbm": 5.0, "p1db_in_dbm": -5.0}
    read = rig.edited(("stages", "mixer", "gain_db"), readings.pop("gain_db"))
    assert estimate in told(Analysis(read))
    assert miss not in told(Analysis(read))
    for name, value in readings.items():
        read = read.edited(("stages", "mixer", name), value)
    assert told(Analysis(read)).startswith("its circuit")
    assert "estimate" not in told(Analysis(read))
