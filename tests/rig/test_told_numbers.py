"""Levels, carrier and VFO as report and sheet tell them, worked apart from how they are gathered."""

import re
from math import log10

import numpy as np
import pytest

from core.model.stages.tank import Tank
from core.model.station import Station
from core.rig.analysis import Analysis
from core.rig.figures.amplifiers import _ohm
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.report import as_text, report
from core.rig.rules import inspect
from core.stages.vfo import vfo
from core.stages.vfo.tank import WantedRange, resonance
from core.stages.vfo.tank_design import design


def test_the_sheet_tells_each_stages_own_output(tern):
    table = build_sheet(Analysis(tern)).paths[0]
    # S9 is -73 dBm at the antenna; behind each stage it is higher by all gains so far.
    assert table.start_dbm == (-73.0, -73.0)
    assert table.title.endswith("headroom at S9 + 40 dB, with the controls turned down for it")
    level = -73.0
    for row in table.rows:
        level += row.gain_db[0]
        assert row.level_dbm[0] == pytest.approx(level, abs=1e-9), row.name
    sent = build_sheet(Analysis(tern)).paths[1]
    # 5 W on the weaker band, and hardly more.
    assert 10 * log10(5000) <= min(sent.rows[-1].level_dbm) < 37.25
    # What 5 mV behind 600 ohm could give at best.
    assert sent.start_dbm[0] == pytest.approx(10 * log10(5e-3**2 / (4 * 600) / 1e-3), abs=1e-9)


def test_the_sheet_tells_what_of_the_noise_figure_is_folded(tern, muddle):
    told = build_sheet(Analysis(tern)).paths[0].summary[0]
    assert "noise figure 9.7 dB (1.6 dB of it from the image)" in told
    assert "the detector's image" in build_sheet(Analysis(muddle)).paths[0].summary[0]
    assert "from the image" not in build_sheet(Analysis(muddle)).paths[0].summary[0]
    row = report(Analysis(tern))["levels"]["receive"][0]
    assert row["image_noise_db"] == pytest.approx(1.65, abs=0.1)
    assert row["noise_bandwidth_hz"] == pytest.approx(2282, rel=0.01)


def test_balance_and_ladder_hold_the_carrier_down_together(tern):
    row = report(Analysis(tern))["carrier"][0]
    assert row["carrier_suppression_db"] == pytest.approx(40 + tern.carrier.edge_suppression_db, abs=0.1)
    better = report(Analysis(tern.edited(("carrier", "balance_db"), 50.0)))["carrier"][0]
    assert better["carrier_suppression_db"] - row["carrier_suppression_db"] == pytest.approx(10.0)


def test_the_worse_end_of_the_band_is_told_to_start(tern):
    analysis = Analysis(tern)
    low, high = vfo.figures(analysis.tank, "20m").start
    assert low < high - 0.05
    assert report(analysis)["vfo"][0]["start_margin"] == pytest.approx(low)
    told = dict(build_sheet(analysis).vfo.figures)["start-up"]
    assert float(told[0].removesuffix(" times")) == pytest.approx(low, abs=0.006)


@pytest.mark.parametrize("coil_h", [2.2e-6, 3.3e-6])
def test_what_the_branch_swings_too_much_gives_both_ends_as_many_hertz(coil_h):
    # Without a padder's rounding to hide it: no padder, so that there is swing to spare.
    tank = Tank(find="coil_and_parallel", margin_hz=0, capacitors="exact")
    tank = tank.edited(("as_built",), {"coil": coil_h})
    wanted = WantedRange("band", 5e6, 5.5e6)
    made = design(tank, (wanted,))
    low, high = resonance(made, "band", np.array([0.0, 1.0])).f_hz
    below, above = wanted.low_hz - low, high - wanted.high_hz
    assert below > 0
    assert below == pytest.approx(above, rel=0.15)


def test_gain_at_one_frequency_beyond_the_wirings_isolation_is_told(muddle):
    told = [f for f in inspect(Analysis(muddle)) if f.rule == "loop_gain" and f.subject == "if, receive"]
    assert "amplifies 64 dB at one frequency (IF)" in told[0].text
    first = ("stages", "if_amplifier_1", "gain_db")
    spare = muddle.edited(first, muddle.at(first) - (64 - Station().stray_isolation_db) - 0.1)
    assert [f for f in inspect(Analysis(spare)) if f.rule == "loop_gain" and f.subject == "if, receive"] == []


