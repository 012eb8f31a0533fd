"""What of a junk box goes into mixers, judged by speech, by RF that must not get through, by the balance."""

from math import log, log10

import numpy as np
import pytest

from core.circuits import nodal
from core.circuits.circuit import Circuit, Port
from core.model.stages.mixers import Mixer
from core.stages.mixers.design import Lowest, design
from core.stages.on_hand import Piece, Shelf, Trimmer

AT = Lowest(signal_hz=4.4e6, oscillator_hz=4.4e6)
#: Drawers of capacitors [F], two of each.
DRAWERS = (
    (4.7e-9, 6.8e-9, 20e-9, 10e-6, 33e-6),
    (3.3e-9, 8.2e-9, 12e-9, 18e-9, 12e-6, 27e-6),
    (5.6e-9, 9.1e-9, 15e-9, 4.7e-6, 18e-6, 47e-6),
)


def mixer(**fields):
    given = {"figures_from": "circuit", "diode": "1n5711", "oscillator": "carrier", "direction": "receive"}
    return Mixer(id="m", name="M", **given | fields)


def modulator(**fields):
    return mixer(direction="transmit", balance_trimmed="both", **fields)


def shelf(farads, many=2.0, trimmers=(), type="c0g"):
    return Shelf(tuple(Piece(type, farad, many) for farad in farads), tuple(trimmers))


def rows(found):
    return {row.key: row for row in found.parts if row.kind == "capacitor"}


def heard(found):
    """Loss from tap to audio [dB] at both ends of speech and at the IF, and what the tap reflects there."""
    roles = ("termination", "termination_block", "choke", "bypass", "coupling")
    network = Circuit(found.circuit.of_role(*roles), (Port("tap", 50.0), Port("converted", 50.0)))
    solved = nodal.solve(network, [300.0, 3e3, AT.signal_hz])
    lost = -20 * np.log10(np.abs(solved.s[1, 0]))
    return *lost, abs(solved.s[0, 0, 2])


def as_good(found, series):
    """Hardly more of speech lost than with what is bought, RF kept out, and its end as near to 50 Ω."""
    mine, bought = heard(found), heard(series)
    return (
        mine[0] < bought[0] + 0.25
        and mine[1] < bought[1] + 0.05
        and mine[2] > bought[2] - 3.5
        and mine[3] < bought[3] + 0.02
    )


@pytest.mark.parametrize("type", ["ring", "two_diode"])
def test_what_is_on_hand_before_audio_passes_speech_and_stops_rf(type):
    """Where simply the nearest values do not."""
    series, taken, spoilt = design(mixer(type=type), AT), 0, 0
    for drawer in DRAWERS:
        found = design(mixer(type=type), AT, (), shelf(drawer))
        assert as_good(found, series)
        taken += sum(any(abs(row.fitted / f - 1) < 1e-5 for f in drawer) for row in rows(found).values())
        near = {
            key: min(drawer, key=lambda f, row=row: abs(log(f / row.designed)))
            for key, row in rows(found).items()
        }
        spoilt += not as_good(design(mixer(type=type, as_built=near), AT), series)
    assert taken >= 8
    assert spoilt >= 2


def test_a_balance_of_what_is_on_hand_is_set_either_way_as_far():
    """With the trimmer's ends as far from its partner; the value nearest to the usual one left no room."""
    drawer = (4.7e-12, 8.2e-12, 15e-12, 22e-12, 68e-12)
    small, coarse = Trimmer(8e-12, 23e-12, 1), Trimmer(10e-12, 365e-12, 2)
    bought = rows(design(modulator(), AT))
    room = 7e-12
    for trimmers, wanted in (
        ((small, coarse), (8e-12, 23e-12, 15e-12)),
        # A tuning capacitor is none to set picofarads with, so that a trimmer is bought.
        ((coarse,), (3e-12, 20e-12, 10e-12)),
        ((Trimmer(5e-12, 40e-12, 1),), (5e-12, 40e-12, 15e-12)),
    ):
        found = rows(design(modulator(), AT, (), shelf(drawer, trimmers=trimmers)))
        low, high = found["trimmer"].trimmer_f
        against = found["balance_capacitor"].fitted
        assert (low, high, against) == pytest.approx(wanted)
        assert found["trimmer"].fitted == against
        assert min(against - low, high - against) >= room * (1 - 1e-9)
    nearest = min(drawer, key=lambda f: abs(log(f / bought["balance_capacitor"].designed)))
    assert nearest - 3e-12 < room


def test_what_stands_against_the_trimmer_is_of_a_kind_that_stays():
    for type, taken in (("c0g", True), ("other", False)):
        box = shelf((11e-12,), type=type)
        found = rows(design(modulator(), AT, (), box))
        assert (found["balance_capacitor"].fitted == pytest.approx(11e-12)) is taken


def test_a_modulator_of_transistors_takes_what_passes_speech():
    asked = {"type": "transistor_array"}
    series = design(modulator(**asked), AT)

    def lost_db(found):
        """Of speech between the lower bases, from its highest to its lowest tone."""
        passive = found.circuit.of_role("coupling", "input_load", "bypass")
        inside = tuple(b for b in passive if set(b.nodes) <= {"signal", "b1", "b2", "v", "0"})
        network = Circuit(inside, (Port("signal", 1e3), Port("b1", 1e6)))
        v = np.abs(nodal.solve(network, [300.0, 3e3]).s[1, 0])
        return float(20 * log10(v[1] / v[0]))

    spoilt = 0
    for drawer in (
        (470e-9, 1.2e-6, 22e-6, 8.2e-9),
        (560e-9, 1.5e-6, 6.8e-6, 12e-6),
        (390e-9, 1e-6, 8.2e-6, 27e-6, 20e-9),
    ):
        found = design(modulator(**asked), AT, (), shelf(drawer, 3))
        taken = [row for row in rows(found).values() if any(abs(row.fitted / f - 1) < 1e-5 for f in drawer)]
        assert taken
        assert all(0.99 * row.designed <= row.fitted <= 3.01 * row.designed for row in taken)
        assert lost_db(found) <= lost_db(series) + 0.3
        near = {
            key: min(drawer, key=lambda f, r=r: abs(log(f / r.designed))) for key, r in rows(found).items()
        }
        spoilt += lost_db(design(modulator(**asked, as_built=near), AT)) > lost_db(series) + 0.3
    assert spoilt >= 1


@pytest.mark.parametrize("type", ["ring", "two_diode", "transistor_array"])
def test_an_empty_box_asks_for_nothing_else(type):
    assert design(modulator(type=type), AT, (), Shelf()) is design(modulator(type=type), AT)
