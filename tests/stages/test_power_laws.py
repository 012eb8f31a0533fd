"""Transistors as laws of current: what a law wants, the drive, mismatch and heat, for any figures."""

from math import isnan, pi, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.circuits.circuit import Bipolar, SquareLaw
from core.circuits.power.heat import Chain
from core.circuits.power.law import Law
from core.circuits.power.load_line import drive_for, driven, load_for, most_power
from core.circuits.power.mismatch import scan

laws = st.one_of(
    st.builds(
        lambda k, r, n: Law(SquareLaw(slope_a_v2=k, threshold_v=3.0), r, n),
        st.floats(0.05, 2.0),
        st.floats(0.0, 1.0),
        st.integers(1, 2),
    ),
    st.builds(
        lambda r: Law(
            Bipolar(
                saturation_a=1e-14,
                current_gain=80,
                transition_hz=1e9,
                transition_at_a=0.05,
                feedback_f=2e-12,
                emitter_f=8e-12,
                base_ohm=5.0,
                early_v=60.0,
            ),
            r,
        ),
        st.floats(0.2, 5.0),
    ),
)


@settings(max_examples=60, deadline=None)
@given(laws, st.floats(0.01, 1.5))
def test_a_law_and_what_it_wants_are_inverse(law, ampere):
    volt = law.control_v(ampere)
    assert float(law.current_a(volt)) == pytest.approx(ampere, rel=1e-9)
    step = 1e-5
    slope = (float(law.current_a(volt + step)) - float(law.current_a(volt - step))) / (2 * step)
    assert float(law.slope_s(volt)) == pytest.approx(slope, rel=1e-4)


@settings(max_examples=40, deadline=None)
@given(laws, st.floats(0.005, 0.4), st.floats(0.05, 1.0))
def test_the_drive_found_gives_the_fundamental(law, idle, fundamental):
    bias_v = law.control_v(idle)
    drive = drive_for(law, bias_v, fundamental)
    assert float(driven(law, bias_v, [drive]).harmonics_a[0, 0]) == pytest.approx(fundamental, rel=1e-7)


@settings(max_examples=25, deadline=None)
@given(laws, st.floats(0.02, 0.2), st.floats(0.0, 0.8), st.floats(0.3, 3.0))
def test_a_mismatched_stage_takes_what_it_gives_and_heats(law, idle, reflection, watt):
    load, _ = load_for(13.8, watt, law)
    if isnan(load):
        # So much takes more current than the supply leaves a knee for, whatever the load.
        assert most_power(13.8, 1 / np.geomspace(0.3, 3e3, 200), law)[0].max() < watt
        return
    assert load > 0
    bias_v = law.control_v(idle)
    drive = drive_for(law, bias_v, sqrt(2 * watt / load))
    phases = np.linspace(0, 2 * pi, 12, endpoint=False)
    found = scan(law, bias_v, drive, 13.8, load, reflection, phases)
    assert (found.heat_w > 0).all()
    assert (found.output_w >= 0).all()
    # A load and its mirror image are alike for a stage without capacitances.
    assert list(found.output_w[1:]) == pytest.approx(list(found.output_w[:0:-1]), rel=1e-3, abs=1e-6)
    assert (found.peak_v < 13.8 * 2.2 + 1).all()


@settings(max_examples=40, deadline=None)
@given(st.floats(0.5, 80), st.floats(0.1, 2), st.floats(0.5, 20), st.floats(1, 40), st.floats(90, 200))
def test_the_sink_wanted_keeps_what_it_is_to_keep(junction, insulator, sink, heat, most):
    chain = Chain(junction_k_w=junction, insulator_k_w=insulator, sink_k_w=sink, ambient_c=30.0, sink_kg=0.1)
    wanted = chain.sink_wanted_k_w(heat, most)
    if wanted <= 0:
        assert 30.0 + heat * (junction + insulator) >= most
        return
    other = Chain(
        junction_k_w=junction, insulator_k_w=insulator, sink_k_w=wanted, ambient_c=30.0, sink_kg=0.1
    )
    assert float(other.junction_c(heat)) == pytest.approx(most)
