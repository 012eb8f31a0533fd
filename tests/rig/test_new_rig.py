"""A new rig is a project or a sentence, at any IF and for any band that the model allows."""

import json
from types import SimpleNamespace

import pytest

from core.model.bands import Band
from core.model.stages.tank import Feedback
from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.rig.paper.report import report
from core.rig.spurs.product_levels import ORDINARY_BACKOFF_DB
from core.rig.start import first_edits
from core.rig.start.first_edits import _narrower
from core.rig.start.new_rig import (
    best_scheme,
    default_stage,
    new_rig,
    with_band,
    with_frequencies,
    with_tank,
)
from core.stages.kinds.table import KINDS
from core.stages.ordinary import typical_crystal
from core.stages.vfo import start_up, tank_design
from core.stages.vfo.tank import WantedRange

BANDS = (Band(),)


@pytest.mark.parametrize("if_hz", [1e4, 3e4, 2e8, 2.8e8, 3e8, 1e9])
def test_every_kind_of_stage_can_be_inserted_at_any_if(if_hz):
    for kind in KINDS:
        assert default_stage(kind, BANDS, if_hz).kind == kind
    json.dumps(report(Analysis(new_rig(BANDS, if_hz))), allow_nan=False)


@pytest.mark.parametrize(("low_hz", "if_hz"), [(7.0e6, 9e6), (24.89e6, 9e6)])
def test_its_transmit_mixer_is_worked_as_the_survey_takes_for_granted(low_hz, if_hz):
    analysis = Analysis(new_rig((Band(low_hz=low_hz, high_hz=low_hz + 1e5),), if_hz))
    figures = analysis.mixer_figures("transmit")
    (band,) = analysis.project.bands
    assert analysis.worked(band.name, figures).backoff_db == pytest.approx(ORDINARY_BACKOFF_DB, abs=1.5)


@pytest.mark.parametrize("edges", [(1e4, 1.0001e4), (1e4, 1e9), (9.99e8, 1e9)])
def test_every_band_that_can_be_written_gets_a_rig(edges):
    bands = (Band(low_hz=edges[0], high_hz=edges[1]),)
    json.dumps(report(Analysis(new_rig(bands, 9e6))), allow_nan=False)


def test_an_if_that_no_rig_has_is_a_sentence():
    with pytest.raises(DesignError, match="IF: must be at least 10 kHz"):
        new_rig(BANDS, 1.0)


def test_typical_crystals_keep_three_digits_at_any_frequency():
    assert typical_crystal(10e6).motional_inductance_h == pytest.approx(14e-3)
    assert typical_crystal(300e6).motional_inductance_h == pytest.approx(4.0e-6, rel=0.01)
    assert typical_crystal(30e3).motional_inductance_h == 1e4


def test_a_row_for_other_bands_moves_nothing(tern):
    with pytest.raises(DesignError, match="for other bands than the rig has now"):
        with_frequencies(tern, 9e6, ("sum",))


# -- what a new rig is made of -----------------------------------------------------------------------------


def band(name, low_mhz, high_mhz, scheme="sum"):
    return Band(name=name, low_hz=1e6 * low_mhz, high_hz=1e6 * high_mhz, sideband="upper", scheme=scheme)


@pytest.mark.parametrize(
    ("bands", "if_hz", "shifts"),
    [
        # Of 9 MHz: 20 m wants 5.0 to 5.35 MHz, 80 m 5.4 down to 5.2 MHz; 17 m 9.068 to 9.168 MHz.
        ((band("20m", 14.0, 14.35), band("80m", 3.6, 3.8, "if_minus_vfo")), 9e6, ["none", "none"]),
        ((band("20m", 14.0, 14.35), band("17m", 18.068, 18.168)), 9e6, ["parallel", "none"]),
        # One range where it is 1.25 in ratio at most, 6.25 over 5.0 MHz, and three times the widest band.
        ((band("20m", 14.0, 14.45), band("x", 14.9, 15.24)), 9e6, ["none", "none"]),
        ((band("20m", 14.0, 14.45), band("x", 14.9, 15.26)), 9e6, ["parallel", "none"]),
        ((band("x", 14.9, 15.1), band("20m", 14.0, 14.35)), 9e6, ["none", "parallel"]),
    ],
)
def test_bands_far_below_the_highest_vfo_are_shifted(tern, bands, if_hz, shifts):
    bare = tern.edited(("read_out",), None).with_stages(())
    made = with_tank(bare.edited(("bands",), bands).edited(("if_hz",), if_hz))
    assert [each.vfo_shift for each in made.bands] == shifts


