"""Rules on filters and oscillators held against made-up figures on either side of every limit."""

from dataclasses import replace
from types import SimpleNamespace

import pytest

from core.circuits.ladder import Network
from core.model.stages.filters import BandPassFilter, Crystal, LadderFilter, LowPassFilter
from core.rig.analysis import Analysis
from core.rig.rows import FilterRow
from core.rig.rules import filters, ladders, oscillators
from core.stages.band_pass import band_pass
from core.stages.filters import ladder_cures, ladder_filter, low_pass
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.on_hand import Shelf
from core.stages.ordinary import ordinary_ladder
from core.stages.outcome import FilterDesign, FilterFigures, PartRow, Unsolved
from core.stages.steps import finished
from tests.made_up import project


def of(yielded):
    """What a rule found; between steps of a search for a remedy it yields nothing."""
    return [each for each in yielded if each is not None]


DIALS = ((14.0e6, 14.4e6),)
FIGURES = FilterFigures(
    centre_hz=9e6,
    bandwidth_3db_hz=2400.0,
    bandwidth_6db_hz=2600.0,
    bandwidth_60db_hz=5000.0,
    ripple_db=0.2,
    insertion_loss_db=2.0,
    return_loss_db=20.0,
    served_loss_db=2.0,
    served_return_loss_db=20.0,
)


def part(kind, fitted, **others):
    given = {"ref": "C1", "designed": fitted, "preferred": fitted, "as_built": None, "unit": "F"}
    return PartRow(kind=kind, **given | others)


def made(*parts, ends=50.0):
    return FilterDesign(
        network=Network((), 50.0, 50.0),
        parts=parts or (part("capacitor", 1e-11),),
        end_resistance_ohm=ends,
        span_hz=(1e6, 2e6),
    )


def filtered(tern, one, figures=FIGURES, design=None, *, stage="band_pass", name="Band-pass", bands=None):
    """An analysis with one filter of a stage, as the rules ask it."""
    changed = tern.edited(("stages", stage, "filters"), (one,))
    row = FilterRow(
        stage=stage,
        name=name,
        kind=stage,
        index=0,
        bands=one.bands if bands is None else bands,
        design=design or made(),
        figures=figures,
    )
    return SimpleNamespace(
        project=project(tern, stage=changed.stage, at=changed.at, stages=changed.stages),
        filters=(row,),
        circuits=(row,),
        oscillators=(),
        tank=None,
        frequency_plan=(),
        dials=lambda names: DIALS,
        surroundings=SimpleNamespace(shelf=Shelf()),
    )


PASS = BandPassFilter(bands=("20m",), resonators=3, bandwidth_hz=640e3)
LOW = LowPassFilter(bands=("20m",))


def test_only_filters_that_are_made_and_measured_are_judged(tern):
    places = {("a",): PASS, ("b",): LOW, ("c",): PASS, ("d",): PASS, ("e",): PASS}

    def row(path, index=0, figures="figures", design="design"):
        return SimpleNamespace(path=path, index=index, figures=figures, design=design)

    no = Unsolved("It cannot be.")
    rows = (row(("a",)), row(("b",)), row(("c",), None), row(("d",), 0, no), row(("e",), 0, "figures", no))
    asked = SimpleNamespace(filters=rows, project=SimpleNamespace(at=places.get))
    assert list(filters._served(asked, BandPassFilter)) == [(rows[0], PASS)]
    assert list(filters._served(asked, LowPassFilter)) == [(rows[1], LOW)]


@pytest.mark.parametrize(("loss", "told"), [(6.0, False), (6.04, True), (None, False)])
def test_a_band_pass_that_loses_much(tern, loss, told):
    found = of(filters.band_pass_loss(filtered(tern, PASS, replace(FIGURES, served_loss_db=loss))))
    assert [f.figure for f in found] == ([loss] if told else [])
    for f in found:
        assert f.text == "Band-pass loses up to 6.04 dB on 20m, where more than 6 dB is much."
        assert f.path == ("stages", "band_pass", "filters", 0, "bandwidth_hz")
        assert (f.severity, f.band) == ("caution", "20m")


