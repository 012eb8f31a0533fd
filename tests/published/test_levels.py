"""Noise, cascades and limits against recommendations, textbooks and worked chains."""

import numpy as np
import pytest

from core.circuits.units import dbm, thermal_noise_dbm
from core.model.bands import Band
from core.model.stages.audio import Microphone, Speaker
from core.model.station import Station
from core.rig.analysis import Analysis
from core.rig.levels import receive, transmit
from core.rig.levels.blocks import Block
from core.rig.levels.noise import external_figure_db, galactic_figure_db, man_made_figure_db
from core.rig.levels.own_noise import noise_figure_db
from core.rig.rules import inspect
from core.rig.start.new_rig import new_rig
from core.trade.limits import FCC_BELOW_30_MHZ_DB
from core.trade.series import VALUES, neighbours, preferred
from tests.made_blocks import stage
from tests.made_up import with_power_block

MHZ = (1.9, 3.6, 7.1, 10.1, 14.2, 18.1, 21.2, 24.9, 28.5)
#: ITU-R P.372-16 (2022), Fam = c - d lg f, as printed coefficients give it.
P372 = {
    "city": "69.08 61.39 53.22 48.98 44.88 41.96 40.06 38.13 36.50",
    "residential": "64.78 57.09 48.92 44.68 40.58 37.66 35.76 33.83 32.20",
    "rural": "59.48 51.79 43.62 39.38 35.28 32.36 30.46 28.53 26.90",
    "quiet_rural": "45.63 37.69 29.25 24.88 20.64 17.63 15.67 13.67 11.99",
}


@pytest.mark.parametrize("environment", P372)
def test_man_made_noise(environment):
    found = [man_made_figure_db(environment, f * 1e6) for f in MHZ]
    np.testing.assert_allclose(found, [float(v) for v in P372[environment].split()], atol=0.0051)


def test_galactic_noise():
    wanted = [45.59, 39.21, 32.42, 28.90, 25.50, 23.07, 21.49, 19.89, 18.54]
    np.testing.assert_allclose([galactic_figure_db(f * 1e6) for f in MHZ], wanted, atol=0.0051)


@pytest.mark.parametrize(
    ("bandwidth", "level"), [(500, -146.99), (2400, -140.17), (2700, -139.66), (3000, -139.20)]
)
def test_thermal_noise(bandwidth, level):
    assert thermal_noise_dbm(bandwidth) == pytest.approx(level, abs=0.005)


def test_an_independent_old_figure_of_band_noise():
    # CCIR Report 258 at 3 MHz in 1 Hz (frequency and bandwidth inferred): city to quiet rural, within 0.5 dB.
    old = {"city": -110.4, "residential": -114.7, "rural": -120.0, "quiet_rural": -133.6}
    for environment, level in old.items():
        found = man_made_figure_db(environment, 3e6) + thermal_noise_dbm(1.0)
        assert found == pytest.approx(level, abs=0.5)


def test_the_s_meter():
    # IARU Region 1 Technical Recommendation R.1: S9 is -73 dBm (50 uV in 50 ohm) below 30 MHz, 6 dB a unit.
    assert receive.S9_DBM == -73
    assert dbm((50.06e-6) ** 2 / 50) == pytest.approx(receive.S9_DBM, abs=0.01)


def block(name, gain, noise, iip3=None, kind="amplifier", zone="rf") -> Block:
    return stage(name, gain, noise, iip3=iip3, kind=kind, zone=zone)


def test_friis_textbook_example():
    # D. Pozar, Microwave Engineering, receiver front end (data from memory; arithmetic calculated).
    chain = (block("amplifier", 10, 2), block("filter", -1, 1), block("mixer", -3, 4))
    assert noise_figure_db(chain) == pytest.approx(2.555, abs=0.001)
    assert noise_figure_db((chain[1], chain[0], chain[2])) == pytest.approx(3.396, abs=0.001)


#: A worked receive chain, calculated: gain, noise figure, input intercept of each stage.
RECEIVE = (
    block("band-pass", -2, 2, kind="band_pass"),
    block("ring", -6, 6.5, 13, kind="mixer"),
    block("pad", -1.5, 1.5, kind="attenuator"),
    block("amplifier", 16, 4, 15),
    block("ladder", -4, 4, kind="ladder"),
    block("IF amplifier", 20, 6, 5),
    block("detector", -6, 7, 13, kind="mixer", zone="if"),
)


