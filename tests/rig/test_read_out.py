"""The read-out plan in the rig: programmes, helpers on hand, measured carriers, and the birdies it adds."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.model.bands import SCHEMES, Band
from core.model.readout import Counter, ReadOut
from core.model.values.notation import format_value
from core.rig.analysis import Analysis
from core.rig.figures.read_out import switching
from core.rig.plan.frequency_plan import band_plan
from core.rig.read_out.helper import Helped
from core.rig.read_out.plan import options, plan
from core.rig.read_out.schemes import Reading, harmonics_heard, shown_hz
from core.rig.rules import inspect
from core.rig.start.new_rig import new_rig
from core.stages.outcome import Unsolved
from core.trade.allocations import allocation
from core.trade.crystals import stock

STOCK = tuple(crystal.frequency_hz for crystal in stock())


@given(
    scheme=st.sampled_from(SCHEMES),
    carrier=st.floats(8e6, 22e6),
    low=st.floats(3.5e6, 28e6),
    gate=st.sampled_from([0.01, 0.1, 1.0]),
)
def test_every_reading_shows_the_dial_at_both_ends(scheme, carrier, low, gate):
    band = band_plan(Band(name="b", low_hz=low, high_hz=low + 200e3, scheme=scheme), carrier)
    if band.vfo_low_hz <= 0:
        return
    read_out = ReadOut(counter=Counter(gate_s=gate, digits=8))
    (row,) = plan((band,), read_out, (carrier, carrier + 2600), STOCK).bands
    (other,) = options((band,), read_out, (carrier, carrier + 2600), STOCK)
    readings = [r for r in (row.reading, *other.alternatives) if isinstance(r, Reading)]
    step = 1 / gate
    for r in readings:
        assert r.shows_hz == pytest.approx((low, low + 200e3), abs=2.5 * step)
        assert Counter().lowest_hz <= min(r.counted_hz)
        assert max(r.counted_hz) <= Counter().highest_hz
    if isinstance(row.reading, Unsolved):
        assert other.refused


def test_with_one_programme_both_bands_share_an_offset(tern):
    one = tern.edited(("read_out", "counter", "programmes"), 1)
    made = Analysis(one).read_out
    # Helper less VFO on one band, helper plus VFO on the other: carrier less helper is added on both.
    assert [row.programme for row in made.bands] == [1, 1]
    assert {row.reading.scheme.split(",")[0] for row in made.bands} == {"helper − VFO", "helper + VFO"}


def test_too_few_programmes_leave_a_band_without(tern):
    single = tern.edited(("read_out", "counter", "programmes"), 1).edited(("read_out", "helpers"), "junk_box")
    one = single.edited(("junk_box", "crystals_hz"), ()).edited(("bands", "20m", "scheme"), "vfo_minus_if")
    made = Analysis(one).read_out
    missing = [row for row in made.bands if isinstance(row.reading, Unsolved)]
    assert len(missing) == 1
    assert "keeps 1 programme and" in missing[0].reading.reason
    rules = {finding.rule for finding in inspect(Analysis(one))}
    assert "read_out_missing" in rules
    assert "read_out_missing" not in {finding.rule for finding in inspect(Analysis(tern))}


def test_helpers_come_from_the_junk_box_when_asked(tern):
    few = tern.edited(("junk_box", "crystals_hz"), (8.4672e6, 19.6608e6)).edited(
        ("read_out", "helpers"), "junk_box"
    )
    made = Analysis(few).read_out
    assert made.helper_hz == 8.4672e6
    none = few.edited(("junk_box", "crystals_hz"), ())
    assert isinstance(Analysis(none).read_out.of("20m").reading, Unsolved)
    assert isinstance(Analysis(none).read_out.of("12m").reading, Reading)


def test_a_counter_with_two_inputs_needs_no_helper(tern):
    two = tern.edited(("read_out", "counter", "inputs"), 2)
    made = Analysis(two).read_out
    assert made.helper_hz is None
    assert made.of("20m").reading.arrangement == "both"
    assert "count both inputs" in switching(made, two.read_out.counter)[0]


def test_the_offset_follows_the_carrier_as_measured(tern):
    plain = Analysis(tern).read_out.of("12m").reading
    measured = tern.edited(("read_out", "carrier_upper_hz"), plain.offset_hz + 170)
    now = Analysis(measured).read_out.of("12m").reading
    assert now.offset_hz - plain.offset_hz == pytest.approx(170)
    # Another sideband's reading changes nothing here.
    other = tern.edited(("read_out", "carrier_lower_hz"), 19.664e6)
    assert Analysis(other).read_out.of("12m").reading == plain


def test_a_chosen_helper_is_taken_or_refused(tern):
    chosen = tern.edited(("read_out", "helper_hz"), 8.4672e6)
    assert Analysis(chosen).read_out.helper_hz == 8.4672e6
    # The second harmonic of half the IF would be a strong signal in the IF.
    bad = tern.edited(("read_out", "helper_hz"), 9.8304e6)
    assert isinstance(Analysis(bad).read_out.of("20m").reading, Unsolved)
    refused = next(o for o in Analysis(bad).read_out_options if o.band == "20m").refused
    assert any("in the IF" in each.words for each in refused if "helper − VFO" in each.scheme)


def test_too_few_digits_are_told(tern):
    short = tern.edited(("read_out", "counter", "digits"), 6)
    refused = next(o for o in Analysis(short).read_out_options if o.band == "12m").refused
    assert any("digits" in each.words for each in refused)


def test_a_counter_shows_zeros_below_zero():
    assert shown_hz(Counter(), 3e6, 9e6, "subtract") == 0
    assert shown_hz(Counter(), 3.000004e6, 0, "none") == 3e6


def naive_tone(plan, way, p, dial):
    """The IF that a product makes by a way, signs written out; the VFO lies below the carrier here."""
    vfo = plan.vfo_at(dial)
    if way == "in the IF":
        return p
    if way == "on the image":
        return p + vfo if plan.scheme == "sum" else p - vfo
    return {"sum": p - vfo, "if_minus_vfo": p + vfo, "vfo_minus_if": vfo - p}[plan.scheme]


def test_the_read_outs_birdies_obey_their_equation(tern):
    chosen = Analysis(tern.edited(("read_out", "helper_hz"), 8.192e6))
    helper, clock = 8.192e6, tern.read_out.counter.clock_hz
    seen = set()
    for band in tern.bands:
        of = chosen.band_plan(band.name)
        for spur in chosen.spurs(band.name):
            name, _, way = spur.products.partition(", ")
            if not any(word in name for word in ("helper", "clock", "counter")):
                continue
            seen.add(name)
            for dial, offset in ((band.low_hz, spur.offset_low_hz), (band.high_hz, spur.offset_high_hz)):
                over = -1 if of.scheme == "vfo_minus_if" else 1
                tone = of.carrier_hz + over * offset
                # How the tone moves, an ordinary signal's being 1.
                ordinary = naive_tone(of, "", dial, dial + 1e3) - naive_tone(of, "", dial, dial)
                moved = over * (spur.offset_high_hz - spur.offset_low_hz) / (band.high_hz - band.low_hz) * 1e3
                assert spur.moves == pytest.approx(moved / ordinary, abs=1e-6)
                # The product is m VFO and a whole number of the helper or the clock.
                unit = clock if "clock" in name else helper
                wholes = [
                    k
                    for k in range(-20, 21)
                    if abs(naive_tone(of, way, spur.m * of.vfo_at(dial) + k * unit, dial) - tone) < 1e-3
                ]
                assert len(wholes) == 1, spur
            assert np.isfinite(spur.level_dbc)
    assert "5 × (helper − VFO)" in seen


def test_harmonics_of_what_the_counter_counts_are_birdies(tern):
    # From an independent search: five times (8.192 MHz − VFO) meets the dial at 14.3362 MHz and moves four
    # times the other way; −21 dB on S9 at the mixer's input, 0 dBm square wave less 14 and 80 dB.
    chosen = Analysis(tern.edited(("read_out", "helper_hz"), 8.192e6))
    spurs = {s.products: s for s in chosen.spurs("20m") if s.kind == "birdie"}
    fifth = spurs["5 × (helper − VFO)"]
    assert fifth.crosses
    assert fifth.dial_hz == pytest.approx(14.3362e6, abs=200)
    assert fifth.moves == -4
    ahead = chosen._gain_ahead_db("20m") - float(
        chosen.front_losses("20m", "receive", np.array([14.3362e6]))[0]
    )
    assert fifth.level_dbc == pytest.approx(-21 - ahead, abs=0.1)
    assert spurs["7 × (helper − VFO), in the IF"].crosses


def test_a_vfo_counted_directly_is_squared_too(tern):
    # Dial = 22.47 MHz + VFO, and nine times 2.497 MHz lies in the IF: far above what the VFO's own harmonics
    # are strong at.
    rig = tern.edited(("if_hz",), 22.47e6).edited(("read_out", "helpers"), "junk_box")
    heard = {s.products: s for s in Analysis(rig).spurs("12m") if s.kind == "birdie" and s.crosses}
    ninth = heard["9 × VFO in the counter, in the IF"]
    assert ninth.moves == -9
    assert ninth.dial_hz == pytest.approx(10 / 9 * Analysis(rig).carrier_hz("12m"), abs=10)


def test_a_clock_harmonic_on_the_dial_is_a_birdie_that_stays(tern):
    # 7 x 2.03 MHz lies in 20 m.
    rig = tern.edited(("read_out", "counter", "clock_hz"), 2.03e6)
    spur = next(s for s in Analysis(rig).spurs("20m") if s.products == "7 counter clock")
    assert spur.crosses
    assert spur.dial_hz == pytest.approx(14.21e6, abs=1)
    # A fixed carrier moves as an ordinary signal does.
    assert spur.moves == 1
    assert not any("clock" in s.products and s.crosses for s in Analysis(tern).spurs("20m"))


def test_a_clock_harmonic_in_the_if_is_heard_everywhere(tern):
    low, high = Analysis(tern).if_pass_band_hz
    rig = tern.edited(("read_out", "counter", "clock_hz"), (low + high) / 2 / 5)
    spur = next(s for s in Analysis(rig).spurs("20m") if s.products == "5 counter clock, in the IF")
    assert spur.crosses
    assert spur.moves == 0
    assert any("counter clock" in finding.text for finding in inspect(Analysis(rig)))


def test_the_helper_is_off_where_it_is_not_wanted(tern):
    assert not any("helper" in spur.products for spur in Analysis(tern).spurs("12m"))


def test_without_a_counter_there_is_no_plan(tern):
    bare = Analysis(tern.edited(("read_out",), None))
    assert bare.read_out is None
    assert bare.read_out_options == ()
    assert not any("clock" in spur.products for spur in bare.spurs("20m"))


@given(
    scheme=st.sampled_from(SCHEMES),
    carrier=st.floats(4e6, 22e6),
    low=st.floats(3.5e6, 28e6),
    helper=st.floats(1e6, 20e6),
)
def test_harmonics_heard_are_those_of_a_walk_over_the_dial(scheme, carrier, low, helper):
    band = band_plan(Band(name="b", low_hz=low, high_hz=low + 200e3, scheme=scheme), carrier)
    edges = (carrier - 2700, carrier - 300)
    dials = np.linspace(low, low + 200e3, 4001)
    vfo = np.array([band.vfo_at(float(dial)) for dial in dials])
    counted = helper - vfo
    if vfo.min() < 1e5 or counted.min() < 1e5 or abs(vfo.mean() - carrier) < 200e3:
        return
    image = np.abs(carrier - vfo) if scheme == "sum" else carrier + vfo
    naive = slack = 0
    for k in range(1, 16):
        for place, reach in ((dials, 3000.0), (image, 3000.0), (np.full(4001, carrier - 1500), 1200.0)):
            away = np.abs(k * counted - place).min()
            # What a step of 50 Hz may miss.
            naive += away <= reach
            slack += abs(away - reach) < 16 * 50
    heard = int(harmonics_heard(band, edges, counted[[0, -1]]))
    assert abs(heard - naive) <= slack


def test_a_helper_whose_counted_harmonics_are_heard_costs_more(tern):
    analysis = Analysis(tern)
    chosen = analysis.read_out.of("20m").reading
    assert chosen.birdies == 0
    noisy = Analysis(tern.edited(("read_out", "helper_hz"), 8.192e6)).read_out.of("20m").reading
    # Five times on the dial, seven times in the IF, nine times on the image.
    assert noisy.birdies == 3
    assert noisy.cost > chosen.cost
    others = next(o for o in analysis.read_out_options if o.band == "20m").alternatives
    assert all(each.cost >= chosen.cost for each in others)


def test_the_samples_read_out_is_not_heard(tern):
    for band in ("20m", "12m"):
        assert not [s for s in Analysis(tern).spurs(band) if s.read_out and s.crosses]


# -- why a band is not shown, how far the display is off, what is switched --------------------------------


def bands_of(*names) -> tuple[Band, ...]:
    found = [allocation(name) for name in names]
    return tuple(
        Band(name=a.band, low_hz=a.phone_hz[0], high_hz=a.phone_hz[1], sideband=a.sideband) for a in found
    )


def read_out_of(names, schemes, if_hz, **counter):
    bands = [b.edited(("scheme",), s) for b, s in zip(bands_of(*names), schemes, strict=True)]
    rig = new_rig(bands, if_hz)
    for field, value in counter.items():
        rig = rig.edited(("read_out", "counter", field), value)
    return Analysis(rig).read_out


@pytest.mark.parametrize(
    ("names", "schemes", "if_hz", "counter"),
    [
        (
            ("80m", "40m", "20m", "15m"),
            ("if_minus_vfo", "if_minus_vfo", "if_minus_vfo", "sum"),
            16e6,
            {"programmes": 4},
        ),
        (("80m", "20m"), ("if_minus_vfo", "sum"), 9e6, {"programmes": 2, "highest_hz": 4e6}),
    ],
)
def test_programmes_are_the_reason_only_when_more_would_do(names, schemes, if_hz, counter):
    made = read_out_of(names, schemes, if_hz, **counter)
    reason = made.of("20m").reading.reason
    assert "programme" not in reason
    assert reason.startswith(f"The helper of {format_value(made.helper_hz, 'Hz', 8)}, which the other bands")
    more = read_out_of(names, schemes, if_hz, **{**counter, "programmes": 16})
    assert isinstance(more.of("20m").reading, Unsolved)


def test_where_programmes_are_the_reason_one_more_is_the_remedy(tern):
    single = tern.edited(("bands", "20m", "scheme"), "vfo_minus_if")
    one = single.edited(("read_out", "counter", "programmes"), 1).edited(("read_out", "helpers"), "junk_box")
    one = one.edited(("junk_box", "crystals_hz"), ())
    assert any(isinstance(row.reading, Unsolved) for row in Analysis(one).read_out.bands)
    two = one.edited(("read_out", "counter", "programmes"), 2)
    assert not any(isinstance(row.reading, Unsolved) for row in Analysis(two).read_out.bands)


def test_the_display_is_off_by_what_nobody_measured(tern):
    clock, crystal, top = 10e-6, 30e-6, 14.35e6
    row = Analysis(tern).read_out.of("20m")
    carrier, helper_hz = Analysis(tern).carrier_hz("20m"), row.reading.helper_hz
    vfo = carrier - top
    assert row.error.unmeasured == ("carrier", "helper")
    # helper − VFO is counted: the clock is off for that, carrier and helper for themselves.
    wanted = clock * (helper_hz - vfo) + crystal * (carrier + helper_hz)
    assert row.error.hz == pytest.approx(wanted, rel=1e-6)
    helper = tern.edited(("read_out", "helper_measured_hz"), helper_hz + 120)
    row = Analysis(helper).read_out.of("20m")
    assert row.error.unmeasured == ("carrier",)
    assert row.error.hz == pytest.approx(clock * abs(-vfo) + crystal * carrier, rel=1e-6)
    both = helper.edited(("read_out", "carrier_upper_hz"), carrier + 80)
    row = Analysis(both).read_out.of("20m")
    # All measured by the same counter: its share of the dial.
    assert row.error.unmeasured == ()
    assert row.error.hz == row.error.measured_hz == pytest.approx(clock * top)


def test_a_helper_as_measured_is_what_is_counted_and_stored(tern):
    plain = Analysis(tern).read_out.of("20m").reading
    built = plain.helper_hz + 120
    measured = Analysis(tern.edited(("read_out", "helper_measured_hz"), built)).read_out.of("20m").reading
    assert measured.helper_hz == built
    assert plain.offset_hz - measured.offset_hz == pytest.approx(120)
    assert measured.shows_hz == pytest.approx(plain.shows_hz, abs=20)


def test_measuring_is_asked_for_until_it_is_done(tern):
    def asked(rig):
        return next((f for f in inspect(Analysis(rig)) if f.rule == "read_out_unmeasured"), None)

    finding = asked(tern)
    off = Analysis(tern).read_out.of("20m").error.hz
    assert off > 500
    assert f"on 20 m may be off by {off:.0f} Hz, on 12 m by " in finding.text
    assert "with carrier and helper as marked or computed" in finding.text
    assert "it is 144 Hz" in finding.text
    carrier = tern.edited(finding.path, 19.6609e6)
    finding = asked(carrier)
    assert "helper as marked" in finding.text
    assert finding.path == ("read_out", "helper_measured_hz")
    built = Analysis(tern).read_out.helper_hz + 120
    assert asked(carrier.edited(finding.path, built)) is None


def test_one_programme_for_all_bands_is_not_switched(tern):
    rigs = (tern.edited(("read_out", "counter", "programmes"), n) for n in (2, 1))
    two, one = (switching(Analysis(rig).read_out, rig.read_out.counter) for rig in rigs)
    assert all("by a line from the band switch" in text for text in two)
    assert all("programme 1 as always, add" in text for text in one)


def test_what_stays_beside_the_dial_is_refused(tern):
    # A helper 7.6 kHz off the carrier counts dial + 7.6 kHz: inside the band-pass all over the band.
    near = tern.edited(("read_out", "helper_hz"), Analysis(tern).carrier_hz("20m") + 7.6e3)
    analysis = Analysis(near)
    assert isinstance(analysis.read_out.of("20m").reading, Unsolved)
    (option,) = (o for o in analysis.read_out_options if o.band == "20m")
    (reason,) = (r.words for r in option.refused if r.scheme.startswith("helper − VFO"))
    assert "stays beside the dial" in reason
    for name in ("20m", "12m"):
        row = Analysis(tern).read_out.of(name).reading
        assert min(abs(c - d) for c, d in zip(row.counted_hz, row.shows_hz, strict=True)) > 0.02 * 14e6


def test_a_vfo_that_reaches_zero_is_near_no_helper():
    band = Band(name="20m", low_hz=14.1e6, high_hz=14.35e6, scheme="if_minus_vfo")
    found = Helped(band_plan(band, 14.35e6), Counter(), (14.347e6, 14.35e6), np.array([9e6]))
    assert found._nearness(np.array([250e3, 0.0])) == pytest.approx(36.0)
