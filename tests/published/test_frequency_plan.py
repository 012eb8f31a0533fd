"""Frequency plan, spurs and survey against worked arithmetic and what builders found."""

import numpy as np
import pytest

from core.model.bands import Band
from core.rig.analysis import Analysis
from core.rig.plan.frequency_plan import band_plan, sideband_at_if, turned_over, vfo_for
from core.rig.rules import inspect
from core.rig.start.new_rig import new_rig
from core.rig.survey.if_survey import survey


def band(name, low, high, scheme, sideband="upper") -> Band:
    return Band(name=name, low_hz=low * 1e6, high_hz=high * 1e6, scheme=scheme, sideband=sideband)


def crossings(bands, if_mhz, schemes, order=8):
    """Crossings of one survey row as {(band, order, products): dial in MHz}."""
    rows = survey(bands, [if_mhz * 1e6], order=order, min_vfo_hz=1e6)
    row = next(r for r in rows if r.schemes == schemes)
    return {(c.band, c.order, c.products): round(c.dial_hz / 1e6, 4) for c in row.crossings}


def test_a_9_mhz_if_with_a_5_mhz_vfo_covers_80_and_20_m():
    # Common practice, no source: one 5.0 to 5.5 MHz VFO, IF - VFO on 80 m and the sum on 20 m.
    low = band_plan(band("80m", 3.5, 4.0, "if_minus_vfo", "lower"), 9e6)
    high = band_plan(band("20m", 14.0, 14.5, "sum"), 9e6)
    for plan in (low, high):
        assert (plan.vfo_low_hz, plan.vfo_high_hz) == (5e6, 5.5e6)
    # They are each other's image (arithmetic of mixing).
    assert (high.image_low_hz, high.image_high_hz) == (low.dial_low_hz, low.dial_high_hz)
    assert (low.image_low_hz, low.image_high_hz) == (high.dial_low_hz, high.dial_high_hz)


@pytest.mark.parametrize(
    ("if_mhz", "vfo", "dial", "scheme", "reversed_"),
    [
        (9.0, 5.2, 14.2, "sum", False),
        (9.0, 5.25, 3.75, "if_minus_vfo", False),
        (5.2, 9.0, 14.2, "sum", False),
        (5.2, 9.0, 3.8, "vfo_minus_if", True),
        (9.0, 16.1, 7.1, "vfo_minus_if", True),
        (9.0, 1.9, 7.1, "if_minus_vfo", False),
    ],
)
def test_the_sideband_rule(if_mhz, vfo, dial, scheme, reversed_):
    # Rule of the trade: turned over only when the modulated signal is subtracted from a higher oscillator.
    assert vfo_for(scheme, if_mhz * 1e6, dial * 1e6) == pytest.approx(vfo * 1e6)
    assert turned_over(scheme) is reversed_
    upper = Band(name="x", scheme=scheme, sideband="upper")
    assert sideband_at_if(upper) == ("lower" if reversed_ else "upper")


def test_a_9_and_5_mhz_set_needs_two_carriers_and_a_5_2_mhz_if_does_not():
    # The often-repeated claim that 9 MHz with a 5 MHz VFO swaps sidebands by itself is false (calculated).
    bands = [band("80m", 3.6, 3.8, "if_minus_vfo", "lower"), band("20m", 14.1, 14.35, "sum")]
    assert {row.schemes: row.sidebands_agree for row in survey(bands, [9e6])}[
        ("if_minus_vfo", "sum")
    ] is False
    assert {row.schemes: row.sidebands_agree for row in survey(bands, [5.12e6])}[
        ("vfo_minus_if", "sum")
    ] is True
    rig = Analysis(new_rig(bands, 9e6))
    assert rig.carrier("80m").side == "above"
    assert rig.carrier("20m").side == "below"
    assert "two_carriers" in {finding.rule for finding in inspect(rig)}


# Worked products of a 9 MHz IF with a 5.0 to 5.5 MHz oscillator, orders to 8 (calculated).


def test_20_m_has_nothing_to_order_7_with_9_mhz():
    assert crossings([band("20m", 14.0, 14.35, "sum")], 9.0, ("sum",)) == {}


