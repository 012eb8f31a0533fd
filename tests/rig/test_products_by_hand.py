"""Products and harmonics listed in plain loops, and how they are put into words."""

from types import SimpleNamespace

import numpy as np
import pytest

from core.model.bands import Band
from core.model.stages.amplifiers import PowerAmplifier
from core.rig.analysis import Analysis
from core.rig.levels.harmonics import harmonics
from core.rig.plan.frequency_plan import band_plan
from core.rig.spurs.spurs import Spur, combination, meeting, ranked, transmit_products
from core.stages.kinds.table import kind_of
from core.stages.mixers.figures import figures as mixer_figures


@pytest.mark.parametrize(
    ("terms", "text"),
    [
        (((4, "VFO"), (-2, "IF")), "4 VFO − 2 IF"),
        (((-4, "VFO"), (2, "IF")), "2 IF − 4 VFO"),
        (((1, "VFO"), (1, "IF")), "VFO + IF"),
        (((-1, "VFO"), (-3, "IF")), "−VFO − 3 IF"),
        (((0, "VFO"), (2, "IF")), "2 IF"),
        (((1, "a"), (-1, "b"), (2, "c")), "a + 2 c − b"),
    ],
)
def test_products_in_words(terms, text):
    assert combination(terms) == text


def test_where_lines_meet_the_dial():
    ends = np.array([14.0e6, 14.4e6])
    offsets = np.array(
        [[-1e5, 3e5], [1e5, 3e5], [-3e5, -1e5], [2e3, 2e3], [4e3, 4e3], [3001.0, 5e5], [2999.0, 5e5]]
    )
    where, near = meeting(offsets, ends)
    assert where == pytest.approx([14.1e6, 14.0e6, 14.4e6, 14.2e6, 14.2e6, 14.0e6, 14.0e6])
    assert near.tolist() == [True, False, False, True, False, False, True]
    assert meeting(offsets, ends, 5e3)[1].tolist()[4] is True


@pytest.mark.parametrize(
    ("scheme", "carrier"), [("sum", 9.0e6), ("if_minus_vfo", 19.66e6), ("vfo_minus_if", 4.0e6)]
)
def test_transmit_products_move_and_are_listed_near_the_signal_or_when_loud(tern, scheme, carrier):
    plan = band_plan(Band(name="20m", low_hz=14.0e6, high_hz=14.35e6, scheme=scheme), carrier)
    mixer = mixer_figures(tern.stage("mixer"))
    worked = Analysis(tern).worked("20m", mixer)
    found = transmit_products(plan, mixer, worked, lambda f: np.full_like(f, 5.0))
    dials = (14.0e6, 14.35e6)
    listed_ = set()
    for spur in found:
        at = [spur.m * plan.vfo_at(dial) + spur.n * carrier for dial in dials]
        assert min(at) > -1.0 or max(at) > 0
        assert [spur.offset_low_hz, spur.offset_high_hz] == pytest.approx(
            [p - d for p, d in zip(at, dials, strict=True)], abs=1e-3
        )
        # The signal's own tone falls as the dial rises; a product that stays beside it stands still.
        assert spur.moves == pytest.approx(1 - (at[1] - at[0]) / (dials[1] - dials[0]), abs=1e-9)
        listed_.add((spur.m, spur.n))
        assert spur.order == abs(spur.m) + abs(spur.n)
        near = min(abs(spur.offset_low_hz), abs(spur.offset_high_hz)) < 1.5e6
        assert near or spur.crosses or spur.level_dbc > -60.0
    for m in range(-9, 10):
        for n in range(-9, 10):
            at = [m * plan.vfo_at(dial) + n * carrier for dial in dials]
            if not 1 <= abs(m) + abs(n) <= 9 or sum(at) <= 0:
                continue
            away = [p - d for p, d in zip(at, dials, strict=True)]
            if max(map(abs, away)) < 1:
                continue
            if min(map(abs, away)) < 1.49e6 or away[0] * away[1] < 0:
                assert (m, n) in listed_, (m, n)