@pytest.mark.parametrize(
    ("one", "stage", "loss", "told"),
    [
        # 14 dB are an SWR of 1.5, 10 dB one of 1.92; 6 dB: (1 + 0.5012) / (1 − 0.5012) = 3.01.
        (LOW, "low_pass", 14.0, None),
        (LOW, "low_pass", 6.0, "6.0 dB on 20m (SWR 3.0); 14 dB is wanted before a power amplifier."),
        (LOW, "low_pass", 13.9, "13.9 dB on 20m (SWR 1.5); 14 dB is wanted before a power amplifier."),
        # 0.18 dB are 97.95 % of the voltage, 0.17 dB 98.06 %.
        (LOW, "low_pass", 0.18, "0.2 dB on 20m (SWR 96.5); 14 dB is wanted before a power amplifier."),
        (LOW, "low_pass", 0.17, "0.2 dB on 20m (SWR over 99); 14 dB is wanted before a power amplifier."),
        (LOW, "low_pass", 0.0, "0.0 dB on 20m (SWR over 99); 14 dB is wanted before a power amplifier."),
        (LOW, "low_pass", None, None),
        (PASS, "band_pass", 10.0, None),
        (PASS, "band_pass", 9.9, "9.9 dB on 20m; 10 dB is wanted."),
        (PASS, "band_pass", None, None),
    ],
)
def test_a_filter_that_reflects(tern, one, stage, loss, told):
    figures = replace(FIGURES, served_return_loss_db=loss)
    found = of(filters.return_loss(filtered(tern, one, figures, stage=stage, name="It")))
    assert [f.text for f in found] == ([f"It has a return loss of {told}"] if told else [])
    for f in found:
        assert (f.figure, f.at_least, f.band) == (loss, True, "20m")
        assert f.path[-1] == ("cutoff_hz" if stage == "low_pass" else "bandwidth_hz")


@pytest.mark.parametrize(("least", "told"), [(1.5e-12, False), (1.49e-12, True)])
def test_capacitors_that_wiring_decides(tern, least, told):
    design = made(
        part("capacitor", 1e-11, ref="C1"),
        part("capacitor", least, ref="C2"),
        part("resistor", 1e-13, ref="R1"),
        part("inductor", 1e-6, ref="L1", unit="H"),
    )
    found = of(filters.strays(filtered(tern, PASS, design=design)))
    assert [(f.figure, f.limit, f.severity) for f in found] == ([(least, 1.5e-12, "note")] if told else [])
    for f in found:
        assert f.text == "C2 of Band-pass on 20m is 1.49 pF; below 1.5 pF the wiring decides what it is."
    none = filtered(tern, PASS, design=made(part("inductor", 1e-6, ref="L1")))
    assert not of(filters.strays(none))


def test_what_cannot_be_made_is_no_remedy_against_strays(tern):
    # Coils of 27 µH and more want far more than the 50 Ω around at 14 MHz.
    one = PASS.edited(("coupling",), "shunt_capacitor")
    design = made(part("capacitor", 1e-12), part("inductor", 100e-6, ref="L1", unit="H"))
    changes = [(field, value) for field, value, _ in filters._stray_changes(one, design)]
    assert len(changes) == 8
    for field, value in changes:
        assert isinstance(band_pass.design(one.edited((field,), value), DIALS), Unsolved)
    (found,) = of(filters.strays(filtered(tern, one, design=design)))
    assert found.remedy.startswith("No single change mends this")


def test_what_cannot_be_made_says_why_and_where(tern):
    broken = Unsolved("The filter cannot be.")
    analysis = filtered(tern, PASS, figures=broken)
    analysis.circuits = (
        replace(analysis.filters[0], design=broken),
        replace(analysis.filters[0], figures=FIGURES),
        replace(analysis.filters[0], stage="ladder", index=None),
        replace(analysis.filters[0], bands=()),
    )
    told = of(filters.cannot_be_made(analysis))
    assert [(f.stage, f.band, f.path) for f in told] == [
        ("band_pass", "20m", ("stages", "band_pass", "filters", 0)),
        ("ladder", "", ("stages", "ladder")),
        ("band_pass", "", ("stages", "band_pass", "filters", 0)),
    ]
    assert {f.text for f in told} == {"The filter cannot be."}
    # The tank's reason counts where some band has its VFO above zero.
    for lows, count in (((5e6,), 1), ((-1e6,), 0), ((-1e6, 5e6), 1), ((0.0,), 0), ((), 0)):
        analysis.circuits, analysis.tank = (), Unsolved("The tank cannot be.")
        analysis.frequency_plan = tuple(SimpleNamespace(vfo_low_hz=low) for low in lows)
        assert [f.text for f in filters.cannot_be_made(analysis)] == ["The tank cannot be."] * count


