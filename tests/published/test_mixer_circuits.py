"""Conversion of mixers as they are soldered against transient simulation of their own netlists.

ngspice 39 ran the netlists that the program writes of these circuits as they are (`.meas` tells the gain):
coupled windings on their core, the core's loss as a resistor, diodes, what stands before audio, and at every
port 50 Ω. Frequencies of the signal at the winding and of the oscillator; a signal of −30 dBm. The program
takes the windings apart from the diodes, which costs it up to 0.2 dB: what they do to the other sidebands.
"""

import re

import pytest

from core.circuits.switching.transient import Applied, conversion_netlist
from core.model.files import load
from core.model.samples import sample_path
from core.model.stages.mixers import Mixer
from core.rig.analysis import Analysis
from core.rig.paper.export import netlist_of
from core.stages.mixers.design import Lowest, as_soldered, design
from core.stages.mixers.figures import figures

DIODES = [
    # type, oscillator, diodes, balance, way, drive, signal and oscillator [MHz], lowest [MHz], gain [dB]
    ("ring", "vfo", "1n5711", "resistance", "receive", 7.0, (7.1, 2.0), 7.0, -5.539),
    ("ring", "vfo", "1n5711", "resistance", "transmit", 7.0, (7.1, 2.0), 7.0, -5.537),
    ("ring", "vfo", "1n5711", "resistance", "receive", 7.0, (1.8, 7.2), 1.8, -5.570),
    ("ring", "vfo", "1n5711", "resistance", "receive", 7.0, (28.5, 5.2), 1.8, -5.591),
    ("two_diode", "vfo", "1n4148", "resistance", "receive", 10.0, (7.1, 2.0), 7.0, -8.745),
    ("two_diode", "vfo", "1n5711", "resistance", "receive", 7.0, (7.1, 2.0), 7.0, -9.148),
    ("ring", "carrier", "1n5711", "resistance", "receive", 7.0, (9.01, 9.0), 9.0, -5.754),
    ("ring", "carrier", "1n5711", "both", "transmit", 7.0, (9.01, 9.0), 9.0, -5.715),
    ("two_diode", "carrier", "1n5711", "resistance", "transmit", 7.0, (9.01, 9.0), 9.0, -9.391),
]


@pytest.mark.parametrize(
    ("type", "oscillator", "diode", "trimmed", "way", "drive", "mhz", "lowest", "told"), DIODES
)
def test_conversion_gain_of_the_soldered_circuit(
    type, oscillator, diode, trimmed, way, drive, mhz, lowest, told
):
    fields = {"type": type, "oscillator": oscillator, "diode": diode, "balance_trimmed": trimmed}
    mixer = Mixer(id="m", name="M", figures_from="circuit", **fields)
    made = design(mixer, Lowest(signal_hz=1e6 * lowest, oscillator_hz=1e6 * mhz[1]))
    got = figures(mixer, drive - made.drive_lost_db).gain_db - made.signal_lost_db(1e6 * mhz[0])
    assert got == pytest.approx(told, abs=0.2)


ARRAYS = [
    # oscillator, direction, drive, signal and oscillator [MHz], lowest [MHz], gain [dB], within [dB]
    ("vfo", "receive", -10.0, (7.1, 2.0), 7.0, 5.922, 0.4),
    ("vfo", "receive", 0.0, (7.1, 2.0), 7.0, 7.018, 0.4),
    ("carrier", "transmit", -10.0, (9.01, 9.0), 9.0, 6.001, 0.4),
    ("carrier", "receive", -10.0, (9.01, 9.0), 9.0, 5.582, 0.8),
    ("vfo", "receive", -10.0, (14.2, 5.2), 9.0, 4.911, 1.5),
]


@pytest.mark.parametrize(("oscillator", "way", "drive", "mhz", "lowest", "told", "within"), ARRAYS)
def test_conversion_gain_of_soldered_transistors(oscillator, way, drive, mhz, lowest, told, within):
    """2N3904 with 1 mA, 47 Ω, 1.5 kΩ, −50 dBm. Base currents take some 0.3 dB, capacitances at a quarter of
    a milliampere some tenths at 9 MHz and more than a decibel at 14 and 19 MHz: the closed form has neither,
    and always tells more.
    """
    fields = {"type": "transistor_array", "oscillator": oscillator, "direction": way}
    mixer = Mixer(id="m", name="M", figures_from="circuit", **fields)
    made = design(mixer, Lowest(signal_hz=1e6 * lowest, oscillator_hz=1e6 * mhz[1]))
    got = figures(as_soldered(mixer), drive).gain_db - made.signal_lost_db(1e6 * mhz[0])
    assert 0 < got - told < within


def applied(text):
    """Frequency of every source of a netlist, by its name, and when and where it is measured."""
    found = {name: float(f) for name, f in re.findall(r"V_(\w+) .* SIN\(0 \S+ (\S+)\)", text)}
    turns = re.findall(r"v\((\w+)\)\*cos\(6\.283185307179586\*(\S+)\*time\)", text)
    ((out, wanted),) = turns
    start, end = (float(each) for each in re.search(r"from=(\S+) to=(\S+)", text).groups())
    return found, out, float(wanted), end - start


@pytest.mark.parametrize("way", ["receive", "transmit"])
@pytest.mark.parametrize("stage", ["mixer", "detector"])
def test_a_mixers_netlist_applies_what_the_rig_does_and_measures_whole_periods(stage, way):
    analysis = Analysis(load(sample_path()))
    text = netlist_of(analysis, stage, "20m", way)
    sources, out, wanted, period = applied(text)
    oscillator, signal = sources["oscillator"], sources["signal"]
    assert wanted in (pytest.approx(oscillator + signal), pytest.approx(abs(oscillator - signal)))
    for f_hz in (oscillator, signal, wanted):
        assert f_hz * period == pytest.approx(round(f_hz * period), abs=1e-6)
    assert out == ("converted" if way == "receive" else "signal")
    plan = analysis.band_plan("20m")
    if stage == "mixer":
        assert oscillator == pytest.approx(plan.vfo_at(14.225e6), abs=0.2e6)
    else:
        assert oscillator == pytest.approx(plan.carrier_hz, abs=5e3)
    # Each diode, each winding and each coupling of two of them is there, and what the cores lose.
    for word, count in (("D_", 4), ("L_T", 6), ("K_T", 6), ("R_core", 2)):
        assert sum(line.startswith(word) for line in text.splitlines()) == count, word


def test_the_power_available_is_what_is_asked():
    made = design(Mixer(id="m", name="M", figures_from="circuit"), Lowest(signal_hz=7e6, oscillator_hz=2e6))
    text = conversion_netlist(
        made.circuit,
        "Test",
        oscillator=Applied(node="oscillator", f_hz=2e6, dbm=7.0),
        signal=Applied(node="signal", f_hz=7e6, dbm=0.0),
        wanted="converted",
        wanted_hz=9e6,
        common_hz=1e6,
    )
    # 0 dBm in 50 Ω are 0.632 V from peak to peak, so that as much is the EMF's amplitude.
    assert float(re.search(r"V_signal .* SIN\(0 (\S+) ", text)[1]) == pytest.approx(0.6325, abs=1e-4)
    # A volt of amplitude at the load is 10 mW: +10 dB over that signal, its two integrals' squares a quarter.
    shift = float(re.search(r"PARAM='(\S+)\+10\*log10", text)[1])
    assert shift + 10 * -0.60206 == pytest.approx(10.0, abs=1e-4)
