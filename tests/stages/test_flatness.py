"""Ladders designed with the Q of their crystals: flatter than those that leave it out, at a price told."""

import re

import numpy as np
import pytest

from core.circuits.ladder import Network
from core.circuits.response import pass_band
from core.circuits.shapes.flat_couplings import flat_couplings, transfer
from core.circuits.shapes.prototypes import couplings
from core.model.stages.filters import Crystal, LadderFilter
from core.stages.filters import ladder_cures, ladder_figures, ladder_filter, ladder_meshes
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.ordinary import ordinary_ladder
from core.stages.outcome import Unsolved
from core.stages.steps import finished


def ladder(poles: int, shape: str, **crystal) -> LadderFilter:
    return LadderFilter(
        id="l", name="L", poles=poles, shape=shape, capacitors="exact", crystal=Crystal(**crystal)
    )


def between_its_own_ends(asked: LadderFilter, if_hz: float):
    """Ripple and loss without what the turns of a transformer leave over."""
    solved = ladder_meshes.meshes(asked, if_hz)
    made = ladder_filter.design(AskedLadder(asked.edited(("end_match",), "none"), if_hz))
    network = Network(made.network.arms, solved.end_ohm, solved.end_ohm)
    return pass_band(network, solved.low_hz - 8e3, solved.high_hz + 8e3)


CRYSTALS = {
    9.0e6: {"motional_inductance_h": 16e-3, "quality_factor": 75e3},
    19.6608e6: {"motional_inductance_h": 3e-3, "quality_factor": 100e3},
}


@pytest.mark.parametrize("if_hz", CRYSTALS)
@pytest.mark.parametrize("poles", [6, 7, 8, 10])
def test_a_butterworth_ladder_keeps_its_shape_in_spite_of_its_loss(if_hz, poles):
    plain = ladder(poles, "butterworth", **CRYSTALS[if_hz])
    flat = plain.edited(("flatness",), "for_the_crystals")
    rounded, kept = (between_its_own_ends(each, if_hz) for each in (plain, flat))
    ideal = ladder_filter.ideal(AskedLadder(plain, if_hz))
    assert rounded.ripple_db > ideal.ripple_db + 0.4
    assert kept.ripple_db < ideal.ripple_db + 0.12
    # A dashed promise would be one without its price: the loss is larger, the width that asked for.
    assert kept.least_loss_db > rounded.least_loss_db + 0.2
    assert kept.bandwidth_hz(3.0) == pytest.approx(2400, rel=0.01)


@pytest.mark.parametrize("if_hz", CRYSTALS)
@pytest.mark.parametrize("poles", [6, 8])
def test_a_chebyshev_ladder_is_flat_to_a_fifth_of_a_decibel_more_than_asked(if_hz, poles):
    flat = ladder(poles, "chebyshev", **CRYSTALS[if_hz]).edited(("flatness",), "for_the_crystals")
    rounded = between_its_own_ends(flat.edited(("flatness",), "as_designed"), if_hz)
    kept = between_its_own_ends(flat, if_hz)
    assert rounded.ripple_db > 0.9
    assert kept.ripple_db < 0.1 + 0.25
    assert kept.bandwidth_hz(3.0) > rounded.bandwidth_hz(3.0) + 100


def test_the_mesh_equations_without_loss_are_the_prototypes():
    plain = couplings("chebyshev", 6, 0.1)
    x = np.linspace(-1, 1, 201)
    own = np.broadcast_to(1j * x, (6, 1, x.size))
    loss = -20 * np.log10(np.abs(transfer(np.array([plain.k]), np.array([[1 / plain.q_first]]), own)))
    assert loss.max() == pytest.approx(0.1, abs=1e-3)
    assert loss.min() == pytest.approx(0.0, abs=1e-3)


def test_couplings_that_are_alike_by_intent_stay_so():
    assert flat_couplings("equal_coupling", 8, 0.1, 0.05, 0.05) is None
    asked = ladder(8, "equal_coupling").edited(("flatness",), "for_the_crystals")
    assert ladder_meshes.meshes(asked, 9e6) == ladder_meshes.meshes(
        asked.edited(("flatness",), "as_designed"), 9e6
    )


