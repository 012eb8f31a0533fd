"""The read-out against the arithmetic of counters and against what builders found.

Counter arithmetic: general theory, worked in the trade's own way (preset and ten's complement). The four
conclusions of the planner: common practice, no source.
"""

import pytest

from core.model.bands import Band
from core.model.readout import Counter, ReadOut
from core.rig.analysis import Analysis
from core.rig.figures.read_out import switching
from core.rig.plan.frequency_plan import band_plan
from core.rig.read_out.plan import options, plan
from core.rig.read_out.schemes import STRONG_HARMONIC, Reading, resolution_hz, shown_hz
from core.stages.outcome import Unsolved
from core.trade.crystals import stock

STOCK = tuple(crystal.frequency_hz for crystal in stock())
#: A 21.47 MHz IF with a VFO near 3.5 MHz: 17 m as the difference, 12 m as the sum.
CARRIER = 21.4687e6
SUM = band_plan(Band(name="12m", low_hz=24.89e6, high_hz=24.99e6, scheme="sum"), CARRIER)
DIFFERENCE = band_plan(Band(name="17m", low_hz=18.068e6, high_hz=18.168e6, scheme="if_minus_vfo"), CARRIER)
IF = (CARRIER + 300, CARRIER + 2700)


@pytest.mark.parametrize(
    ("gate", "prescaler", "step"), [(1, 1, 1), (0.1, 1, 10), (0.01, 1, 100), (0.1, 10, 100)]
)
def test_resolution_is_one_count_a_gate(gate, prescaler, step):
    assert resolution_hz(Counter(gate_s=gate, prescaler=prescaler)) == pytest.approx(step)


def test_a_preset_adds_or_subtracts_the_intermediate_frequency():
    seven = Counter(gate_s=0.1, digits=7)
    assert shown_hz(seven, 5.2e6, 9e6, "add") == 14.2e6
    # Subtracting by the ten's complement and subtracting the stored number are the same display.
    complement = 10**7 * 10 - 9e6
    assert shown_hz(seven, 14.2e6, complement, "add") == shown_hz(seven, 14.2e6, 9e6, "subtract") == 5.2e6


def test_the_offset_is_the_carrier_and_not_the_middle_of_the_filter():
    counter = Counter(gate_s=1, digits=8)
    assert shown_hz(counter, 5.2015e6, 8.9985e6, "add") == 14.2e6
    moved = shown_hz(counter, 5.2015e6, 9.0015e6, "add")
    assert moved - 14.2e6 == 3000


def test_the_counters_own_share_is_that_of_what_is_counted():
    # 10 ppm is 142 Hz at 14.2 MHz, but only 52 Hz on a 5.2 MHz VFO; the rest is the carrier nobody measured.
    band = band_plan(Band(name="20m", low_hz=14.1e6, high_hz=14.2e6, scheme="sum"), 9e6)
    found = plan((band,), ReadOut(), (9e6, 9.0024e6), STOCK).bands[0]
    assert found.reading.arrangement == "direct"
    assert found.error.hz == pytest.approx(52 + 30e-6 * 9e6, abs=0.1)
    assert found.error.measured_hz == pytest.approx(142, abs=0.1)


def refusals(band):
    (found,) = options((band,), ReadOut(), IF, STOCK)
    return {each.scheme: each.words for each in found.refused}


def test_adding_the_offset_shows_the_sum_band():
    made = plan((SUM,), ReadOut(), IF, STOCK)
    found = made.bands[0].reading
    assert made.helper_hz is None
    assert (found.direction, found.offset_hz) == ("add", CARRIER)
    assert found.shows_hz == pytest.approx((24.89e6, 24.99e6), abs=20)


def test_subtracting_gives_a_negative_number_hence_zeros():
    for band in (SUM, DIFFERENCE):
        assert "zeros" in refusals(band)["VFO counted, carrier subtracted"]
        assert shown_hz(Counter(), min(band.vfo_low_hz, band.vfo_high_hz), CARRIER, "subtract") == 0
    added = refusals(DIFFERENCE)["VFO counted, carrier added"]
    assert "wrong way" in added


def test_an_eleven_megahertz_crystal_less_the_vfo_shows_the_difference_band():
    made = plan((DIFFERENCE, SUM), ReadOut(helper_hz=11e6), IF, STOCK)
    found = made.of("17m").reading
    assert found.arrangement == "helper"
    assert found.scheme.startswith("helper − VFO")
    assert found.direction == "add"
    assert found.offset_hz == pytest.approx(10.47e6, abs=2e3)
    assert found.shows_hz == pytest.approx((18.068e6, 18.168e6), abs=20)
    assert made.of("12m").reading.arrangement == "direct"
    told = switching(made, Counter())
    assert "helper on" in told[0]
    assert "helper off" in told[1]


def test_eleven_megahertz_is_among_what_the_stock_offers():
    (found,) = options((DIFFERENCE,), ReadOut(), IF, (11e6, 12e6))
    chosen = plan((DIFFERENCE,), ReadOut(), IF, (11e6, 12e6)).bands[0].reading
    assert 11e6 in {chosen.helper_hz, *(r.helper_hz for r in found.alternatives)}


@pytest.mark.parametrize("band", [SUM, DIFFERENCE])
def test_mixing_up_to_the_operating_frequency_reads_right_and_is_refused(band):
    scheme, reason = next(
        (scheme, reason) for scheme, reason in refusals(band).items() if "operating frequency" in scheme
    )
    assert "display would be right" in reason
    assert "everywhere on the dial" in reason
    made = plan((band,), ReadOut(), IF, STOCK)
    assert made.bands[0].reading.arrangement != "mixed_up"
    assert scheme


@pytest.mark.parametrize("name", ["tern", "muddle"])
def test_both_samples_have_a_scheme_with_one_counter(name, request):
    analysis = Analysis(request.getfixturevalue(name))
    assert analysis.project.read_out.counter.inputs == 1
    made = analysis.read_out
    for row, of in zip(made.bands, analysis.frequency_plan, strict=True):
        assert isinstance(row.reading, Reading)
        assert row.reading.shows_hz == pytest.approx(
            (of.dial_low_hz, of.dial_high_hz), abs=2.5 * made.resolution_hz
        )


def test_nothing_strong_of_the_helper_is_on_the_dial_or_in_the_if():
    made = plan((DIFFERENCE, SUM), ReadOut(), IF, STOCK)
    found = made.of("17m").reading
    low, high = sorted(found.counted_hz)
    for harmonic in (1, 2, 3):
        for f in (harmonic * found.helper_hz, harmonic * low, harmonic * high):
            assert not DIFFERENCE.dial_low_hz - 3e3 < f < DIFFERENCE.dial_high_hz + 3e3
            assert not IF[0] - 3e3 < f < IF[1] + 3e3
    assert not isinstance(found, Unsolved)
    assert STRONG_HARMONIC == 3
