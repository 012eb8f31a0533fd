"""Audio amplifiers against the reference pair, data sheets, circuit simulator and closed forms."""

from dataclasses import replace
from math import asin, log10, pi, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from core.circuits.active.operating import Bias, bias
from core.circuits.active.swing import least
from core.circuits.active.two_port import TwoPort, two_port
from core.circuits.circuit import GROUND, Branch, Circuit, Part, Port, Rail
from core.circuits.devices.chips import Chip, FixedAmplifier, OperationalAmplifier
from core.circuits.netlist import netlist
from core.circuits.units import BOLTZMANN
from core.circuits.unsolved import Unsolved
from core.model.stages.audio import AudioPower, BuiltAudio
from core.stages.audio import power, voltage
from core.stages.audio.crossover import distortion
from core.stages.audio.design import CLIPS_HARD_DB, AudioDesign, voltage_gain_db
from core.stages.audio.figures import AudioFigures, Heat, corners, figures, heat, supply_gain_db
from core.stages.audio.volume import full_up, wiper
from core.trade.audio import audio_chips


def made(**fields):
    found = voltage.design(BuiltAudio(id="a", name="A", **fields))
    assert isinstance(found, AudioDesign), found
    return found


def powered(**fields):
    found = power.design(AudioPower(id="a", name="A", **fields))
    assert isinstance(found, AudioDesign), found
    return found


def told(design):
    found = figures(design)
    assert isinstance(found, AudioFigures), found
    return found


def port_of(circuit, f):
    found = two_port(circuit, f)
    assert isinstance(found, TwoPort), found
    return found


#: The reference pair (g) as somebody soldered it; the supply's resistor is next to none.
_AS_SOLDERED = {
    "coupling:1": 10e-6,
    "coupling:2": 100e-6,
    "feedback": 100e3,
    "degeneration": 47.0,
    "emitter:1": 1e3,
    "emitter:2": 1e3,
    "load": 4.7e3,
    "bypass": 100e-6,
    "feed": 1e-3,
    "high_cut": 1e-18,
}


def test_the_reference_pair_soldered_as_a_stage_is_the_simulators():
    """Table (g) of the reference circuits, ngspice 39: S21, NF, port impedances at 1 kHz, bias."""
    found = made(
        topology="pair", gain_db=40.0, source_ohm=600, load_ohm=600, feed_ohm=1.0, input_ohm=1e5,
        as_built=_AS_SOLDERED,
    )  # fmt: skip
    port = port_of(found.circuit, [100.0, 1e3, 1e4])
    s21 = 20 * np.log10(np.abs(port.s(600.0)[1, 0]))
    np.testing.assert_allclose(s21, [40.827, 40.820, 40.820], atol=0.001)
    np.testing.assert_allclose(port.noise_figure_db(600.0), [1.042, 1.019, 1.019], atol=0.001)
    assert port.input_ohm(600.0)[1] == pytest.approx(9462.24 - 59.77j, abs=0.5)
    assert port.output_ohm(600.0)[1] == pytest.approx(44.29 - 1.58j, abs=0.01)
    assert found.rest.transistors["Q1"].output_a == pytest.approx(0.0011462, rel=2e-4)
    assert found.rest.transistors["Q2"].output_v == pytest.approx(6.0929, rel=2e-4)


#: Stages on the parts that are soldered in, and the voltage at their load over that of their source at 100,
#: 5075 and 20000 Hz: ngspice 39 on the netlists that the program writes.
_SIMULATED = (
    (
        BuiltAudio,
        {"topology": "operational"},
        "feed 470 feed_bypass 1e-4 coupling:1 3.3e-7 bias_upper 47e3 bias_lower 47e3 bias_bypass 22e-6 "
        "bias_gate 5.1e3 feedback 47e3 high_cut 6.8e-10 gain_resistor 750 gain_block 2.2e-6 "
        "output_resistor 47 coupling:2 1.5e-7",
        (21.29237, 39.07589, 13.33543),
    ),
    (
        BuiltAudio,
        {"topology": "single", "device": "2n3819", "gain_db": 10, "input_ohm": 1e6},
        "feed 470 feed_bypass 1e-4 coupling:1 1.5e-9 bias_gate 1e6 degeneration 180 source 1800 "
        "bypass 3.3e-6 load 2700 high_cut 1.5e-8 coupling:2 1.5e-7",
        (1.244879, 2.296117, 0.8016624),
    ),
    (
        AudioPower,
        {"gain_db": 36},
        "coupling:1 4.7e-8 gain_resistor 430 gain_block 4.7e-6 bias_bypass 1e-5 damping_resistor 10 "
        "damping_capacitor 4.7e-8 coupling:2 3.3e-4 feed_bypass 4.7e-4",
        (37.02689, 58.52372, 58.41022),
    ),
    (
        AudioPower,
        {"topology": "complementary", "gain_db": 26},
        "input_resistor 1300 coupling:1 4.7e-7 bias_lower 22e3 feedback 68e3 high_cut 1.2e-10 load:1 430 "
        "load:2 430 bootstrap 15e-6 emitter:1 0.51 emitter:2 0.51 damping_resistor 10 "
        "damping_capacitor 4.7e-8 coupling:2 2.2e-4 feed_bypass 4.7e-4",
        (6.174559, 8.439873, 6.775829),
    ),
)