def test_the_drive_is_set_for_the_weakest_band():
    made = new_rig((band("20m", 14.0, 14.35), band("80m", 3.6, 3.8, "if_minus_vfo")), 9e6)
    gain = ("stages", "transmit_if", "gain_db")
    outputs = {b.name: Analysis(made).transmit(b.name).output_w for b in made.bands}
    # In half decibels; a step less and more stands on either side of the power wanted.
    assert made.at(gain) * 2 == int(made.at(gain) * 2)
    assert min(outputs.values()) == pytest.approx(made.station.power_w, rel=0.06)
    weakest = min(outputs, key=outputs.__getitem__)
    for step, above in ((0.5, True), (-0.5, False)):
        moved = Analysis(made.edited(gain, made.at(gain) + step)).transmit(weakest).output_w
        assert (moved > made.station.power_w) is above


@pytest.mark.parametrize(
    ("other", "device"), [(("10m", 28.3, 29.2), "2n5109"), (("15m", 21.1, 21.4), "2n3904")]
)
def test_the_pre_driver_has_hardly_more_gain_on_the_lowest_band(other, device):
    made = new_rig((band("20m", 14.0, 14.35), band(*other)), 9e6)
    assert made.stage("pre_driver").device == device
    gains = [
        next(each.gain_db for each in Analysis(made).transmit(b.name).blocks if each.stage == "pre_driver")
        for b in made.bands
    ]
    assert 0.0 < gains[0] - gains[1] < 1.0


@pytest.mark.parametrize(("high_mhz", "in_path"), [(20.0, False), (20.1, True)])
def test_an_rf_stage_is_for_high_bands(high_mhz, in_path):
    made = new_rig((band("20m", 14.0, 14.35), band("x", 19.9, high_mhz)), 9e6)
    assert made.stage("rf_stage").in_path is in_path


@pytest.mark.parametrize(("count", "programmes"), [(1, 2), (2, 2), (3, 3)])
def test_the_counter_keeps_a_programme_a_band(count, programmes):
    bands = (band("20m", 14.0, 14.35), band("17m", 18.068, 18.168), band("80m", 3.6, 3.8, "if_minus_vfo"))
    assert new_rig(bands[:count], 9e6).read_out.counter.programmes == programmes


def test_the_clock_that_is_heard_least_is_taken():
    # Four times 4 MHz, twice 8 MHz and 16 MHz lie inside a ladder of 15.9985 MHz crystals; 10 MHz does not.
    loud = new_rig((band("20m", 14.05, 14.35, "if_minus_vfo"),), 15.9985e6)
    low, high = Analysis(loud).if_pass_band_hz
    assert low < 16e6 < high
    assert loud.read_out.counter.clock_hz == 10e6


def test_one_more_band_gets_its_filters():
    rig = new_rig((band("20m", 14.0, 14.35),), 9e6)
    more = with_band(rig, band("17m", 18.068, 18.168))
    assert [b.name for b in more.bands] == ["20m", "17m"]
    for stage in ("low_pass", "band_pass"):
        assert [one.bands for one in more.stage(stage).filters] == [("20m",), ("17m",)]


@pytest.mark.parametrize(
    ("asked", "if_hz", "scheme"),
    [
        (band("20m", 14.0, 14.35), 9e6, "sum"),
        (band("80m", 3.6, 3.8), 9e6, "if_minus_vfo"),
        (band("80m", 3.6, 3.8), 1e5, "sum"),
    ],
)
def test_the_scheme_with_the_easiest_vfo(asked, if_hz, scheme):
    assert best_scheme(asked, if_hz) == scheme


