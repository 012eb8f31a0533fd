"""Rules on front filters held against made-up figures on either side of every limit."""

from dataclasses import replace
from types import SimpleNamespace

import pytest

from core.model.stages.filters import BandPassFilter, LowPassFilter
from core.rig.analysis import Analysis
from core.rig.rows import FilterRow
from core.rig.rules import filters
from core.stages.band_pass import band_pass
from core.stages.filters import low_pass
from core.stages.on_hand import Shelf
from core.stages.outcome import Unsolved
from core.stages.steps import finished
from tests.made_filters import FIGURES, made, of, part
from tests.made_up import project

DIALS = ((14.0e6, 14.4e6),)


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