@pytest.mark.parametrize(("model", "fields", "soldered", "volts"), _SIMULATED)
def test_audio_stages_are_the_simulators(model, fields, soldered, volts):
    words = soldered.split()
    built = dict(zip(words[::2], map(float, words[1::2]), strict=True))
    found = made(**fields, as_built=built) if model is BuiltAudio else powered(**fields, as_built=built)
    source, load = found.ends_ohm
    (a, b), (c, d) = port_of(found.circuit, [100.0, 5075.0, 20000.0]).chain
    got = np.abs(load / (a * load + b + c * source * load + d * source))
    np.testing.assert_allclose(got, volts, rtol=3e-6)


def test_a_pairs_distortion_is_the_simulators():
    """ngspice 39, the netlist of this design exported, 1 kHz at its input for 205 ms, the last 10 ms by
    Fourier's sum: 2.370 % at a tenth of the largest output, 3.030 % at half of it.
    """
    pair = powered(topology="complementary", gain_db=26)
    full_v = figures(pair).output_v
    assert distortion(pair, 0.1 * full_v) == pytest.approx(0.02370, rel=0.03)
    assert distortion(pair, 0.5 * full_v) == pytest.approx(0.03030, rel=0.04)
    # So low that both transistors conduct all the time there is next to none, and a chip has no such pair.
    assert distortion(pair, 1e-3 * full_v) < 0.002
    assert distortion(powered(gain_db=36), 0.1) is None


def chip_circuit(device, *parts, leads, source=1e3, load=1e4, volt=12.0):
    branches = [Branch(Part(f"R{n}", "resistor", ohm), ends) for n, (ohm, *ends) in enumerate(parts)]
    branches = [replace(each, nodes=tuple(each.nodes)) for each in branches]
    whole = (*branches, Branch(Chip("U", device), leads))
    return Circuit(whole, (Port("in", source), Port("out", load)), (Rail("supply", volt),))


@settings(max_examples=25, deadline=None)
@given(st.floats(2.0, 500.0), st.sampled_from(["ne5532", "tl072", "lm358"]))
def test_an_operational_amplifier_follows_the_textbook(times, name):
    """1 + RF/RG, less 1/(1 + loop gain); the corner at gain-bandwidth over noise gain; e_n, i_n and the
    resistors' noise referred to the input.
    """
    of = audio_chips()[name].device
    assert isinstance(of, OperationalAmplifier)
    rg, rf = 100.0, 100.0 * (times - 1)
    circuit = chip_circuit(
        of, (rf, "out", "n"), (rg, "n", GROUND), (1e9, "in", GROUND), leads=("out", "in", "n", "supply"),
        load=1e9,
    )  # fmt: skip
    port = port_of(circuit, [1.0, of.gain_bandwidth_hz / times])
    # The output's own resistance takes its share of the open gain.
    loop = of.gain / times * (rf + rg) / (rf + rg + of.output_ohm)
    low, corner = 10 ** (voltage_gain_db(port, 1e9) / 20)
    assert low == pytest.approx(times * loop / (1 + loop), rel=2e-3)
    # Its corner is lowered by the same share.
    share = (rf + rg) / (rf + rg + of.output_ohm)
    assert corner / low == pytest.approx(1 / sqrt(1 + 1 / share**2), rel=0.03)
    # Voltage noise at the input with a source of no resistance: e_n, that of RF beside RG, and i_n in it.
    beside = rf * rg / (rf + rg)
    wanted = of.noise_v**2 + 4 * BOLTZMANN * 300.15 * beside + (of.noise_a * beside) ** 2
    assert port.noise[0, 0, 0].real == pytest.approx(wanted, rel=0.02)
    # And its noise current with a source: i_n, and that of the resistor at the input.
    assert port.noise[1, 1, 0].real == pytest.approx(of.noise_a**2 + 4 * BOLTZMANN * 300.15 / 1e9, rel=0.02)


