"""Where to put how much gain: the requirements met, and more overload left than by the simple choices."""

import pytest

from core.rig.analysis import Analysis
from core.rig.audio.facts import audio_of
from core.rig.remedies.gain_plan import _OF_PARTS_DB, gain_plan
from core.rig.rules import inspect
from core.stages.audio.figures import gain_missed_db
from core.stages.kinds.table import kind_of
from core.stages.outcome import Unsolved
from core.stages.steps import finished


def quiet(rig):
    return rig.edited(("station", "environment"), "quiet_rural")


def levels(rig):
    return [Analysis(rig).receive(band.name) for band in rig.bands]


def headroom(rig):
    return min(
        room
        for each in levels(rig)
        for room, block in zip(each.headroom_db, each.blocks, strict=True)
        if room is not None and block.role != "audio"
    )


def margin(rig):
    return min(each.noise_margin_db for each in levels(rig))


def heard(rig):
    return min(each.speaker_noise_db_spl for each in levels(rig))


def met(rig):
    return (
        margin(rig) >= rig.station.noise_margin_db
        and headroom(rig) >= 0
        and heard(rig) >= rig.speaker.wanted_db_spl
    )


@pytest.mark.parametrize("change", [lambda rig: rig, quiet], ids=["residential", "quiet"])
def test_the_gains_proposed_meet_what_is_wanted(tern, muddle, change):
    for rig in (change(tern), change(muddle)):
        plan = finished(gain_plan(rig))
        assert plan.short == ""
        mended = plan.edit.on(rig)
        assert met(mended)
        for share in plan.shares:
            assert mended.at(("stages", share.stage, "gain_db")) == share.then_db
            assert rig.at(("stages", share.stage, "gain_db")) == share.now_db


@pytest.mark.parametrize(
    ("path", "value"),
    [(("station", "strongest_over_s9_db"), 60.0), (("speaker", "heard_over_room_db"), 23.0)],
)
def test_how_strong_and_how_loud_is_asked_of_the_builder(tern, path, value):
    plain = finished(gain_plan(quiet(tern)))
    asked = finished(gain_plan(quiet(tern).edited(path, value)))
    mended = asked.edit.on(quiet(tern).edited(path, value))
    assert asked.short or met(mended)
    assert asked.edit != plain.edit or asked.short
    # 20 dB more of the strongest station are 20 dB less of headroom, and 20 dB more loudness as much to make.
    before, after = quiet(tern), quiet(tern).edited(path, value)
    lost = headroom(before) - headroom(after) + after.speaker.wanted_db_spl - before.speaker.wanted_db_spl
    assert lost == pytest.approx(20.0, abs=1e-9)


def test_it_is_quieter_than_an_equal_share_of_the_same_gain_and_bears_as_much(tern):
    """The simple choice: what is wanted in all is given to every radio stage alike."""
    rig = quiet(tern)
    plan = finished(gain_plan(rig))
    proposed = plan.edit.on(rig)
    radio = [share for share in plan.shares if kind_of(rig.stage(share.stage)).role != "audio"]
    alike = proposed
    for share in radio:
        mean = sum(each.then_db for each in radio) / len(radio)
        alike = alike.edited(("stages", share.stage, "gain_db"), mean)
    assert margin(proposed) > margin(alike) + 0.5
    assert headroom(proposed) >= headroom(alike) - 1.0
    # And than the sample as it was.
    assert headroom(proposed) > headroom(rig) + 5


def test_what_binds_is_missed_with_half_a_decibel_less(tern):
    rig = quiet(tern).edited(("speaker", "room_noise_db_spl"), 15.0)
    plan = finished(gain_plan(rig))
    mended, wanted = plan.edit.on(rig), rig.station.noise_margin_db
    bound = {share.stage: share.binds for share in plan.shares}
    assert any(binds == "noise margin on 12 m" for binds in bound.values())
    assert margin(mended) >= wanted
    for share in plan.shares:
        less = mended.edited(("stages", share.stage, "gain_db"), share.then_db - 0.5)
        if share.binds == "noise margin on 12 m":
            assert margin(less) < wanted
        elif share.binds == "band noise at the ear on 12 m":
            assert heard(less) < rig.speaker.wanted_db_spl


def test_a_receiver_that_is_too_quiet_gets_its_rf_stage(tern):
    """Common practice, no source: no gain behind the mixer replaces the stage before it."""
    rig = quiet(tern).edited(("stages", "rf_stage", "in_path"), False)
    rig = rig.edited(("station", "noise_margin_db"), 9.0)
    plan = finished(gain_plan(rig))
    assert plan.short == ""
    assert plan.edit.label == "Switch RF stage in, and set all gains"
    mended = plan.edit.on(rig)
    assert mended.stage("rf_stage").in_path
    assert met(mended)


def test_what_cannot_be_had_is_said(tern):
    plan = finished(gain_plan(quiet(tern).edited(("station", "noise_margin_db"), 30.0)))
    assert plan.short.startswith("On 12 m band noise comes to ")
    assert "where 30 dB is wanted" in plan.short


def test_a_path_without_gain_says_so(tern):
    bare = tern.with_stages(tuple(s for s in tern.stages if not hasattr(s, "gain_db") or s.kind == "mixer"))
    plan = finished(gain_plan(bare))
    assert isinstance(plan, Unsolved)
    assert "no stage in the receive path whose gain could be set" in plan.reason


def test_the_plan_brings_no_fault(muddle):
    plan = finished(gain_plan(muddle))
    told = [f.rule for f in inspect(Analysis(plan.edit.on(muddle))) if f.rule in ("overload", "noise_heard")]
    assert told == []


@pytest.mark.parametrize("topology", _OF_PARTS_DB)
def test_what_it_may_ask_of_an_audio_circuit_can_be_made(sample, topology):
    key = "audio" if topology in ("chip", "complementary") else "preamplifier"
    for gain_db in _OF_PARTS_DB[topology]:
        rig = sample.edited(("stages", key, "topology"), topology).edited(("stages", key, "gain_db"), gain_db)
        (facts,) = [each for each in audio_of(Analysis(rig)) if each.stage == key]
        assert gain_missed_db(facts.design, facts.figures) == pytest.approx(0, abs=0.5)
