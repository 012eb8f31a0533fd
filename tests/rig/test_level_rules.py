"""Rules on levels held against made-up levels on either side of every limit."""

from types import SimpleNamespace

import numpy as np
import pytest

from core.rig.analysis import Analysis
from core.rig.levels.blocks import Block
from core.rig.levels.gain_control import Control
from core.rig.levels.loops import loops
from core.rig.rules import receive, transmit
from core.rig.rules.amplifiers import too_much_gain_at_one_frequency
from core.rig.rules.mixing.drive import mixer_drive
from core.stages.mixers import figures as mixer
from core.stages.outcome import Unsolved
from tests.made_up import TWENTY, project

# -- receive and transmit levels ---------------------------------------------------------------------------


def block(kind="amplifier", name="Amplifier", zone="rf", gain=10.0, p1db_out=None, **others):
    given = {"stage": name.lower(), "noise_figure_db": 3.0, "p1db_out_dbm": p1db_out}
    return Block(name=name, kind=kind, zone=zone, gain_db=gain, **given | others)


def received(**others):
    """What the rules read of receive levels."""
    given = {
        "blocks": (),
        "headroom_db": (),
        "s9_dbm": np.array([-73.0]),
        "controls": (),
        "noise_margin_db": 12.0,
        "noise_above_own": True,
        "noise_heard": True,
        "speaker_noise_db_spl": 50.0,
        "image_noise_db": 0.0,
        "noise_figure_db": 9.0,
    }
    return SimpleNamespace(**given | others)


def hearing(tern, *rows, **others):
    """An analysis of as many bands as there are rows."""
    bands = tuple(TWENTY.edited(("name",), f"b{n}") for n in range(1, len(rows) + 1))
    by = {band.name: row for band, row in zip(bands, rows, strict=True)}
    return SimpleNamespace(
        project=project(tern, bands=bands, **others), receive=by.__getitem__, transmit=by.__getitem__
    )


def test_two_verdicts_on_band_noise(tern):
    margin, room = tern.station.noise_margin_db, tern.speaker.room_noise_db_spl
    (good,) = receive.band_noise(hearing(tern, received()))
    assert (good.severity, good.text) == ("note", "Band noise on b1 is 12 dB above the receiver's own.")
    assert (good.figure, good.limit, good.at_least) == (12.0, margin, True)
    bad, dead = receive.band_noise(
        hearing(tern, received(noise_margin_db=2.34, noise_above_own=False, noise_heard=False))
    )
    assert bad.severity == "caution"
    assert bad.text == (f"Band noise on b1 is only 2.3 dB above the receiver's own; {margin:g} dB is wanted.")
    assert (bad.at_least, bad.path) == (True, ("station", "noise_margin_db"))
    assert dead.rule == "noise_heard"
    assert (dead.figure, dead.limit, dead.at_least) == (50.0, room + 3.0, True)
    assert f"makes 50 dB SPL at the ear, less than 3 dB over the room's {room:.0f}" in dead.text
    assert not list(receive.band_noise(hearing(tern, received(), path=lambda way: ())))


def test_overload_names_the_stage_with_least_headroom_once_for_all_bands(tern):
    blocks = (block(name="RF"), block("mixer", "Mixer"), block("audio", "Audio"), block("ladder", "Ladder"))

    def told(*rows):
        return list(
            receive.overload(hearing(tern, *(received(blocks=blocks, headroom_db=row) for row in rows)))
        )

    assert told((1.0, 0.0, -30.0, None)) == []
    (found,) = told((-2.0, -5.2, -30.0, None))
    assert (found.stage, found.band, found.figure, found.limit) == ("mixer", "b1", 5.2, 0.0)
    assert found.text == "Mixer compresses at 5 dB below S9 + 40 dB on b1."
    (both,) = told((-2.0, -5.2, None, None), (0.5, -8.0, None, None))
    assert (both.band, both.figure) == ("", 8.0)
    assert both.text == "Mixer compresses at 8 dB below S9 + 40 dB on b2, 5 dB on b1."
    one, other = told((-6.0, -5.2, None, None), (0.5, -8.0, None, None))
    assert [(f.stage, f.band) for f in (one, other)] == [("rf", "b1"), ("mixer", "b2")]
    assert told((None, None, -3.0, None)) == []


