"""Stations beside the signal, and the VFO's noise, by worked numbers."""

from dataclasses import replace
from itertools import pairwise
from math import ceil, log10

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from core.circuits.active.two_port import TwoPort
from core.circuits.ladder import chain, solve
from core.model.stages.amplifiers import Attenuator
from core.rig.analysis import Analysis
from core.rig.levels.blocks import SPACINGS_HZ, TONES, beside, tones
from core.rig.levels.chain import ends_ohm
from core.rig.levels.dynamic_range import VfoNoise, dynamic_ranges, noise_in_dbc
from core.rig.remedies.remedy import remedies
from core.rig.rules import inspect
from core.rig.rules.strong_stations import reciprocal_mixing
from core.stages.steps import finished
from tests.made_blocks import received, stage


def losing(losses_db) -> TwoPort:
    """A filter that loses so much at each of the tones, matched and without noise at that."""
    root = 10 ** (np.broadcast_to(losses_db, (TONES,)) / 20) / 2 + 0j
    return TwoPort(
        np.ones(TONES), np.array([[root, 50 * root], [root / 50, root]]), np.zeros((2, 2, TONES), complex)
    )


def selective(near_db, far_db, spacing=1, way=0):
    """What a ladder loses at the tones: nothing but at one spacing to one side."""
    losses = np.zeros(TONES)
    near, far = beside(spacing, way)
    losses[near], losses[far] = near_db, far_db
    return losing(losses)


# -- where the tones stand ----------------------------------------------------------------------------------


@pytest.mark.parametrize("side", [1, -1])
def test_tones_stand_at_their_spacings(side):
    found = tones(9e6, 8.998e6, side)
    assert len(found) == TONES
    assert found[:2] == (9e6, 8.998e6)
    for spacing, hz in enumerate(SPACINGS_HZ):
        for way, sign in ((0, side), (1, -side)):
            near, far = beside(spacing, way)
            assert (found[near], found[far]) == (9e6 + sign * hz, 9e6 + 2 * sign * hz)


def test_what_lies_above_on_the_air_lies_below_behind_a_mixer_that_turns_it_over(muddle):
    analysis = Analysis(muddle)
    seen = set()
    for band in muddle.bands:
        plan = analysis.band_plan(band.name)
        blocks = analysis.blocks(band.name, "receive", band.centre_hz)
        ladder = next(each for each in blocks if each.role == "channel_filter")
        front = next(each for each in blocks if each.role == "band_pass")
        near, _ = beside(2, 0)
        above = front.port.f_hz[near] - front.port.f_hz[0]
        at_if = ladder.port.f_hz[near] - ladder.port.f_hz[0]
        assert above == pytest.approx(20e3)
        assert at_if == pytest.approx(-20e3 if plan.sideband_inverted else 20e3)
        seen.add(plan.sideband_inverted)
    turned = muddle.edited(("bands", 0, "scheme"), "vfo_minus_if")
    plan = Analysis(turned).band_plan(turned.bands[0].name)
    assert plan.sideband_inverted
    blocks = Analysis(turned).blocks(turned.bands[0].name, "receive", turned.bands[0].centre_hz)
    ladder = next(each for each in blocks if each.role == "channel_filter")
    assert ladder.port.f_hz[beside(2, 0)[0]] - ladder.port.f_hz[0] == pytest.approx(-20e3)


# -- third order --------------------------------------------------------------------------------------------


@given(st.floats(0, 120), st.floats(0, 120), st.floats(-20, 30), st.floats(-20, 30), st.floats(-10, 30))
def test_products_beside_a_filter_by_amplitudes(near_db, far_db, first, second, gain):
    # Two tones of 0 dBm at d and 2 d: each stage makes a1² a2 / IIP3, referred to the antenna, in phase.
    path = (
        stage("first", gain, iip3=first),
        stage("filter", 0.0, kind="ladder", port=selective(near_db, far_db)),
        stage("second", 10.0, iip3=second),
    )
    at = dynamic_ranges(received(*path), None)[2]
    assert at.spacing_hz == 5e3
    one = 10 ** (-first / 10)
    two = 10 ** ((gain - second) / 10) * 10 ** (-(2 * near_db + far_db) / 20)
    clear = one + 10 ** ((gain - second) / 10)
    # The other side is not filtered at all, and it is the worse one that counts.
    assert at.iip3_dbm == pytest.approx(-10 * log10(clear), abs=1e-9)
    both = path[1].port.chain.copy()
    for ours, theirs in zip(beside(1, 1), beside(1, 0), strict=True):
        both[..., ours] = both[..., theirs]
    walled = replace(path[1], port=TwoPort(path[1].port.f_hz, both, path[1].port.noise))
    held = dynamic_ranges(received(path[0], walled, path[2]), None)[2]
    assert held.iip3_dbm == pytest.approx(-10 * log10(one + two), abs=1e-9)
    if abs(one - two) > 1e-9 * one:
        assert held.products_by.name == ("first" if one > two else "second")


