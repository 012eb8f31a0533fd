"""Bias currents against figures computed apart by a nodal program and a circuit simulator."""

from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from core.circuits import bias
from core.model.stages.tank import Feedback
from core.stages.vfo.oscillator import operating, source_loss_s
from core.trade.devices import devices


@pytest.mark.parametrize(("ohm", "milliampere"), [(2200.0, 1.448323), (100.0, 14.369821)])
def test_a_jfet_with_its_source_resistor(ohm, milliampere):
    # IDSS 35 mA, Vp -4 V: 1.448 mA through 2.2 kilohm by both programs, gm 3.55989 mS there.
    current = bias.jfet_self_bias_a(35e-3, 4.0, ohm)
    assert 1e3 * current == pytest.approx(milliampere, abs=2e-6)
    if ohm == 2200:
        assert 1e3 * bias.jfet_transconductance_s(35e-3, 4.0, current) == pytest.approx(3.55989, abs=1e-4)


@given(saturation=st.floats(1e-3, 0.1), pinch=st.floats(0.5, 8.0), ohm=st.floats(1e-3, 1e6))
def test_a_jfets_current_obeys_the_square_law(saturation, pinch, ohm):
    current = bias.jfet_self_bias_a(saturation, pinch, ohm)
    assert 0 < current <= saturation
    assert 0 <= current * ohm <= pinch
    assert current == pytest.approx(saturation * (1 - current * ohm / pinch) ** 2, rel=1e-9, abs=1e-15)


def test_a_bipolar_transistor_with_its_divider():
    # 12 V, 22k, 4.7k, 470 ohm, gain 150: 2.88300 mA by both, at 27 degrees and with an Early voltage of 80 V.
    bare = bias.bipolar_bias_a(12.0, 22e3, 4.7e3, 470.0, 150.0)
    assert 0.99 < bare / 2.88300e-3 < 1.0
    # That multiplies gain and saturation current, which is as if the base's voltage were higher.
    early = 1 + (7.75370 - 0.680313) / 80
    higher_v = 25.865e-3 * log(early) * (22 + 4.7) / 4.7
    with_it = bias.bipolar_bias_a(12.0 + higher_v, 22e3, 4.7e3, 470.0, 150.0 * early)
    assert with_it == pytest.approx(2.88300e-3, rel=3e-4)


@given(supply=st.floats(0.1, 60), upper=st.floats(100, 1e6), lower=st.floats(100, 1e6), ohm=st.floats(1, 1e5))
def test_a_bipolar_transistors_base_loop_closes(supply, upper, lower, ohm):
    current = bias.bipolar_bias_a(supply, upper, lower, ohm, 100.0)
    base = current / 100
    junction = bias.THERMAL_V * log(current / bias.JUNCTION_A)
    divider = upper * lower / (upper + lower)
    assert supply * lower / (upper + lower) == pytest.approx(
        base * divider + junction + (current + base) * ohm, rel=1e-9, abs=1e-9
    )


def test_the_device_table_has_every_device_of_the_model_and_its_source():
    from typing import get_args

    from core.model.stages.tank import Device

    assert set(get_args(Device)) < set(devices())
    assert all(row.source and row.status for row in devices().values())


def test_figures_typed_in_replace_the_types():
    usual, mine = (
        operating(Feedback()),
        operating(Feedback(saturation_a=24e-3, pinch_off_v=2.5, input_f=4e-12)),
    )
    assert usual.current_a == pytest.approx(5.223e-3, rel=1e-3)
    assert mine.current_a == pytest.approx(bias.jfet_self_bias_a(24e-3, 2.5, 470.0))
    assert (mine.input_f, mine.through_f) == (4e-12, 2.5e-12)


def test_a_bipolar_transistors_input_holds_its_diffusion_charge():
    # TF of the 300 MHz class at 10 mA is 0.5085 ns (computed apart), 5 pF of junction beside it.
    found = operating(Feedback(device="2n3904"))
    assert found.transconductance_s == pytest.approx(found.current_a / (constants.k * 300.15 / constants.e))
    assert found.input_f == pytest.approx(5e-12 + found.transconductance_s * 0.5085e-9, rel=2e-3)
    assert found.input_s == pytest.approx(found.transconductance_s / 150)
    assert found.bias_s == pytest.approx(2 / 22e3)


def test_a_choke_takes_the_bias_resistor_off_the_tank():
    bare = source_loss_s(Feedback(bias_ohm=500, choke_h=None, load_ohm=None), 5e6)
    assert bare == pytest.approx(1 / 500)
    choked = source_loss_s(Feedback(bias_ohm=500, choke_h=1e-3, load_ohm=None), 5e6)
    reactance, loss = 31415.9, 31415.9 / 50
    assert choked == pytest.approx((500 + loss) / ((500 + loss) ** 2 + reactance**2), rel=1e-4)
    assert source_loss_s(Feedback(load_ohm=10e3), 5e6) - choked == pytest.approx(1e-4, rel=0.01)
