"""Birdies against products counted by brute force, with signs written out."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.model.bands import Band
from core.model.stages.oscillators import Oscillator
from core.rig import birdies as spur_products
from core.rig.analysis import Analysis
from core.rig.birdies import ReadOutSources, birdies, harmonics_dbc
from core.rig.plan.frequency_plan import band_plan
from core.rig.start.new_rig import new_rig
from tests.spur_plans import RING, no_loss, of, plans, wanted_at_if


def naive_harmonic(oscillator, number):
    if number == 2:
        return oscillator.second_harmonic_dbc
    return oscillator.third_harmonic_dbc - 6 * (number - 3) if number > 2 else 0.0


def naive_birdies(plan, vfo, carrier, edges, loss_db, ahead_db):
    """Tones on the dial as {tone's frequency at both ends: (level on S9, way, a, b)}, the strongest way."""
    best = {}
    ends = (plan.dial_low_hz, plan.dial_high_hz)
    for a in range(10):
        for b in range(-9, 10):
            if not 1 <= a + abs(b) <= 9 or (a and b and a + abs(b) > 6) or (a == 0 and b < 0):
                continue
            made = [a * plan.vfo_at(dial) + b * plan.carrier_hz for dial in ends]
            if sum(made) < 0:
                made = [-p for p in made]
            level = naive_harmonic(vfo, a) + naive_harmonic(carrier, abs(b))
            if b == 0:
                level += vfo.output_dbm
            elif a == 0:
                level += carrier.output_dbm
            else:
                level += min(vfo.output_dbm, carrier.output_dbm) - 30
            s9 = -73 - loss_db + ahead_db
            for way in ("dial", "image", "IF"):
                if way == "dial":
                    tones = [wanted_at_if(plan, p, dial) for p, dial in zip(made, ends, strict=True)]
                elif way == "image":
                    tones = [image_at_if(plan, p, dial) for p, dial in zip(made, ends, strict=True)]
                else:
                    tones = made
                heard = level - 80 - s9
                if way == "IF":
                    heard = level - (40 if b == 0 else 80) - (s9 + RING.gain_db)
                away = [tone - plan.carrier_hz for tone in tones]
                if max(abs(each) for each in away) < 1:
                    continue  # the carrier's own zero beat
                if away[0] * away[1] > 0 and min(abs(each) for each in away) > 3000:
                    continue
                if abs(away[0] - away[1]) < 1 and not edges[0] <= tones[0] <= edges[1]:
                    continue
                key = (round(tones[0]), round(tones[1]))
                if key not in best or heard > best[key][0] + 1e-9:
                    best[key] = (heard, way, a, b)
    return best


def image_at_if(plan, f_hz, dial_hz):
    """The IF that an input near the image makes, signs written out."""
    vfo = plan.vfo_at(dial_hz)
    if plan.scheme == "sum":
        return f_hz + vfo if vfo < plan.carrier_hz else vfo - f_hz
    return f_hz - vfo


@given(plans(), st.floats(0, 12), st.floats(-10, 15))
def test_birdies_are_those_of_a_naive_search_by_their_strongest_way(plan, loss_db, ahead_db):
    vfo, carrier = Oscillator(output_dbm=3.0), Oscillator(second_harmonic_dbc=-25.0)
    edges = (plan.carrier_hz - 2700, plan.carrier_hz - 300)
    found = birdies(plan, RING, vfo, carrier, None, edges, lambda f: np.full_like(f, loss_db), ahead_db)
    expected = naive_birdies(plan, vfo, carrier, edges, loss_db, ahead_db)
    assert len({s.products for s in found}) == len(found)
    seen = set()
    for spur in (s for s in found if s.crosses):
        over = -1 if plan.scheme == "vfo_minus_if" else 1
        key = tuple(
            round(plan.carrier_hz + over * offset) for offset in (spur.offset_low_hz, spur.offset_high_hz)
        )
        near = [k for k in expected if abs(k[0] - key[0]) <= 1 and abs(k[1] - key[1]) <= 1]
        assert near, spur
        seen.add(near[0])
        heard, way, a, b = expected[near[0]]
        assert spur.level_dbc == pytest.approx(heard, abs=0.01)
        assert spur.order == a + abs(b)
        tail = {"dial": "", "image": ", on the image", "IF": ", in the IF"}[way]
        assert "".join(spur.products.partition(",")[1:]) == tail
        # How the tone moves, a signal's being 1.
        tones = [plan.carrier_hz + over * o for o in (spur.offset_low_hz, spur.offset_high_hz)]
        span = plan.dial_high_hz - plan.dial_low_hz
        ordinary = wanted_at_if(plan, plan.dial_low_hz, plan.dial_high_hz) - plan.carrier_hz
        assert spur.moves == pytest.approx((tones[1] - tones[0]) / ordinary, abs=1e-3), span
    assert seen == set(expected)


def test_the_third_harmonic_of_the_vfo_in_the_if_is_loud(muddle):
    # By hand: 0 dBm, third harmonic −35 dB, isolation 40 dB: −75 dBm at the IF port, where S9 is about −81.
    rig = Analysis(muddle)
    for band, dial in (("40m", 7.1358e6), ("20m", 14.2674e6)):
        spur = of(rig, band, "birdie", "3 VFO, in the IF")
        assert spur.crosses
        assert spur.dial_hz == pytest.approx(dial, abs=1e3)
        assert spur.level_dbc == pytest.approx(6, abs=1.5)
        assert spur.order == 3
        # The same tone by way of the dial frequency is no second birdie.
        same = [s for s in rig.spurs(band) if s.kind == "birdie" and s.products in ("2 VFO", "4 VFO")]
        assert not same


@pytest.mark.parametrize(
    ("bands", "if_hz", "band", "products", "dial"),
    [
        # From an independent search over the dial.
        (("40m", "15m"), 14.318e6, "40m", "2 VFO, in the IF", 7.1613e6),
        (("20m", "15m"), 17.734e6, "20m", "5 VFO, in the IF", 14.1874e6),
        (("20m", "15m"), 17.734e6, "15m", "5 VFO, in the IF", 21.2819e6),
    ],
)
def test_harmonics_of_the_vfo_in_the_if_are_looked_for(bands, if_hz, band, products, dial):
    edges = {"40m": (7.05e6, 7.2e6), "20m": (14.1e6, 14.35e6), "15m": (21.151e6, 21.45e6)}
    rig = Analysis(
        new_rig(
            [
                Band(
                    name=b,
                    low_hz=edges[b][0],
                    high_hz=edges[b][1],
                    scheme="sum" if b == "15m" else "if_minus_vfo",
                )
                for b in bands
            ],
            if_hz,
        )
    )
    spur = of(rig, band, "birdie", products)
    assert spur.crosses
    # To the carrier's distance from the crystal's frequency, which the search did not know.
    assert spur.dial_hz == pytest.approx(dial, abs=3e3)


def test_a_drive_that_a_turn_of_the_if_moves_by_thousandths_finds_its_products_made():
    carrier = Oscillator(second_harmonic_dbc=-25.0)
    made = [
        spur_products._products(RING, spur_products._told(vfo), carrier, None) for vfo in levels(3.001, 3.004)
    ]
    assert made[0] is made[1]
    with pytest.raises(ValueError, match="read-only"):
        made[0].leaked_dbm[0] = 0.0
    other = spur_products._products(RING, spur_products._told(*levels(3.017)), carrier, None)
    # It has the level of 3.02 dBm instead of 3.00.
    assert np.max(other.leaked_dbm - made[0].leaked_dbm) == pytest.approx(0.02, abs=1e-9)


def levels(*dbm):
    return [Oscillator(output_dbm=each) for each in dbm]


def clock_birdies(plan, clock_hz, edges):
    read_out = ReadOutSources(helper_hz=None, helper_dbm=0.0, clock_hz=clock_hz, counted=())
    found = birdies(plan, RING, Oscillator(), Oscillator(), read_out, edges, no_loss, 0.0)
    return {s.products: s for s in found if "clock" in s.products and s.crosses}


def test_a_tone_that_stays_is_heard_only_inside_the_pass_band():
    plan = band_plan(Band(name="x", low_hz=14.1e6, high_hz=14.35e6, scheme="sum"), 9e6)
    edges = (9e6 + 300, 9e6 + 2700)
    assert set(clock_birdies(plan, 9.002e6, edges)) == {"counter clock, in the IF"}
    # As near the carrier, on the side that the ladder takes away.
    assert not clock_birdies(plan, 8.998e6, edges)


def test_a_helper_is_heard_by_itself_and_mixed_with_the_vfo():
    # A helper at 9.1 MHz and the VFO at 5.1 to 5.35 MHz: their sum sweeps 14.2 to 14.45 MHz as the dial does
    # 14.1 to 14.35 MHz, 100 kHz above it; a helper at 14.2 MHz stands on the dial.
    plan = band_plan(Band(name="x", low_hz=14.1e6, high_hz=14.35e6, scheme="sum"), 9e6)

    def heard(helper_hz):
        read_out = ReadOutSources(helper_hz=helper_hz, helper_dbm=-3.0, clock_hz=1e3, counted=())
        edges = (9e6 + 300, 9e6 + 2700)
        found = birdies(plan, RING, Oscillator(), Oscillator(), read_out, edges, no_loss, 0.0)
        return {s.products: s for s in found if "helper" in s.products}

    alone = heard(14.2e6)["helper"]
    assert (alone.crosses, alone.dial_hz, alone.read_out) == (True, pytest.approx(14.2e6), True)
    # 80 dB of leakage and −73 dBm: −3 − 80 + 73.
    assert alone.level_dbc == pytest.approx(-10.0)
    beside = heard(9.099e6)["VFO + helper"]
    assert not beside.crosses
    assert beside.offset_low_hz == pytest.approx(99e3)
    assert beside.level_dbc == pytest.approx(-10.0 - 30.0)
    assert "VFO + helper" not in heard(9.101e6)


def test_the_harmonics_of_a_square_wave_reach_to_fifteen():
    plan = band_plan(Band(name="x", low_hz=14.1e6, high_hz=14.35e6, scheme="sum"), 9e6)
    edges = (9e6 + 300, 9e6 + 2700)
    for number in (1, 14, 15, 16):
        found = clock_birdies(plan, 14.2e6 / number, edges)
        name = "counter clock" if number == 1 else f"{number} counter clock"
        assert (name in found) is (number <= 15)
        if number <= 15:
            # 0 dBm, 20 lg k less, 80 dB of leakage, S9 at −73 dBm.
            assert found[name].level_dbc == pytest.approx(-20 * np.log10(number) - 80 + 73)


def test_the_image_of_a_sum_with_the_vfo_above_the_carrier():
    # 9.0 − 5.2 = 3.8 MHz is heard where 9.0 + 5.2 MHz is.
    plan = band_plan(Band(name="x", low_hz=14.1e6, high_hz=14.35e6, scheme="sum"), 5.2e6)
    spur = clock_birdies(plan, 3.8e6, (5.2e6 + 300, 5.2e6 + 2700))["counter clock, on the image"]
    assert spur.dial_hz == pytest.approx(14.2e6)
    assert spur.moves == -1
    assert spur.tone == "its tone moves as fast as a signal's, the other way"


def test_a_birdie_on_the_image_is_as_loud_as_on_the_dial(tern):
    # Five times 5 MHz is the image with the dial at 14.322 MHz; leakage enters behind the filters.
    rig = tern.edited(("read_out", "counter", "clock_hz"), 5e6)
    spur = of(Analysis(rig), "20m", "birdie", "5 counter clock, on the image")
    assert spur.crosses
    assert spur.dial_hz == pytest.approx(14.322e6, abs=1e3)
    at_dial = Analysis(tern.edited(("read_out", "counter", "clock_hz"), 14.322e6 / 5))
    assert spur.level_dbc == pytest.approx(of(at_dial, "20m", "birdie", "5 counter clock").level_dbc, abs=0.1)


def test_gain_ahead_of_the_mixer_makes_birdies_weaker_against_s9(tern):
    # The sample's RF stage has 10 dB; −44.4 dB without it.
    bare = tern.edited(("stages", "rf_stage", "in_path"), False)
    with_it, without = (of(Analysis(p), "12m", "birdie", "5 VFO") for p in (tern, bare))
    assert with_it.level_dbc == pytest.approx(-54.4, abs=0.5)
    assert without.level_dbc == pytest.approx(-44.4, abs=0.5)
    # Ten decibels are asked; preferred values give a little less up there.
    assert without.level_dbc - with_it.level_dbc == pytest.approx(10, abs=0.3)


def test_oscillator_harmonics_fall_and_stray_mixing_costs(tern):
    vfo = Oscillator()
    numbers = np.arange(0, 8)
    assert harmonics_dbc(vfo, numbers) == pytest.approx([0, 0, -30, -35, -41, -47, -53, -59])
    rig = Analysis(tern.edited(("read_out",), None))
    plain, mixed = (of(rig, "12m", "birdie", name) for name in ("5 VFO", "2 carrier − 3 VFO"))
    # −47 dB alone; −30 − 35 dB and 30 dB of stray mixing together.
    assert mixed.level_dbc - plain.level_dbc == pytest.approx((-30 - 35 - 30) - -47, abs=0.3)