def test_what_lies_far_away_is_listed_when_it_is_loud(tern):
    plan = band_plan(Band(name="20m", low_hz=14.0e6, high_hz=14.35e6, scheme="sum"), 9.0e6)
    mixer = mixer_figures(tern.stage("mixer"))
    worked = Analysis(tern).worked("20m", mixer)

    def far(loss_db):
        """Levels of what lies 1.5 MHz and more away, behind filters that hold it so much down."""
        found = transmit_products(
            plan, mixer, worked, lambda f: np.where((f > 13e6) & (f < 15e6), 0.0, loss_db)
        )
        return [s.level_dbc for s in found if min(abs(s.offset_low_hz), abs(s.offset_high_hz)) >= 1.5e6]

    for loss_db in (0.0, 30.0):
        assert min(far(loss_db)) > -60.0
    assert min(far(0.0)) < -30.0
    assert len(far(30.0)) < len(far(0.0))
    assert not far(90.0)


def test_spurs_that_cross_come_first_then_the_strongest():
    def spur(name, level, crosses):
        values = dict.fromkeys(Spur.__dataclass_fields__)
        return Spur(**values | {"products": name, "level_dbc": level, "crosses": crosses})

    made = [spur("a", -10.0, False), spur("b", -60.0, True), spur("c", -50.0, True), spur("d", -5.0, False)]
    assert [s.products for s in ranked(made)] == ["c", "b", "d", "a"]


@pytest.mark.parametrize(
    ("moves", "says"),
    [
        (0.0, "its tone stays where it is"),
        (0.004, "its tone stays where it is"),
        (1.0, "its tone moves as fast as a signal's"),
        (-1.0, "its tone moves as fast as a signal's, the other way"),
        (0.5, "its tone moves 0.5 times as fast as a signal's"),
        (-4.0, "its tone moves 4 times as fast as a signal's, the other way"),
    ],
)
def test_how_a_tone_moves_in_words(moves, says):
    values = dict.fromkeys(Spur.__dataclass_fields__)
    assert Spur(**values | {"moves": moves}).tone == says


@pytest.mark.parametrize(
    ("kind", "level", "says"),
    [
        ("receive", -60.4, "−60 dBc"),
        ("transmit", -100.0, "−100 dBc"),
        ("transmit", -100.1, "more than 100 dB down; wiring decides"),
        ("birdie", -100.1, "−100 dB on S9"),
        ("birdie", 5.6, "+6 dB on S9"),
    ],
)
def test_a_level_in_words(kind, level, says):
    values = dict.fromkeys(Spur.__dataclass_fields__)
    assert Spur(**values | {"kind": kind, "level_dbc": level}).level == says


def test_harmonics_behind_a_low_pass_that_loses_some_of_the_signal_too():
    stated = PowerAmplifier(id="pa", name="PA", second_harmonic_dbc=-21.0, fourth_harmonic_dbc=-33.0)
    amplifier = kind_of(stated).power(stated, None)
    band = Band(name="20m", low_hz=14.0e6, high_hz=14.35e6)
    # Fundamental and harmonics 2 to 9, of the lower and of the upper end.
    above = [60.0, 70.0, 80.0, 90.0]
    loss = np.array([0.5, 20.0, 30.0, 40.0, 50.0, *above, 0.7, 22.0, 29.0, 43.0, 2000.0, *above])
    rows = harmonics(amplifier, band, SimpleNamespace(loss_db=loss), 43.0)
    before = [
        stated.second_harmonic_dbc,
        stated.third_harmonic_dbc,
        stated.fourth_harmonic_dbc,
        stated.fifth_harmonic_dbc,
    ]
    before += [before[2] - 6, before[3] - 6, before[2] - 12, before[3] - 12]
    kept_out = [19.5, 28.3, 39.5, 49.5, 59.3, 69.3, 79.3, 89.3]
    # The end that holds it less: 20 - 0.5, 29 - 0.7, 40 - 0.5, 50 - 0.5 dB.
    assert [row.filter_db for row in rows] == pytest.approx(kept_out)
    assert [row.result_dbc for row in rows] == pytest.approx(
        [b - f for b, f in zip(before, kept_out, strict=True)]
    )
    assert [row.frequency_hz for row in rows][:4] == pytest.approx([28.0e6, 43.05e6, 56.0e6, 70.0e6])
    assert [row.number for row in rows] == [2, 3, 4, 5, 6, 7, 8, 9]
    assert all(row.limit_dbc == -43.0 for row in rows)
    assert rows[0].margin_db == pytest.approx(-43.0 - rows[0].result_dbc)
    assert [row.filter_db for row in harmonics(amplifier, band, None, 43.0)] == [0.0] * 8
    # Beyond all measure at both ends it is a number still.
    dark = harmonics(amplifier, band, SimpleNamespace(loss_db=np.full(18, np.inf)), 43.0)
    assert [row.filter_db for row in dark] == [0.0] * 8