@pytest.mark.parametrize(
    ("kinds", "image_db", "stage"),
    [
        (("band_pass", "amplifier", "mixer"), 1.0, "s1"),
        (("band_pass", "amplifier", "mixer"), 0.99, None),
        (("amplifier", "band_pass", "mixer"), 3.0, "s0"),
        (("amplifier", "audio", "low_pass", "mixer"), 3.0, "s1"),
        (("band_pass", "mixer", "amplifier"), 3.0, None),
        (("ladder", "attenuator", "low_pass", "mixer"), 3.0, None),
        (("band_pass", "amplifier"), 3.0, None),
    ],
)
def test_the_noisy_stage_before_the_mixer_is_named(tern, kinds, image_db, stage):
    blocks = tuple(block(kind, f"S{n}") for n, kind in enumerate(kinds))
    found = list(receive.image_noise(hearing(tern, received(blocks=blocks, image_noise_db=image_db))))
    assert [f.stage for f in found] == ([stage] if stage else [])
    for f in found:
        assert (f.figure, f.limit) == (image_db, 1.0)
        assert f"counts too: {image_db:.1f} dB of the noise figure of 9.0 dB" in f.text
    # A mixer to audio is no first mixer.
    detector = (block("amplifier", "S0"), block("mixer", "S1", "if"))
    assert not list(receive.image_noise(hearing(tern, received(blocks=detector, image_noise_db=9.0))))


def test_audio_that_is_asked_too_much(tern):
    # 30 dBm is one watt; S9 at -10 dBm is one watt at S9 + 40 dB.
    blocks = (block("amplifier", "IF", "if", p1db_out=-90.0), block("audio", "Audio", "audio", p1db_out=30.0))

    def told(*s9, controls=()):
        rows = (
            received(blocks=blocks, s9_dbm=np.array([-73.0, 0.0, each]), controls=controls) for each in s9
        )
        return list(receive.loud_audio(hearing(tern, *rows)))

    assert told(-10.0) == []
    (found,) = told(-6.9897)
    assert found.text == "A station of S9 + 40 dB asks 2 W of Audio on b1; it gives 1 W."
    assert (found.figure, found.limit) == (pytest.approx(2.0, rel=1e-4), pytest.approx(1.0))
    assert (found.stage, found.band, found.path) == ("audio", "b1", ("stages", "audio", "gain_db"))
    assert found.remedy == "Insert a volume control with a range of at least 4 dB before it."
    (both,) = told(-6.9897, -3.9794)
    assert both.text == "A station of S9 + 40 dB asks 4 W of Audio on b2, 2 W on b1; it gives 1 W."
    assert both.band == ""

    def control(place, range_db):
        return Control(
            place=place, stage="vol", name="Volume", automatic=False, range_db=range_db, held_dbm=0.0
        )

    assert told(20.0, controls=(control(0, 30.0),)) == []
    (short,) = told(20.0, controls=(control(0, 26.9897),))
    assert short.text == (
        "A station of S9 + 40 dB asks 2 W of Audio on b1 with Volume all the way down; it gives 1 W."
    )
    assert (short.stage, short.path) == ("vol", ("stages", "vol", "range_db"))
    assert short.remedy == "Give Volume a range of at least 31 dB."
    # One behind the audio stage spares it nothing.
    assert told(20.0, controls=(control(2, 90.0),))[0].stage == "audio"


@pytest.mark.parametrize(
    ("off", "told"),
    [
        (-3.0, None),
        (-3.1, "Buffer the oscillator: an amplifier of 3 dB makes up for it."),
        (-8.0, "Buffer the oscillator: an amplifier of 8 dB makes up for it."),
        (3.0, None),
        (3.1, "Put a pad of 3 dB behind the oscillator."),
    ],
)
def test_a_mixer_wants_its_drive(tern, off, told):
    wanted = mixer.figures(tern.stage("mixer")).drive_dbm
    made = tern.edited(("vfo", "output_dbm"), wanted + off)
    found = [f for f in mixer_drive(Analysis(made)) if f.stage == "mixer"]
    assert [f.remedy for f in found] == ([told] if told else [])
    for f in found:
        assert (f.figure, f.limit, f.at_least) == (pytest.approx(wanted + off), wanted, off < 0)
        assert f.over_db == pytest.approx(abs(off))


def test_a_detector_is_driven_by_the_carrier(tern):
    wanted = {s.id: mixer.figures(s).drive_dbm for s in tern.stages if s.kind == "mixer"}
    by_carrier = [s.id for s in tern.stages if s.kind == "mixer" and s.oscillator == "carrier"]
    weak = tern.edited(("carrier", "output_dbm"), min(wanted[each] for each in by_carrier) - 9.0)
    told = {f.stage for f in mixer_drive(Analysis(weak))}
    assert told == set(by_carrier)


