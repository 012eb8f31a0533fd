"""Amplifiers and pads between an oscillator and its mixers: the drive that arrives, and what is advised."""

from math import log10, sqrt

import pytest

from core.model.project import Project
from core.model.stages.amplifiers import Amplifier, Attenuator
from core.model.stages.built_amplifier import BuiltAmplifier
from core.model.stages.filters import LowPass
from core.rig.analysis import Analysis
from core.rig.levels.oscillator_drive import (
    amplified,
    bare_dbm,
    behind_db,
    driven,
)
from core.rig.levels.transmit import compressed_dbm
from core.rig.plan.surroundings import oscillator_hz
from core.rig.rules.mixing.drive import mixer_drive
from core.rig.rules.power.transistors import transistor_hot
from core.rig.rules.structure import behind_an_oscillator
from core.stages.amplifiers.design import design
from core.stages.amplifiers.figures import figures


def with_circuits(tern: Project, level_dbm: float, *stages, diode="1n4148") -> Project:
    """The sample whose mixers are computed of their circuits, with stages behind its VFO."""
    rig = tern.edited(("vfo", "output_dbm"), level_dbm).edited(("vfo", "amplifier_gain_db"), None)
    for each in rig.stages:
        if each.kind == "mixer":
            rig = rig.edited(("stages", each.id, "figures_from"), "circuit")
            rig = rig.edited(("stages", each.id, "diode"), diode)
    return rig.with_stages((*rig.stages, *stages))


def told(project, stage="mixer"):
    return [each for each in mixer_drive(Analysis(project)) if each.stage == stage]


BUFFER = BuiltAmplifier(
    id="vfo_buffer", name="VFO buffer", direction="vfo", topology="feedback", gain_db=12.0, current_a=20e-3
)


def test_an_amplifier_of_parts_behind_the_vfo_lifts_what_its_mixers_get(tern):
    rig = with_circuits(tern, -3.0, BUFFER)
    got = figures(design(BUFFER), oscillator_hz(rig, "vfo"))
    (step,) = driven(rig, "vfo").steps
    assert step.gain_db == got.gain_db
    assert step.output_dbm == pytest.approx(compressed_dbm(-3.0 + got.gain_db, got.compression_dbm))
    count = sum(each.oscillator == "vfo" for each in Analysis(rig).drives)
    assert driven(rig, "vfo").delivered_dbm == pytest.approx(step.output_dbm - 10 * log10(count))
    # An amplifier of its own that was typed in once counts no more.
    assert bare_dbm(rig, "vfo") == bare_dbm(rig.edited(("vfo", "amplifier_gain_db"), 10.0), "vfo") == -3.0
    assert behind_db(rig, "vfo") == pytest.approx(step.output_dbm + 3.0)
    assert behind_db(rig, "carrier") == rig.carrier.amplifier_gain_db
    assert driven(rig, "vfo").at_mixers.output_dbm == driven(rig, "vfo").delivered_dbm
    # The carrier has nothing behind it and is as it was.
    assert driven(rig, "carrier").delivered_dbm == rig.carrier.output_dbm
    assert driven(rig, "carrier").at_mixers is rig.carrier


def test_a_buffer_that_is_driven_too_hard_gives_what_it_can(tern):
    rig = with_circuits(tern, 20.0, BUFFER)
    most = figures(design(BUFFER), oscillator_hz(rig, "vfo")).compression_dbm
    assert driven(rig, "vfo").steps[0].output_dbm < most + 2.3