def test_80_m_meets_its_order_6_at_3_6_mhz():
    found = crossings([band("80m", 3.5, 3.8, "if_minus_vfo", "lower")], 9.0, ("if_minus_vfo",))
    assert found == {("80m", 6, "4 VFO − 2 IF"): 3.6}


def test_region_2_adds_an_order_9_at_3_857_mhz():
    found = crossings([band("80m", 3.5, 4.0, "if_minus_vfo", "lower")], 9.0, ("if_minus_vfo",), order=9)
    assert found[("80m", 9, "6 VFO − 3 IF")] == pytest.approx(3.8571, abs=1e-4)


def test_40_m_as_if_minus_vfo_meets_the_fourth_harmonic():
    found = crossings([band("40m", 7.0, 7.3, "if_minus_vfo", "lower")], 9.0, ("if_minus_vfo",))
    assert found[("40m", 4, "4 VFO")] == 7.2
    clear = crossings([band("40m", 7.0, 7.3, "vfo_minus_if", "lower")], 9.0, ("vfo_minus_if",))
    assert clear == {}


def test_15_m_meets_two_order_7s_at_its_lower_edge():
    found = crossings([band("15m", 21.0, 21.45, "sum")], 9.0, ("sum",), order=7)
    assert found == {("15m", 7, "4 VFO − 3 IF"): 21.0, ("15m", 7, "5 IF − 2 VFO"): 21.0}


def test_8_mhz_on_20_m_meets_two_order_7s_at_its_lower_edge():
    found = crossings([band("20m", 14.0, 14.35, "sum")], 8.0, ("sum",), order=7)
    assert found == {("20m", 7, "5 VFO − 2 IF"): 14.0, ("20m", 7, "4 IF − 3 VFO"): 14.0}


def test_21_47_mhz_on_17_and_12_m_is_clean():
    # Common practice, no source: builders found no birdies worth noting; computed: none to order 9.
    bands = [band("17m", 18.12, 18.168, "if_minus_vfo"), band("12m", 24.94, 24.99, "sum")]
    row = next(r for r in survey(bands, [21.47e6], order=9) if r.schemes == ("if_minus_vfo", "sum"))
    assert 3.3e6 < row.vfo_low_hz < row.vfo_high_hz < 3.53e6
    assert row.lowest_crossing_order is None
    spurs = Analysis(new_rig(bands, 21.47e6))
    for name in ("17m", "12m"):
        assert not [s for s in spurs.spurs(name) if s.crosses]


def test_10_7_mhz_on_40_and_20_m_has_the_vfos_second_harmonic_in_the_band():
    # Common practice, no source.
    bands = [band("40m", 7.0, 7.2, "if_minus_vfo", "lower"), band("20m", 14.0, 14.35, "sum")]
    row = next(r for r in survey(bands, [10.7e6]) if r.schemes == ("if_minus_vfo", "sum"))
    assert row.lowest_crossing_order == 2
    assert row.crossings[0].products == "2 VFO"
    rig = Analysis(new_rig(bands, 10.7e6))
    # Mixed into the IF it is the third harmonic there, which comes through the mixer directly and louder.
    heard = [s for s in rig.spurs("40m") if s.kind == "birdie" and s.products == "3 VFO, in the IF"]
    assert heard[0].crosses
    assert heard[0].dial_hz == pytest.approx(2 / 3 * 10.7e6, abs=3e3)
    assert heard[0].moves == 3
    assert ("transmit_crosses", "2 VFO") in {(f.rule, f.subject) for f in inspect(rig)}


def test_a_reported_crossing_is_found_by_turning_the_dial_step_by_step():
    bands = [band("40m", 7.0, 7.3, "if_minus_vfo", "lower")]
    found = crossings(bands, 9.0, ("if_minus_vfo",), order=7)
    dial = np.linspace(7.0e6, 7.3e6, 30_001)
    vfo = 9e6 - dial
    brute = set()
    for m in range(8):
        for n in range(-7, 8):
            if not 1 <= m + abs(n) <= 7 or (m, n) == (1, -1) or (m == 0 and n < 0):
                continue
            if np.abs(np.abs(m * vfo + n * 9e6) - dial).min() <= 3e3:
                brute.add(m + abs(n))
    assert {order for _, order, _ in found} == brute
