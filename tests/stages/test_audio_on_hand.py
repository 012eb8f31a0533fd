"""Capacitors on hand for the corners of audio stages, judged by the response of the whole stage."""

from math import log

import numpy as np
import pytest

from core.circuits.active.two_port import two_port
from core.model.stages.audio import AudioPower, BuiltAudio
from core.stages.audio import power, voltage
from core.stages.audio.power import SOURCE_OHM
from core.stages.on_hand import ALL_BOUGHT, Piece, Shelf

STAGES = {
    "one transistor": BuiltAudio(id="a", name="A", topology="single"),
    "pair": BuiltAudio(id="a", name="A"),
    "operational": BuiltAudio(id="a", name="A", topology="operational"),
    "chip": AudioPower(id="a", name="A"),
    "complementary": AudioPower(id="a", name="A", topology="complementary", gain_db=20),
}
#: Drawers of capacitors [F], two of each, of an amateur who did not buy E6.
DRAWERS = (
    (
        110e-12,
        130e-12,
        0.9e-9,
        7e-9,
        12.5e-9,
        40e-9,
        82e-9,
        120e-9,
        270e-9,
        390e-9,
        2e-6,
        4e-6,
        40e-6,
        250e-6,
    ),
    (91e-12, 180e-12, 620e-12, 5.6e-9, 9.1e-9, 56e-9, 180e-9, 560e-9, 1.2e-6, 2.7e-6, 25e-6, 390e-6),
    (160e-12, 750e-12, 1.1e-9, 9e-9, 18e-9, 50e-9, 91e-9, 240e-9, 500e-9, 1.8e-6, 5e-6, 50e-6, 180e-6),
    (75e-12, 120e-12, 1.2e-9, 6.2e-9, 15e-9, 27e-9, 75e-9, 160e-9, 300e-9, 1e-6, 3e-6, 30e-6, 200e-6),
)


def shelf(farads, many=2.0):
    return Shelf(tuple(Piece("other", farad, many) for farad in farads))


def made(stage, on=ALL_BOUGHT):
    return (power if isinstance(stage, AudioPower) else voltage).design(stage, (), on)


def corners(stage, design):
    """What is lost at the lowest frequency and an octave below it [dB], and the high corner [Hz]."""
    ends = (
        (SOURCE_OHM, stage.load_ohm) if isinstance(stage, AudioPower) else (stage.source_ohm, stage.load_ohm)
    )
    f = np.concatenate(([1000.0, stage.low_hz, stage.low_hz / 2], np.geomspace(1e3, 300e3, 3000)))
    tone, low, below, *above = two_port(design.circuit, f).gain_db(*ends)
    high = f[3:][np.array(above) < tone - 3.01]
    return tone - low, tone - below, float(high[0]) if high.size else np.inf


def capacitors(design):
    return {row.key: row for row in design.parts if row.kind == "capacitor"}


def held(design, series, stage):
    """Whether the corners are where they were asked, or no further off than with what is bought."""
    (low, below, high), (low_0, below_0, high_0) = corners(stage, design), corners(stage, series)
    wanted = getattr(stage, "high_hz", high_0)
    return (
        low <= max(3.06, low_0 + 0.01)
        and below >= min(2.99, below_0 - 0.01)
        and abs(log(high / wanted)) <= max(0.11, abs(log(high_0 / wanted)) + 0.005)
    )


@pytest.mark.parametrize("kind", STAGES)
def test_corners_of_what_is_on_hand_are_where_they_were_asked(kind):
    """Where simply the nearest values put them elsewhere."""
    stage = STAGES[kind]
    series = made(stage)
    taken, spoilt = 0, 0
    for drawer in DRAWERS:
        found = made(stage, shelf(drawer))
        assert held(found, series, stage)
        rows, before = capacitors(found), capacitors(series)
        mine = {key for key, row in rows.items() if row.fitted != before[key].fitted}
        assert all(min(abs(rows[key].fitted / each - 1) for each in drawer) < 1e-5 for key in mine)
        taken += len(mine)
        corner = [key for key in rows if rows[key].designed != before[key].preferred]
        near = {key: min(drawer, key=lambda f, k=key: abs(log(f / rows[k].designed))) for key in corner}
        spoilt += not held(made(stage.edited(("as_built",), near)), series, stage)
    assert taken >= 6
    assert spoilt >= 2


@pytest.mark.parametrize("kind", STAGES)
def test_what_is_far_off_stays_in_its_drawer(kind):
    stage = STAGES[kind]
    far = shelf(4.0 * row.preferred for row in capacitors(made(stage)).values())
    found = capacitors(made(stage, far))
    assert {key: row.fitted for key, row in found.items()} == {
        key: row.fitted for key, row in capacitors(made(stage)).items()
    }


@pytest.mark.parametrize("kind", STAGES)
def test_an_empty_box_asks_for_nothing_else(kind):
    assert made(STAGES[kind], Shelf()) is made(STAGES[kind])


def test_a_pair_is_bypassed_by_what_is_larger_and_its_corner_made_of_what_is_left():
    stage = STAGES["pair"]
    wanted = capacitors(made(stage))["bypass"].designed
    found = made(stage, shelf((2 * wanted,), 1))
    assert capacitors(found)["bypass"].fitted == pytest.approx(2 * wanted, rel=1e-5)
    assert held(found, made(stage), stage)
    # What is smaller lets the follower's signal back to the base.
    assert capacitors(made(stage, shelf((0.9 * wanted,))))["bypass"].fitted > wanted
