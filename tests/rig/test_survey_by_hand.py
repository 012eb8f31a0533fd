"""The terms of the IF survey on made-up rows: points and words worked in the table."""

import numpy as np
import pytest

from core.model.bands import Band
from core.rig.plan.frequency_plan import band_plan
from core.rig.spurs.responses import response_name
from core.rig.spurs.spurs import name_of
from core.rig.survey import ordinary
from core.rig.survey.if_survey import _costliest, points_text, survey, verdict
from core.rig.survey.options import Option, Product, options
from core.rig.survey.ordinary import front_loss
from core.rig.survey.terms import Candidate, Charge, charges, ladder_impossible, ranges
from core.stages.filters.ladder_meshes import greatest_width_hz
from core.stages.mixers.figures import figures
from core.stages.ordinary import ordinary_band_pass, ordinary_ladder, ordinary_mixer, typical_crystal
from core.stages.outcome import Unsolved


def product(level_dbc, *, crosses=True, band="20m", dial_hz=14.2e6, name="3 VFO"):
    return Product(band=band, products=name, order=3, dial_hz=dial_hz, level_dbc=level_dbc, crosses=crosses)


def test_a_front_filter_that_cannot_be_made_is_passed_over(monkeypatch):
    band = Band(name="x", low_hz=14.0e6, high_hz=14.4e6)
    whole = front_loss(band, "receive")
    assert [len(chain) for chain in whole.chains] == [2]
    assert [len(chain) for chain in front_loss(band, "transmit").chains] == [1, 1]
    monkeypatch.setattr(ordinary.band_pass, "design", lambda *asked: Unsolved("It cannot be."))
    assert front_loss.__wrapped__(band, "receive").chains == ((whole.chains[0][0],),)
    assert front_loss.__wrapped__(band, "transmit").chains == ((whole.chains[0][0],),)


def option(vfo=(5.0, 5.35), image_mhz=10.0, sent=(), heard=(), birdies=(), lower=False, band="20m"):
    """One band with its VFO in MHz."""
    return Option(
        band=band,
        scheme="sum",
        vfo_hz=(1e6 * vfo[0], 1e6 * vfo[1]),
        image_distance_hz=1e6 * image_mhz,
        sent=sent,
        heard=heard,
        birdies=birdies,
        crossings=(),
        lower_at_if=lower,
    )


def charged(*of_bands, if_mhz=9.0, widest=10e3, wanted=2.4e3, on_hand=False):
    """Points, words and whether it spoils, by term."""
    candidate = Candidate(1e6 * if_mhz, of_bands or (option(),), widest, wanted, on_hand)
    return {c.key: (pytest.approx(c.points), c.words, c.spoils) for c in charges(candidate)}


@pytest.mark.parametrize(
    ("given", "key", "found"),
    [
        # Up to 80 % of what the crystal allows nothing, then evenly to 15.
        ({"widest": 3000.0}, "ladder", None),
        (
            {"widest": 2.4e3 / 0.9},
            "ladder",
            (7.5, "the ladder needs 90 % of the width that such crystals allow", False),
        ),
        (
            {"widest": 2.4e3 / 0.96},
            "ladder",
            (12.0, "the ladder needs 96 % of the width that such crystals allow", False),
        ),
        (
            {"widest": 2.0e3},
            "ladder",
            (100.0, "these crystals allow a ladder 2 kHz wide at most, 2.4 kHz is wanted", True),
        ),
        ({}, "on_hand", None),
        ({"on_hand": True}, "on_hand", (-5.0, "crystal on hand", False)),
        ({}, "if_height", None),
        ({"if_mhz": 12.0}, "if_height", None),
        ({"if_mhz": 20.0}, "if_height", (2.4, "IF above 12 MHz: more loss in the ladder", False)),
        # 0.3 points a megahertz, and 15 above 24 MHz.
        ({"if_mhz": 24.0}, "if_height", (3.6, "IF above 12 MHz: more loss in the ladder", False)),
        ({"if_mhz": 25.0}, "if_height", (18.9, "crystal likely cut for the third overtone", False)),
        ({}, "broadcast", None),
        ({"if_mhz": 9.6}, "broadcast", (2.0, "IF in a broadcast band", False)),
        # 6 % of 5.7 MHz are 342 kHz, below 5.35 and above it.
        ({"if_mhz": 5.7}, "near_if", None),
        ({"if_mhz": 5.68}, "near_if", (5.0, "the VFO comes within 6 % of the IF", False)),
        ({"if_mhz": 4.7}, "near_if", None),
        ({"if_mhz": 4.73}, "near_if", (5.0, "the VFO comes within 6 % of the IF", False)),
    ],
)
def test_terms_of_the_crystal(given, key, found):
    assert charged(**given).get(key) == found