@pytest.mark.parametrize(("gain", "told"), [(60.0, False), (60.1, True)])
def test_gain_at_one_frequency(gain, told):
    blocks = (block(zone="if", gain=gain), block("ladder", zone="if", gain=50.0), block(zone="rf", gain=30.0))

    def heard(*bands):
        made = [loops(blocks, band, way, 60.0) for way in ("receive", "transmit") for band in bands]
        return list(too_much_gain_at_one_frequency(SimpleNamespace(loops=lambda: sum(made, ()))))

    all_found = heard("b1")
    # Up to its isolation a loop is told as one with little in hand.
    assert {f.rule for f in all_found} == {"loop_gain" if told else "loop_margin"}
    found = [f for f in all_found if f.rule == "loop_gain"]
    assert [f.subject for f in found] == (["if, receive", "if, transmit"] if told else [])
    # It is told once for all bands.
    assert len(heard("b1", "b2")) == len(all_found)
    for f in found:
        assert (f.figure, f.limit) == (gain, 60.0)
        assert "amplifies 60.1 dB at one frequency (IF); with an assumed 60 dB of isolation" in f.text


@pytest.mark.parametrize(
    ("headroom", "power", "told"),
    [
        ((0.0, None, 3.0), 5.0, []),
        ((-0.5, None, 3.0), 5.0, [("overdriven", "caution", 0.5)]),
        ((-0.99, None, -0.2), 5.0, [("overdriven", "caution", 0.99)]),
        ((-0.2, None, -1.0), 5.0, [("overdriven", "fault", 1.0)]),
        # Half a decibel under 5 W are 4.456 W.
        ((None, None, None), 4.46, []),
        ((None, None, None), 4.45, [("power_short", "caution", 4.45)]),
    ],
)
def test_power_and_splatter(tern, headroom, power, told):
    blocks = (block(name="A"), block("ladder", "B"), block(name="C"))
    row = SimpleNamespace(blocks=blocks, headroom_db=headroom, output_w=power)
    made = hearing(tern, row, station=tern.station.edited(("power_w",), 5.0))
    found = list(transmit.power(made))
    assert [(f.rule, f.severity, pytest.approx(f.figure)) for f in found] == told
    for f in found:
        if f.rule == "overdriven":
            stage = "A" if headroom[0] == min(h for h in headroom if h is not None) else "C"
            assert f.words.startswith(f"{stage} is driven <figure> beyond its compression on b1")
            assert (f.stage, f.limit) == (stage.lower(), 0.0)
        else:
            assert f.text == "The output on b1 is 4.5 W where 5 W is wanted."
            assert f.at_least
    assert not list(transmit.power(hearing(tern, row, path=lambda way: ())))


def test_what_a_mixer_that_is_driven_too_hard_wants_is_no_output(tern):
    def remedy(kind):
        row = SimpleNamespace(blocks=(block(kind, "X"),), headroom_db=(-3.0,), output_w=10.0)
        (found,) = transmit.power(hearing(tern, row))
        return found.remedy

    assert remedy("amplifier") == "Take gain out before it, or give it more output."
    assert remedy("mixer") == (
        "Take gain out before it, or take a mixer that bears more; with too little drive none does."
    )


@pytest.mark.parametrize(("skirt", "told"), [(10.0, False), (9.9, True)])
def test_the_carrier_is_held_down_by_balance_and_skirt(tern, skirt, told):
    place = SimpleNamespace(suppression_db=skirt)
    carrier = tern.carrier.edited(("balance_db",), 30.0)
    made = SimpleNamespace(project=project(tern, carrier=carrier), carrier=lambda band: place)
    found = list(transmit.carrier_suppression(made))
    assert [(f.figure, f.limit, f.at_least) for f in found] == ([(39.9, 40.0, True)] if told else [])
    lost = SimpleNamespace(project=project(tern, carrier=carrier), carrier=lambda band: Unsolved("no"))
    assert not list(transmit.carrier_suppression(lost))
    no_modulator = SimpleNamespace(
        project=project(tern, carrier=carrier, path=lambda way: ()), carrier=lambda band: place
    )
    assert not list(transmit.carrier_suppression(no_modulator))
