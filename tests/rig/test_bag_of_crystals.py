"""What is said of a bag of crystals, on either side of every limit, and the design made for it."""

from dataclasses import replace
from math import log10, pi, sqrt
from types import SimpleNamespace

import pytest

from core.model.bench import CrystalBatch
from core.model.stages.filters import Crystal, LadderFilter
from core.rig.analysis import Analysis
from core.rig.bag import Bag, bag_of, placement_of
from core.rig.bench import crystal_guidance
from core.rig.bench.batch_figures import c0_too_small, figures, histogram
from core.rig.bench.crystal_bench import (
    FIXTURE_ERRORS,
    BatchRow,
    with_header,
)
from core.rig.bench.crystals_in_ladder import (
    _barely_chosen,
    _of_another_kind,
    _with_crystals,
    designed_for,
    fit_in,
    fitted,
    labels,
    place,
    usable,
)
from core.rig.paper.report import crystals_report, crystals_text
from core.rig.start.new_rig import new_rig
from core.stages.crystals.crystals import CrystalParameters, Fixture
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.outcome import Unsolved
from tests.bags import read_batch
from tests.made_up import TWENTY

DESIGN = LadderFilter(
    id="ladder",
    name="Ladder",
    bandwidth_hz=2400.0,
    crystal=Crystal(motional_inductance_h=16e-3, holder_capacitance_f=3.5e-12, quality_factor=80e3),
)


def crystal(label="1", off_hz=0.0, lm=16e-3, q=80e3, c0=3.5e-12):
    """A crystal of a Q; none given: its loss is not known."""
    fs = 9e6 + off_hz
    rm = None if q is None else 2 * pi * fs * lm / q
    return CrystalParameters(label=label, fs_hz=fs, lm_h=lm, c0_f=c0, rm_ohm=rm)


def row(*args, **values):
    made = crystal(*args, **values)
    return BatchRow(made.label, made)


@pytest.mark.parametrize(
    ("bag", "says"),
    [
        ([crystal()], ""),
        # Half a per cent of 9 MHz is 45 kHz; half the width 1.2 kHz.
        ([crystal(off_hz=1200.0)], ""),
        ([crystal(off_hz=1300.0)], "1.3 kHz above those of the design"),
        ([crystal(off_hz=-44.9e3)], "45 kHz below those of the design"),
        (
            [crystal(off_hz=45.1e3)],
            "These crystals resonate near 9.045 MHz and the IF is 9.000 MHz: set the IF to the crystals, or "
            "choose the ladder that they are for.",
        ),
        ([crystal(lm=17.5e-3)], ""),
        ([crystal(lm=17.7e-3)], "Lm 17.7 mH, not 16 mH"),
        ([crystal(lm=14.3e-3)], "Lm 14.3 mH, not 16 mH"),
        # 1.3 times 80 000 is 104 000, and a 1.3th 61 500.
        ([crystal(q=103e3)], ""),
        ([crystal(q=105e3)], "Q 105 000, not 80 000"),
        ([crystal(q=62e3)], ""),
        ([crystal(q=61e3)], "Q 61 000, not 80 000"),
        ([crystal(q=None)], ""),
        # Of several their median counts, of Q that of the losses.
        ([crystal(lm=1e-3), crystal(), crystal(lm=90e-3)], ""),
        ([crystal(q=40e3), crystal(q=100e3)], "Q 57 000, not 80 000"),
        (
            [crystal(off_hz=-2000.0, lm=20e-3, q=40e3)],
            "Lm 20 mH, not 16 mH; Q 40 000, not 80 000; 2 kHz below those of the design",
        ),
    ],
)
def test_crystals_unlike_those_of_the_design(bag, says):
    told = _of_another_kind(bag, AskedLadder(DESIGN, 9e6))
    if not says or says.startswith("These"):
        assert told == says
    else:
        assert told == (f"The ladder is designed for other crystals (these: {says}): design it for these.")


def test_crystals_that_resonate_beside_the_if_by_design_are_no_others():
    aside = DESIGN.edited(("crystal", "offset_hz"), 2000.0)
    assert _of_another_kind([crystal(off_hz=2000.0)], AskedLadder(aside, 9e6)) == ""
    assert "2 kHz below" in _of_another_kind([crystal()], AskedLadder(aside, 9e6))


