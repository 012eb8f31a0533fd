"""Rules on ladders held against made-up figures on either side of every limit."""

from dataclasses import replace
from types import SimpleNamespace

import pytest

from core.model.stages.filters import Crystal, LadderFilter
from core.rig.rows import FilterRow
from core.rig.rules import ladders
from core.stages.filters import ladder_cures, ladder_filter
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.ordinary import ordinary_ladder
from core.stages.outcome import Unsolved
from core.stages.steps import finished
from tests.made_filters import FIGURES, made, of, part


def laddered(ladder, figures=FIGURES, design=None, if_hz=9e6):
    """An analysis with one ladder."""
    row = FilterRow(
        stage="ladder",
        name="Ladder",
        kind="ladder",
        index=None,
        bands=("20m",),
        design=design or made(),
        figures=figures,
    )
    rig = SimpleNamespace(stage=lambda key: ladder, if_hz=if_hz)
    return SimpleNamespace(project=rig, filters=(row,), asked=lambda one: AskedLadder(one, if_hz))


LADDER = LadderFilter(id="ladder", name="Ladder", crystal=Crystal(), bandwidth_hz=2400.0)


@pytest.mark.parametrize(
    ("ends", "match", "told"),
    [
        (75.0, "none", None),
        (75.5, "none", "Ladder wants 76 Ω at its ends and stands between 50 Ω"),
        (33.4, "none", None),
        (33.0, "none", "Ladder wants 33 Ω at its ends and stands between 50 Ω"),
        (500.0, "transformer", None),
        (500.0, "l_network", None),
    ],
)
def test_ends_that_want_a_match(ends, match, told):
    ladder = LADDER.edited(("end_match",), match)
    found = of(ladders.ladder_ends(laddered(ladder, design=made(ends=ends))))
    assert [f.text for f in found] == (
        [f"{told}: 0.20 dB of ripple, 20.0 dB of return loss."] if told else []
    )
    for f in found:
        assert (f.figure, f.limit, f.at_least) == (ends, 50.0, ends < 50.0)
        assert f.over_db > 0


@pytest.mark.parametrize(
    ("fitted", "told"),
    [
        ((None, None), None),
        # Middle of those fitted; 2400 Hz is the ladder's width.
        ((9.0024e6, None), None),
        ((9.0026e6, None), ("above", 2600.0, "9.003 MHz")),
        ((8.9975e6, 8.9976e6, 8.9977e6), None),
        ((8.9905e6, 8.9946e6, 8.9965e6), ("below", 5400.0, "8.995 MHz")),
    ],
)
def test_crystals_of_another_if(fitted, told):
    parts = [
        part("crystal", 9e6, ref=f"X{n}", role="crystal", as_built=hz, unit="Hz")
        for n, hz in enumerate(fitted, start=1)
    ]
    parts.append(part("capacitor", 1e-10, as_built=1e-10))
    found = of(ladders.crystals_off_if(laddered(LADDER, design=made(*parts))))
    assert [(f.figure, f.limit) for f in found] == ([(told[1], 2400.0)] if told else [])
    for f in found:
        assert f"are {told[1] / 1e3:.3g} kHz {told[0]} the IF, more than the 2.4 kHz" in f.text
        assert f.remedy.startswith(f"Set the IF to {told[2]}, ")
    # Crystals that resonate 4 kHz above the IF are at home there.
    aside = LADDER.edited(("crystal", "offset_hz"), 4000.0)
    at_home = [part("crystal", 9e6, ref="X1", role="crystal", as_built=9.004e6, unit="Hz")]
    assert not of(ladders.crystals_off_if(laddered(aside, design=made(*at_home))))
    (off,) = of(
        ladders.crystals_off_if(
            laddered(aside, design=made(part("crystal", 9e6, role="crystal", as_built=9.0e6)))
        )
    )
    assert off.figure == pytest.approx(4000.0)
    assert off.remedy.startswith("Set the IF to 8.996 MHz, ")
    assert not of(ladders.crystals_off_if(laddered(LADDER.edited(("crystal",), None), design=made(*parts))))


def ideal():
    return ladder_filter.ideal(AskedLadder(LADDER, 9e6))


@pytest.mark.parametrize(
    ("share3", "share6", "told"),
    [
        (1.0, 1.0, None),
        (0.81, 0.81, None),
        (0.79, 1.0, "narrow"),
        (1.19, 1.19, None),
        (1.21, 1.21, "wide"),
        (0.9, 1.21, "narrow"),
    ],
)
def test_a_width_that_is_missed(share3, share6, told):
    wanted3, wanted6 = ideal().bandwidth_hz(3.0), ideal().bandwidth_hz(6.0)
    figures = replace(FIGURES, bandwidth_3db_hz=share3 * wanted3, bandwidth_6db_hz=share6 * wanted6)
    found = of(ladders.ladder_width(laddered(LADDER, figures)))
    assert len(found) == bool(told)
    for f in found:
        assert (f.figure, f.limit, f.at_least) == (share3 * wanted3, wanted3, told == "narrow")
        assert f"and {share6 * wanted6:.0f} Hz at −6 dB" in f.text
        assert f"it would be {wanted3:.0f} and {wanted6:.0f} Hz: too {told}." in f.text


