"""The read-out of several bands, and the error of its display, worked by hand."""

from types import SimpleNamespace

import numpy as np
import pytest

from core.model.bands import Band
from core.model.readout import Counter, ReadOut
from core.rig.figures.read_out import switching
from core.rig.plan.frequency_plan import band_plan
from core.rig.read_out.error import dial_error
from core.rig.read_out.helper import Helped, Pick
from core.rig.read_out.plan import _lacking, _worth, options, plan
from core.rig.read_out.schemes import Reading, shown_hz, without_helper
from core.stages.outcome import Unsolved
from tests.read_out_bands import EDGES, FALLS, HELPERS, SUM

# -- the plan of several bands -----------------------------------------------------------------------------


def test_what_picks_are_worth():
    plain, other = Pick(0.0, 9e6, "add"), Pick(1.0, 9e6, "subtract")
    helped = Pick(5.0, 2e6, "add", 3)
    missing = Unsolved("no scheme")
    # Each programme counts half a point; one helper serves all bands, and is switched where some do without.
    for picks, worth in [
        ([plain], (0, 0.5)),
        ([plain, plain], (0, 0.5)),
        ([plain, other], (0, 2.0)),
        ([helped], (0, 5.5)),
        ([helped, helped], (0, 6.5)),
        ([helped, helped, helped], (0, 7.5)),
        ([helped, plain], (0, 6.5)),
        ([plain, missing], (1, 0.5)),
        ([helped, missing], (1, 5.5)),
        ([missing, missing], (2, 0.0)),
        ([Pick(2.0, 0.0, "none")], (0, 2.0)),
    ]:
        assert _worth(picks) == pytest.approx(worth)


def test_switching_says_what_is_stored_and_how_it_is_chosen():
    def texts(bands, **values):
        counter = {k: v for k, v in values.items() if k != "helpers"}
        read_out = ReadOut(counter=Counter(**counter))
        made = plan(bands, read_out, EDGES[bands[0]], values.get("helpers", ()))
        return switching(made, read_out.counter)

    fifteen = band_plan(Band(name="15m", low_hz=21.0e6, high_hz=21.2e6, scheme="sum"), 16.0e6)
    assert texts((SUM,)) == ("20 m: programme 1 as always, add 9.000000 MHz.",)
    assert texts((SUM, fifteen), selected_by="jumper") == (
        "20 m: programme 1 by its jumper, add 9.000000 MHz.",
        "15 m: programme 2 by its jumper, add 16.000000 MHz.",
    )
    assert texts((SUM, fifteen), selected_by="button")[1].startswith("15 m: programme 2 by its button, ")
    assert texts((FALLS,), inputs=2) == ("20 m: nothing is stored; count both inputs.",)
    # 6.144 MHz less 5.66 MHz is 484 kHz at 14.0 MHz: 13.516 MHz are added.
    assert texts((FALLS,), helpers=(6.144e6,)) == (
        "20 m: programme 1 as always, add 13.516000 MHz, helper on.",
    )
    twelve = band_plan(Band(name="12m", low_hz=24.89e6, high_hz=24.99e6, scheme="sum"), 19.66e6)
    assert texts((FALLS, twelve), helpers=(6.144e6,))[1] == (
        "12 m: programme 2 by a line from the band switch, add 19.660000 MHz, helper off, "
        "VFO straight to the counter."
    )


def test_offsets_less_than_half_a_hertz_apart_are_one_programme():
    def programmes(apart):
        near = band_plan(Band(name="17m", low_hz=18.068e6, high_hz=18.168e6, scheme="sum"), 9.0e6 + apart)
        rows = plan((SUM, near), ReadOut(counter=Counter(digits=8)), EDGES[SUM], ()).bands
        return [row.programme for row in rows]

    assert programmes(0.4) == [1, 1]
    assert programmes(0.54) == [1, 2]


def test_what_was_refused_and_what_else_would_do_is_listed():
    bands = (FALLS,)
    (found,) = options(bands, ReadOut(), EDGES[FALLS], HELPERS)
    (row,) = plan(bands, ReadOut(), EDGES[FALLS], HELPERS).bands
    assert isinstance(row.reading, Reading)
    costs = [r.cost for r in found.alternatives]
    assert costs == sorted(costs)
    assert row.reading.cost <= costs[0]
    assert row.reading not in found.alternatives
    # Of the eight best helpers the first is taken.
    best = Helped(FALLS, Counter(), EDGES[FALLS], np.array(HELPERS)).best(8)
    assert row.reading == best[0]
    assert found.alternatives == tuple(best[1:])