def test_a_value_for_a_part_that_is_not_there(tern):
    idle = PASS.edited(("as_built",), {"coupling:99": 1e-12, "coil:1": 1e-6})
    design = made(part("inductor", 1e-6, ref="L1", role="coil", which=1))
    (found,) = of(filters.as_built_unknown(filtered(tern, idle, design=design)))
    assert "coupling" in found.text.lower() or "C99" in found.text
    assert "which it does not have now" in found.text
    assert (found.band, found.path) == ("20m", ("stages", "band_pass", "filters", 0))
    assert not of(filters.as_built_unknown(filtered(tern, PASS, design=design)))


# -- what is tried against it ------------------------------------------------------------------------------


def test_changes_of_a_band_pass_that_are_tried():
    one = BandPassFilter(bands=("20m",), resonators=3, bandwidth_hz=200e3, coil_q=100.0)
    tried = of(filters._band_pass_changes(one))
    widths = [value for field, value, _ in tried if field == "bandwidth_hz"]
    qs = [value for field, value, _ in tried if field == "coil_q"]
    # Steps of 15 % up to 8.1 times as wide, and of 20 % up to a Q of 430, to two digits.
    wider = [230e3, 260e3, 300e3, 350e3, 400e3, 460e3, 530e3, 610e3, 700e3, 810e3, 930e3]
    assert widths == [*wider, 1.1e6, 1.2e6, 1.4e6, 1.6e6]
    assert qs == [120.0, 140.0, 170.0, 210.0, 250.0, 300.0, 360.0, 430.0]
    assert tried[0][2] == "make it 230 kHz wide"
    assert tried[15][2] == "wind coils with a Q of 120"
    assert tried[-1] == ("resonators", 2, "take 2 resonators")
    two = of(filters._band_pass_changes(one.edited(("resonators",), 2)))
    assert all(field != "resonators" for field, *_ in two)


def test_changes_of_a_low_pass_that_are_tried():
    def tried(one):
        return of(filters._low_pass_changes(one, DIALS))

    usual = low_pass.cutoff_of(LOW, DIALS)
    assert usual > 14.4e6
    cutoffs = [value for field, value, _ in tried(LOW) if field == "cutoff_hz"]
    assert cutoffs == [float(f"{usual * 1.03**n:.3g}") for n in range(1, 16)]
    # From the band's upper end where it was cut off below.
    low = LOW.edited(("cutoff_hz",), 9e6)
    assert [value for field, value, _ in tried(low) if field == "cutoff_hz"][:2] == [14.8e6, 15.3e6]
    assert tried(low)[0][2] == "put the cut-off at 14.8 MHz"
    assert [each for each in tried(low) if each[0] == "shape"] == []
    flat = [each for each in tried(low.edited(("shape",), "butterworth")) if each[0] == "shape"]
    assert flat == [("shape", "chebyshev", "take the Chebyshev shape")]


def test_changes_against_strays_that_are_tried():
    design = made(part("capacitor", 1e-12), part("inductor", 2e-6, ref="L1", unit="H"))
    tried = of(filters._stray_changes(PASS.edited(("coupling",), "top_capacitor"), design))
    assert tried[0] == ("coupling", "shunt_capacitor", "couple by shunt capacitors")
    # Steps of 15 % down, to two digits.
    assert [value for _, value, _ in tried[1:]] == pytest.approx(
        [1.7e-6, 1.4e-6, 1.2e-6, 1.0e-6, 0.89e-6, 0.75e-6, 0.64e-6, 0.54e-6]
    )
    assert tried[1][2] == "take coils of 1.7 µH"
    other = of(filters._stray_changes(PASS.edited(("coupling",), "shunt_capacitor"), design))
    assert [field for field, *_ in other] == ["inductance_h"] * 8


