"""Band-passes of couplings that can be had, of whole turns, as wide as asked with the coils' Q."""

import re
from dataclasses import replace

import numpy as np
import pytest

from core.circuits.circuit import Transformer
from core.circuits.ladder import solve
from core.circuits.response import pass_band
from core.circuits.shapes.prototypes import three_db_edge
from core.model.bands import Band
from core.model.stages.filters import BandPassFilter
from core.stages.band_pass import band_pass
from core.stages.band_pass.band_pass import STRAY_F
from core.stages.ordinary import ordinary_band_pass
from core.stages.outcome import FilterDesign, Unsolved
from core.trade.cores import cores

AUTOMATIC = BandPassFilter(centre_hz=14.2e6, bandwidth_hz=400e3, coil_q=200, coupling="automatic")
NARROW = AUTOMATIC.edited(("bandwidth_hz",), 150e3).edited(("inductance_h",), 3e-6)


def least_f(made):
    return min(row.fitted for row in made.parts if row.kind == "capacitor")


def test_a_coupling_that_wiring_would_decide_is_made_otherwise_by_itself():
    top = band_pass.design(NARROW.edited(("coupling",), "top_capacitor"), ())
    assert least_f(top) < STRAY_F
    made = band_pass.design(NARROW, ())
    assert least_f(made) >= STRAY_F
    assert made.network == band_pass.design(NARROW.edited(("coupling",), "shunt_capacitor"), ()).network
    note = next(row.note for row in made.parts if row.role == "coupling")
    assert note == f"by shunt capacitors, as one at the top would be {1e12 * least_f(top):.2g} pF"
    found = band_pass.figures(NARROW, ())
    assert found.centre_hz == pytest.approx(14.2e6, rel=0.002)


def test_couplings_that_can_be_had_stay_as_they_were():
    plain = band_pass.design(AUTOMATIC.edited(("coupling",), "top_capacitor"), ())
    made = band_pass.design(AUTOMATIC, ())
    assert made.network == plain.network
    assert made.parts == plain.parts


@pytest.mark.parametrize("low", [1.81e6, 3.5e6, 7.0e6, 14.0e6, 28.0e6])
def test_no_new_rig_has_a_coupling_of_wiring(low):
    band = Band(name="b", low_hz=low, high_hz=low * 1.02)
    made = band_pass.design(ordinary_band_pass(band), ((band.low_hz, band.high_hz),))
    assert least_f(made) >= STRAY_F


@pytest.mark.parametrize("ends", ["link", "tapped_coil"])
@pytest.mark.parametrize("core", ["T50-6", "T68-2", "T37-6"])
def test_taps_and_links_have_whole_turns_and_the_rest_is_fitted_around_them(ends, core):
    """Against the same turns put into the filter that was fitted for broken ones: the simple choice."""
    asked = BandPassFilter(
        centre_hz=14.2e6, bandwidth_hz=600e3, ends=ends, core=core, inductance_h=1.2e-6, resonators=3
    )
    made = band_pass.design(asked, ())
    turns = made.wound[0][1].turns
    ratios = [arm.ratio for arm in made.network.arms if isinstance(arm, Transformer)]
    count = round(ratios[0] * turns)
    assert count >= 1
    assert ratios == pytest.approx([count / turns, turns / count])
    note = next(row.note for row in made.parts if row.kind == "transformer")
    assert note.startswith(
        f"source end, {'tap at' if ends == 'tapped_coil' else 'link winding of'} {count} turn"
    )
    plain = asked.edited(("core",), "").edited(("inductance_h",), made.wound[0][1].inductance_h)
    plain = plain.edited(("coil_q",), made.wound[0][1].quality)
    broken = band_pass.design(plain, ())
    simple = replace(
        broken.network,
        arms=tuple(
            replace(arm, ratio=count / turns if arm.which == 1 else turns / count)
            if isinstance(arm, Transformer)
            else arm
            for arm in broken.network.arms
        ),
    )
    f = np.linspace(13.96e6, 14.44e6, 101)

    def reflected(network):
        return float((np.abs(solve(network, f).s11) ** 2).mean())

    assert reflected(made.network) <= reflected(simple) * 1.01


def test_turns_far_from_broken_ones_are_made_up_for():
    """A link that wants 1.7 turns and gets 2: what is fitted around it is as wide as asked, and matched."""
    asked = BandPassFilter(
        centre_hz=14.2e6, bandwidth_hz=400e3, ends="link", core="T68-2", inductance_h=1.2e-6, resonators=3
    )
    made = band_pass.design(asked, ())
    assert round(made.wound[0][1].turns * made.network.arms[0].ratio, 6) == 2
    low, high = pass_band(made.network, 10e6, 20e6).edges_hz[3.0]
    assert (high - low) / 400e3 == pytest.approx(1.0, abs=0.05)  # 17 % too narrow where nothing follows
    f = np.linspace(14.04e6, 14.36e6, 101)
    assert solve(made.network, f).return_loss_db.min() > 8.0  # 5.7 dB where nothing follows


def test_a_tap_is_no_end_of_coils_in_the_line():
    found = band_pass.design(
        BandPassFilter(centre_hz=14.2e6, bandwidth_hz=600e3, coupling="shunt_capacitor", ends="tapped_coil"),
        (),
    )
    assert isinstance(found, Unsolved)
    assert "where a tap is no end" in found.reason


