"""Filter stages: any valid request gives a circuit or a reason, and as-built values count."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.circuits.ladder import solve
from core.model.stages.filters import BandPassFilter, Crystal, LadderFilter, LowPassFilter
from core.stages.band_pass import band_pass
from core.stages.filters import carrier_oscillator, ladder_filter, low_pass
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.outcome import FilterDesign, Unsolved

SERIES = st.sampled_from(["exact", "E6", "E12", "E24", "E48", "E96"])
crystals = st.builds(
    Crystal,
    offset_hz=st.floats(-5e3, 5e3),
    motional_inductance_h=st.floats(1e-3, 0.2),
    holder_capacitance_f=st.floats(1e-13, 1e-11),
    quality_factor=st.floats(1e3, 3e5),
)
ladders = st.builds(
    LadderFilter,
    id=st.just("ladder"),
    name=st.just("Ladder"),
    shape=st.sampled_from(["butterworth", "chebyshev", "equal_coupling", "paired_ends"]),
    poles=st.integers(2, 12),
    ripple_db=st.floats(0.01, 3),
    bandwidth_hz=st.floats(100, 2e4),
    crystal=st.one_of(st.none(), crystals),
    refine=st.booleans(),
    capacitors=SERIES,
    end_match=st.sampled_from(["none", "transformer", "l_network"]),
    system_ohm=st.floats(1, 5000),
)
band_passes = st.builds(
    BandPassFilter,
    shape=st.sampled_from(["butterworth", "chebyshev"]),
    ripple_db=st.floats(0.01, 3),
    resonators=st.integers(2, 3),
    centre_hz=st.one_of(st.none(), st.floats(1e6, 60e6)),
    bandwidth_hz=st.floats(1e3, 30e6),
    coupling=st.sampled_from(["top_capacitor", "shunt_capacitor"]),
    ends=st.sampled_from(["series_capacitor", "tapped_capacitor", "link"]),
    inductance_h=st.one_of(st.none(), st.floats(1e-8, 1e-4)),
    coil_q=st.floats(5, 1e3),
    capacitors=SERIES,
    system_ohm=st.floats(1, 5000),
)
low_passes = st.builds(
    LowPassFilter,
    shape=st.sampled_from(["butterworth", "chebyshev", "chebyshev_trap"]),
    traps=st.sampled_from(["second", "second_and_third", "second_of_each_band"]),
    order=st.integers(3, 11),
    ripple_db=st.floats(0.001, 3),
    cutoff_hz=st.one_of(st.none(), st.floats(1e6, 100e6)),
    coil_q=st.floats(5, 1e3),
    capacitor_q=st.floats(5, 1e4),
    capacitors=SERIES,
    system_ohm=st.floats(1, 5000),
)
DIALS = ((14.1e6, 14.35e6),)


def sound(made, f_hz) -> None:
    """A circuit with finite parts and a response of finite numbers, or a sentence."""
    if isinstance(made, Unsolved):
        assert made.reason.endswith(".")
        return
    assert all(np.isfinite(row.designed) and row.designed > 0 for row in made.parts)
    response = solve(made.network, f_hz)
    assert np.all(np.isfinite(response.s21))
    assert np.all(np.abs(response.s21) <= 1 + 1e-9)


@given(ladders, st.floats(1e6, 3e7))
@settings(max_examples=150)
def test_any_ladder_is_a_circuit_or_a_reason(ladder, if_hz):
    sound(ladder_filter.design(AskedLadder(ladder, if_hz)), np.linspace(0.99 * if_hz, 1.01 * if_hz, 51))
    found, solved = (
        ladder_filter.figures(AskedLadder(ladder, if_hz)),
        ladder_filter.solved(AskedLadder(ladder, if_hz)),
    )
    assert isinstance(found, Unsolved) or np.isfinite(found.insertion_loss_db)
    if isinstance(solved, Unsolved):
        assert found == solved
        return
    for side in ("lower", "upper"):
        place = carrier_oscillator.place(solved, side, 20.0)
        assert isinstance(place, Unsolved) or abs(place.suppression_db - 20) < 0.1


@given(band_passes, st.sampled_from([(), DIALS]))
@settings(max_examples=120)
def test_any_band_pass_is_a_circuit_or_a_reason(asked, dials):
    sound(band_pass.design(asked, dials), np.linspace(0.5e6, 60e6, 51))
    found = band_pass.figures(asked, dials)
    assert isinstance(found, Unsolved) or np.isfinite(found.insertion_loss_db)


@given(low_passes, st.sampled_from([(), DIALS]))
@settings(max_examples=120)
def test_any_low_pass_is_a_circuit_or_a_reason(asked, dials):
    sound(low_pass.design(asked, dials), np.linspace(0.5e6, 60e6, 51))
    found = low_pass.figures(asked, dials)
    assert isinstance(found, Unsolved) or np.isfinite(found.insertion_loss_db)


LADDER = LadderFilter(id="ladder", name="Ladder")
SOLVED = ladder_filter.solved(AskedLadder(LADDER, 9e6))


def test_an_as_built_value_replaces_one_part_and_stays_when_the_design_moves():
    built = LADDER.edited(("as_built",), {"coupling:2": 123e-12, "crystal:3": 9_000_300.0})
    made = ladder_filter.design(AskedLadder(built, 9e6))
    fitted = {part.ref: part.value for part in made.network.parts}
    assert (fitted["C2"], fitted["X3"]) == (123e-12, 9_000_300.0)
    assert fitted["C3"] == next(p.preferred for p in made.parts if p.ref == "C3")
    wider = ladder_filter.design(AskedLadder(built.edited(("bandwidth_hz",), 2000.0), 9e6))
    assert {part.ref: part.value for part in wider.network.parts}["C2"] == 123e-12
    plain = ladder_filter.design(AskedLadder(LADDER, 9e6))
    f = np.linspace(9.0e6, 9.004e6, 101)
    assert np.abs(solve(made.network, f).loss_db - solve(plain.network, f).loss_db).max() > 0.5


def test_the_ladder_follows_the_if():
    here, there = (ladder_filter.figures(AskedLadder(LADDER, f)).centre_hz for f in (9e6, 9.1e6))
    assert there - here == pytest.approx(1e5, abs=100)


def test_a_width_that_holder_capacitance_forbids_names_the_widest():
    made = ladder_filter.design(AskedLadder(LADDER.edited(("bandwidth_hz",), 2e4), 9e6))
    assert isinstance(made, Unsolved)
    assert "kHz at most" in made.reason
    widest = float(made.reason.split("allows ")[1].split(" kHz")[0]) * 1e3
    assert isinstance(
        ladder_filter.design(AskedLadder(LADDER.edited(("bandwidth_hz",), 0.98 * widest), 9e6)), FilterDesign
    )


@pytest.mark.parametrize("match", ["transformer", "l_network"])
def test_an_end_match_brings_the_ends_to_the_resistance_around(match):
    lossless = LADDER.edited(("crystal", "quality_factor"), 1e8).edited(("capacitors",), "exact")
    results = {}
    for each in ("none", match):
        made = ladder_filter.design(AskedLadder(lossless.edited(("end_match",), each), 9e6))
        low, high = ladder_filter.solved(AskedLadder(lossless, 9e6)).band.edges_hz[3.0]
        f = np.linspace(low + 0.1 * (high - low), high - 0.1 * (high - low), 101)
        results[each] = solve(made.network, f).loss_db.max()
    assert results["none"] > 3
    assert results[match] < 1.2


def test_the_carrier_lies_on_the_side_of_the_sideband():
    low, high = ladder_filter.solved(AskedLadder(LADDER, 9e6)).band.edges_hz[3.0]
    below = carrier_oscillator.place(SOLVED, "upper", 20.0)
    above = carrier_oscillator.place(SOLVED, "lower", 20.0)
    assert below.frequency_hz < low < high < above.frequency_hz
    assert below.signal_hz(1000) == below.frequency_hz + 1000
    assert above.signal_hz(1000) == above.frequency_hz - 1000
    audio = carrier_oscillator.audio_response(SOLVED, below, np.array([0.0, 1500.0]))
    assert audio[0] == pytest.approx(20, abs=0.01)
    assert audio[1] < 3


def test_a_skirt_that_never_falls_so_far_says_so():
    two = LADDER.edited(("poles",), 2)
    place = carrier_oscillator.place(ladder_filter.solved(AskedLadder(two, 9e6)), "upper", 55.0)
    assert isinstance(place, Unsolved)
    assert "more poles" in place.reason


def test_rounding_is_shared_out_by_the_trimmers():
    asked = BandPassFilter(centre_hz=14.2e6, bandwidth_hz=600e3, capacitors="E12", coil_q=1e6, resonators=3)
    found = band_pass.figures(asked, ())
    assert found.centre_hz == pytest.approx(14.2e6, rel=0.003)
    assert {p.ref: p.note for p in band_pass.design(asked, ()).parts}["C1"].endswith("set for the least loss")


def test_two_bands_sharing_a_low_pass_set_its_cut_off_by_the_higher():
    shared = LowPassFilter(bands=("20m", "17m"))
    dials = ((14.1e6, 14.35e6), (18.11e6, 18.168e6))
    assert low_pass.cutoff_of(shared, dials) == pytest.approx(1.05 * 18.168e6)


def test_bandless_filters_are_reasons():
    assert "no band" in low_pass.design(LowPassFilter(), ()).reason
    assert "no band" in band_pass.design(BandPassFilter(), ()).reason