def test_a_vfo_that_passes_through_the_if_is_near_it():
    wide = option(vfo=(5.0, 8.0))
    assert charged(wide, if_mhz=6.5)["near_if"][0] == 5.0
    # Beyond either end it is not.
    assert "near_if" not in charged(wide, if_mhz=9.0)
    assert "near_if" not in charged(wide, if_mhz=4.5)
    assert charged(option(), wide, if_mhz=6.5)["near_if"][0] == 5.0


@pytest.mark.parametrize(
    ("vfo", "points", "words", "spoils"),
    [
        # A point a megahertz; 4 more above 8 MHz; 25 and 6 more above 12 MHz; 5 more below 2.5 MHz.
        ((5.0, 5.35), 5.35, "VFO 5.000 to 5.350 MHz", False),
        ((7.8, 8.0), 8.0, "VFO 7.800 to 8.000 MHz", False),
        ((8.5, 9.0), 9 + 4, "VFO 8.500 to 9.000 MHz, hard to keep stable above 8 MHz", False),
        ((11.5, 12.0), 12 + 16, "VFO 11.500 to 12.000 MHz, hard to keep stable above 8 MHz", False),
        (
            (13.5, 14.0),
            14 + 24 + 25 + 12,
            "VFO 13.500 to 14.000 MHz, too high for an LC oscillator (above 12 MHz)",
            True,
        ),
        ((2.5, 2.6), 2.6, "VFO 2.500 to 2.600 MHz", False),
        (
            (2.0, 2.35),
            2.35 + 2.5,
            "VFO 2.000 to 2.350 MHz, its harmonics crowd the bands below 2.5 MHz",
            False,
        ),
    ],
)
def test_the_vfos_height(vfo, points, words, spoils):
    assert charged(option(vfo))["vfo_height"] == (pytest.approx(points), words, spoils)


def test_the_height_is_that_of_all_bands_together():
    made = charged(option((5.0, 5.35)), option((8.5, 9.0), band="15m"))
    assert made["vfo_height"][1].startswith("VFO 5.000 to 9.000 MHz")
    assert made["vfo_height"][0] == 13.0


@pytest.mark.parametrize(
    ("vfo", "count"),
    [
        ([(5.0, 5.35)], 1),
        ([(5.0, 5.35), (5.1, 5.3)], 1),
        # As far as 1.25 in ratio: 6.25 over 5.0, if it is not more than three times the widest band.
        ([(5.0, 5.45), (5.9, 6.25)], 1),
        ([(5.0, 5.45), (5.9, 6.26)], 2),
        ([(5.0, 5.2), (5.45, 5.6)], 1),
        ([(5.0, 5.2), (5.45, 5.61)], 2),
        ([(8.0, 8.1), (5.0, 5.1), (3.0, 3.1)], 3),
    ],
)
def test_how_many_ranges_a_vfo_has(vfo, count):
    assert len(ranges([(1e6 * low, 1e6 * high) for low, high in vfo])) == count
    made = charged(*(option(each) for each in vfo))
    if len(vfo) == 1:
        assert "vfo_ranges" not in made
    elif count == 1:
        assert made["vfo_ranges"] == (0.0, "one VFO range serves all bands", False)
    else:
        words = f"{count} separate VFO ranges, a trimmer and a switch each"
        assert made["vfo_ranges"] == (4.0 * (count - 1), words, False)


@pytest.mark.parametrize(
    ("high", "found"),
    [
        # Up to 1.5 with ease, evenly to 12 points at 2, then 4 points for each whole of the ratio.
        (6.0, None),
        (7.0, (12 * 0.25 / 0.5, "highest over lowest VFO 1.75", False)),
        (8.0, (12.0, "highest over lowest VFO 2.00", False)),
        (10.0, (12 + 4 * 0.5, "highest over lowest VFO 2.50: switch the coil too", False)),
    ],
)
def test_a_large_ratio_of_the_vfo(high, found):
    assert charged(option((4.0, 4.2)), option((high - 0.2, high))).get("coil") == found


@pytest.mark.parametrize(
    ("away", "found"),
    [
        (4.0, None),
        (3.0, (2.5, "image only 3.0 MHz away", False)),
        (0.5, (8.75, "image only 0.5 MHz away", False)),
    ],
)
def test_a_near_image(away, found):
    assert charged(option(image_mhz=away)).get("image") == found
    # The nearest of all bands counts.
    assert charged(option(image_mhz=9.0), option(image_mhz=away)).get("image") == found


