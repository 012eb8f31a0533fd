"""Findings on the VFO: each remedy followed, and the finding then gone."""

import re

import pytest

from core.model.bands import Band
from core.model.stages.tank import Feedback
from core.model.values.notation import parse
from core.rig.analysis import Analysis
from core.rig.rules import inspect
from core.rig.rules.oscillators import GOOD_WARM_UP_HZ
from core.rig.start.new_rig import best_scheme, new_rig
from core.stages.vfo import start_up, vfo
from core.stages.vfo.start_up import SAFE_START


def of(rig, rule):
    """The findings of one rule."""
    return [finding for finding in inspect(Analysis(rig)) if finding.rule == rule]


def test_what_is_advised_against_drift_is_the_last_word(tern):
    tank = ("vfo", "tank")
    rig = tern.edited((*tank, "compensation_f"), None)
    told = of(rig, "vfo_drift")[0]
    farad = parse(re.search(r"Make (.*?) of the parallel capacitor", told.remedy)[1], "F")
    left = float(re.search(r"leaves at most (\d+) Hz a degree", told.remedy)[1])
    followed = rig.edited((*tank, "compensation_f"), farad)
    assert of(followed, "vfo_drift") == []
    made = Analysis(followed).tank
    drifts = [abs(d.hz_per_k) for r in made.ranges for d in vfo.figures(made, r.band).drift]
    assert max(drifts) <= left + 0.5
    # In a box that gets so warm that even the best is too much, no other value is advised.
    hot = followed.edited((*tank, "warmth", "rise_k"), 1.2 * GOOD_WARM_UP_HZ / max(drifts) / 0.63)
    assert "best value already" in of(hot, "vfo_drift")[0].remedy


def test_a_vfo_that_does_not_start_is_told_its_bias_and_a_remedy_that_works(muddle):
    (told,) = of(muddle, "vfo_start")
    # Its mark stands on the strip of either band.
    assert told.band == ""
    assert "J310 at 1.4 mA" in told.text
    assert "gives back 1.04 times what the tank loses on 20 m, 1.06 times on 40 m; 2.5 times" in told.text
    assert told.severity == "caution"
    assert "choke of 1 mH in series with the bias resistor" in told.remedy
    found = start_up.remedy(Analysis(muddle).tank)
    assert of(muddle.edited(("vfo", "tank"), found.tank), "vfo_start") == []
    starved = muddle.edited(("vfo", "tank", "feedback", "coupling_f"), 68e-12)
    assert of(starved, "vfo_start")[0].severity == "fault"


def test_what_a_vfo_tunes_instead_is_told_and_the_remedy_stands_apart_and_holds(muddle):
    (told,) = of(muddle, "vfo_limit")
    assert told.severity == "fault"
    assert "; take a coil" not in told.text
    assert told.text.endswith(
        "as it is the VFO tunes 3.453 to 3.626 MHz on 40 m, 3.453 to 3.626 MHz on 20 m."
    )
    assert told.remedy.startswith("Take a coil of at least 3.26 µH or a larger tuning capacitor, or let")
    larger = muddle.edited(("vfo", "tank", "coil_h"), 3.3e-6)
    assert of(larger, "vfo_limit") == []


def test_the_vfos_second_harmonic_on_the_signal_is_told_once(muddle):
    told = [f.text for f in inspect(Analysis(muddle)) if f.band == "40m" and f.severity != "note"]
    about = [t for t in told if t.startswith("2 VFO (") or "VFO's second harmonic" in t]
    assert [t.split(" meets")[0] for t in about] == ["2 VFO (order 2)"]
    assert "about −36 dBc" in about[0]


def test_what_is_said_of_both_bands_is_said_once(muddle):
    told = {f.rule: f.text for f in inspect(Analysis(muddle))}
    for rule in ("vfo_start", "vfo_fast", "overload", "loud_audio"):
        assert len(of(muddle, rule)) == 1
    assert "tunes up to 62 kHz on 40 m, 62 kHz on 20 m; 50 kHz" in told["vfo_fast"]
    assert "compresses at 8 dB below S9 + 40 dB on 20 m, 7 dB on 40 m." in told["overload"]
    assert "asks 34 kW of Audio amplifier on 20 m, 28 kW on 40 m; it gives 500 mW." in told["loud_audio"]


@pytest.mark.parametrize(
    ("name", "low_hz", "high_hz", "if_hz"),
    [
        ("160m", 1.81e6, 2.0e6, 9e6),
        ("80m", 3.5e6, 3.8e6, 9e6),
        ("40m", 7.0e6, 7.2e6, 4.9152e6),
        ("20m", 14.0e6, 14.35e6, 9e6),
        ("20m", 14.0e6, 14.35e6, 22.1184e6),
        ("10m", 28.0e6, 28.7e6, 9e6),
    ],
)
def test_a_new_rigs_vfo_starts(name, low_hz, high_hz, if_hz):
    band = Band(name=name, low_hz=low_hz, high_hz=high_hz)
    rig = new_rig((band.edited(("scheme",), best_scheme(band, if_hz)),), if_hz)
    assert start_up.least_margin(Analysis(rig).tank) >= SAFE_START


def test_the_samples_vfo_starts(tern):
    assert tern.vfo.tank.feedback == Feedback()
    assert start_up.least_margin(Analysis(tern).tank) >= SAFE_START


def test_a_vfo_near_zero_is_a_fault_with_its_range(tern):
    carrier = Analysis(tern).carrier_hz("20m")
    band = Band(name="20m", low_hz=carrier - 20e3, high_hz=carrier - 5e3, scheme="if_minus_vfo")
    rig = tern.edited(("bands",), (band, tern.bands[1]))
    told = of(rig, "vfo_too_low")
    assert [each.band for each in told] == ["20m"]
    assert "from 5 to 20 kHz" in told[0].text
    assert told[0].severity == "fault"
    assert of(tern, "vfo_too_low") == []


def test_a_vfo_above_its_if_is_told_to_come_down_with_it():
    # It was told to choose an IF nearer to the band, which puts such a VFO higher still.
    band = Band(name="40m", low_hz=7.0e6, high_hz=7.2e6, sideband="lower", scheme="vfo_minus_if")
    rig = new_rig((band,), 4e6)

    def high(project):
        return [f for f in inspect(Analysis(project)) if f.rule == "vfo_high"]

    (finding,) = high(rig)
    assert finding.remedy == "Choose a lower IF, or another mixing scheme for this band."
    assert high(rig.edited(("if_hz",), 6e6))
    assert not high(rig.edited(("if_hz",), 0.7e6))
    assert not high(rig.edited(("bands", 0, "scheme"), "sum"))