def test_a_chip_of_fixed_gain_has_that_of_its_data_sheet():
    """LM386 class: 20 with open gain pins, 200 with 10 µF across them, 50 kΩ, 300 kHz; LM380 class: 50."""
    plain, full = powered(gain_db=26.0, load_ohm=1e3), powered(gain_db=46.0, load_ohm=1e3)
    assert 10 ** (told(plain).gain_db / 20) == pytest.approx(20, rel=0.01)
    assert 10 ** (told(full).gain_db / 20) == pytest.approx(200, rel=0.03)
    refs = [[row.ref for row in each.parts] for each in (plain, full)]
    assert "CK" not in refs[0]
    assert "CK" in refs[1]
    assert "RK" not in refs[1]
    assert told(plain).input_ohm.real == pytest.approx(50e3, rel=1e-3)
    lm380 = powered(chip="lm380", gain_db=34.0, supply_v=18.0, load_ohm=1e3)
    assert 10 ** (told(lm380).gain_db / 20) == pytest.approx(50, rel=0.01)
    f = np.array([1e3, 300e3])
    over = voltage_gain_db(port_of(plain.circuit, f), 1e3)
    assert over[0] - over[1] == pytest.approx(3.01, abs=0.05)


def test_a_chips_output_is_that_of_its_data_sheet():
    """325 mW into 8 Ω at 6 V with 10 % of distortion (LM386 class), 2.5 W into 8 Ω at 18 V (LM380 class):
    that much distortion comes with about 1 dB more than the onset of clipping.
    """
    for fields, watt in (
        ({"supply_v": 6.0, "gain_db": 26.0}, 0.325),
        ({"chip": "lm380", "supply_v": 18.0, "gain_db": 34.0}, 2.5),
    ):
        found = powered(**fields)
        clipped_w = told(found).output_w * 10 ** (found.beyond_db / 10)
        assert clipped_w == pytest.approx(watt, rel=0.25)


def test_a_clipped_sine_loses_a_decibel_where_its_fundamental_is_one_above_the_onset():
    """Fundamental of a sine cut at x of its peak: (2/π)(asin x + x √(1 − x²)), J. Fourier."""

    def kept(x):
        return 2 / pi * (asin(x) + x * sqrt(1 - x * x))

    x = brentq(lambda x: 20 * log10(kept(x)) + 1, 0.1, 0.99)
    assert 20 * log10(kept(x) / x) == pytest.approx(CLIPS_HARD_DB, abs=0.02)


#: Stage, and the fundamental's peak at the load [V] at which ngspice 39 lost a decibel, transient of 1 kHz.
_COMPRESSED = (
    (AudioPower, {"topology": "complementary", "gain_db": 26}, 3.9),
    (BuiltAudio, {"gain_db": 30, "load_ohm": 50, "second_a": 10e-3, "feed_ohm": 100}, 0.437),
    (BuiltAudio, {"topology": "single", "gain_db": 30}, 2.75),
)


@pytest.mark.parametrize(("model", "fields", "peak_v"), _COMPRESSED)
def test_compression_is_that_of_a_transient_within_a_decibel(model, fields, peak_v):
    found = made(**fields) if model is BuiltAudio else powered(**fields)
    _, most_v = least(found.swings, found.ends_ohm[1])
    assert 20 * log10(most_v / peak_v) + found.beyond_db == pytest.approx(0.0, abs=1.0)


def test_swing_of_a_chip_into_two_loads():
    """9 V, 1.5 V lost at either rail: 3 V of peak without a load; with 50 Ω behind 47 Ω 30 mA are the end."""
    light = made(topology="operational", load_ohm=1e6, feed_ohm=1.0)
    what, most_v = least(light.swings, 1e6)
    assert (what.what, most_v) == ("voltage", pytest.approx(3.0, rel=0.01))
    what, most_v = least(made(topology="operational", load_ohm=50.0, feed_ohm=1.0).swings, 50.0)
    assert (what.what, most_v) == ("current", pytest.approx(30e-3 * 50, rel=0.01))


def test_heat_of_class_b():
    """Vs²/(2π²R) at the worst, where the peak is Vs/π, beside that at rest: 0.513 W of 9 V into 8 Ω."""
    found = heat(powered(supply_v=9.0, load_ohm=8.0))
    assert isinstance(found, Heat)
    assert found.rest_w == pytest.approx(9 * 4e-3, rel=1e-3)
    assert found.worst_w - found.rest_w == pytest.approx(81 / (2 * pi**2 * 8), rel=1e-6)
    # Full output: what the supply gives, less what is in the load.
    peak = sqrt(2 * 8 * found.load_w)
    assert found.full_w - found.rest_w == pytest.approx(9 * peak / (pi * 8) - found.load_w, rel=1e-9)
    assert heat(made()) is None