def test_carriers_on_both_edges():
    words = "the carrier is needed on both edges of the ladder"
    assert charged(option(lower=True), option(lower=False))["carriers"] == (3.0, words, False)
    assert "carriers" not in charged(option(lower=True), option(lower=True))


@pytest.mark.parametrize(
    ("levels", "points", "words", "spoils"),
    [
        # A quarter of a point for each decibel above −70 dBc; over −43 dBc 25 points and one for each more.
        ((), 0.0, "no product to speak of leaves", False),
        ((-80.0,), 0.0, "3 VFO meets 20 m at 14.200 MHz, −80 dBc", False),
        ((-60.0,), 2.5, "3 VFO meets 20 m at 14.200 MHz, −60 dBc", False),
        ((-60.0, -50.0), 2.5 + 5.0, "3 VFO meets 20 m at 14.200 MHz, −50 dBc", False),
        ((-43.0,), 6.75, "3 VFO meets 20 m at 14.200 MHz, −43 dBc", False),
        ((-40.0,), 7.5 + 25 + 3, "3 VFO meets 20 m at 14.200 MHz, −40 dBc", True),
        ((-40.0, -42.0), 35.5 + 7 + 25 + 1, "3 VFO meets 20 m at 14.200 MHz, −40 dBc", True),
    ],
)
def test_products_that_leave(levels, points, words, spoils):
    made = charged(option(sent=tuple(product(level) for level in levels)))
    assert made["products"] == (pytest.approx(points), words, spoils)


@pytest.mark.parametrize(
    ("levels", "found"),
    [
        # 60 dB of rejection is good; below 40 dB the receiver is spoilt.
        ((-60.0,), None),
        ((-50.0,), (2.5, "receives 3 VFO nearest 20 m at 14.200 MHz, −50 dB", False)),
        ((-65.0, -50.0, -59.0), (2.75, "receives 3 VFO nearest 20 m at 14.200 MHz, −50 dB", False)),
        ((-30.0,), (7.5 + 25 + 10, "receives 3 VFO nearest 20 m at 14.200 MHz, −30 dB", True)),
    ],
)
def test_responses_of_the_receiver(levels, found):
    heard = tuple(product(level, crosses=False) for level in levels)
    assert charged(option(heard=heard)).get("responses") == found


def test_what_makes_a_ladder_impossible():
    def said(widest):
        return ladder_impossible(Candidate(9e6, (option(),), widest, 2400.0, False))

    assert said(2401.0) is None
    assert said(2400.0) == "these crystals allow a ladder 2.4 kHz wide at most, 2.4 kHz is wanted"


@pytest.mark.parametrize(
    ("points", "text"), [(4.0, "+4.0"), (-5.0, "−5.0"), (0.05, "+0.1"), (0.04, "0"), (-0.04, "0")]
)
def test_points_in_words(points, text):
    assert points_text(points) == text


def test_the_costliest_are_those_that_spoil_or_at_least_half_the_worst():
    def of(points, spoils=False):
        return Charge("key", "title", points, "words", spoils)

    a, b, c, spoiling = of(10.0), of(5.0), of(4.9), of(3.0, True)
    assert _costliest([c, b, a]) == [a, b]
    assert _costliest([c, b, a, spoiling]) == [spoiling]


# -- what the terms look at --------------------------------------------------------------------------------

CRYSTALS = (8.0e6, 9.0e6, 13.0e6, 14.2e6, 19.6608e6)


def test_which_schemes_a_crystal_can_serve():
    def schemes(low, high, least=1.5e6, most=None):
        made = options("b", low, high, "upper", CRYSTALS, 5, least, most)
        return [[o.scheme for o in each] for each in made]

    every = ["vfo_minus_if"]
    # 13 MHz is less than 8 % of 14.35 MHz away from 14 MHz, 14.2 MHz lies inside.
    assert schemes(14.0e6, 14.35e6) == [
        ["sum", *every],
        ["sum", *every],
        [],
        [],
        ["if_minus_vfo", *every],
    ]
    assert schemes(14.0e6, 14.35e6, 5.1e6) == [["sum", *every], every, [], [], ["if_minus_vfo", *every]]
    # At its other end the VFO of 9 MHz and the dial runs to 23.35 MHz, of 8 MHz to 22.35 MHz.
    assert schemes(14.0e6, 14.35e6, 1.5e6, 22.4e6) == [["sum", *every], ["sum"], [], [], ["if_minus_vfo"]]
    # Less 8 % of 17.5 MHz it would be 16.1 MHz.
    near = options("b", 17.4e6, 17.5e6, "upper", (15.98e6, 16.02e6), 5, 1e5, None)
    assert [len(each) for each in near] == [2, 0]