def test_a_q_that_is_too_low_is_named_with_the_least_that_does():
    asked = ladder(8, "butterworth", quality_factor=20e3).edited(("flatness",), "for_the_crystals")
    made = ladder_filter.design(AskedLadder(asked, 9e6))
    assert isinstance(made, Unsolved)
    assert "is the least" in made.reason
    least = float(made.reason.split("where ")[1].split(" is")[0])
    better = asked.edited(("crystal", "quality_factor"), 1.01 * least)
    assert not isinstance(ladder_filter.design(AskedLadder(better, 9e6)), Unsolved)


def test_the_price_of_flatness_is_both_designs_figures():
    asked = ladder(8, "butterworth")
    without, with_q = ladder_figures.flatness(AskedLadder(asked, 9e6))
    assert without == ladder_filter.figures(AskedLadder(asked, 9e6))
    assert with_q.ripple_db < without.ripple_db - 0.4
    assert with_q.insertion_loss_db > without.insertion_loss_db + 0.5
    assert ladder_figures.flatness(AskedLadder(ladder(8, "equal_coupling"), 9e6)) is None


#: IFs of new rigs, with the capacitors and transformer that those get.
NEW_RIGS_HZ = (4.9152e6, 8.867238e6, 10.24e6, 12.288e6, 16e6, 18e6, 19.6608e6)


@pytest.mark.parametrize("if_hz", NEW_RIGS_HZ)
@pytest.mark.parametrize("capacitors", ["E12", "E24", "E96", "E12_pairs", "E24_pairs"])
@pytest.mark.parametrize("end_match", ["transformer", "l_network"])
def test_counting_the_q_in_never_makes_the_ladder_as_fitted_worse(if_hz, capacitors, end_match):
    fitted = ordinary_ladder(if_hz).edited(("capacitors",), capacitors).edited(("end_match",), end_match)
    without, with_q = ladder_figures.flatness(AskedLadder(fitted, if_hz))
    assert with_q.ripple_db <= without.ripple_db + 0.01
    # Nor does it lose what buys no ripple.
    loss_db = with_q.insertion_loss_db - without.insertion_loss_db
    assert without.ripple_db - with_q.ripple_db >= 0.05 * loss_db - 0.02
    said = finished(ladder_cures.nothing_gained(AskedLadder(fitted, if_hz)))
    assert (said is None) == (with_q.ripple_db <= without.ripple_db - 0.1)


@pytest.mark.parametrize("if_hz", [9e6, 10.24e6, 16e6])
def test_the_usual_parts_keep_half_of_the_flatness_for_a_third_more_loss(if_hz):
    # With all of the loss counted, the E24 series and twelve turns made it 1.2 to 1.6 dB at twice the loss.
    without, with_q = ladder_figures.flatness(AskedLadder(ordinary_ladder(if_hz), if_hz))
    assert with_q.ripple_db < without.ripple_db - 0.25
    assert with_q.insertion_loss_db < 1.5 * without.insertion_loss_db


@pytest.mark.parametrize(
    ("if_hz", "capacitors", "end_match"),
    [(18e6, "E24", "transformer"), (7.3728e6, "E12", "l_network"), (14e6, "E6", "l_network")],
)
def test_where_nothing_is_gained_it_is_said_with_the_parts_that_would(if_hz, capacitors, end_match):
    fitted = ordinary_ladder(if_hz).edited(("capacitors",), capacitors).edited(("end_match",), end_match)
    said = finished(ladder_cures.nothing_gained(AskedLadder(fitted, if_hz)))
    assert said.startswith("Counting the crystals' Q in gains nothing with these parts: ")
    pair = ladder_figures.flatness(AskedLadder(fitted, if_hz))
    told = [f"{each.ripple_db:.2f} dB" for each in pair]
    assert f"{told[0]} of ripple without it, {told[1]} with it" in said
    ripple, loss = map(
        float, re.search(r"pairs of E12 capacitors give ([\d.]+) dB at ([\d.]+) dB", said).groups()
    )
    finer = fitted.edited(("capacitors",), "E12_pairs").edited(("flatness",), "for_the_crystals")
    after = ladder_filter.figures(AskedLadder(finer, if_hz))
    assert after.ripple_db == pytest.approx(ripple, abs=0.051)
    assert after.insertion_loss_db == pytest.approx(loss, abs=0.051)
    assert finished(ladder_cures.nothing_gained(AskedLadder(finer, if_hz))) is None


