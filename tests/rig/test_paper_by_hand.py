"""What is printed, made from figures made up in the test: sheet, parts list, report, limits of a scatter."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from core.circuits.ladder import Network
from core.model.bands import Band
from core.model.bench import Scatter
from core.model.notebook.junk_box_table import guarded
from core.model.values.notation import plain
from core.model.values.parts import crystal_keys
from core.rig.analysis import Analysis
from core.rig.bench.crystals_in_ladder import bare
from core.rig.figures.crystals import RESPONSES
from core.rig.figures.figure import Figure, by_key
from core.rig.figures.filters import LADDER, filter_on
from core.rig.figures.levels import BLOCK_TRANSMIT
from core.rig.figures.parts import part_value
from core.rig.figures.read_out import ShownOn
from core.rig.figures.vfo import VFO
from core.rig.paper import build_sheet, curves, parts_list, path_table, report, stage_figures, stage_sections
from core.rig.paper.curves import DELAY_TONES_HZ, TONES_HZ, filter_response, speech_delay
from core.rig.paper.parts_list import ListedPart
from core.rig.read_out.error import DialError
from core.rig.read_out.plan import BandReadOut
from core.rig.read_out.schemes import Reading
from core.rig.scattered import limits
from core.rig.sections.rig import filters_on, shown_on
from core.rig.survey.if_survey import survey
from core.stages.crystals.crystal_choice import ChoiceFigures
from core.stages.filters import carrier_oscillator
from core.stages.outcome import FilterDesign, FilterFigures, PartRow, Unsolved, unused
from core.stages.tolerance import filters
from core.stages.tolerance.filters import BAND_PASS
from core.stages.tolerance.judging import Measured
from core.trade.temperature import coefficients

# -- the sheet ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("first", "detector", "told"),
    [
        (0.0, 0.0, ""),
        (0.049, 0.0, ""),
        (0.05, 0.0, " (0.1 dB of it from the image)"),
        (2.04, 0.3, " (2.0 dB of it from the image, 0.3 dB of it from the detector's image)"),
        (0.0, 1.0, " (1.0 dB of it from the detector's image)"),
    ],
)
def test_what_of_the_noise_figure_is_folded(first, detector, told):
    levels = SimpleNamespace(image_noise_db=first, detector_image_noise_db=detector)
    assert path_table._folded(levels) == told


def test_figures_of_a_filter_with_and_without_a_centre():
    made = FilterFigures(
        centre_hz=14.2e6,
        bandwidth_3db_hz=600e3,
        bandwidth_6db_hz=None,
        bandwidth_60db_hz=3e6,
        ripple_db=0.1,
        insertion_loss_db=2.346,
        return_loss_db=12.0,
        served_loss_db=3.0,
    )
    parts = (part(1e-10),)
    design = FilterDesign(
        network=Network((), 50.0, 50.0), parts=parts, end_resistance_ohm=50.0, span_hz=(13e6, 15e6)
    )
    of = SimpleNamespace(figures=made, design=design)
    assert dict(stage_figures.filter_figures(of)) == {
        "centre": "14.2 MHz",
        "width at −3 dB": "600 kHz",
        "width at −60 dB": "3 MHz",
        "ripple": "0.10 dB",
        "least loss": "2.3 dB",
        "loss on the band": "3.00 dB",
        "end resistance": "50.0 Ω",
    }
    of.figures = replace(made, centre_hz=None)
    assert "centre" not in dict(stage_figures.filter_figures(of))


def test_columns_of_vfo_and_read_out():
    cover = SimpleNamespace(
        wanted_low_hz=5.0e6, wanted_high_hz=5.35e6, covers_low_hz=4.98e6, covers_high_hz=5.37e6
    )
    of = SimpleNamespace(
        dial=SimpleNamespace(worst_hz_per_turn=35.46e3),
        drift=tuple(
            SimpleNamespace(hz_per_k=hz, worst_hz_per_k=worst) for hz, worst in ((-12.0, 30.0), (8.0, 41.4))
        ),
        start=(3.14, 2.96),
    )
    known, unknown = SimpleNamespace(cover=cover, found=of), SimpleNamespace(cover=cover, found=None)
    assert dict(stage_sections._band_rows(stage_sections._VFO_PRINTED, (known, unknown))) == {
        "wanted": ("5.0000 to 5.3500 MHz",) * 2,
        "covered": ("4.9800 to 5.3700 MHz",) * 2,
        "tuning, most": ("35.5 kHz/turn", "-"),
        "drift, low and high end": ("−12 and +8 Hz/K", "-"),
        "drift, worst case": ("41 Hz/K", "-"),
        "start-up": ("2.96 times", "-"),
    }
    reading = Reading(
        band="20m",
        arrangement="helper_minus_vfo",
        scheme="helper − VFO",
        helper_hz=None,
        counted_hz=(2.5e6, 2.25e6),
        offset_hz=11.5e6,
        direction="add",
        shows_hz=(14.0e6, 14.35e6),
        filter_hz=(),
        birdies=0,
        cost=0.0,
    )
    other = replace(reading, direction="none", filter_hz=(3e6,))
    shown = [
        ShownOn(BandReadOut("20m", read, programme, error), 10.0)
        for read, programme, error in (
            (reading, 2, DialError(812.6, 10.0, ())),
            (other, None, None),
            (replace(reading, direction="subtract"), 1, None),
            (Unsolved("no"), None, None),
        )
    ]
    assert dict(stage_sections._band_rows(stage_sections._READ_OUT_PRINTED, shown)) == {
        "scheme": ("helper − VFO", "helper − VFO", "helper − VFO", "cannot be shown"),
        "counted": (*("2.25000 to 2.50000 MHz",) * 3, "-"),
        "filter": ("none", "low-pass at 3 MHz", "none", "none"),
        "stored": ("+11.500000 MHz", "nothing", "−11.500000 MHz", "-"),
        "shows": (*("14.00000 to 14.35000 MHz",) * 3, "-"),
        "off by up to": ("813 Hz", "-", "-", "-"),
        "programme": ("2", "none", "1", "none"),
    }


def test_a_filter_that_cannot_be_made_stands_with_its_reason(tern):
    analysis = Analysis(tern)
    row = next(row for row in analysis.filters if row.stage == "band_pass")
    broken = stage_sections.circuit_section(replace(row, design=Unsolved("It cannot be.")), analysis, ())
    assert (broken.reason, broken.drawing, broken.parts, broken.curve) == ("It cannot be.", None, (), None)
    dark = stage_sections.circuit_section(replace(row, figures=Unsolved("Nothing passes.")), analysis, ())
    assert (dark.reason, dark.figures) == ("Nothing passes.", ())
    assert dark.curve is not None
    homeless = stage_sections.circuit_section(replace(row, bands=()), analysis, ())
    assert homeless.title == f"{row.name}, no band"
    # Without a band the curve marks all that it shows.
    assert (homeless.curve.low_hz, homeless.curve.high_hz) == row.design.span_hz


def test_mixers_of_one_name_have_each_its_own_figures(muddle):
    apart = {each.stage: each for each in build_sheet.build_sheet(Analysis(muddle)).plain}
    named = muddle.edited(("stages", "detector", "name"), muddle.stage("mixer").name)
    alike = {each.stage: each for each in build_sheet.build_sheet(Analysis(named)).plain}
    assert alike["mixer"].title == alike["detector"].title
    assert alike["mixer"].figures == apart["mixer"].figures
    assert dict(apart["mixer"].figures) != dict(apart["detector"].figures)


def test_a_vfo_without_a_tank_has_no_section(tern):
    block = Analysis(tern.edited(("vfo", "tank"), None))
    assert build_sheet.build_sheet(block).vfo is None
    broken = SimpleNamespace(tank=Unsolved("It cannot be."))
    made = stage_sections.vfo_section(broken, ())
    assert (made.design, made.parts, made.limits) == (None, (), ("It cannot be.",))


def test_a_filter_is_told_on_each_of_its_bands_and_once_where_it_serves_all():
    rows = [SimpleNamespace(bands=()), SimpleNamespace(bands=("20m", "12m"))]
    found = filters_on(SimpleNamespace(filters=rows))
    assert [(each.row, each.band) for each in found] == [(rows[0], ""), (rows[1], "20m"), (rows[1], "12m")]


def test_the_dials_are_marked_in_the_curve_of_a_front_filter(monkeypatch):
    # A filter without parts scatters nowhere.
    monkeypatch.setattr(stage_sections, "corridor", lambda *_: Unsolved("No parts."))
    dials = ((14.0e6, 14.35e6), (10.1e6, 10.15e6))
    row = SimpleNamespace(kind="low_pass", bands=("20m", "30m"))
    design = FilterDesign(
        network=Network((), 50.0, 50.0), parts=(), end_resistance_ohm=50.0, span_hz=(1e6, 30e6)
    )
    for served, marked in ((dials, (10.1e6, 14.35e6)), (dials[:1], (14.0e6, 14.35e6)), ((), (1e6, 30e6))):
        rig = SimpleNamespace(dials=lambda bands, s=served: s, project=SimpleNamespace(scatter=Scatter()))
        curve = stage_sections._curve(row, rig, design)
        assert (curve.low_hz, curve.high_hz) == marked
        assert (curve.f_hz[0], curve.f_hz[-1]) == (1e6, 30e6)


def test_a_crystals_figures_are_used_where_a_crystal_stands():
    row = PartRow(
        ref="C1", kind="capacitor", designed=1e-10, preferred=1e-10, as_built=None, unit="F", which=1
    )
    typed = tuple((key, 1.0) for key in crystal_keys(1))
    assert unused(typed, (row,)) == crystal_keys(1)
    assert unused(typed, (replace(row, kind="crystal", role="crystal"),)) == ()


def test_nothing_is_shown_without_a_counter(tern):
    assert shown_on(SimpleNamespace(read_out=None)) == []
    assert [each.row.band for each in shown_on(Analysis(tern))] == [band.name for band in tern.bands]


def test_a_block_has_the_level_at_its_input_and_at_its_output():
    transmit = SimpleNamespace(level_dbm=np.array([-40.0, -10.0, 5.0, 30.0]))
    into, out = by_key(BLOCK_TRANSMIT, "input_dbm", "level_dbm")
    for place, levels in enumerate(((-40.0, -10.0), (-10.0, 5.0), (5.0, 30.0))):
        block = SimpleNamespace(transmit=transmit, place=place)
        assert (into.get(block), out.get(block)) == levels
    assert out.get(SimpleNamespace(transmit=None, place=0)) is None


@pytest.mark.parametrize(
    ("first", "hour", "text"),
    [(120.0, 30.0, "120 and 30 Hz"), (-120.0, -30.0, "120 and 30 Hz"), (-120.0, 30.0, "120 and 30 Hz")],
)
def test_a_warm_up_is_told_by_how_far_it_goes(first, hour, text):
    (figure,) = [each for each in VFO if each.key == "warm_up"]
    warm = SimpleNamespace(first_hz=first, next_hour_hz=hour)
    assert figure.text(SimpleNamespace(warm=warm)).replace("\u202f", " ") == text


@pytest.mark.parametrize(
    ("how", "shown"),
    [
        ({"digits": 4}, "4"),
        ({"places": 0}, ".0f"),
        ({"places": 1, "prefix": "k"}, ".1f k"),
        ({"places": 2, "signed": True}, "+.2f"),
    ],
)
def test_how_a_finding_writes_a_figure(how, shown):
    made = Figure(key="a", title="a", what="A.", source="a table", get=lambda row: row, unit="Hz", **how)
    assert made.shown == shown


@pytest.mark.parametrize(
    ("value", "unit", "written"),
    [
        (None, "Hz", ""),
        # A crystal to the hertz, a coil as it can be wound, a capacitor to what can be measured.
        (9000123.4, "Hz", "9.000123 MHz"),
        (1.23456e-6, "H", "1.23 µH"),
        (123.456e-12, "F", "123.5 pF"),
        (4.56789, "", "4.57"),
    ],
)
def test_a_parts_value_in_words(value, unit, written):
    assert part_value(value, unit).replace("\u202f", "") == written


# -- parts -------------------------------------------------------------------------------------------------


def part(fitted, unit="F", kind="capacitor", **others):
    given = {"ref": "C1", "designed": fitted, "preferred": fitted, "as_built": None}
    return PartRow(kind=kind, unit=unit, **given | others)


def listed(made, type_name=None, crystal=""):
    type_ = None if type_name is None else coefficients()[type_name]
    return ListedPart(
        stage="s", name="S", bands=(), index=None, part=made, type=type_, crystal=crystal, alike=1
    )


def test_what_kind_to_get():
    known = coefficients()
    for name, row in known.items():
        sign = "" if row.ppm == 0 else "+" if row.ppm > 0 else "−"
        told = listed(part(1e-10), name).kind
        assert told == f"{row.name}, {sign}{abs(row.ppm):g} ± {row.tolerance_ppm:g} ppm/K"
    assert {row.ppm > 0 for row in known.values()} == {True, False}
    assert listed(part(1e-10)).kind == ""
    assert listed(part(9e6, "Hz", "crystal"), crystal="17").kind == "crystal 17"


def test_which_parts_are_alike():
    def same(one, other):
        return parts_list.sort_of(one) == parts_list.sort_of(other)

    # Five digits of a capacitor, ten of a crystal.
    assert same(listed(part(100.004e-12)), listed(part(100.0e-12)))
    assert not same(listed(part(100.01e-12)), listed(part(100.0e-12)))
    assert not same(listed(part(1e-10)), listed(part(1e-10), "c0g"))
    assert not same(listed(part(1e-10)), listed(part(1e-10, kind="crystal")))
    assert not same(listed(part(9.000001e6, "Hz", "crystal")), listed(part(9.0e6, "Hz", "crystal")))
    # What is fitted counts, not what was designed.
    assert same(listed(part(1e-10, as_built=2e-10)), listed(part(2e-10)))


@pytest.mark.parametrize(
    ("value", "power", "digits", "text"),
    [
        (4.7e-11, 12, 5, "47"),
        (1.23456e-10, 12, 5, "123.46"),
        (2.2e-6, 6, 5, "2.2"),
        (9000123.4, -6, 10, "9.0001234"),
        (1e-8, 12, 5, "10000"),
        (50.0, 0, 5, "50"),
        (0.1 + 0.2, 0, 5, "0.3"),
    ],
)
def test_values_in_the_unit_that_they_are_spoken_of_in(value, power, digits, text):
    assert plain(value, digits, power) == text


@pytest.mark.parametrize("words", ["=1+1", "+1", "-1", "@x", "\tx"])
def test_a_cell_that_a_spreadsheet_would_compute_is_text(words):
    assert guarded(words) == f"'{words}"
    assert guarded("C1") == "C1"


# -- report ------------------------------------------------------------------------------------------------


def test_rows_of_the_survey_beyond_those_shown_are_counted():
    twenty = Band(name="20m", low_hz=14.0e6, high_hz=14.35e6, sideband="upper")
    rows = survey((twenty,), (8.0e6, 9.0e6))
    assert len(rows) == 4
    for most, left in ((5, ""), (4, ""), (3, "1 further rows"), (1, "3 further rows")):
        text = report.survey_text(rows, most)
        assert text.count(" MHz (+") + text.count("MHz, ") >= min(most, 4)
        assert (f"\n{left}; --json prints them all." in text) if left else ("further" not in text)
    assert report.survey_text((replace(rows[0], impossible="no"),)).count("—") == 1
    none = report.survey_text((replace(rows[0], lowest_crossing_order=None),))
    assert "none" in none.splitlines()[-1]
    met = next(row for row in rows if row.lowest_crossing_order is not None)
    head, *_, told = report.survey_text((met,)).splitlines()
    assert "first crossing, order" in head
    # Crystals go by their names, which tell the IF.
    assert head.split()[:2] == ["cost", "crystal"]
    assert f" {met.lowest_crossing_order} " in told


# -- a scatter's limits ------------------------------------------------------------------------------------


def test_limits_typed_in_stand_before_those_of_the_design():
    def measured(key, nominal, below, above, relative):
        values = dict.fromkeys(Measured.__dataclass_fields__) | {"key": key, "nominal": nominal}
        return Measured(**values | {"below": below, "above": above, "relative": relative})

    run = SimpleNamespace(
        measured=(
            measured("width", 2500.0, 0.12, 0.12, True),
            measured("ripple", 1.0, None, 2.0, False),
            measured("loss", 3.0, None, 2.0, False),
        )
    )
    usual = {"width": (2200.0, 2800.0), "ripple": (None, 3.0), "loss": (None, 5.0)}
    plain = limits(run, filters.LADDER, Scatter())
    assert {k: pytest.approx(v) if None not in v else v for k, v in usual.items()} == plain
    typed = Scatter(width_low_hz=2300.0, ripple_db=0.0, loss_db=4.0)
    found = limits(run, filters.LADDER, typed)
    assert found["width"] == pytest.approx((2300.0, 2800.0))
    assert found["ripple"] == (None, 0.0)
    assert found["loss"] == (None, 4.0)
    # They are a ladder's.
    assert limits(run, BAND_PASS, typed) == plain


# -- curves and crystals -----------------------------------------------------------------------------------


def test_curves_stand_on_even_grids(tern):
    assert (TONES_HZ[0], TONES_HZ[-1]) == (50.0, 4000.0)
    assert np.diff(TONES_HZ) == pytest.approx(10.0)
    assert (DELAY_TONES_HZ[0], DELAY_TONES_HZ[-1]) == (150.0, 4000.0)
    design = Analysis(tern).filter_design("band_pass", "20m")
    made = filter_response(design, 13e6, 15e6)
    assert (made.f_hz[0], made.f_hz[-1]) == (13e6, 15e6)
    assert np.diff(made.f_hz) == pytest.approx(made.f_hz[1] - made.f_hz[0])


def test_what_a_choice_makes_is_told_to_a_tenth_of_a_decibel_and_a_hertz():
    made = ChoiceFigures("by frequency alone", 2.04, 3.16, 2371.26)
    assert [figure.text(made) for figure in RESPONSES] == [
        "by frequency alone",
        "2.0 dB",
        "3.2 dB",
        "2.371 kHz",
    ]
    assert RESPONSES[-1].text(replace(made, width_hz=None)) == "beyond the range"


def test_a_delay_that_is_not_known_says_why(tern, monkeypatch):
    analysis = Analysis(tern)
    ladder = tern.stage("ladder")
    known = speech_delay(analysis, ladder, "20m")
    assert known.spread_s == pytest.approx(0.61e-3, abs=0.01e-3)
    (spread,) = by_key(LADDER, "group_delay_spread_s")
    assert spread.text(filter_on(analysis, "ladder", "20m")) == "0.61 ms"
    assert known.delay_s.shape == DELAY_TONES_HZ.shape
    why = Unsolved("Nothing passes there.")
    for name in ("audio_group_delay_s", "group_delay_spread_s"):
        with monkeypatch.context() as patch:
            patch.setattr(carrier_oscillator, name, lambda *of: why)
            curves._delay.cache_clear()
            assert speech_delay(Analysis(tern), ladder, "20m") == why
    curves._delay.cache_clear()


def test_a_bare_ladder_keeps_what_is_no_crystal(tern):
    built = {"crystal:1": 9e6, "crystal:1.lm": 15e-3, "crystal:2.q": 5e4, "coupling:12": 1e-10}
    ladder = tern.stage("ladder")
    made = bare(ladder.edited(("as_built",), built))
    assert dict(made.as_built) == {"coupling:12": 1e-10}
    assert bare(made) == made