def ladder_rig():
    return new_rig((TWENTY,), 9e6).edited(("stages", "ladder", "poles"), 4)


def test_the_design_is_for_the_mean_of_the_chosen_crystals():
    chosen = [
        crystal("a", 100.0, 15.0e-3, 50e3, 3.0e-12),
        crystal("b", 301.0, 16.0e-3, 100e3, 4.0e-12),
    ]
    made = _with_crystals(ladder_rig(), "ladder", chosen)
    found = made.stage("ladder").crystal
    assert found.motional_inductance_h == pytest.approx(15.5e-3)
    assert found.holder_capacitance_f == pytest.approx(3.5e-12)
    # Losses add up: 1 / Q is the mean of 2e-5 and 1e-5.
    assert found.quality_factor == pytest.approx(1 / 1.5e-5, rel=1e-4)
    assert made.if_hz == 9e6 + 200
    beside = ladder_rig().edited(("stages", "ladder", "crystal", "offset_hz"), 50.0)
    assert _with_crystals(beside, "ladder", chosen).if_hz == 9e6 + 150
    usual = ladder_rig().stage("ladder").crystal.quality_factor
    lossless = _with_crystals(ladder_rig(), "ladder", [crystal(q=None)])
    assert lossless.stage("ladder").crystal.quality_factor == usual


def test_a_bag_of_too_few_makes_no_ladder():
    few = [row(f"{n}") for n in range(3)]
    told = designed_for(ladder_rig(), "ladder", few)
    assert isinstance(told, Unsolved)
    assert told == place(few, AskedLadder(ladder_rig().stage("ladder"), 9e6))


def test_crystals_put_in_are_known_again():
    rig = ladder_rig()
    lm = rig.stage("ladder").crystal.motional_inductance_h
    q = rig.stage("ladder").crystal.quality_factor
    offsets = (0.0, 12.0, 12.0, -7.0, 25.0)
    batch = [row(f"{n}", off, lm * (1 + n / 1000), q) for n, off in enumerate(offsets)]
    placement = place(batch, AskedLadder(rig.stage("ladder"), rig.if_hz))
    made = fit_in(rig, "ladder", batch, placement)
    where = {each.ref: each.label for each in placement.placed}
    ladder = made.stage("ladder")
    assert len(where) == len(set(where.values())) == 4
    # Two read alike to the hertz: the inductance tells them apart.
    assert labels(batch, ladder) == where
    # A reading that was refused stands nowhere and disturbs nobody.
    assert labels([BatchRow("bad", None, "bad: no."), *batch], ladder) == where
    by_label = {each.label: each for each in batch}
    built = dict(ladder.as_built)
    assert len(built) == 16
    for each in placement.placed:
        one = by_label[each.label].parameters
        assert {one.fs_hz, one.lm_h, one.c0_f} <= set(built.values())
    again = fitted(batch, AskedLadder(ladder, made.if_hz))
    assert [(f.mesh, f.label, f.ref) for f in again] == [
        (p.mesh, p.label, p.ref) for p in sorted(placement.placed, key=lambda p: p.mesh)
    ]
    assert sum(f.error_hz for f in again) == pytest.approx(0.0, abs=1e-6)
    for f, p in zip(again, sorted(placement.placed, key=lambda p: p.mesh), strict=True):
        assert f.error_hz == pytest.approx(p.error_hz, abs=1e-3)
    # A reading that differs by more than a hundredth of a hertz is another crystal.
    moved = [
        replace(each, parameters=replace(each.parameters, fs_hz=each.parameters.fs_hz + 0.02))
        for each in batch
    ]
    assert labels(moved, ladder) == {}
    assert fitted(moved, AskedLadder(ladder, made.if_hz)) == ()


def test_only_good_crystals_may_be_chosen():
    rows = [row("1"), replace(row("2"), left_out=True), BatchRow("3", None, "3: no.")]
    assert [each.label for each in usable(rows)] == ["1"]


