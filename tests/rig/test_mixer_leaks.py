"""What a mixer lets through: the VFO at the antenna, and loops that reach through it."""

import numpy as np
import pytest

from core.model.stages.amplifiers import Amplifier
from core.rig.analysis import Analysis
from core.rig.figures.figure import keyed
from core.rig.figures.mixers import MIXER
from core.rig.levels.loops import loops
from core.rig.mixer_facts import mixer_facts, vfo_at_antenna
from core.rig.remedies.remedy import may_have, remedies
from core.rig.rules import inspect
from core.rig.rules.mixing.leaks import oscillator_at_antenna
from core.rig.spurs.received_out import RECEIVER_LIMIT_DBM
from core.stages.steps import finished


def edited(rig, *changes):
    for path, value in changes:
        rig = rig.edited(path, value)
    return rig


def test_the_level_is_what_isolation_filters_and_the_rf_stage_leave(sample):
    analysis = Analysis(sample)
    mixer, found = vfo_at_antenna(analysis, "20m")
    assert mixer == "mixer"
    figures, plan = analysis.mixer_figures("receive"), analysis.band_plan("20m")
    drive = next(each.delivered_dbm for each in analysis.drives if each.stage == "mixer")
    back = next(b.reverse_db for b in analysis.blocks("20m", "receive", 14.225e6) if b.stage == "rf_stage")
    worst = -np.inf
    for times in range(1, 7):
        for f in np.linspace(plan.vfo_low_hz, plan.vfo_high_hz, 9):
            lost = float(analysis.front_losses("20m", "receive", np.array([times * f]))[0])
            level = float(figures.leak_dbm(drive, times, "antenna")) - lost + back
            worst = max(worst, level)
    assert found.level_dbm == pytest.approx(worst, abs=1e-6)
    assert found.level_dbm == pytest.approx(found.at_mixer_dbm - found.filters_db - found.stages_db)
    # Twelve decibels less of isolation are twelve more at the antenna, where the fundamental decides or not.
    worse = edited(sample, (("stages", "mixer", "oscillator_leak_db"), figures.oscillator_leak_db - 12.0))
    assert vfo_at_antenna(Analysis(worse), "20m")[1].level_dbm == pytest.approx(found.level_dbm + 12.0)


def test_it_is_among_the_mixers_figures(sample):
    analysis = Analysis(sample)
    facts = mixer_facts(analysis, sample.stage("mixer"), "12m")
    told = keyed(MIXER)["at_antenna_dbm"]
    assert told.get(facts) == vfo_at_antenna(analysis, "12m")[1].level_dbm
    assert told.get(mixer_facts(analysis, sample.stage("detector"), "12m")) is None


def test_a_quiet_receiver_is_told_nothing(sample):
    assert not list(oscillator_at_antenna(Analysis(sample)))


def test_a_receiver_that_sends_is_told_and_an_isolating_stage_mends_it(sample, muddle):
    (found,) = [f for f in oscillator_at_antenna(Analysis(muddle)) if f.band == "40m"]
    assert found.text == (
        "In receive on 40 m 2 VFO leaves by the antenna with −47 dBm at 7.118 MHz; −57 dBm is allowed."
    )
    assert found.limit == RECEIVER_LIMIT_DBM
    assert may_have(found)
    (edit,) = finished(remedies(Analysis(muddle), found))
    mended = edit.on(muddle)
    assert edit.label == "Put an RF stage of 10 dB before the mixer"
    assert [
        f for f in inspect(Analysis(mended)) if f.rule == "oscillator_at_antenna" and f.band == "40m"
    ] == []
    below = vfo_at_antenna(Analysis(mended), "40m")[1]
    assert below.level_dbm < found.figure - 10


def test_matched_devices_suffice_where_they_do(sample):
    """Without filters diodes as they come leave −44 dBm or so at the antenna, matched ones 14 dB less."""
    bare = edited(
        sample,
        (("stages", "rf_stage", "in_path"), False),
        (("stages", "band_pass", "in_path"), False),
        (("stages", "low_pass", "direction"), "transmit"),
        (("stages", "mixer", "uneven_share"), 0.0),
        (("vfo", "second_harmonic_dbc"), -60.0),
    )
    found = next(f for f in oscillator_at_antenna(Analysis(bare)) if f.band == "20m")
    (edit,) = finished(remedies(Analysis(bare), found))
    assert edit.label == "Match the devices of Mixer"
    after = vfo_at_antenna(Analysis(edit.on(bare)), "20m")[1]
    assert found.figure - after.level_dbm == pytest.approx(20 * np.log10(5), abs=1.5)
    assert not [f for f in oscillator_at_antenna(Analysis(edit.on(bare))) if f.band == "20m"]


# -- loops -------------------------------------------------------------------------------------------------


def with_gain(tern, stage, gain_db):
    made = Amplifier(id=stage, name=tern.stage(stage).name, direction="transmit", gain_db=gain_db)
    return tern.with_stages(tuple(made if s.id == stage else s for s in tern.stages))


def test_an_if_stage_that_makes_up_for_the_mixers_isolation_lengthens_the_loop(tern):
    """A ring of its type loses 6 dB and holds what it does not convert 25 dB below: 31 dB. An IF stage of 40
    dB leaves 9 to the loop at RF, one of 30 nothing.
    """
    for gain_db, more in ((30.0, 0.0), (40.0, 9.0)):
        rig = with_gain(tern, "transmit_if", gain_db)
        analysis = Analysis(rig)
        (found,) = [
            each for each in analysis.loops() if (each.band, each.way, each.zone) == ("20m", "transmit", "rf")
        ]
        blocks = analysis.blocks("20m", "transmit", rig.band("20m").centre_hz)
        plain = sum(
            b.gain_db for b in blocks if b.zone == "rf" and b.role in ("amplifier", "power_amplifier")
        )
        assert found.gain_db == pytest.approx(plain + more)
        assert ("Transmit IF" in found.stages) is (more > 0)
    # A ring's circuit, which is balanced better, takes most of it out again: by its own loss and balance.
    tight = edited(with_gain(tern, "transmit_if", 40.0), (("stages", "mixer", "figures_from"), "circuit"))
    better = Analysis(tight)
    found = next(e for e in better.loops() if (e.band, e.way, e.zone) == ("20m", "transmit", "rf"))
    ring = better.mixer_figures("transmit")
    more = 40.0 + ring.gain_db - float(ring.suppression_db(0, 1, sending=True))
    assert 0 < more < 3
    assert found.gain_db == pytest.approx(plain + more)


def test_a_loop_reaches_no_further_than_a_filter(tern):
    """At the IF the band-pass stands behind the mixer: nothing of the RF stages counts there."""
    analysis = Analysis(tern)
    blocks = analysis.blocks("20m", "transmit", 14.2e6)
    (found,) = [e for e in loops(blocks, "20m", "transmit", 60.0, 0.0) if e.zone == "if"]
    assert set(found.stages) == {"Modulator buffer", "Transmit IF"}
    (beyond,) = [e for e in loops(blocks, "20m", "transmit", 60.0, 0.0) if e.zone == "rf"]
    assert "Transmit IF" in beyond.stages
    assert "Modulator buffer" not in beyond.stages