def test_a_plan_without_helpers_says_what_is_missing():
    (row,) = plan((FALLS,), ReadOut(), EDGES[FALLS], ()).bands
    assert "another helper crystal may do" in row.reading.reason
    assert (row.programme, row.error) == (None, None)
    mixed = plan((SUM, FALLS), ReadOut(), EDGES[SUM], ())
    assert [isinstance(each.reading, Reading) for each in mixed.bands] == [True, False]
    # One programme alone is not switched, whatever another band lacks.
    assert switching(mixed, Counter()) == ("20 m: programme 1 as always, add 9.000000 MHz.",)
    assert plan((), ReadOut(), EDGES[SUM], HELPERS).bands == ()
    two = plan((SUM, FALLS), ReadOut(counter=Counter(inputs=2)), EDGES[SUM], ())
    told = switching(two, Counter(inputs=2))
    assert told[0].startswith("20 m: programme 1 as always")
    assert told[1].startswith("20 m: nothing is stored")


@pytest.mark.parametrize(
    ("vfo", "near"),
    [
        # A helper of 9 MHz inside the range of the VFO, below it, and above it by a half, thrice and a tenth.
        ((8e6, 10e6), 1.0),
        ((18e6, 20e6), 2.0),
        ((5e6, 6e6), 1.5),
        ((2e6, 3e6), 3.0),
        ((9.9e6, 12e6), 1.1),
    ],
)
def test_how_near_a_helper_comes_to_the_vfo(vfo, near):
    found = Helped._nearness(SimpleNamespace(helpers=np.array([9e6])), np.array(vfo))
    assert found == pytest.approx([near])
    assert Helped._nearness(SimpleNamespace(helpers=np.array([9e6])), np.array(vfo[::-1])) == found


@pytest.mark.parametrize(
    ("helper", "usable", "says"),
    [
        (None, True, "another helper crystal may do"),
        (None, False, "another helper crystal may do"),
        (8e6, False, "another helper crystal may do"),
        (8e6, True, "which the other bands need, does not serve this one"),
    ],
)
def test_why_a_band_is_not_shown_beside_others(helper, usable, says):
    of = SimpleNamespace(usable=np.array([[False, usable]]))
    assert says in _lacking(False, 2, of, helper).reason
    assert _lacking(True, 1, of, helper).reason.startswith("The counter keeps 1 programme and")
    assert _lacking(True, 2, of, helper).reason.startswith("The counter keeps 2 programmes and")


# -- the display and its error -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("counted", "offset", "direction", "shown"),
    [
        # Counts of 10 Hz, cut; what is stored is rounded.
        (5.000019e6, 0.0, "none", 5.00001e6),
        (5.0e6, 9.000004e6, "add", 14.0e6),
        (5.0e6, 9.000006e6, "add", 14.00001e6),
        (5.0e6, 3.0e6, "subtract", 2.0e6),
        (5.0e6, 5.00001e6, "subtract", 0.0),
        # Seven digits of 10 Hz end below 100 MHz.
        (95.0e6, 6.0e6, "add", 1.0e6),
    ],
)
def test_what_the_module_shows(counted, offset, direction, shown):
    assert shown_hz(Counter(), counted, offset, direction) == pytest.approx(shown, abs=0.01)


@pytest.mark.parametrize(
    ("scheme", "sideband", "measured", "unmeasured"),
    [
        # Only a difference from a higher VFO turns the sideband over.
        ("sum", "upper", "carrier_upper_hz", ()),
        ("sum", "upper", "carrier_lower_hz", ("carrier",)),
        ("sum", "lower", "carrier_lower_hz", ()),
        ("vfo_minus_if", "lower", "carrier_upper_hz", ()),
        ("vfo_minus_if", "lower", "carrier_lower_hz", ("carrier",)),
        ("vfo_minus_if", "upper", "carrier_lower_hz", ()),
    ],
)
def test_the_carrier_whose_measuring_counts_is_that_of_the_sideband_at_the_if(
    scheme, sideband, measured, unmeasured
):
    low = 3.5e6 if scheme == "vfo_minus_if" else 14.0e6
    band = Band(name="b", low_hz=low, high_hz=low + 0.3e6, sideband=sideband, scheme=scheme)
    made = band_plan(band, 9.0e6)
    (reading,), _ = without_helper(made, Counter(), EDGES[SUM])
    error = dial_error(reading, made, ReadOut(**{measured: 9.0e6}))
    top = low + 0.3e6
    assert error.unmeasured == unmeasured
    # 10 ppm of clock. Counted: dial ∓ carrier; a carrier counted with the same clock is off with it, one
    # only marked is off by 30 ppm of itself.
    counted = top + 9.0e6 if scheme == "vfo_minus_if" else top - 9.0e6
    wanted = 10e-6 * counted + 30e-6 * 9.0e6 if unmeasured else 10e-6 * top
    assert error.hz == pytest.approx(wanted)
    assert error.measured_hz == pytest.approx(10e-6 * top)