def test_moving_a_rig_changes_crystals_only_with_the_if(tern):
    schemes = [b.scheme for b in tern.bands]
    same = with_frequencies(tern, tern.if_hz, schemes)
    assert same.stage("ladder").crystal == tern.stage("ladder").crystal
    moved = with_frequencies(tern, 21.47727e6, schemes)
    assert moved.stage("ladder").crystal == typical_crystal(21.47727e6)
    assert moved.if_hz == 21.47727e6
    assert not Analysis(moved).tank.limits


# -- edits that spare a caution ----------------------------------------------------------------------------


def test_an_edit_is_kept_where_it_takes_its_caution_away_and_brings_no_other(tern, monkeypatch):
    """Cautions made up by the gain of one stage, told of each band."""
    path = ("stages", "if_amplifier_1", "gain_db")
    start = tern.at(path)
    first, second = (b.name for b in tern.bands)

    def edited(told, rules=("overload", "loud_audio")):
        """By how much gain was taken out, when `told` gives the cautions after so many decibels less."""
        monkeypatch.setattr(first_edits, "_cautions", lambda rig: told(round(start - rig.at(path))))
        return round(start - first_edits._edited(tern, rules, first_edits._less_gain).at(path))

    assert edited(lambda less: set()) == 0
    assert edited(lambda less: {("overload", first)} if less < 2 else set()) == 2
    # One of no band counts on every band; of other rules nothing is asked.
    assert edited(lambda less: {("overload", "")} if less < 3 else set()) == 3
    assert edited(lambda less: {("band_noise", first)} if less < 3 else set()) == 0
    # Six decibels at most, and none that brings another caution.
    assert edited(lambda less: {("overload", first)} if less < 6 else set()) == 6
    assert edited(lambda less: {("overload", first)} if less < 7 else set()) == 0
    assert edited(lambda less: {("overload", first)} if less < 2 else {("dull", first)}) == 0
    steps = {0: {("overload", first)}, 1: {("overload", first)}, 2: {("dull", first)}, 3: {("dull", first)}}
    assert edited(lambda less: steps.get(less, set())) == 4
    # Each band in turn: the second takes two more.
    both = {("overload", first), ("loud_audio", second)}
    assert edited(lambda less: both if less < 1 else {("loud_audio", second)} if less < 3 else set()) == 3
    # A caution of the other band that stays is none to bring.
    other = {("image", second)}
    assert edited(lambda less: other | {("overload", first)} if less < 2 else other) == 2


def test_notes_are_no_caution_to_be_spared(tern, monkeypatch):
    def told(rule, severity, band="20m"):
        return SimpleNamespace(rule=rule, band=band, severity=severity)

    rules = (
        lambda analysis: (told("quiet", "note"), None, told("loud", "caution")),
        lambda analysis: (told("dead", "fault", ""),),
    )
    monkeypatch.setattr(first_edits, "_WATCHED", rules)
    assert first_edits._cautions(tern) == {("loud", "20m"), ("dead", "")}


def test_widths_that_are_tried_against_another_input(tern):
    one = next(f for f in tern.stage("band_pass").filters if "12m" in f.bands)
    place = tern.stage("band_pass").filters.index(one)
    tried = list(first_edits._narrower(tern, "12m"))
    widths = [t.at(("stages", "band_pass", "filters", place, "bandwidth_hz")) for t in tried]
    assert widths == [round(share * one.bandwidth_hz, -4) for share in (0.95, 0.9, 0.85, 0.8)]
    assert list(first_edits._narrower(tern, "10m")) == []


def test_a_dial_is_slowed_where_that_makes_it_easy(tern):
    reduction = ("vfo", "tank", "variable", "reduction")
    assert first_edits.with_slow_dial(tern) is tern
    fast = tern.edited(reduction, 20.0)
    assert first_edits.with_slow_dial(fast).at(reduction) == 60.0
    block = fast.edited(("vfo", "tank"), None)
    assert first_edits.with_slow_dial(block) is block