@pytest.mark.parametrize(("sideband", "lower"), [("upper", (False, True)), ("lower", (True, False))])
def test_an_option_tells_where_vfo_image_and_sideband_lie(sideband, lower):
    ((one, over),) = options("20m", 14.0e6, 14.35e6, sideband, (9.0e6,), 9, 1.5e6, None)
    assert (one.scheme, over.scheme) == ("sum", "vfo_minus_if")
    assert one.vfo_hz == pytest.approx((5.0e6, 5.35e6))
    assert over.vfo_hz == pytest.approx((23.0e6, 23.35e6))
    # Of the sum the image is IF − VFO, 4.0 to 3.65 MHz; of the difference VFO + IF, 32 MHz and more.
    assert one.image_distance_hz == pytest.approx(10.0e6)
    assert over.image_distance_hz == pytest.approx(18.0e6)
    assert (one.lower_at_if, over.lower_at_if) == lower
    for o in (one, over):
        for few in (o.sent, o.heard):
            levels = [p.level_dbc for p in few]
            assert levels == sorted(levels, reverse=True)
            assert len(few) <= 3
        assert [p.order for p in o.crossings] == sorted(p.order for p in o.crossings)


def test_three_of_each_kind_are_kept():
    every = tuple(np.arange(4.0e6, 13.0e6, 0.1e6))
    made = options("20m", 14.0e6, 14.35e6, "upper", every, 9, 1.5e6, None)
    for kind in ("sent", "heard"):
        assert max(len(getattr(o, kind)) for each in made for o in each) == 3


@pytest.mark.parametrize("if_hz", [8.0e6, 8.867e6, 9.0e6, 10.24e6])
def test_crossings_are_those_of_plain_counting(if_hz):
    ((one, _),) = options("20m", 14.0e6, 14.35e6, "upper", (if_hz,), 9, 1.5e6, None)
    plan = band_plan(Band(name="20m", low_hz=14.0e6, high_hz=14.35e6, scheme="sum"), if_hz)
    found = set()
    for m in range(-9, 10):
        for n in range(-9, 10):
            if not 1 <= abs(m) + abs(n) <= 9 or (m, n) == (1, 1):
                continue
            ends = [m * plan.vfo_at(dial) + n * if_hz for dial in (14.0e6, 14.35e6)]
            away = [end - dial for end, dial in zip(ends, (14.0e6, 14.35e6), strict=True)]
            if sum(ends) > 0 and (away[0] * away[1] < 0 or min(map(abs, away)) <= 3000):
                found.add((name_of(m, n, "IF"), abs(m) + abs(n)))
    assert {(p.products, p.order) for p in one.crossings} == found
    for p in one.crossings:
        assert 14.0e6 <= p.dial_hz <= 14.35e6


def test_the_strongest_response_is_the_image_behind_the_ordinary_filters():
    ((one, _),) = options("20m", 14.0e6, 14.35e6, "upper", (9.0e6,), 9, 1.5e6, None)
    names = [p.products for p in one.heard]
    loss = front_loss(Band(name="20m", low_hz=14.0e6, high_hz=14.35e6, sideband="upper"), "receive")
    mixer = figures(ordinary_mixer())
    # n input = IF − m VFO, held down by the mixer and by the filters at the dial where that is least.
    dials = np.linspace(14.0e6, 14.35e6, 141)
    levels = {}
    for m, n in ((-1, 1), (0, 1), (2, -1), (3, -1), (-2, 1), (-3, 1), (-1, 2), (5, -1), (4, -1)):
        inputs = (9.0e6 - m * (dials - 9.0e6)) / n
        if inputs.min() > 1e3 and np.abs(inputs - dials).min() > 1.0:
            held = mixer.suppression_db(np.array(abs(m)), np.array(abs(n)))
            levels[response_name(m, n)] = -float(held) - float((loss(inputs) - loss(dials)).min())
    best = max(levels, key=lambda name: levels[name])
    assert names[0] == best
    assert one.heard[0].level_dbc == pytest.approx(levels[best], abs=0.3)


# -- rows and verdict --------------------------------------------------------------------------------------


