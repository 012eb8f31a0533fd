"""Where the carrier is put, what it leaves of the other sideband, and what it drives."""

import numpy as np
import pytest

from core.circuits.ladder import solve
from core.model.stages.filters import Crystal, LadderFilter
from core.rig.analysis import Analysis
from core.rig.levels import oscillator_drive
from core.rig.paper.report import report
from core.rig.rules import inspect
from core.stages.filters import carrier_oscillator, ladder_filter
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.outcome import Unsolved
from tests.published.reference import scattering

LADDER = LadderFilter(id="ladder", name="Ladder")
SOLVED = ladder_filter.solved(AskedLadder(LADDER, 9e6))
SIDES = [("upper", 1), ("lower", -1)]


@pytest.mark.parametrize(("side", "sign"), SIDES)
@pytest.mark.parametrize("tone", [150.0, 300.0, 450.0])
def test_the_lowest_tone_is_six_decibels_down(side, sign, tone):
    place = carrier_oscillator.place(SOLVED, side, 20.0, lowest_audio_hz=tone)
    made, band = (
        ladder_filter.design(AskedLadder(LADDER, 9e6)),
        ladder_filter.solved(AskedLadder(LADDER, 9e6)).band,
    )
    at = solve(made.network, [place.frequency_hz + sign * tone]).loss_db[0]
    assert at - band.least_loss_db == pytest.approx(6.0, abs=0.01)
    assert place.lowest_audio_hz == tone


@pytest.mark.parametrize(("side", "sign"), SIDES)
def test_by_suppression_the_lowest_tone_is_told(side, sign):
    place = carrier_oscillator.place(SOLVED, side, 20.0)
    again = carrier_oscillator.place(SOLVED, side, 20.0, lowest_audio_hz=place.lowest_audio_hz)
    assert again.frequency_hz == pytest.approx(place.frequency_hz, abs=0.01)
    assert again.suppression_db == pytest.approx(20, abs=0.01)


@pytest.mark.parametrize(("side", "sign"), SIDES)
def test_the_other_sideband_by_scikit_rf(side, sign):
    place = carrier_oscillator.place(SOLVED, side, 20.0)
    made = ladder_filter.design(AskedLadder(LADDER, 9e6))
    for tone, told in (
        (300.0, place.unwanted_sideband_300hz_db),
        (1000.0, place.unwanted_sideband_1khz_db),
        (2000.0, place.unwanted_sideband_2khz_db),
    ):
        f = place.frequency_hz + np.array([-tone, tone])
        low, high = -20 * np.log10(np.abs(scattering(made.network, f)[:, 1, 0]))
        assert told == pytest.approx(sign * (low - high), abs=1e-4)


def test_a_carrier_further_out_keeps_more_of_the_other_sideband_out():
    near, far = (carrier_oscillator.place(SOLVED, "upper", 20.0, lowest_audio_hz=f) for f in (200.0, 500.0))
    assert far.suppression_db > near.suppression_db
    assert far.unwanted_sideband_2khz_db > near.unwanted_sideband_2khz_db


def test_the_projects_lowest_tone_moves_carrier_and_report(tern):
    rig = tern.edited(("carrier", "lowest_audio_hz"), 350.0)
    row = report(Analysis(rig))["carrier"][0]
    assert row["lowest_audio_hz"] == 350.0
    assert row["frequency_hz"] != report(Analysis(tern))["carrier"][0]["frequency_hz"]
    assert (
        row["unwanted_sideband_300hz_db"]
        < row["unwanted_sideband_1khz_db"]
        < row["unwanted_sideband_2khz_db"]
    )


def test_a_coil_is_solved_whatever_coil_is_typed_in(tern):
    free = Analysis(tern).carriers[0].pulling
    typed = Analysis(tern.edited(("carrier", "coil_h"), 1e-6))
    assert typed.carriers[0].pulling.coil_h == 1e-6
    assert typed.solved_pulling("20m") == free
    bare = tern.edited(("stages", "ladder", "crystal"), None)
    assert isinstance(Analysis(bare).solved_pulling("20m"), Unsolved)


def test_missing_drive_asks_for_as_much_amplifier(tern):
    weak = tern.edited(("carrier", "output_dbm"), -5.0)
    (drive,) = oscillator_drive.driven_by(weak, "carrier")
    assert (drive.wanted_dbm, drive.delivered_dbm, drive.missing_db) == (7.0, -5.0, 12.0)
    finding = next(f for f in inspect(Analysis(weak)) if f.rule == "mixer_drive")
    assert "amplifier of 12 dB" in finding.remedy
    assert finding.path == ("carrier", "output_dbm")
    made = oscillator_drive.amplified(weak, "carrier")
    assert (made.carrier.output_dbm, made.carrier.amplifier_gain_db) == (7.0, 12.0)
    assert oscillator_drive.bare_dbm(made, "carrier") == oscillator_drive.bare_dbm(weak, "carrier") == -5.0
    assert "mixer_drive" not in {f.rule for f in inspect(Analysis(made))}
    assert oscillator_drive.amplified(made, "carrier") is made


def test_two_mixers_share_the_output(tern):
    place = next(n for n, s in enumerate(tern.stages) if getattr(s, "oscillator", "") == "carrier")
    two = tern.stage_inserted(place, tern.stages[place])
    assert len(oscillator_drive.driven_by(two, "carrier")) == 2
    assert oscillator_drive.bare_dbm(two, "carrier") - oscillator_drive.bare_dbm(
        tern, "carrier"
    ) == pytest.approx(3.0103, abs=1e-4)


def test_a_coil_too_large_rules_the_crystal_out():
    # 9 MHz with 4.5 pF in the holder: some 70 uH resonate with it, and no frequency is the crystal's.
    crystal = Crystal(holder_capacitance_f=4.5e-12)
    small, large = (
        carrier_oscillator.pulled_hz(crystal, 9e6, coil, np.array([5e-12, 60e-12]), 100e-12)
        for coil in (5e-6, 100e-6)
    )
    assert np.all(np.abs(small - 9e6) < 20e3)
    assert large[1] == 0