@pytest.mark.parametrize("if_hz", [8.867238e6, 9e6])
def test_pairs_of_ordinary_capacitors_do_what_the_finest_series_and_an_l_network_did(if_hz):
    pairs = ordinary_ladder(if_hz).edited(("capacitors",), "E12_pairs")
    fine = pairs.edited(("capacitors",), "E96").edited(("end_match",), "l_network")
    _, of_pairs = ladder_figures.flatness(AskedLadder(pairs, if_hz))
    _, of_fine = ladder_figures.flatness(AskedLadder(fine, if_hz))
    assert of_pairs.ripple_db < 0.3  # 1.2 dB without the Q counted in, 0.7 dB with single E24 parts
    assert of_pairs.ripple_db < of_fine.ripple_db + 0.01
    assert of_pairs.insertion_loss_db < of_fine.insertion_loss_db


def test_what_is_said_to_be_flatter_is_what_those_parts_give():
    said = {
        if_hz: finished(ladder_cures.flatter(AskedLadder(ordinary_ladder(if_hz), if_hz)))
        for if_hz in NEW_RIGS_HZ
    }
    told = {if_hz: each for if_hz, each in said.items() if each is not None}
    assert len(told) >= 5
    for if_hz, (words, figures) in told.items():
        finer = ordinary_ladder(if_hz).edited(("capacitors",), "E12_pairs")
        if words.endswith("and an L-network"):
            finer = finer.edited(("end_match",), "l_network")
        assert figures == ladder_figures.flatness(AskedLadder(finer, if_hz))[1]
        assert (
            figures.ripple_db
            < ladder_figures.flatness(AskedLadder(ordinary_ladder(if_hz), if_hz))[1].ripple_db - 0.2
        )


@pytest.mark.parametrize("capacitors", ["E96", "E24"])
def test_where_finer_parts_gain_nothing_either_that_is_said(capacitors):
    # Crystals of two million: there is no loss to count.
    good = ordinary_ladder(9e6).edited(("crystal", "quality_factor"), 2e6).edited(("capacitors",), capacitors)
    good = good.edited(("end_match",), "transformer")
    least = min(each.ripple_db for each in ladder_figures.flatness(AskedLadder(good, 9e6)))
    for finer in ({"capacitors": "E12_pairs"}, {"capacitors": "E96"}, {"end_match": "l_network"}):
        changed = good.edited(("flatness",), "for_the_crystals")
        for name, value in finer.items():
            changed = changed.edited((name,), value)
        assert ladder_filter.figures(AskedLadder(changed, 9e6)).ripple_db > least - 0.2
    assert finished(ladder_cures.nothing_gained(AskedLadder(good, 9e6))).endswith(
        "and finer parts gain nothing either."
    )


@pytest.mark.parametrize("poles", [5, 6])
def test_fewer_poles_and_better_crystals_are_advised_from_where_they_mend_the_ripple(poles):
    asked = ordinary_ladder(9e6).edited(("crystal", "quality_factor"), 100e3).edited(("poles",), poles)

    def mended(**changes):
        changed = asked
        for name, value in changes.items():
            path = ("crystal", "quality_factor") if name == "q" else (name,)
            changed = changed.edited(path, value)
        return "ripple" not in ladder_cures.misses(
            AskedLadder(changed, 9e6), ladder_filter.figures(AskedLadder(changed, 9e6))
        )

    assert not mended()
    words = [cure.words for cure in finished(ladder_cures.cures(AskedLadder(asked, 9e6), "ripple"))]
    # The nearest number of poles that does, of three at most and not below four.
    fewer = [n for n in range(poles - 1, max(poles - 4, 3), -1) if mended(poles=n)]
    assert f"take {fewer[0]} poles" in words
    # And the least Q that does with exact capacitors, to two digits.
    named = next(each for each in words if "with a Q of" in each)
    least = float(re.search(r"Q of ([\d ]+)", named)[1].replace(" ", ""))
    assert mended(q=least)
    assert not mended(q=0.85 * least, capacitors="exact")
