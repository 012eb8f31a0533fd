"""Responses and what is sent: names, motion and levels against products counted with signs written out."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.model.bands import Band
from core.rig.analysis import Analysis
from core.rig.spurs.product_levels import response_db, sent_dbc
from core.rig.spurs.responses import receive_responses
from core.rig.spurs.spurs import transmit_products
from core.rig.start.new_rig import best_scheme, new_rig
from core.trade.allocations import allocation
from tests.spur_plans import RING, WORKED, forty_and_fifteen, no_loss, of, plans, wanted_at_if


@given(plans())
def test_each_response_is_what_its_name_says_and_moves_as_it_does(plan):
    if_hz = plan.carrier_hz + 1500
    found = receive_responses(plan, if_hz, RING, no_loss)
    names = [s.products for s in found]
    assert len(set(names)) == len(names)
    for spur in found:
        if spur.products not in ("image", "IF breakthrough"):
            terms = spur.products.replace("− ", "−").replace("+ ", "+").split(" ")
            total = {"VFO": 0, "signal": 0}
            count = 1
            for term in terms:
                bare = term.lstrip("+−")
                sign = -1 if term.startswith("−") else 1
                if bare.isdigit():
                    count = sign * int(bare)
                else:
                    total[bare] += count if term == bare else sign
                    count = 1
            assert (total["VFO"], total["signal"]) == (spur.m, spur.n)
        for dial, offset in (
            (plan.dial_low_hz, spur.offset_low_hz),
            (plan.dial_high_hz, spur.offset_high_hz),
        ):
            f = dial + offset
            vfo = plan.vfo_at(dial)
            assert f > 0
            assert spur.m * vfo + spur.n * f == pytest.approx(if_hz, abs=0.1)
            # The station stays, the dial goes up by 10 Hz: how far does its tone go, a signal's being 1?
            tone = spur.m * plan.vfo_at(dial + 10) + spur.n * f - if_hz
            ordinary = wanted_at_if(plan, dial, dial + 10) - wanted_at_if(plan, dial, dial)
            assert spur.moves == pytest.approx(tone / ordinary, abs=1e-3)


@given(plans())
def test_every_response_that_a_search_finds_is_listed(plan):
    if_hz = plan.carrier_hz + 1500
    found = {(s.m, s.n) for s in receive_responses(plan, if_hz, RING, no_loss)}
    brute = set()
    for n in range(1, 10):
        for m in range(12 if n == 1 else 10 - n):
            for sign_m in (1, -1):
                for sign_n in (1, -1):
                    inputs = []
                    for dial in (plan.dial_low_hz, plan.dial_high_hz):
                        inputs.append((if_hz - sign_m * m * plan.vfo_at(dial)) / (sign_n * n))
                    if min(inputs) < 1e3 or RING.suppression_db(m, n) > 120:
                        continue
                    misses = (inputs[0] - plan.dial_low_hz, inputs[1] - plan.dial_high_hz)
                    if m == n == 1 and max(abs(miss) for miss in misses) < 2e3:
                        continue  # the wanted signal
                    brute.add((sign_m * m, sign_n * n))
    assert found == brute


def test_names_and_motion_that_were_told_wrong(tern):
    # From an independent brute force over dial and VFO.
    rig = Analysis(tern)
    third = of(rig, "20m", "receive", "3 signal − 4 VFO")
    assert abs(third.moves) == 4
    assert third.tone.startswith("its tone moves 4 times as fast as a signal's")
    assert 14.1e6 + third.offset_low_hz == pytest.approx(
        (19.66254e6 + 4 * rig.band_plan("20m").vfo_at(14.1e6)) / 3, abs=50
    )
    assert of(rig, "20m", "receive", "image").moves == -1
    assert of(rig, "20m", "receive", "IF breakthrough").moves == 0
    assert of(rig, "20m", "receive", "IF breakthrough").tone == "its tone stays where it is"
    other = forty_and_fifteen()
    assert abs(of(other, "15m", "receive", "5 VFO − signal").moves) == 5
    assert abs(of(other, "40m", "receive", "3 VFO − signal").moves) == 3


def test_the_strongest_responses_are_listed(tern, muddle):
    # From an independent search over multiples of the VFO to 11; where a response crosses the dial only
    # the mixer holds it down.
    crossing = of(Analysis(muddle), "20m", "receive", "7 VFO − signal")
    assert crossing.crosses
    assert crossing.level_dbc == pytest.approx(-27.1, abs=1.5)
    assert crossing.level_dbc == pytest.approx(-RING.suppression_db(7, 1), abs=0.05)
    assert of(Analysis(tern), "20m", "receive", "6 VFO − signal").level_dbc == pytest.approx(-60.8, abs=1)
    assert of(Analysis(tern), "12m", "receive", "9 VFO − signal").level_dbc == pytest.approx(-67, abs=3)
    other = forty_and_fifteen()
    assert of(other, "15m", "receive", "5 VFO − signal").level_dbc == pytest.approx(-22.6, abs=0.3)
    assert of(other, "40m", "receive", "3 VFO − signal").level_dbc == pytest.approx(-25.8, abs=1)


@given(plans(), st.floats(-3, 3), st.floats(0, 20))
def test_the_level_is_that_of_the_dial_where_filters_hold_it_least(plan, slope_db, plain_db):
    def loss(f_hz):
        return plain_db + 10.0 + slope_db * f_hz / 1e6

    if_hz = plan.carrier_hz + 1500
    for spur in (
        *receive_responses(plan, if_hz, RING, loss),
        *transmit_products(plan, RING, WORKED, loss),
    ):
        held = []
        span = plan.dial_high_hz - plan.dial_low_hz
        for dial in (plan.dial_low_hz, plan.dial_high_hz, spur.dial_hz):
            f = max(dial + spur.offset_at((dial - plan.dial_low_hz) / span), 1e3)
            held.append(loss(f) - loss(dial))
        m, n = abs(spur.m), abs(spur.n)
        mixed = sent_dbc(RING, WORKED, m, n) if spur.kind == "transmit" else -RING.suppression_db(m, n)
        assert spur.level_dbc == pytest.approx(float(mixed) - min(held), abs=0.01)


@pytest.mark.parametrize(
    ("names", "if_hz"), [(("80m", "15m"), 12.352e6), (("160m", "80m"), 8.4672e6), (("10m",), 20.48e6)]
)
def test_the_level_is_that_of_a_fine_scan_over_the_dial(names, if_hz):
    # On a wide band the filters' ripple has its least loss somewhere between the ends.
    bands = [
        Band(name=a.band, low_hz=a.phone_hz[0], high_hz=a.phone_hz[1], sideband=a.sideband)
        for a in map(allocation, names)
    ]
    rig = Analysis(new_rig([b.edited(("scheme",), best_scheme(b, if_hz)) for b in bands], if_hz))
    shares = np.linspace(0, 1, 401)
    looked_at = 0
    for band in bands:
        dial = band.low_hz + shares * (band.high_hz - band.low_hz)
        for way in ("receive", "transmit"):
            loss, figures_of = rig.front_loss(band.name, way), rig.mixer_figures(way)
            for spur in (s for s in rig.spurs(band.name) if s.kind == way):
                beyond = loss(np.maximum(np.abs(dial + spur.offset_at(shares)), 1e3)) - loss(dial)
                m, n = abs(spur.m), abs(spur.n)
                if way == "receive":
                    made = response_db(figures_of, m, n)
                else:
                    made = sent_dbc(figures_of, rig.worked(band.name, figures_of), m, n)
                assert spur.level_dbc == pytest.approx(float(made - beyond.min()), abs=0.2), spur.products
                looked_at += 1
    assert looked_at >= 10