def test_the_third_order_range_is_two_thirds_of_the_intercept_over_the_mds():
    r = received(stage("one", 10.0, iip3=4.5, noise=7.0))
    inside = dynamic_ranges(r, None)[0]
    assert inside.spacing_hz == 0
    # MDS = -173.975 + 10 lg 2400 + 7 = -133.17 dBm.
    assert r.mds_dbm == pytest.approx(-133.17, abs=0.01)
    assert inside.third_order_db == pytest.approx((4.5 + 133.17) * 2 / 3, abs=0.01)
    assert inside.reciprocal_db is None
    # Two tones that far above the MDS make a product as strong as it: 3 P - 2 IIP3.
    level = r.mds_dbm + inside.third_order_db
    assert 3 * level - 2 * inside.iip3_dbm == pytest.approx(r.mds_dbm)


def test_inside_the_pass_band_everything_counts_as_before(tern):
    analysis = Analysis(tern)
    inside, *apart = analysis.dynamic_ranges("20m")
    levels = analysis.receive("20m")
    assert inside.iip3_dbm == pytest.approx(levels.iip3_dbm, abs=1e-9)
    # 20 kHz away the ladder protects what stands behind it.
    assert apart[-1].iip3_dbm == pytest.approx(levels.iip3_to_filter_dbm, abs=0.01)
    ranges = [each.iip3_dbm for each in (inside, *apart)]
    assert all(a <= b + 0.01 for a, b in pairwise(ranges))


def test_a_ladder_of_the_sample_protects_by_its_own_curve(tern):
    analysis = Analysis(tern)
    network = analysis.filter_design("ladder", "20m").network
    levels = analysis.receive("20m")
    place = next(n for n, each in enumerate(levels.blocks) if each.role == "channel_filter")
    tone = analysis.carrier("20m").signal_hz(1000.0)
    passed = levels.chain.passed_db
    for spacing, hz in enumerate(SPACINGS_HZ):
        for way, sign in ((0, 1), (1, -1)):
            for tone_at, times in zip(beside(spacing, way), (1, 2), strict=True):
                lost = solve(network, [tone, tone + sign * times * hz]).loss_db
                ours = (passed[place + 1, 0] - passed[place, 0]) - (
                    passed[place + 1, tone_at] - passed[place, tone_at]
                )
                # Between 50 ohm the ladder alone, but for the amplifiers beside it.
                assert ours == pytest.approx(lost[1] - lost[0], abs=1.0)


# -- compression --------------------------------------------------------------------------------------------


def test_what_compresses_first_is_behind_the_filter_only_for_stations_inside_it():
    path = (
        stage("mixer", -6.0, p1db=-6.0, kind="mixer", zone="rf"),  # 1 dBm in
        stage("filter", 0.0, kind="ladder", port=losing(np.where(np.arange(TONES) < 2, 0.0, 80.0))),
        stage("IF", 30.0, p1db=9.0),  # −20 dBm in, −14 dBm at the antenna
        stage("audio", 60.0, p1db=27.0, kind="audio", zone="audio"),
    )
    r = received(*path)
    inside, *apart = dynamic_ranges(r, None)
    assert (inside.compresses, inside.compression_dbm) == ("IF", pytest.approx(-14.0))
    assert inside.blocking_db == pytest.approx(-14.0 - r.mds_dbm)
    for each in apart:
        assert (each.compresses, each.compression_dbm) == ("mixer", pytest.approx(1.0))