def test_of_each_field_the_first_change_that_mends_is_advised(tern):
    row = next(each for each in Analysis(tern).filters if each.stage == "band_pass")
    changes = [
        ("coil_q", 120.0, "take a"),
        ("coil_q", 150.0, "take b"),
        ("coil_q", 180.0, "take c"),
        ("coil_q", -1.0, "take what is refused"),
        ("resonators", 2, "take d"),
        ("bandwidth_hz", 9e5, "take e"),
    ]

    def said(good):
        return finished(filters._first_good(row, PASS, iter(changes), good))

    assert said(lambda one: one.coil_q > 130 and one.coil_q != PASS.coil_q) == ("Take b.", ())
    # What is wound better is advice; what is asked otherwise is an edit too.
    told, edits = said(lambda one: one.coil_q == 180 or one.bandwidth_hz == 9e5)
    assert told == "Take c, or take e."
    assert [(edit.label, edit.changes) for edit in edits] == [
        ("Take e", ((("stages", "band_pass", "filters", 0, "bandwidth_hz"), 9e5),))
    ]
    told, edits = said(lambda one: False)
    assert told.startswith("No single change mends this")
    assert edits == ()


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"bandwidth_hz": 100e3, "coil_q": 100.0}, "bandwidth_hz"),
        ({"bandwidth_hz": 640e3, "coil_q": 40.0}, "coil_q"),
    ],
)
def test_the_advice_against_loss_is_the_least_step_that_brings_it_down(tern, values, field):
    one = PASS.edited(("resonators",), 3)
    for name, value in values.items():
        one = one.edited((name,), value)
    now = band_pass.figures(one, DIALS)
    (found,) = of(filters.band_pass_loss(filtered(tern, one, now)))
    steps = [(value, words) for name, value, words in filters._band_pass_changes(one) if name == field]
    losses = [band_pass.figures(one.edited((field,), value), DIALS).served_loss_db for value, _ in steps]
    first = next(n for n, loss in enumerate(losses) if loss <= 6.0)
    assert steps[first][1] in found.remedy[0].lower() + found.remedy[1:]
    assert now.served_loss_db > 6.0


# -- ladders -----------------------------------------------------------------------------------------------


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


# -- oscillators -------------------------------------------------------------------------------------------


def test_of_each_lazy_band_the_laziest_comes_first(tern):
    analysis = Analysis(tern)
    tank = analysis.tank

    def told(*margins):
        of = dict(zip(("20m", "12m"), margins, strict=True))
        asked = SimpleNamespace(tank=tank, vfo_on=lambda band: SimpleNamespace(start=of[band]), project=tern)
        return list(oscillators.vfo_starts(asked))

    assert told((2.5, 3.0), (3.0, 2.5)) == []
    (one,) = told((2.49, 3.0), (3.0, 4.0))
    assert (one.severity, one.band, one.figure, one.limit) == ("caution", "20m", 2.49, 2.5)
    assert one.over_db > 0
    (both,) = told((3.0, 2.4), (0.99, 2.0))
    assert (both.severity, both.band, both.figure) == ("fault", "", 0.99)
    assert "gives back 0.99 times what the tank loses on 12m, 2.40 times on 20m; 2.5 times" in both.text
    (just,) = told((1.0, 3.0), (3.0, 3.0))
    assert just.severity == "caution"


def test_of_fast_bands_the_fastest_comes_first(tern):
    def told(*rates):
        of = dict(zip(("20m", "12m"), rates, strict=True))
        asked = SimpleNamespace(
            project=tern,
            vfo_on=lambda band: SimpleNamespace(dial=SimpleNamespace(worst_hz_per_turn=of[band])),
        )
        return list(oscillators.vfo_tunes_fast(asked))

    assert told(50e3, 20e3) == []
    (one,) = told(51e3, 20e3)
    assert (one.band, one.figure, one.limit) == ("20m", 51e3, 50e3)
    (both,) = told(51e3, 70e3)
    assert (both.band, both.figure) == ("", 70e3)
    assert both.text == "A turn of the knob tunes up to 70 kHz on 12m, 51 kHz on 20m; 50 kHz is easy to set."


@pytest.mark.parametrize(
    ("fitted", "share", "left", "says"),
    [
        (False, None, -12.4, "Make 47 pF of the parallel capacitor N750; it leaves at most 12 Hz a degree"),
        (False, 0.98, 3.0, "Set the differential capacitor to 98 %; it leaves at most 3 Hz a degree"),
        (True, None, 3.0, "The N750 fitted is the best value already; what is left changes over the dial."),
    ],
)
def test_what_stills_a_drift_in_words(fitted, share, left, says):
    found = SimpleNamespace(
        fitted=fitted, differential_share=share, left_hz_per_k=left, type="N750", preferred_f=47e-12
    )
    assert oscillators._compensation(found).startswith(says)
    assert oscillators._compensation(Unsolved("Nothing does.")) == "Nothing does."