def test_the_signals_own_path_and_levels_know_nothing_of_it_but_the_drive(tern):
    starved, buffered = with_circuits(tern, -3.0), with_circuits(tern, -3.0, BUFFER)
    assert [s.id for s in buffered.path("receive")] == [s.id for s in starved.path("receive")]
    gain = {
        rig.stages[-1].id: next(
            b for b in Analysis(rig).blocks("20m", "receive", 14.2e6) if b.stage == "mixer"
        )
        for rig in (starved, buffered)
    }
    lifted = gain["vfo_buffer"]
    (other,) = [block for key, block in gain.items() if key != "vfo_buffer"]
    assert lifted.gain_db > other.gain_db + 10
    assert lifted.iip3_dbm > other.iip3_dbm + 10
    assert (
        Analysis(buffered).receive("20m").noise_figure_db
        < Analysis(starved).receive("20m").noise_figure_db - 5
    )
    assert Analysis(buffered).worked("20m", Analysis(buffered).mixer_figures("transmit")).vfo_dbm == (
        driven(buffered, "vfo").delivered_dbm
    )


def test_its_parts_are_in_the_list_and_a_hot_one_is_told(tern):
    rig = with_circuits(tern, -3.0, BUFFER)
    assert {"RF", "RD", "Q1"} <= {each.part.ref for each in Analysis(rig).parts if each.stage == "vfo_buffer"}
    hot = rig.edited(("stages", "vfo_buffer", "current_a"), 60e-3)
    assert "vfo_buffer" in {each.stage for each in transistor_hot(Analysis(hot))}


def test_too_little_drive_is_told_and_an_amplifier_of_that_gain_mends_it(tern):
    rig = with_circuits(tern, 0.0)
    (found,) = told(rig)
    drive = next(each for each in Analysis(rig).drives if each.stage == "mixer")
    assert (found.figure, found.limit) == (0.0, drive.wanted_dbm)
    assert found.source.startswith("the mixer's circuit: 1 dB short")
    (typical,) = told(tern.edited(("vfo", "output_dbm"), 0.0))
    assert typical.source == "typical of the mixer type, from memory"
    assert found.remedy == (
        f"Buffer the oscillator: an amplifier of {drive.missing_db:.0f} dB makes up for it."
    )
    split = 10 * log10(sum(each.oscillator == "vfo" for each in Analysis(rig).drives))
    buffer = Amplifier(
        id="b", name="B", direction="vfo", gain_db=round(drive.missing_db) + split, p1db_dbm=20.0
    )
    assert not told(rig.with_stages((*rig.stages, buffer)))
    # The window's button does the same, with or without stages that stand there already.
    assert not told(amplified(rig, "vfo"))
    weak = with_circuits(tern, -12.0, BUFFER)
    assert told(weak)
    mended = amplified(weak, "vfo")
    assert not told(mended)
    assert mended.vfo == weak.vfo
    more = mended.stage("vfo_amplifier")
    assert (more.direction, more.name) == ("vfo", "VFO amplifier")
    assert amplified(mended, "vfo") is mended


def test_too_much_drive_is_told_and_a_pad_of_that_loss_mends_it(tern):
    """Small Schottky diodes bear 15 mA: some 11 dBm."""
    rig = with_circuits(tern, 15.0, diode="1n5711")
    (found,) = told(rig)
    drive = next(each for each in Analysis(rig).drives if each.stage == "mixer")
    assert drive.delivered_dbm > drive.most_dbm
    assert drive.peak_v == pytest.approx(sqrt(2 * 50 * 10**1.5 * 1e-3))
    loss = round(-drive.missing_db)
    assert found.remedy == f"Put a pad of {loss} dB behind the oscillator."
    split = 10 * log10(sum(each.oscillator == "vfo" for each in Analysis(rig).drives))
    pad = Attenuator(id="p", name="Pad", direction="vfo", loss_db=loss - split)
    assert not told(rig.with_stages((*rig.stages, pad)))


def test_what_cannot_stand_behind_an_oscillator_is_told_and_turned_round_it_is_not(tern):
    rig = tern.with_stages((*tern.stages, LowPass(id="lp", name="Low-pass 2", direction="vfo")))
    (found,) = behind_an_oscillator(Analysis(rig))
    assert found.text == "Low-pass 2 is set to work behind the VFO and cannot stand there."
    assert driven(rig, "vfo").delivered_dbm == rig.vfo.output_dbm
    turned = rig.edited(("stages", "lp", "direction"), "transmit")
    assert not list(behind_an_oscillator(Analysis(turned)))