@pytest.mark.parametrize(
    ("count", "gain", "noise", "iip3"),
    [
        (1, -2.0, 2.000, None),
        (2, -8.0, 8.500, 15.000),
        (3, -9.5, 9.860, 15.000),
        (4, 6.5, 13.647, 14.538),
        (5, 2.5, 13.710, 14.538),
        (6, 22.5, 14.009, 2.237),
        (7, 16.5, 14.013, -9.782),
    ],
)
def test_the_worked_receive_chain(count, gain, noise, iip3):
    chain = RECEIVE[:count]
    assert sum(each.gain_db for each in chain) == pytest.approx(gain)
    assert noise_figure_db(chain) == pytest.approx(noise, abs=0.001)
    assert receive.iip3_dbm(chain) == (None if iip3 is None else pytest.approx(iip3, abs=0.001))


def test_the_worked_receive_chain_as_levels():
    r = receive.receive(RECEIVE, "40m", 7.1e6, 2400.0, Station(environment="rural"), Speaker())
    # The chain as worked has no images; what the detector folds in is told beside it.
    assert r.mds_dbm - r.detector_image_noise_db == pytest.approx(-126.16, abs=0.01)
    assert r.image_noise_db == 0
    assert r.iip3_to_filter_dbm == pytest.approx(14.538, abs=0.001)
    assert 2 / 3 * (r.iip3_to_filter_dbm - r.mds_dbm + r.detector_image_noise_db) == pytest.approx(
        93.80, abs=0.01
    )
    # Noise counted along the path ends where gain and noise figure say.
    assert r.own_noise_dbm[-1] == pytest.approx(r.mds_dbm + r.gain_db, abs=1e-9)


@pytest.mark.parametrize(
    ("environment", "mhz", "degradation"),
    [
        ("residential", 7.1, 0.001),
        ("rural", 7.1, 0.004),
        ("quiet_rural", 7.1, 0.040),
        ("rural", 14.2, 0.028),
        ("quiet_rural", 14.2, 0.218),
        ("quiet_rural", 21.2, 0.554),
        ("residential", 28.5, 0.060),
        ("rural", 28.5, 0.183),
        ("quiet_rural", 28.5, 1.063),
    ],
)
def test_worked_degradation_by_the_receivers_own_noise(environment, mhz, degradation):
    outside = 10 ** (external_figure_db(environment, mhz * 1e6) / 10)
    factor = 10 ** (noise_figure_db(RECEIVE) / 10)
    assert 10 * np.log10((outside + factor - 1) / outside) == pytest.approx(degradation, abs=0.001)


def test_the_worked_transmit_chain():
    # PEP in dBm from the balanced modulator's -10 to 40.0 at the antenna (calculated).
    gains = [("buffer", 14), ("ladder", -4), ("mixer", -6), ("band-pass", -2), ("pre-driver", 16)]
    gains += [("driver", 16), ("PA", 16.3), ("low-pass", -0.3)]
    t = transmit.transmit(
        tuple(block(n, g, 3) for n, g in gains), "20m", 14.2e6, Microphone(peak_dbm=-10), 5.0
    )
    np.testing.assert_allclose(t.level_dbm, [-10, 4, 0, -6, -8, 8, 24, 40.3, 40.0], atol=1e-9)
    assert t.output_w == pytest.approx(10.0, rel=1e-3)


@pytest.mark.parametrize(
    ("order", "second", "third"), [(3, -35.7, -34.1), (5, -57.1, -63.7), (7, -78.8, -93.3)]
)
def test_worked_harmonics_behind_a_low_pass(order, second, third):
    # PA harmonics -25 and -12 dBc, 0.1 dB low-pass with fc 15 MHz, carrier 14.2 MHz (calculated).
    band = Band(name="20m", low_hz=14.2e6 - 0.5, high_hz=14.2e6)
    rig = with_power_block(new_rig((band,), 9e6), second_harmonic_dbc=-25.0, third_harmonic_dbc=-12.0)
    one = ("stages", "low_pass", "filters", 0)
    for field, value in (("order", order), ("cutoff_hz", 15e6), ("capacitors", "exact")):
        rig = rig.edited((*one, field), value)
    rig = rig.edited((*one, "coil_q"), 1e8).edited((*one, "capacitor_q"), 1e8)
    rows = Analysis(rig).harmonics("20m")
    # The worked figures leave out what the filter takes of the carrier, up to its ripple of 0.1 dB.
    assert [rows[0].result_dbc, rows[1].result_dbc] == pytest.approx([second, third], abs=0.1)
    # 47 CFR 97.307(d): at least 43 dB below the fundamental under 30 MHz.
    broken = any(f.rule == "harmonic_limit" and f.severity == "fault" for f in inspect(Analysis(rig)))
    assert broken is (order == 3)