@pytest.mark.parametrize(
    ("excess", "severity"), [(0.49, None), (0.51, "note"), (2.0, "note"), (2.01, "caution")]
)
def test_ripple_beyond_what_was_asked(excess, severity):
    asked = ideal().ripple_db
    wide = {"bandwidth_3db_hz": ideal().bandwidth_hz(3.0), "bandwidth_6db_hz": ideal().bandwidth_hz(6.0)}
    figures = replace(FIGURES, ripple_db=asked + excess, **wide)
    found = of(ladders.ladder_ripple(laddered(LADDER, figures)))
    assert [(f.rule, f.severity) for f in found] == ([("ladder_ripple", severity)] if severity else [])
    for f in found:
        assert (f.figure, f.limit) == (asked + excess, asked)
    # An unmatched one is told of its ends instead.
    unmatched = LADDER.edited(("end_match",), "none")
    assert not of(ladders.ladder_ripple(laddered(unmatched, figures, made(ends=300.0))))
    dull = replace(figures, ripple_db=asked, return_loss_db=9.9)
    (reflecting,) = of(ladders.ladder_ripple(laddered(LADDER, dull)))
    assert (reflecting.rule, reflecting.figure) == ("ladder_return_loss", 9.9)
    assert (reflecting.limit, reflecting.at_least) == (ideal().return_loss_db, True)


@pytest.mark.parametrize(("loss", "told"), [(8.0, False), (8.1, True)])
def test_a_ladder_that_loses_much(loss, told):
    found = of(ladders.ladder_loss(laddered(LADDER, replace(FIGURES, insertion_loss_db=loss))))
    assert [f.text for f in found] == (["Ladder loses 8.1 dB where it passes best."] if told else [])
    assert ladder_cures.MUCH_LOSS_DB == 8.0


@pytest.mark.parametrize(
    ("ends", "least", "told"),
    [
        (1500.0, 1.5e-12, None),
        (1501.0, 1e-10, "ends of 1501 Ω and capacitors from 100 pF"),
        (200.0, 1.4e-12, "ends of 200 Ω and capacitors from 1.4 pF"),
        (2000.0, 1.2e-12, "ends of 2000 Ω and capacitors from 1.2 pF"),
    ],
)
def test_ends_and_capacitors_that_wiring_decides(ends, least, told):
    design = made(part("capacitor", 2e-10), part("capacitor", least), ends=ends)
    found = of(ladders.ladder_strays(laddered(LADDER, design=design)))
    assert [f.text for f in found] == (
        [f"Ladder has {told}: the strays of the wiring decide there."] if told else []
    )
    for f in found:
        high = ends > 1500
        assert (f.figure, f.limit) == ((ends, 1500.0) if high else (least, 1.5e-12))
        assert f.at_least is not high
        assert f.over_db > 0
    assert not of(ladders.ladder_strays(laddered(LADDER, design=made(part("crystal", 9e6), ends=9e3))))


@pytest.mark.parametrize(
    ("if_hz", "lm"),
    [(4.9152e6, None), (3.2768e6, None), (200e6, 0.35e-3)],
    ids=["ends", "ends of low crystals", "capacitors"],
)
def test_the_widest_ladder_free_of_strays_is_found(if_hz, lm):
    ladder = ordinary_ladder(if_hz)
    if lm is not None:
        ladder = ladder.edited(("crystal", "motional_inductance_h"), lm)
    found = finished(ladders._narrower(AskedLadder(ladder, if_hz)))

    def free(width):
        design = ladder_filter.design(AskedLadder(ladder.edited(("bandwidth_hz",), width), if_hz))
        if isinstance(design, Unsolved):
            return False
        least = min(p.fitted for p in design.parts if p.kind == "capacitor")
        return design.end_resistance_ohm <= 1500.0 and least >= 1.5e-12

    # From the widest down, so that the first that is free of them is the answer.
    widths = [100.0 * n for n in range(23, 2, -1)]
    assert found == next((w for w in widths if free(w)), None)
    assert found is None or found < ladder.bandwidth_hz


def test_the_least_capacitor_decides_how_narrow(monkeypatch):
    def design(asked):
        # 1.5 pF at 2020 Hz.
        return made(
            part("capacitor", 3.03e-9 / asked.ladder.bandwidth_hz), part("capacitor", 1e-9), ends=100.0
        )

    monkeypatch.setattr(ladders.ladder_filter, "design", design)
    assert finished(ladders._narrower(AskedLadder(LADDER.edited(("bandwidth_hz",), 2400.0), 9e6))) == 2000.0


def test_what_a_cure_comes_to_in_words():
    cure = SimpleNamespace(figures=FIGURES)
    assert ladders._after(cure, "width") == "2400 Hz at −3 dB, 2.0 dB of loss"
    assert ladders._after(cure, "ripple") == "0.20 dB, 2.0 dB of loss"
    assert ladders._after(cure, "return_loss") == "20.0 dB"