def test_crystals_far_out_that_were_taken_are_named():
    batch = [row(f"{n}", 10.0 * n) for n in range(6)] + [row("far", 3000.0), row("off", -2500.0)]
    known = {each.label: each.parameters for each in batch}

    def said(*taken):
        placed = [type("P", (), {"label": label})() for label in taken]
        return _barely_chosen(list(known.values()), type("F", (), {"placed": placed})(), batch)

    assert said("0", "1") == ""
    assert said("0", "far") == (
        "far lies far out and was taken for want of better ones; measure more crystals or take fewer poles."
    )
    assert said("far", "1", "off").startswith("far, off lie far out and were taken for want")


# -- statistics --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("off_hz", "lm", "q", "told"),
    [
        # Five median deviations and 5 ppm of the frequency, 45 Hz; of Lm 4 %, of the loss e^0.5 or 61 %.
        (44.0, 16e-3, 80e3, None),
        (46.0, 16e-3, 80e3, "fs +46 Hz"),
        (-46.0, 16e-3, 80e3, "fs −46 Hz"),
        (0.0, 16.6e-3, 80e3, None),
        (0.0, 16.7e-3, 80e3, "Lm +4 %"),
        (0.0, 15.3e-3, 80e3, "Lm −4 %"),
        (0.0, 16e-3, 49e3, None),
        (0.0, 16e-3, 48e3, "Q only 60 % of usual"),
        (0.0, 16e-3, 800e3, None),
        (60.0, 16e-3, 40e3, "fs +60 Hz, Q only 50 % of usual"),
    ],
)
def test_who_lies_far_out(off_hz, lm, q, told):
    others = [row(f"{n}") for n in range(1, 6)]
    found = figures([*others, row("x", off_hz, lm, q)])
    assert found.outliers == ((("x", told),) if told else ())
    # Among four others nobody is judged but from five on.
    assert figures([*others[:3], row("x", off_hz, lm, q)]).outliers == ()
    five = figures([*others[:4], row("x", off_hz, lm, q)])
    assert five.outliers == ((("x", told),) if told else ())


def test_five_median_deviations_are_far_out():
    # The median deviation of these is 100 Hz.
    spread = [row(f"{n}", off) for n, off in enumerate((-200.0, -100.0, 0.0, 100.0, 200.0, -100.0, 100.0))]
    assert figures([*spread, row("x", 499.0), row("y", -499.0)]).outliers == ()
    assert [label for label, _ in figures([*spread, row("x", 501.0), row("y", -501.0)]).outliers] == [
        "x",
        "y",
    ]


def test_losses_are_judged_among_those_that_are_known():
    others = [row(f"{n}", q=None) for n in range(6)]
    weak = [row("a", q=80e3), row("b", q=80e3), row("c", q=80e3), row("d", q=20e3)]
    assert figures([*others, *weak]).outliers == ()
    assert figures([*others, *weak, row("e", q=80e3)]).outliers == (("d", "Q only 25 % of usual"),)


def test_statistics_are_of_those_that_may_be_chosen():
    rows = [row("1", 0.0, q=60e3), row("2", 20.0, q=100e3), replace(row("3", 900.0), left_out=True)]
    found = figures(rows)
    assert (found.count, found.spread_hz) == (2, 20.0)
    assert found.fs_hz == pytest.approx((9e6 + 10, sqrt(200)))
    assert found.q == pytest.approx((80e3, sqrt(2) * 20e3))
    assert figures([row("1", q=None), row("2", q=50e3)]).q == pytest.approx((50e3, 0.0))
    assert figures([row("1", q=None)]).q is None


@pytest.mark.parametrize(
    ("least", "says"),
    [
        ((None, None), None),
        ((4.2e-12,), "The crystal has a Cm that wants a C0 of 4.2 pF"),
        ((4.2e-12, None), "1 of 2 crystals has a Cm that wants a C0 of 4.2 pF"),
        ((4.2e-12, 5.1e-12, None), "2 of 3 crystals have a Cm that wants a C0 of 5.1 pF"),
    ],
)
def test_a_c0_that_quartz_does_not_allow(least, says):
    # Of a crystal C0 / Cm is 159 at least.
    rows = []
    for n, c0 in enumerate(least):
        if c0 is None:
            rows.append(row(f"{n}", c0=20e-12))
            continue
        cm = c0 / 159.0
        fs = 9e6
        lm = 1 / ((2 * pi * fs) ** 2 * cm)
        rows.append(row(f"{n}", lm=lm, c0=1e-12))
    assert c0_too_small(rows) == (f"{says} or more; measure C0 and give it." if says else "")
    assert c0_too_small([replace(each, left_out=True) for each in rows]) == ""