@pytest.mark.parametrize(("drift", "told"), [(100.0, False), (101.0, True), (-101.0, True)])
def test_the_band_that_drifts_farthest_is_told(tern, drift, told):
    analysis = Analysis(tern)
    warmth = analysis.tank.tank.warmth
    # What a hertz a degree makes in the first twenty minutes.
    first = oscillators.vfo.warm_up(1.0, warmth).first_hz
    of = {"20m": 5.0 / first, "12m": drift / first}
    asked = SimpleNamespace(
        tank=analysis.tank,
        project=tern,
        vfo_on=lambda band: SimpleNamespace(worst_drift=SimpleNamespace(hz_per_k=of[band])),
    )
    found = list(oscillators.vfo_drifts(asked))
    assert [(f.band, pytest.approx(f.figure), f.limit) for f in found] == (
        [("12m", 101.0, 100.0)] if told else []
    )
    for f in found:
        assert f"drifts {of['12m']:.0f} Hz a degree on 12m, some 101 Hz".replace("-", "−") in f.text


def test_every_band_that_drifts_far_is_told_the_farthest_first(tern):
    analysis = Analysis(tern)
    first = oscillators.vfo.warm_up(1.0, analysis.tank.tank.warmth).first_hz
    of = {"20m": 110.0 / first, "12m": -150.0 / first}
    asked = SimpleNamespace(
        tank=analysis.tank,
        project=tern,
        vfo_on=lambda band: SimpleNamespace(worst_drift=SimpleNamespace(hz_per_k=of[band])),
    )
    (found,) = oscillators.vfo_drifts(asked)
    assert (found.band, found.figure) == ("", pytest.approx(150.0))
    assert "a degree on 12m, some 150 Hz in the first twenty minutes, 110 Hz on 20m;" in found.text


@pytest.mark.parametrize(
    ("covers", "limits", "severity", "says"),
    [
        ((True, True), 1, "caution", "The coil is too large; the bands are covered, the margin is not."),
        (
            (True, False),
            1,
            "fault",
            "The coil is too large; as it is the VFO tunes 5.100 to 5.250 MHz on 12m.",
        ),
        ((True, False), 2, "fault", None),
        ((True, True), 0, None, None),
    ],
)
def test_what_a_tank_falls_short_of(tern, covers, limits, severity, says, monkeypatch):
    rows = [
        SimpleNamespace(band=band, covers=each, covers_low_hz=5.1e6, covers_high_hz=5.25e6)
        for band, each in zip(("20m", "12m"), covers, strict=True)
    ]
    limit = SimpleNamespace(what="The coil is too large", remedy="wind a smaller one", tells_range=False)
    tank = SimpleNamespace(ranges=rows, limits=[limit] * limits)
    monkeypatch.setattr(oscillators, "_tank", lambda analysis: tank)
    found = list(oscillators.vfo_covers(SimpleNamespace()))
    assert [(f.severity, f.subject) for f in found] == [(severity, f"{n + 1}") for n in range(limits)]
    if says:
        assert found[0].text == says
        assert found[0].remedy == "Wind a smaller one."
    limit.tells_range = True
    assert all(f.text == "The coil is too large." for f in oscillators.vfo_covers(SimpleNamespace()))


def test_the_display_that_is_off_farthest_is_told(tern):
    def told(*errors):
        rows = [
            SimpleNamespace(error=error, band=band)
            for error, band in zip(errors, ("20m", "12m"), strict=True)
        ]
        asked = SimpleNamespace(read_out=SimpleNamespace(bands=rows), project=tern)
        return list(oscillators.read_out_measured(asked))

    def off(hz, *names):
        return SimpleNamespace(hz=hz, measured_hz=140.4, unmeasured=names)

    assert told(off(900.0), None) == []
    (one,) = told(off(500.0, "carrier"), off(900.0, "carrier", "helper"))
    # Both bands are off, so that it is no band's own finding.
    assert (one.band, one.figure, one.path) == ("", 900.0, ("read_out", "carrier_upper_hz"))
    assert one.text == (
        "The display on 12m may be off by 900 Hz, on 20m by 500 Hz with carrier and helper as marked or "
        "computed; measured with this counter it is 140 Hz."
    )
    (two,) = told(off(500.0, "helper"), off(900.0))
    assert (two.band, two.path) == ("20m", ("read_out", "helper_measured_hz"))
    assert not list(oscillators.read_out_measured(SimpleNamespace(read_out=None)))
