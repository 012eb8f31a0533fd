"""Controls of gain, and the S-meter's table, by worked numbers."""

from math import log10

import numpy as np
import pytest

from core.model.stages.gain_control import GainControl
from core.rig.levels.dynamic_range import VfoNoise, dynamic_ranges
from core.rig.levels.gain_control import Control, controls, taken_db
from core.rig.levels.s_meter import s_meter
from core.rig.levels.transmit import compressed_dbm
from tests.made_blocks import received, stage

# -- controls -----------------------------------------------------------------------------------------------


def control(place, range_db=60.0, automatic=False, held_dbm=17.0, name="Volume"):
    return Control(
        place=place, stage=name.lower(), name=name, automatic=automatic, range_db=range_db, held_dbm=held_dbm
    )


def test_a_control_takes_out_what_is_too_much_and_no_more_than_its_range():
    assert taken_db((control(0),), 10.0) == (0.0,)
    assert taken_db((control(0),), 20.0) == (pytest.approx(3.0),)
    assert taken_db((control(0),), 100.0) == (60.0,)
    assert taken_db((), 100.0) == ()
    # AGC acts before a hand does.
    both = (control(0, 30.0, automatic=True, held_dbm=10.0), control(3, 40.0))
    assert taken_db(both, 30.0) == (20.0, 0.0)
    assert taken_db(both, 60.0) == (30.0, 13.0)


def test_controls_act_in_their_order_automatic_ones_first():
    def made(key, turned):
        return GainControl(id=key, name=key, direction="receive", turned=turned)

    path = [made(key, turned) for key, turned in (("rf", "by_hand"), ("agc", "automatically"))]
    path += [made("late", "automatically"), made("volume", "by_hand")]
    assert [each.stage for each in controls(path)] == ["agc", "late", "volume", "rf"]
    assert [each.place for each in controls(path)] == [1, 2, 3, 0]
    assert controls(path)[0].held_dbm == pytest.approx(10 * log10(50))


def test_a_control_spares_what_stands_behind_it_and_is_counted_in_the_corridor():
    blocks = (
        stage("RF", 10.0, p1db=12.0),  # 3 dBm in
        stage("AGC", -1.0, kind="gain_control", noise=1.0),
        stage("IF", 40.0, p1db=10.0),  # −29 dBm in
        stage("audio", 55.0, p1db=27.0, kind="audio", zone="audio"),
    )
    agc = control(1, 20.0, automatic=True, held_dbm=17.0, name="AGC")
    r, bare = received(*blocks, turned=[agc]), received(*blocks)
    # S9 + 40 dB: −33 dBm; −23, −24, then 16 dBm full up.
    assert bare.headroom_db == (pytest.approx(36.0), None, pytest.approx(-5.0), pytest.approx(-43.0))
    # 71 dBm of audio: the AGC takes all its 20 dB.
    assert r.strong_taken_db == (20.0,)
    assert r.headroom_db == (pytest.approx(36.0), None, pytest.approx(15.0), pytest.approx(-23.0))
    np.testing.assert_allclose(r.strong_dbm, [-33, -23, -44, -4, 51])
    np.testing.assert_allclose(bare.overload_dbm[:3], [-38, -28, -29])
    np.testing.assert_allclose(r.overload_dbm[:3], [-18, -8, -29])
    # What is told of S9 and noise is full up.
    np.testing.assert_allclose(r.s9_dbm, bare.s9_dbm)
    np.testing.assert_allclose(r.own_noise_dbm, bare.own_noise_dbm)
    assert dynamic_ranges(r, None)[0].compression_dbm == pytest.approx(-18.0)
    assert dynamic_ranges(bare, None)[0].compression_dbm == pytest.approx(-38.0)
    assert r.controlled(2)
    assert not r.controlled(1)


# -- the S-meter's table ------------------------------------------------------------------------------------