def test_a_histogram_without_outliers_holds_all():
    made = histogram([row(f"{n}", off) for n, off in enumerate((-3.0, -1.0, 0.0, 1.0, 3.0))])
    assert (made.median_hz, made.below, made.above) == (9e6, 0, 0)
    assert (made.edges_hz[0], made.edges_hz[-1]) == pytest.approx((-3.0, 3.0))
    assert made.counts.sum() == 5
    assert histogram([row("1")]) is None
    assert histogram([row("1"), row("2")]) is None
    two = histogram([row("1"), row("2", 10.0)])
    assert (two.edges_hz[0], two.edges_hz[-1]) == pytest.approx((-5.0, 5.0))
    # The median deviation is 2 Hz, so that the picture reaches 4 times 1.4826 times that, 11.9 Hz, far.
    inside = [row(f"{n}", off) for n, off in enumerate((-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0))]
    for off, beyond in ((11.8, 0), (12.0, 1)):
        made = histogram([*inside, row("x", -off), row("y", off)])
        assert (made.below, made.above) == (beyond, beyond)
    # More than half read alike: the few others make the picture.
    alike = histogram([row("1"), row("2"), row("3"), row("4", 8.0)])
    assert (alike.edges_hz[0], alike.edges_hz[-1], alike.counts.sum()) == (0.0, 8.0, 4)


# -- how crystals are measured -----------------------------------------------------------------------------

ORDINARY = crystal_guidance.ORDINARY


def share(text, after):
    """The per cent told behind some words."""
    return float(text.partition(after)[2].split(" %")[0].split()[-1])


@pytest.mark.parametrize("ohm", [12.5, 50.0])
def test_what_a_level_off_by_a_tenth_of_a_decibel_does_to_a_crystal(ohm):
    said = crystal_guidance.guidance("bandwidth", Fixture(source_ohm=ohm, load_ohm=ohm))
    around, rm = 2 * ohm, ORDINARY.rm_ohm
    # loss = 20 lg (1 + Rm / around), read 0.1 dB too high; Q = 2π f Lm / Rm with 2π B Lm = around + Rm.
    wrong = around * (10 ** ((20 * log10(1 + rm / around) + 0.1) / 20) - 1)
    assert share(said, "makes Rm") == pytest.approx(100 * (wrong / rm - 1), rel=0.06)
    q_share = 1 - (around + wrong) / wrong * rm / (around + rm)
    assert share(said, "Q") == pytest.approx(100 * q_share, rel=0.06)


def test_what_stray_picofarads_do_to_the_parallel_resonance():
    said = crystal_guidance.guidance("parallel_capacitor", Fixture(c0_f=3.5e-12, c0_measured=True))
    # Cm = 2 C0 (fp − fs) / fs, so that Lm falls as C0 grows: 3.5 / 3.8.
    assert share(said, "makes Lm") == pytest.approx(100 * (1 - 3.5 / 3.8), rel=0.05)


def test_what_an_unknown_load_does_in_an_oscillator():
    fixture = Fixture(capacitor_f=33e-12, load_capacitance_f=None)
    said = crystal_guidance.guidance("series_capacitor", fixture)
    cm, c0, load = ORDINARY.cm_f, ORDINARY.c0_f, 200e-12

    def at(total):
        return ORDINARY.fs_hz * sqrt(1 + cm / (c0 + total))

    without, shifted = at(load), at(33e-12 * load / (33e-12 + load))
    assert "of 200 pF makes" in said
    assert float(said.partition("makes fs ")[2].split()[0]) == pytest.approx(
        without - ORDINARY.fs_hz, abs=1.5
    )
    # Taken without a load: shift from `without` by the capacitor and C0 alone.
    cm_wrong = ((shifted / without) ** 2 - 1) * (c0 + 33e-12)
    lm_wrong = 1 / ((2 * pi * without) ** 2 * cm_wrong)
    assert share(said, "too high and Lm") == pytest.approx(100 * abs(lm_wrong / ORDINARY.lm_h - 1), rel=0.06)