#: A column of the report's tables: its title, and how finely its numbers are told.
COLUMNS = {
    "CARRIER": {
        "carrier": r"\d+\.\d{6} MHz",
        "trimmer reaches": r"\d+\.\d{4} to \d+\.\d{4} MHz",
        "trimmer": r"\d\d\.\d pF",
        "series coil": r"\d\.\d\d µH",
        "carrier with the modulator": r"\d+ dB",
        "carrier at the ladder": r"\d+ dB",
        "other sideband, 300 Hz": r"\d+ dB",
        "other sideband, 1 kHz": r"\d+ dB",
        "other sideband, 2 kHz": r"\d+ dB",
        "lowest tone, −6 dB": r"\d+ Hz",
    },
    "VFO": {
        "wanted": r"\d\.\d{4} to \d\.\d{4} MHz",
        "covered": r"\d\.\d{4} to \d\.\d{4} MHz",
        "tuning, most": r"\d\d\.\d kHz/turn",
        "scale printed evenly": r"\d+\.\d+ kHz",
        "drift, low and high end": r"[+−]\d+ and [+−]\d+ Hz/K",
        "drift, worst case": r"\d+ Hz/K",
        "start-up": r"\d\.\d\d times",
    },
    "READ OUT": {
        "stored": r"\+\d+\.\d{6} MHz",
        "counted": r"\d\.\d{5} to \d\.\d{5} MHz",
        "shows": r"\d\d\.\d{5} to \d\d\.\d{5} MHz",
        "off by up to": r"\d+ Hz",
        "measured, off by": r"\d+ Hz",
    },
    "AMPLIFIERS": {
        "gain": r"\d+\.\d dB",
        "from output to input": r"−\d+\.\d dB",
        "return loss, input": r"\d+\.\d dB",
        "return loss, output": r"\d+\.\d dB",
        "noise figure": r"\d+\.\d dB",
        "third-order intercept, output": r"−?\d+\.\d dBm",
        "1 dB compression, output, ±0.5 dB": r"−?\d+\.\d dBm",
        "least µ": r"\d\.\d\d",
        "taken from the supply": r"(\d\d\.\d|\d\.\d\d) mA",
    },
    "TRANSMIT LEVELS": {"output": r"\d\.\d\d W", "strongest harmonic": r"−\d\d\.\d dBc"},
    "FILTERS": {
        "ripple": r"\d\.\d\d dB",
        "least loss": r"\d\.\d dB",
        "loss on the band": r"\d\.\d\d dB",
        "return loss on the bands served": r"\d\d\.\d dB",
        "end resistance": r"\d\d\.\d Ω",
        "return loss in its pass-band": r"\d+\.\d dB",
    },
}


@pytest.mark.parametrize("section", COLUMNS)
def test_numbers_of_the_report_are_told_as_finely_as_they_can_be_read(tern, section):
    lines = as_text(report(Analysis(tern))).splitlines()
    start = lines.index(section) + 1
    head, first = (re.split(r" {2,}", line) for line in lines[start : start + 2])
    row = dict(zip(head, first, strict=True))
    # What is not asked about are names, and what another table tells whole.
    assert set(COLUMNS[section]) <= set(head)
    for title, form in COLUMNS[section].items():
        assert re.fullmatch(form, row[title]), (title, row[title])
    if section == "VFO":
        # Both ends' start-up, turns and the ends of the tuning are the page's, not the report's.
        assert set(head) == {*COLUMNS[section], "band"}


@pytest.mark.parametrize(
    ("ohm", "text"),
    [(60.94 - 17.06j, "60.9 − j17.1 Ω"), (42.4 + 5.8j, "42.4 + j5.8 Ω"), (50 + 0j, "50.0 + j0.0 Ω")],
)
def test_an_impedance_is_written_with_the_sign_of_its_reactance(ohm, text):
    assert _ohm(ohm) == text