def test_the_limits():
    assert FCC_BELOW_30_MHZ_DB == 43
    half_a_milliwatt = 10e3 * 10 ** (-FCC_BELOW_30_MHZ_DB / 10)  # below 10 W
    assert half_a_milliwatt == pytest.approx(0.50, abs=0.005)


def quiet_receiver(rf_gain_db: float | None):
    """Two-diode mixer, 22 dB IF amplifiers of transistors on both sides of a 10-pole filter, upper HF."""
    rig = new_rig((Band(name="10m", low_hz=28.32e6, high_hz=28.6e6, scheme="sum"),), 21.47727e6)
    edits = {
        ("stages", "mixer", "type"): "two_diode",
        ("stages", "if_amplifier_1", "gain_db"): 22.0,
        ("stages", "if_amplifier_2", "gain_db"): 22.0,
        ("stages", "ladder", "poles"): 10,
        ("stages", "audio", "gain_db"): 28.0,
        ("stages", "rf_stage", "in_path"): rf_gain_db is not None,
        ("station", "environment"): "quiet_rural",
        ("station", "antenna_loss_db"): 2.0,
    }
    for path, value in edits.items():
        rig = rig.edited(path, value)
    if rf_gain_db is not None:
        rig = rig.edited(("stages", "rf_stage", "gain_db"), rf_gain_db)
    return Analysis(rig).receive("10m")


def test_the_receiver_that_was_too_quiet_and_what_cured_it():
    """Common practice, no source: too quiet for band noise without an RF stage; 10 dB of it cured that.

    All amplifiers are circuits. The first verdict says so: ahead of the IF amplifier stand only losses
    (filters and a 7 dB mixer), so the noise figure is theirs plus the amplifier's and band noise does not
    stand out by the margin. The second verdict (loud enough at the speaker) is a matter of total gain, which
    audio could give as well.
    """
    without, with_stage = quiet_receiver(None), quiet_receiver(10.0)
    assert {each.kind for each in with_stage.blocks if each.role == "amplifier"} == {"built_amplifier"}
    assert not without.noise_above_own
    assert with_stage.noise_above_own
    assert with_stage.noise_figure_db < without.noise_figure_db - 2
    # Total gain alone is not the point: the same 10 dB behind the ladder changes the first verdict nothing.
    assert without.noise_margin_db < 6 < with_stage.noise_margin_db
    assert with_stage.speaker_noise_db_spl > without.speaker_noise_db_spl


#: IEC 60063: the whole E24 row; eight of its values differ from the rounded powers of ten.
E24 = "1.0 1.1 1.2 1.3 1.5 1.6 1.8 2.0 2.2 2.4 2.7 3.0 3.3 3.6 3.9 4.3 4.7 5.1 5.6 6.2 6.8 7.5 8.2 9.1"
E48 = """
1.00 1.05 1.10 1.15 1.21 1.27 1.33 1.40 1.47 1.54 1.62 1.69 1.78 1.87 1.96 2.05 2.15 2.26 2.37 2.49 2.61 2.74
2.87 3.01 3.16 3.32 3.48 3.65 3.83 4.02 4.22 4.42 4.64 4.87 5.11 5.36 5.62 5.90 6.19 6.49 6.81 7.15 7.50 7.87
8.25 8.66 9.09 9.53
"""


def test_preferred_values_are_those_of_the_standard():
    assert " ".join(f"{v:.1f}" for v in VALUES["E24"]) == E24
    assert VALUES["E48"] == tuple(float(v) for v in E48.split())
    # Every second value of E96 is one of E48, and none has more than three digits.
    assert VALUES["E96"][::2] == VALUES["E48"]
    assert [round(100 * v) for v in VALUES["E96"][1::8]] == [
        102,
        124,
        150,
        182,
        221,
        267,
        324,
        392,
        475,
        576,
        698,
        845,
    ]
    assert all(f"{v:.2f}" == f"{v:.6f}".rstrip("0").ljust(4, "0") for v in VALUES["E96"])
    assert VALUES["E12"] == tuple(VALUES["E24"][::2])
    differing = [v for i, v in enumerate(VALUES["E24"]) if round(10 ** (i / 24), 1) != v]
    assert differing == [2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 8.2]
    assert preferred(2.6e-12, "E24") == 2.7e-12
    assert neighbours(9.5, "E24") == (9.1, 10.0)