def test_what_a_sweep_is_off_by():
    said = crystal_guidance.guidance("sweep", Fixture(source_ohm=50.0, load_ohm=50.0))
    # 0.1 dB more loss at the top: 10^0.005 of 112 ohm; resistances 5 % too high make Lm 5 % too high.
    wrong = 112.0 * 10 ** (0.1 / 20) - 100.0
    assert share(said, "makes Rm") == pytest.approx(100 * (wrong / 12.0 - 1), rel=0.2)
    assert "wrong, 5 % in the resistances Lm 5 %." in said


@pytest.mark.parametrize(
    ("cells", "beyond"),
    [
        ("9000000;250;199;", False),
        ("9000000;250;201;", True),
        ("9000000;250;-201;", True),
        ("9.9 GHz;250;3;", False),
        ("10.1 GHz;250;3;", True),
        ("9000000;10.1 GHz;3;", True),
        ("9000000;250;3;1.05 F", True),
        ("9000000;250;3;0.99 F", False),
    ],
)
def test_readings_beyond_all_measure(cells, beyond):
    rows = read_batch(f"label;peak;bandwidth;loss;c0\nA;{cells}\n", "bandwidth", Fixture())
    assert ("beyond all measure" in rows[0].refused) is beyond


@pytest.mark.parametrize(("mark", "rows"), [(";", "a;1;2"), (",", "a,1,2"), ("\t", "a\t1\t2"), (";", "a")])
def test_readings_without_a_header_row_get_one_parted_as_they_are(mark, rows):
    header = mark.join(("label", "without (Hz)", "with (Hz)"))
    assert with_header(f"\n{rows}\n", "series_capacitor") == f"{header}\n{rows}\n"
    there = f"{header}\n{rows}\n"
    assert with_header(there, "series_capacitor") == there


def test_the_errors_of_a_fixture_in_words():
    assert FIXTURE_ERRORS == ("5 % in its resistances, 0.1 dB, 2 % in its capacitor and 0.3 pF of holder")


def test_remarks_and_doubts_of_a_batch_are_told():
    rows = [row("1"), replace(row("2"), left_out=True), BatchRow("3", None, "3: no such crystal.")]
    data = crystals_report(rows, None)
    assert [each["doubt"] for each in data["crystals"]] == [None, None, None]
    lines = crystals_text(data).splitlines()
    assert lines[1].split()[-1] == "-"
    assert lines[2].endswith("left out")
    assert lines[3].endswith("3: no such crystal.")
    # Of refused rows alone there are no statistics, and the reason is told all the same.
    alone = crystals_report(rows[2:], None)
    assert alone["statistics"] is None
    assert crystals_text(alone).endswith("3: no such crystal.")
    placed = SimpleNamespace(
        placed=(SimpleNamespace(mesh=1, label="1", error_hz=12.0),),
        rms_hz=12.4,
        sorted_rms_hz=20.6,
        random_rms_hz=90.0,
        figures=(),
        doubt="",
    )
    told = crystals_text(crystals_report(rows, placed))
    assert "meshes 12 Hz rms apart; closest crystals merely sorted 21 Hz, at random 90 Hz" in told
    assert told.splitlines()[-1].startswith("meshes")
    assert crystals_report(rows, placed)["placement_doubt"] is None
    placed.doubt = "These are other crystals."
    assert crystals_text(crystals_report(rows, placed)).endswith("\n\nThese are other crystals.")


def test_the_statistics_reported_are_mean_and_deviation():
    rows = [row("a", 0.0, 15e-3), row("b", 20.0, 17e-3)]
    found = crystals_report(rows, None)["statistics"]
    assert (found["count"], found["spread_hz"]) == (2, 20.0)
    assert (found["fs_mean_hz"], found["fs_deviation_hz"]) == pytest.approx((9e6 + 10, sqrt(200)))
    assert (found["lm_mean_h"], found["lm_deviation_h"]) == pytest.approx((16e-3, sqrt(2) * 1e-3))
    assert crystals_report([BatchRow("c", None, "no")], None)["statistics"] is None


def test_without_readings_there_is_nothing_to_place_and_nothing_to_complain_of(tern):
    bare = Analysis(tern.edited(("crystal_batch",), CrystalBatch()))
    assert bag_of(bare) == Bag(())
    assert placement_of(bare) is None