def test_a_row_tells_what_its_options_share():
    twenty = Band(name="20m", low_hz=14.0e6, high_hz=14.35e6, sideband="upper")
    eighty = Band(name="80m", low_hz=3.6e6, high_hz=3.8e6, sideband="lower")
    rows = survey((twenty, eighty), (9.0e6,), junk_box=(8.867e6,))
    by = {(row.if_hz, row.schemes): row for row in rows}
    row = by[9.0e6, ("sum", "if_minus_vfo")]
    assert row.crystal == "9 MHz"
    # 20 m: 5.0 to 5.35; 80 m: 5.4 down to 5.2: they share 5.2 to 5.35 MHz.
    assert (row.vfo_low_hz, row.vfo_high_hz) == pytest.approx((5.0e6, 5.4e6))
    assert row.vfo_ratio == pytest.approx(1.08)
    assert row.common_hz == pytest.approx(150e3)
    # 80 m's image is 9 MHz + VFO: 14.2 less 3.8 MHz; 20 m's 3.65 to 4 MHz.
    assert row.image_distance_hz == pytest.approx(10.0e6)
    assert not row.sidebands_agree
    assert not row.in_junk_box
    apart = by[9.0e6, ("sum", "vfo_minus_if")]
    assert apart.common_hz == 0.0
    assert apart.sidebands_agree
    assert by[8.867e6, ("sum", "if_minus_vfo")].in_junk_box
    for each in rows:
        assert each.crossings == tuple(sorted(each.crossings, key=lambda c: (c.order, c.band)))
        lowest = each.crossings[0].order if each.crossings else None
        assert each.lowest_crossing_order == lowest
    assert [r.cost for r in rows] == sorted(r.cost for r in rows)
    assert survey((), (9e6,)) == survey((twenty,), ()) == ()
    assert verdict(()) == (
        "Nothing here to recommend: no crystal gives these bands a VFO; mix the VFO up from a lower one "
        "with a crystal oscillator."
    )


@pytest.mark.parametrize(
    ("cost", "impossible", "spoils", "worth"),
    [
        (50.0, None, False, True),
        (50.1, None, False, False),
        (9.0, "no", False, False),
        (9.0, None, True, False),
    ],
)
def test_when_a_row_is_worth_building(cost, impossible, spoils, worth):
    row = survey((Band(name="20m", low_hz=14.0e6, high_hz=14.35e6, sideband="upper"),), (9.0e6,))[0]
    values = {name: getattr(row, name) for name in row.__slots__}
    told = (Charge("key", "title", 1.0, "words", spoils),)
    made = type(row)(**values | {"cost": cost, "impossible": impossible, "charges": told})
    assert made.worth_building is worth
    assert made.reasons == ("words (+1.0)",)


# -- ordinary parts ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("mhz", "lm", "c0"),
    [
        # 14 mH at 10 MHz; at 5 MHz 2^2.4 = 5.278 times as much; Cm = 1 / (w² Lm), 230 of it or 3.5 pF.
        (10.0, 14.0e-3, 4.2e-12),
        (5.0, 73.9e-3, 3.5e-12),
        (20.0, 2.65e-3, 5.5e-12),
        (0.03, 1e4, 3.5e-12),
    ],
)
def test_an_ordinary_crystal(mhz, lm, c0):
    made = typical_crystal(1e6 * mhz)
    assert made.motional_inductance_h == pytest.approx(lm)
    assert made.holder_capacitance_f == pytest.approx(c0)


@pytest.mark.parametrize(
    ("low", "high", "width"),
    [
        # Half as wide again as the band, 4.5 % of its middle at least, in tens of kilohertz.
        (14.0e6, 14.35e6, 640e3),
        (3.5e6, 3.8e6, 450e3),
        (18.068e6, 18.168e6, 820e3),
        (20e3, 21e3, 1e3),
    ],
)
def test_an_ordinary_band_pass(low, high, width):
    made = ordinary_band_pass(Band(name="b", low_hz=low, high_hz=high))
    assert (made.bands, made.resonators, made.bandwidth_hz) == (("b",), 3, width)


def test_the_widest_ladder_is_that_of_ordinary_crystals():
    twenty = Band(name="20m", low_hz=14.0e6, high_hz=14.35e6, sideband="upper")
    (row, _) = survey((twenty,), (3.2768e6,), min_vfo_hz=1e5)
    widest = greatest_width_hz(ordinary_ladder(3.2768e6), 3.2768e6)
    assert row.impossible is not None
    assert f"allow a ladder {widest / 1e3:.3g} kHz wide at most, 2.4 kHz is wanted" in row.impossible
