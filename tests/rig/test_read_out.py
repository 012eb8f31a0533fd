"""The read-out plan in the rig: programmes, helpers on hand, measured carriers, and the birdies it adds."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.model.bands import SCHEMES, Band
from core.model.readout import Counter, ReadOut
from core.rig.analysis import Analysis
from core.rig.frequency_plan import band_plan
from core.rig.read_out import options, plan
from core.rig.read_out_schemes import Reading, shown_hz
from core.stages.outcome import Unsolved
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
    rules = {finding.rule for finding in Analysis(one).findings}
    assert "read_out_missing" in rules
    assert "read_out_missing" not in {finding.rule for finding in Analysis(tern).findings}


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
    assert "count both inputs" in made.switching[0]


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
    assert any("in the IF" in each.reason for each in refused if "helper − VFO" in each.scheme)


def test_too_few_digits_are_told(tern):
    short = tern.edited(("read_out", "counter", "digits"), 6)
    refused = next(o for o in Analysis(short).read_out_options if o.band == "12m").refused
    assert any("digits" in each.reason for each in refused)


def test_a_counter_shows_zeros_below_zero():
    assert shown_hz(Counter(), 3e6, 9e6, "subtract") == 0
    assert shown_hz(Counter(), 3.000004e6, 0, "none") == 3e6


def test_the_helpers_birdies_obey_their_equation(tern):
    analysis = Analysis(tern)
    helper, clock = analysis.read_out.helper_hz, tern.read_out.counter.clock_hz
    low, high = analysis.if_pass_band_hz
    seen = 0
    for band in tern.bands:
        of = analysis.band_plan(band.name)
        for spur in analysis.spurs(band.name):
            if "helper" not in spur.products and "clock" not in spur.products:
                continue
            seen += 1
            for dial, offset in ((band.low_hz, spur.offset_low_hz), (band.high_hz, spur.offset_high_hz)):
                at = offset + ((low + high) / 2 if spur.products.endswith("in the IF") else dial)
                rest = at - spur.m * of.vfo_at(dial)
                unit = clock if "clock" in spur.products else helper
                assert rest / unit == pytest.approx(round(rest / unit), abs=1e-6)
            assert np.isfinite(spur.level_dbc)
    assert seen


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
    assert any("counter clock" in finding.text for finding in Analysis(rig).findings)


def test_the_helper_is_off_where_it_is_not_wanted(tern):
    assert not any("helper" in spur.products for spur in Analysis(tern).spurs("12m"))


def test_without_a_counter_there_is_no_plan(tern):
    bare = Analysis(tern.edited(("read_out",), None))
    assert bare.read_out is None
    assert bare.read_out_options == ()
    assert not any("clock" in spur.products for spur in bare.spurs("20m"))