@pytest.mark.parametrize("shape", ["butterworth", "chebyshev"])
@pytest.mark.parametrize("q", [80.0, 150.0])
@pytest.mark.parametrize("series", ["exact", "E24"])
def test_width_and_centre_come_out_as_asked_with_the_coils_q(shape, q, series):
    asked = BandPassFilter(
        centre_hz=7.1e6,
        bandwidth_hz=300e3,
        shape=shape,
        ripple_db=0.5,
        resonators=3,
        coil_q=q,
        capacitors=series,
    )
    wanted = 300e3 * (1.16749 if shape == "chebyshev" else 1.0)  # three poles of 0.5 dB: cosh(acosh(1/eps)/3)

    def off(one):
        made = band_pass.design(one, ())
        assert isinstance(made, FilterDesign)
        assert {p.q for p in made.network.parts if p.kind == "inductor"} == {q}
        low, high = pass_band(made.network, 5e6, 9e6).edges_hz[3.0]
        return abs((high - low) / wanted - 1), abs((low + high) / 2 - 7.1e6)

    plain, better = off(asked), off(asked.edited(("widths_with_q",), True))
    if series == "exact":
        assert better[0] < 0.003 < plain[0]
        assert better[1] < 1e3
    # Couplings of a series come in steps of width; never worse than what was designed without Q.
    assert 300e3 * better[0] + better[1] <= 300e3 * plain[0] + plain[1]
    assert better[0] < 0.08


def test_a_trimmer_reaches_what_tolerances_ask_of_it():
    asked = BandPassFilter(centre_hz=14.2e6, bandwidth_hz=600e3, resonators=3, core="T50-6", capacitors="E12")
    made = band_pass.design(asked, ())
    row = next(each for each in made.parts if each.role == "resonator")
    # Of 57 pF a fixed 39 leaves 18: a trimmer up to 20 pF could not go up by 5 % of all its circuit has.
    assert row.note.startswith("39 pF and a trimmer of 5 to 30 pF, ")
    # Nudged by a picofarad the circuit moves so far: the coil against all its capacitance.
    coil = cores()["T50-6"].al_h * made.wound[0][1].turns ** 2
    total = 1 / ((2 * np.pi * 14.2e6) ** 2 * coil)
    below, above = (1 / (2 * np.pi * np.sqrt(coil * (total + pf * 1e-12))) for pf in (0.5, -0.5))
    moved = above - below
    tolerance = 0.05 * (total + row.fitted)
    assert row.fitted - tolerance >= 39e-12 + 5e-12
    assert row.fitted + tolerance <= 39e-12 + 30e-12
    assert f"{moved / 1e3:.2g} kHz a picofarad" in row.note


@pytest.mark.parametrize("core", ["", "T50-6"])
@pytest.mark.parametrize("ends", ["series_capacitor", "tapped_capacitor", "link"])
@pytest.mark.parametrize("resonators", [2, 3])
def test_with_q_counted_in_the_ends_match_better_and_the_width_stays(resonators, ends, core):
    """As against the same width and centre with ends and couplings of a filter without loss."""
    dials = ((14.0e6, 14.35e6),)
    asked = BandPassFilter(
        shape="chebyshev",
        ripple_db=0.5,
        bandwidth_hz=400e3,
        resonators=resonators,
        ends=ends,
        core=core,
        coil_q=150.0,
        widths_with_q=True,
    )
    wanted = 400e3 * three_db_edge(resonators, 0.5)

    def told(made):
        band = pass_band(made.network, 11e6, 18e6)
        low, high = band.edges_hz[3.0]
        dial = np.linspace(14.0e6, 14.35e6, 36)
        came_back = np.mean(np.abs(solve(made.network, dial).s11) ** 2)
        return abs((high - low) / wanted - 1) + abs((low + high) / 2 - 14.175e6) / wanted, came_back

    # The same corrections of width and centre, and no fit with losses behind them.
    narrower = asked.edited(("widths_with_q",), False)
    for _ in range(4):
        found = band_pass.figures(narrower, dials)
        centre = band_pass.centre_of(narrower, dials) + 14.175e6 - found.centre_hz
        narrower = narrower.edited(("bandwidth_hz",), narrower.bandwidth_hz * wanted / found.bandwidth_3db_hz)
        narrower = narrower.edited(("centre_hz",), centre)
    plain, better = told(band_pass.design(narrower, dials)), told(band_pass.design(asked, dials))
    # Of a link on a core only whole turns can be had.
    turned = core and ends == "link"
    assert better[0] < max(plain[0], 0.01 if turned else 0.005)
    assert better[1] < plain[1] * (1.01 if turned else 0.7)


def test_what_a_picofarad_moves_is_a_plain_number_on_the_highest_bands():
    asked = BandPassFilter(centre_hz=28.5e6, bandwidth_hz=1.2e6, resonators=2, capacitors="E12")
    made = band_pass.design(asked, ())
    note = next(each for each in made.parts if each.role == "resonator").note
    moved = float(re.search(r"pF, ([\d.]+) kHz a picofarad, set for", note)[1])
    assert 100 < moved < 1000