def test_ripple_gets_through_a_chip_as_its_data_sheet_says():
    """50 dB down at the output with the bypass capacitor (LM386 class), 38 dB (LM380 class)."""
    # The coupling capacitor keeps some of 100 Hz from the speaker, so a load of some resistance.
    for chip, gain_db, supply_v, rejected in (("lm386", 26.0, 9.0, -50), ("lm380", 34.0, 12.0, -38)):
        found = powered(chip=chip, gain_db=gain_db, supply_v=supply_v, load_ohm=1e3, low_hz=5.0)
        assert supply_gain_db(found, 2.5e3, 1e3) == pytest.approx(rejected, abs=0.1)


def test_ripple_through_a_collectors_resistor_is_filtered_by_one_pole():
    """A single transistor passes its supply's ripple nearly whole; RC in the supply takes 1/√(1 + (ωRC)²)."""
    bare, fed = made(topology="single", feed_ohm=1.0, low_hz=10.0), made(topology="single", low_hz=10.0)
    pole = 20 * log10(abs(1 + 2j * pi * 100 * 470 * 100e-6))
    saved = supply_gain_db(bare, 600, 1e4) - supply_gain_db(fed, 600, 1e4)
    assert saved == pytest.approx(pole, abs=0.6)


@settings(max_examples=20, deadline=None)
@given(st.floats(50, 400), st.floats(3e3, 15e3), st.floats(20, 38), st.sampled_from(["pair", "operational"]))
def test_corners_come_out_as_asked(low_hz, high_hz, gain_db, topology):
    """The lower corner at most where it is asked, and not more than capacitors of E6 make it lower; the upper
    one within half a step of E12.
    """
    stage = BuiltAudio(
        id="a", name="A", topology=topology, low_hz=low_hz, high_hz=high_hz, gain_db=gain_db, supply_v=12.0
    )
    design = voltage.design(stage)
    assert isinstance(design, AudioDesign), design
    found = told(design)
    assert found.low_hz is not None
    assert found.high_hz is not None
    assert low_hz / 1.6 < found.low_hz <= low_hz * 1.02
    assert high_hz / 1.15 < found.high_hz < high_hz * 1.15
    assert found.gain_db == pytest.approx(gain_db, abs=0.5)


def test_corners_of_one_pole_are_read_off_where_they_are():
    f = np.geomspace(20, 50e3, 241)
    response = -10 * np.log10((1 + (300 / f) ** 2) * (1 + (f / 3000) ** 2))
    response -= np.interp(1000, f, response)
    low, high = corners(f, response, 3.0)
    there = 10 * np.log10((1 + (300 / 1000) ** 2) * (1 + (1000 / 3000) ** 2))
    for at in (low, high):
        left = 10 * log10((1 + (300 / at) ** 2) * (1 + (at / 3000) ** 2))
        assert left - there == pytest.approx(3.0, abs=0.02)
    assert corners(f, np.zeros_like(f)) == (None, None)


def test_a_potentiometer_is_a_divider():
    """10 kΩ from 10 kΩ: half the voltage; half way down between 0 and infinity 6 dB."""
    port = full_up(10e3, (1e3,))
    (a, b), (c, d) = port.chain[..., 0]
    open_v = 1 / (a + c * 10e3)
    assert abs(open_v) == pytest.approx(0.5)
    assert b == 0
    assert d == 1
    assert wiper(10e3, 0.0, 1e12, 20 * log10(2)) == pytest.approx(0.5, rel=1e-6)
    # From 10 kΩ at the wiper's half: 5 kΩ of 20 kΩ against 10 kΩ of 20 kΩ.
    assert wiper(10e3, 10e3, 1e12, 20 * log10(2)) == pytest.approx(0.5, rel=1e-6)


def test_a_chip_without_bias_is_told():
    of = audio_chips()["ne5532"].device
    loose = chip_circuit(of, (1e3, "out", "n"), leads=("out", "p", "n", "supply"))
    found = bias(loose)
    assert isinstance(found, Unsolved)
    assert "plus input of U" in found.reason
    held = chip_circuit(
        of, (1e3, "out", "n"), (1e3, "supply", "p"), (1e3, "p", GROUND), leads=("out", "p", "n", "supply")
    )
    rest = bias(held)
    assert isinstance(rest, Bias)
    assert rest.volts["out"] == pytest.approx(6.0, abs=1e-3)
    assert rest.rails_a["supply"] == pytest.approx(4e-3 + 6e-3, rel=1e-3)


def test_a_chips_netlist_has_what_was_solved():
    text = netlist(powered(gain_db=36).circuit, "stage", (100, 1e4))
    of = audio_chips()["lm386"].device
    assert isinstance(of, FixedAmplifier)
    assert f"DC {of.supply_a!r}" in text
    assert len([line for line in text.splitlines() if line.startswith("G_U_g")]) == 5