def test_every_s_level_along_the_path():
    blocks = (
        stage("band-pass", -2.0, kind="band_pass", zone="rf", noise=2.0),
        stage("mixer", -6.0, p1db=-6.0, kind="mixer", zone="rf", noise=6.0),
        stage("ladder", -5.0, kind="ladder", noise=5.0),
        stage("volume", 0.0, kind="gain_control", zone="audio"),
        stage("audio", 100.0, p1db=27.0, kind="audio", zone="audio"),
    )
    r = received(*blocks, turned=[control(3, 50.0)])
    table = s_meter(r)
    assert [each.name for each in table] == [
        *(f"S{n}" for n in range(1, 10)),
        *(f"S9 + {over} dB" for over in range(10, 61, 10)),
    ]
    # IARU R.1: S1 is −121 dBm, S9 −73, S9 + 60 dB −13.
    assert [each.antenna_dbm for each in table] == [*range(-121, -72, 6), *range(-63, -12, 10)]
    by = {each.name: each for each in table}
    noise = 10 * log10(10 ** (r.mds_dbm / 10) + 10 ** (r.band_noise_dbm / 10))
    for each in table:
        assert each.mixer_dbm == pytest.approx(each.antenna_dbm - 2)
        assert each.ladder_dbm == pytest.approx(each.antenna_dbm - 13)
        assert each.over_noise_db == pytest.approx(each.antenna_dbm - noise)
        full_up = each.antenna_dbm + 87
        assert each.taken_db == pytest.approx(min(max(full_up - 17, 0), 50))
        asked = full_up - each.taken_db
        assert each.asked_w == pytest.approx(1e-3 * 10 ** (asked / 10))
        assert each.given_w == pytest.approx(1e-3 * 10 ** (compressed_dbm(asked, 27.0) / 10))
    # S9 + 50 dB: 64 dBm full up, 50 mW and nothing gives way. Then the range is at its end.
    assert by["S9 + 50 dB"].asked_w == pytest.approx(0.0501, rel=0.01)
    assert by["S9 + 50 dB"].limited is None
    assert by["S9 + 60 dB"].limited is None
    assert by["S9 + 60 dB"].taken_db == 50.0
    bare = {each.name: each for each in s_meter(received(*blocks))}
    assert bare["S9"].limited is None
    assert bare["S9 + 20 dB"].limited == "audio"
    assert bare["S9 + 20 dB"].taken_db is None
    assert bare["S9 + 20 dB"].asked_w == pytest.approx(2.51, abs=0.01)
    assert bare["S9 + 20 dB"].given_w < 0.85


def test_a_receiver_of_nothing_has_a_table_too():
    (first, *_) = s_meter(received())
    assert (first.mixer_dbm, first.ladder_dbm, first.asked_w, first.given_w) == (None, None, None, None)
    assert first.limited is None


def test_what_a_stage_behind_the_audio_stage_takes_away_is_asked_of_it_all_the_same():
    audio = stage("audio", 90.0, p1db=27.0, kind="audio", zone="audio")
    pad = stage("pad", -6.0, kind="attenuator", zone="audio", noise=6.0)
    alone, padded = (s_meter(received(*blocks))[8] for blocks in ((audio,), (audio, pad)))
    assert padded.asked_w == pytest.approx(alone.asked_w)


def test_the_vfo_mixes_at_the_dial_only():
    detector = stage("detector", -6.0, kind="mixer", zone="if")
    assert [each.reciprocal_db for each in dynamic_ranges(received(detector), VfoNoise(-130.0, 10e3))] == (
        [None] * 4
    )


@pytest.mark.parametrize(("p1db", "limited"), [(-53.9, None), (-54.1, "IF")])
def test_a_stage_gives_way_where_it_has_lost_a_decibel(p1db, limited):
    # S9 + 10 dB is −63 dBm; 10 dB of gain less one at compression: the limit lies 9 dB higher at the output.
    table = s_meter(received(stage("IF", 10.0, p1db=p1db)))
    assert table[9].name == "S9 + 10 dB"
    assert table[9].limited == limited