# -- the VFO's noise ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("away", "bandwidth"), [(2e3, 2400.0), (5e3, 2400.0), (20e3, 500.0)])
def test_noise_in_a_bandwidth_is_the_integral_of_its_density(away, bandwidth):
    noise = VfoNoise(-130.0, 10e3)

    def density(f):
        return 10 ** (-13.0) * (10e3 / f) ** 2

    whole, _ = quad(density, away - bandwidth / 2, away + bandwidth / 2, epsabs=0, epsrel=1e-10)
    assert noise_in_dbc(noise, away, bandwidth) == pytest.approx(10 * log10(whole), abs=1e-9)


def test_reciprocal_mixing_by_hand():
    # −130 dBc/Hz at 10 kHz: at 20 kHz −136.02, in 2400 Hz 33.80 dB more: a range of 102.2 dB.
    path = (stage("mixer", -6.0, kind="mixer", zone="rf"),)
    *_, far = dynamic_ranges(received(*path), VfoNoise(-130.0, 10e3))
    assert far.spacing_hz == 20e3
    assert far.reciprocal_db == pytest.approx(136.02 - 33.80, abs=0.02)
    assert far.limit == "VFO noise"
    # A signal of that much above the MDS makes a noise as strong as it.
    assert [each.reciprocal_db for each in dynamic_ranges(received(*path), None)] == [None] * 4
    # Without a mixer that it drives there is nothing to mix with.
    bare = dynamic_ranges(received(stage("one", 3.0)), VfoNoise(-130.0, 10e3))
    assert [each.reciprocal_db for each in bare] == [None] * 4
    assert bare[0].limit is None


def told(project, rule):
    return [f for f in inspect(Analysis(project)) if f.rule == rule]


def test_a_noisy_vfo_is_told_and_followed_no_more(tern):
    noise = ("vfo", "noise_dbc_hz")
    assert told(tern, "reciprocal_mixing") == []
    noisy = tern.edited(noise, -100.0)
    for band in tern.bands:
        (found,) = [f for f in told(noisy, "reciprocal_mixing") if f.band == band.name]
        levels = Analysis(noisy).receive(band.name)
        # A station of -33 dBm at 5 kHz: -100 + 6.02 dBc/Hz there, in the noise bandwidth.
        made = -33 - 100 + 6.02 + 10 * log10(levels.bandwidth_hz)
        assert found.figure == pytest.approx(made, abs=0.3)
        noise_w = 10 ** (levels.mds_dbm / 10) + 10 ** (levels.band_noise_dbm / 10)
        assert found.limit == pytest.approx(10 * log10(noise_w))
        assert found.path == noise
        quieter = ceil(found.over_db)
        assert f"{quieter} dB less noise of the VFO" in found.remedy
        followed = noisy.edited(noise, -100.0 - quieter)
        assert band.name not in [f.band for f in told(followed, "reciprocal_mixing")]
        short = noisy.edited(noise, -100.0 - quieter + 1.1)
        assert band.name in [f.band for f in told(short, "reciprocal_mixing")]
    assert told(tern.edited(noise, None), "reciprocal_mixing") == []


def test_two_strong_stations_are_told_and_the_pad_drowns_their_product(muddle):
    # A front end of much gain: its intercept at the antenna is that of the mixer less the gain.
    hot = muddle.edited(("stages", "rf_stage", "in_path"), True).edited(
        ("stages", "rf_stage", "gain_db"), 40.0
    )
    found = told(hot, "third_order")
    assert {f.band for f in found} == {"40m", "20m"}
    assert told(muddle, "third_order") == []
    for each in found:
        at = next(d for d in Analysis(hot).dynamic_ranges(each.band) if d.spacing_hz == 5e3)
        assert each.figure == pytest.approx(3 * -43 - 2 * at.iip3_dbm)
        assert each.stage == at.products_by.stage
    # Stages of one name are told apart.
    named = hot
    for each in hot.stages:
        named = named.edited(("stages", each.id, "name"), "Stage")
    assert {f.stage for f in told(named, "third_order")} == {f.stage for f in found}
    pad = ceil(max(f.over_db for f in found) / 2)
    assert any(f"A pad of {pad} dB at the antenna" in f.remedy for f in found)
    padded = hot.stage_inserted(
        0, Attenuator(id="front_pad", name="Pad", direction="receive", loss_db=float(pad))
    )
    assert told(padded, "third_order") == []
    short = padded.edited(("stages", "front_pad", "loss_db"), pad - 1.2)
    assert told(short, "third_order") != []