def test_poles_are_taken_away_until_the_ladder_is_wide_enough(tern, monkeypatch):
    asked = []

    def wide_from(poles):
        """How many poles are left where a ladder of so many and fewer is wide enough."""

        def misses(tried, figures):
            asked.append(tried.ladder.poles)
            return () if tried.ladder.poles <= poles else ("width",)

        monkeypatch.setattr(first_edits.ladder_cures, "misses", misses)
        asked.clear()
        return first_edits._with_wide_ladder(start).stage("ladder").poles

    start = tern.edited(("stages", "ladder", "poles"), 8)
    assert wide_from(8) == 8
    assert asked == [8]
    assert wide_from(7) == 7
    assert wide_from(6) == 6
    # With fewer than six it is another filter.
    assert wide_from(5) == 8
    assert asked == [8, 7, 6]


def test_a_tank_that_reaches_is_kept(tern):
    schemes = [b.scheme for b in tern.bands]
    moved = with_frequencies(tern, tern.if_hz + 1e3, schemes)
    assert moved.vfo.tank == tern.vfo.tank
    # Of a 30 pF swing nothing reaches, so that another takes its place.
    short = tern.edited(("vfo", "tank", "variable", "high_f"), 30e-12)
    assert Analysis(short).tank.limits
    assert with_frequencies(short, tern.if_hz + 1e3, schemes).vfo.tank != short.vfo.tank


def test_the_feedback_of_a_rig_that_is_moved_is_its_builders(tern):
    # It hardly couples, so that it does not start safely; a rig without a tank gets one that does.
    weak = Feedback(upper_f=1e-9, lower_f=1e-9, coupling_f=10e-12)
    short = tern.edited(("vfo", "tank", "variable", "high_f"), 30e-12).edited(
        ("vfo", "tank", "feedback"), weak
    )
    schemes = [b.scheme for b in tern.bands]
    moved = with_frequencies(short, tern.if_hz + 1e3, schemes)
    assert moved.vfo.tank.variable != short.vfo.tank.variable
    assert moved.vfo.tank.feedback == weak
    assert start_up.least_margin(Analysis(moved).tank) < start_up.SAFE_START


def test_a_band_pass_of_a_few_kilohertz_is_narrowed_to_nothing_by_no_try(tern):
    narrow = tern.edited(("stages", "band_pass", "filters", 0, "bandwidth_hz"), 3e3)
    tried = [each.stage("band_pass").filters[0].bandwidth_hz for each in _narrower(narrow, "20m")]
    assert all(hertz > 0 for hertz in tried)


def test_a_new_vfo_that_would_start_lazily_gets_parts_with_which_it_starts(tern):
    # 6 m over an IF of 19.66 MHz: of the first ordinary parts at 30 MHz the margin is 2.3, and 2.5 is safe.
    six = band("6m", 50.0, 50.5)
    rig = tern.edited(("read_out",), None).with_stages(()).edited(("bands",), (six,))
    plan = Analysis(rig).band_plan("6m")
    wanted = (WantedRange("6m", plan.vfo_low_hz, plan.vfo_high_hz),)
    first = tank_design.design(tank_design.typical(wanted, None), wanted)
    assert start_up.least_margin(first) < start_up.SAFE_START
    assert start_up.least_margin(Analysis(with_tank(rig)).tank) >= start_up.SAFE_START


def test_a_new_rigs_mixers_are_circuits_that_get_the_drive_they_want():
    made = Analysis(new_rig((band("20m", 14.0, 14.35),), 9e6))
    assert [drive.stage for drive in made.drives] == ["mixer", "detector"]
    assert all(drive.computed and drive.suits for drive in made.drives)
    # The type's figure is −6 dB; four Schottky diodes between small transformers lose a little less.
    blocks = {block.stage: block for block in made.receive("20m").blocks}
    assert -6.0 < blocks["mixer"].gain_db < -4.5
