"""How a VFO's noise changes with its coil: against Leeson's law of a plain tank, and what is tried."""

from math import log10, pi

import numpy as np
import pytest

from core.circuits.resonator import Mode
from core.model.stages.tank import Feedback, Tank
from core.stages.outcome import Unsolved
from core.stages.vfo.noise import noise_measure, quieter
from core.stages.vfo.oscillator import losses_s, margin, operating
from core.stages.vfo.start_up import least_margin
from core.stages.vfo.tank import WantedRange, resonance
from core.stages.vfo.tank_design import design

WANTED = (WantedRange("20m", 5.0e6, 5.5e6, "none"),)


def made(**fields):
    found = design(Tank(**{"coil_h": 2.7e-6, "coil_q": 180.0} | fields), WANTED)
    assert not isinstance(found, Unsolved)
    return found


def test_losses_are_those_of_coil_capacitors_bias_and_device():
    """At 5 MHz with the coil's voltage at the gate and 0.4 of it at the source, by hand."""
    tank = Tank(feedback=Feedback(bias_ohm=1000.0, choke_h=None, gate_ohm=100e3, load_ohm=10e3))
    mode = Mode(
        f_hz=np.array([5e6]),
        capacitance_f=np.array([375e-12]),
        volts=np.array([[0.0, 1.0, 0.4]]),
        shares={},
        nodes=("0", "gate", "source"),
    )
    w = 2 * pi * 5e6
    told = 1 / (200 * w * 2.7e-6) + w * 375e-12 / 1000 + 0.16 * (1 / 1000 + 1 / 10e3) + 1 / 100e3
    assert losses_s(tank, (2.7e-6, 200.0), mode, 0) == pytest.approx(told)
    gm = operating(tank.feedback).transconductance_s
    assert margin(tank, (2.7e-6, 200.0), mode, 0) == pytest.approx(gm * 0.6 * 0.4 / told)


def test_noise_goes_as_losses_over_energy():
    """Leeson: F k T/P (f0/(2 Q d))² with P = V²/(2 Rp) and Q = Rp/(w L): (w L)²/(Rp V²), so that what a coil
    of twice the Q saves is its half of the loss, and a smaller coil with its losses in proportion saves in
    proportion.
    """
    plain, better = made(), made(coil_q=360.0)
    worst = []
    for each in (plain, better):
        mode = resonance(each, "20m", np.array([0.0, 1.0]))
        for place in (0, 1):
            w = 2 * pi * float(mode.f_hz[place])
            rp = 1 / losses_s(each.tank, (each.coil_h, each.coil_q), mode, place)
            loaded_q = rp / (w * each.coil_h)
            watt = 1 / float(mode.at("gate")[place]) ** 2 / (2 * rp)
            worst.append(
                (float(mode.f_hz[place]) / (2 * loaded_q)) ** 2 / watt / float(mode.f_hz[place]) ** 2
            )
    told = 10 * log10(max(worst[:2]) / max(worst[2:]))
    assert 10 * log10(noise_measure(plain) / noise_measure(better)) == pytest.approx(told, abs=1e-9)
    assert 0.5 < told < 3.01


def test_what_is_tried_covers_starts_and_is_quieter_by_what_it_says():
    plain = made()
    found = [each for each in quieter(plain) if each is not None]
    assert found[0].words == "Take a coil with a Q of 200"
    assert any("µH with a Q of 400" in each.words for each in found)
    for each in found:
        again = design(each.tank, WANTED)
        assert again.ranges[0].covers
        assert least_margin(again) >= min(2.5, least_margin(plain))
        told = 10 * log10(noise_measure(plain) / noise_measure(again))
        assert each.less_db == pytest.approx(told)
        assert each.less_db > 0


def test_the_q_of_a_coil_that_is_wound_is_no_choice_and_one_in_air_is_made_larger():
    cored = made(core="T68-6")
    assert all("Q of" not in each.words for each in quieter(cored) if each)
    air = made(coil_diameter_m=20e-3, coil_length_m=20e-3)
    told = [each.words for each in quieter(air) if each]
    assert any(words.startswith("Take a coil on a former 25 mm across") for words in told)