# -- what stands beside the ladder --------------------------------------------------------------------------


def test_the_noise_bandwidth_is_that_of_the_ladder_between_its_neighbours(tern):
    analysis = Analysis(tern)
    blocks = analysis.blocks("20m", "receive", 14.2e6)
    at = next(n for n, each in enumerate(blocks) if each.role == "channel_filter")
    source, load = ends_ohm(blocks, at)
    # The amplifiers beside it: behind 50 ohm of the mixer, and into 50 ohm of the detector.
    before, behind = blocks[at - 1], blocks[at + 1]
    assert source == pytest.approx(before.port.output_ohm(blocks[at - 2].output_ohm)[0])
    assert load == pytest.approx(behind.port.input_ohm(blocks[at + 2].input_ohm)[0])
    assert abs(source - 50) > 1
    tone = analysis.carrier("20m").signal_hz(1000.0)
    f = np.append(tone + np.linspace(-15e3, 15e3, 30001), tone)
    (a, b), (c, d) = chain(analysis.filter_design("ladder", "20m").network, f)
    passed = 1 / np.abs(a * load + b + c * source * load + d * source) ** 2
    by_hand = passed[:-1].sum() * 1.0 / passed[-1]
    assert analysis.noise_bandwidth_hz("20m", 14.2e6) == pytest.approx(by_hand, rel=2e-3)
    nominal = solve(analysis.filter_design("ladder", "20m").network, f).loss_db
    alone = (10 ** ((nominal[-1] - nominal[:-1]) / 10)).sum()
    assert abs(alone / by_hand - 1) > 0.003


def test_a_stage_beside_nothing_sees_the_nominal_resistance():
    one = stage("one", 3.0)
    assert ends_ohm((one,), 0) == (50.0, 50.0)
    mixers = [
        stage(name, -6.0, kind="mixer", zone="rf", input_ohm=ohm, output_ohm=2 * ohm)
        for name, ohm in (("first", 200.0), ("second", 1500.0))
    ]
    assert ends_ohm((mixers[0], one, mixers[1]), 1) == (400.0, 1500.0)
    assert ends_ohm((one, mixers[0], one, mixers[1], one), 0) == (50.0, 200.0)
    assert ends_ohm((one, mixers[0], one, mixers[1], one), 4) == (3000.0, 50.0)


@pytest.mark.parametrize("noise_dbc_hz", [-125.0, -121.0])
def test_a_noisy_vfo_gets_a_coil_that_mends_it(sample, noise_dbc_hz):
    """Each edit is followed: the finding goes, and nothing else comes for it."""
    rig = sample.edited(("vfo", "noise_dbc_hz"), noise_dbc_hz).edited(
        ("station", "environment"), "quiet_rural"
    )
    told = [f for f in reciprocal_mixing(Analysis(rig)) if f is not None]
    mended = [f for f in told if f.edits]
    assert mended
    before = {(f.rule, f.stage) for f in inspect(Analysis(rig)) if f.severity != "note"}
    for found in mended:
        (edit,) = finished(remedies(Analysis(rig), found))
        assert "a Q of" in edit.label
        assert edit.label in found.remedy
        changed = edit.on(rig)
        after = [f for f in inspect(Analysis(changed)) if f.severity != "note"]
        assert not [f for f in after if f.rule == "reciprocal_mixing" and f.band == found.band]
        assert {(f.rule, f.stage) for f in after} <= before
        # So much less noise, as the law says, is what the changed rig states.
        less = rig.vfo.noise_dbc_hz - changed.vfo.noise_dbc_hz
        assert f"{less:.1f} dB less noise" in edit.label or f"{less - 0.1:.1f} dB less noise" in edit.label


def test_a_vfo_that_no_coil_makes_quiet_enough_says_why_there_is_no_edit(sample):
    rig = sample.edited(("vfo", "noise_dbc_hz"), -105.0)
    (found, *_) = [f for f in reciprocal_mixing(Analysis(rig)) if f is not None]
    assert found.edits == ()
    assert "a coil does at most" in found.remedy
    assert "no edit of this rig mends it" in found.remedy
    bare = rig.edited(("vfo", "tank"), None)
    (found, *_) = [f for f in reciprocal_mixing(Analysis(bare)) if f is not None]
    assert "no tank is known that could be changed" in found.remedy
