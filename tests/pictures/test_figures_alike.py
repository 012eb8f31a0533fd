"""The same figure reads the same, wherever it stands."""

import re
from dataclasses import replace

import numpy as np
import pytest

from app.pictures.bench import crystal_lines, read_out
from app.pictures.bench import survey as survey_picture
from app.pictures.bench import tolerance as tolerance_picture
from app.pictures.bench.tolerance import Ran, Source
from app.pictures.panels import differences, frequency_bar
from app.pictures.panels import parts as parts_picture
from app.pictures.rig import birdie_finder, strip
from app.pictures.stages import block, carrier, front_filter, ladder, vfo
from app.state.look import Look
from core.model.bands import Band
from core.rig import scattered
from core.rig.analysis import Analysis
from core.rig.bench import crystal_bench
from core.rig.bench.crystal_bench import BatchRow
from core.rig.figures import crystals, filters, levels, parts, plan, products
from core.rig.figures import receive as receive_figures
from core.rig.figures import survey as survey_figures
from core.rig.figures import vfo as vfo_figures
from core.rig.figures.figure import keyed, plain_row
from core.rig.figures.filters import FILTER, filter_on
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.report import as_text, crystals_report, crystals_text, report, survey_text
from core.rig.sections.rig import filters_on
from core.rig.survey.if_survey import survey
from core.stages.crystals.crystals import CrystalParameters
from tests.pictures.declared import declared


def told(analysis: Analysis, *selection: str, **look) -> Look:
    return Look("20m", look.get("way", "receive"), 14.2e6, selection)


@pytest.mark.parametrize("key", ["insertion_loss_db", "ripple_db", "bandwidth_6db_hz", "end_resistance_ohm"])
def test_a_ladders_figure_reads_the_same_on_plot_table_sheet_report_and_difference(tern, key):
    analysis = Analysis(tern)
    figure = keyed(FILTER)[key]
    text = figure.text(filter_on(analysis, "ladder", "20m"))
    picture = ladder.picture_of(analysis, None, told(analysis, "stages", "ladder"), delay=False, figures=True)
    assert dict(picture.figures.rows)[figure.title] == text
    assert figure.tip in picture.figures.tips
    if key != "end_resistance_ohm":
        assert f"{figure.title} {text}".replace(" ", "\u00a0") in picture.near.notes
        assert figure.tip in picture.near.told
    section = next(s for s in build_sheet(analysis).filters if s.title == "Ladder filter")
    assert dict(section.figures)[figure.title] == text
    line = next(
        line for line in as_text(report(analysis)).splitlines() if line.startswith("ladder     ladder")
    )
    assert text in line
    if key in ("insertion_loss_db", "bandwidth_6db_hz"):
        rows = differences.figures(analysis, "20m")
        assert rows[f"Ladder filter, {figure.title}"] == (text, figure.tip)


def test_levels_read_the_same_on_strip_sheet_report_and_difference(tern):
    analysis = Analysis(tern)
    r, t = analysis.receive("20m"), levels.sent(analysis, "20m")
    receive, transmit = (path.summary[0] for path in build_sheet(analysis).paths)
    text, rows = as_text(report(analysis)), differences.figures(analysis, "20m")
    for table, of, keys, summary in (
        (receive_figures.RECEIVE, r, ("noise_figure_db", "mds_dbm", "speaker_noise_db_spl"), receive),
        (levels.TRANSMIT, t, ("output_w",), transmit),
    ):
        for key in keys:
            figure = keyed(table)[key]
            assert figure.text(of) in summary
            assert figure.text(of) in text
            assert rows[figure.title] == (figure.text(of), figure.tip)


def test_the_carriers_and_the_vfos_figures_read_the_same(tern):
    analysis = Analysis(tern)
    text, sheet = as_text(report(analysis)), build_sheet(analysis)
    rows = carrier.picture_of(analysis, None, told(analysis, "carrier")).carriers.rows
    (of,) = sheet.carriers
    for key in ("frequency_hz", "reachable", "trimmer_f", "lowest_audio_hz"):
        figure = keyed(plan.CARRIER)[key]
        assert dict(rows)[figure.title] == figure.text(of)
        assert figure.text(of) in text
    shown = dict(vfo.picture_of(analysis, None, told(analysis, "vfo"), beside=vfo.RATE).figures.rows)
    for name, (first, _) in sheet.vfo.figures:
        if name in shown:
            assert shown[name] == first, name
        assert first in text
    assert len({name for name, _ in sheet.vfo.figures} & set(shown)) >= 4


def test_every_row_of_a_stages_table_tells_what_it_is(tern):
    analysis = Analysis(tern)
    for stage in ("mixer", "if_amplifier_1"):
        table = block.picture_of(analysis, told(analysis, "stages", stage)).table
        assert all(table.tips)
        assert len(table.tips) == len(table.rows)
    for stage in ("band_pass", "low_pass"):
        for tells in ("signals", "parts at full power"):
            at = told(analysis, "stages", stage)
            table = front_filter.picture_of(analysis, None, at, tells=tells).table
            assert len(table.head_tips) == len(table.heads)
            assert all("Source: " in each for each in table.head_tips)


def test_what_a_mixer_is_driven_with_is_told_by_its_figures(tern):
    analysis = Analysis(tern.edited(("carrier", "output_dbm"), 3.0))
    table = carrier.picture_of(analysis, None, told(analysis, "carrier")).drives
    assert table.head_tips == tuple(figure.tip for figure in levels.DRIVE)
    of = next(each for each in analysis.drives if each.oscillator == "carrier")
    row = dict(zip(table.heads, table.rows[0], strict=True))
    assert row == {figure.title: figure.text(of) for figure in levels.DRIVE}
    assert (row["gets"], row["missing"]) == ("+3 dBm", f"{of.wanted_dbm - 3:.0f} dB")
    enough = Analysis(tern.edited(("carrier", "output_dbm"), of.wanted_dbm + 1))
    rows = carrier.picture_of(enough, None, told(enough, "carrier")).drives.rows
    assert {each[-1] for each in rows} == {"nothing"}


def test_the_vfos_drift_by_part_is_told_by_its_figures(tern):
    analysis = Analysis(tern)
    picture = vfo.picture_of(analysis, None, told(analysis, "vfo"), beside=vfo.RATE)
    assert picture.drift.heads == tuple(figure.title for figure in vfo_figures.DRIFT)
    assert picture.drift.head_tips == tuple(figure.tip for figure in vfo_figures.DRIFT)
    found, figure = analysis.vfo_on("20m").worst_drift, keyed(vfo_figures.DRIFT)
    *rows, total = picture.drift.rows
    for row, part in zip(rows, found.contributions, strict=True):
        assert row[2] == figure["share_percent"].text(part) == f"{100 * part.share:.1f} %"
        assert f"{row[3]} ppm/K" == figure["coefficient_ppm"].text(part)
        assert f"{row[4]} ppm/K" == figure["effect_ppm"].text(part)
    assert f"{total[4]} ppm/K" == figure["effect_ppm"].written(found.ppm_per_k)


def test_the_bars_terms_are_told_by_their_figures(tern):
    analysis, look = Analysis(tern), Look("20m", "receive", 14.2e6)
    carrier_hz, if_hz = round(analysis.carrier_hz("20m")), round(tern.if_hz)
    of = plan.DialledOn(tern.band("20m").scheme, if_hz, carrier_hz, 14.2e6)
    picture = frequency_bar.picture_of(analysis, None, look)
    assert picture.offset == plan.TO_CARRIER.text(of) == f"{abs(carrier_hz - if_hz) / 1e3:.3f} kHz"
    assert picture.vfo == plan.VFO_NOW.text(of)
    whole, thousands, hertz = picture.vfo.removesuffix(" MHz").replace(".", "\u202f").split("\u202f")
    assert int(whole + thousands + hertz) == plan.VFO_NOW.get(of)


@pytest.mark.parametrize("way", ["receive", "transmit"])
def test_every_figure_on_the_strip_is_told_and_its_headroom_is_the_stages(tern, way):
    analysis, look = Analysis(tern), Look("20m", way, 14.2e6)
    islands = {each.stage: each for each in strip.strip_of(analysis, (), look).islands if each.stage}
    figure = levels.HEADROOM_RECEIVE if way == "receive" else levels.HEADROOM_TRANSMIT
    path = analysis.receive("20m", 14.2e6) if way == "receive" else analysis.transmit("20m", 14.2e6)
    seen = 0
    for place, each in enumerate(path.blocks):
        island = islands[each.stage]
        of = levels.block_on(analysis, place, "20m", way, 14.2e6)
        assert island.figure == levels.GAIN.text(of)
        assert f"Gain: {levels.GAIN.tip}" in island.help.splitlines()
        assert (f"Headroom: {figure.tip}" in island.help.splitlines()) == bool(island.headroom)
        if island.headroom.startswith("headroom"):
            assert island.headroom == f"headroom {figure.text(of)}"
            seen += 1
    assert seen > 1


@pytest.fixture(scope="module")
def runs(tern):
    """A short run of every filter and amplifier of the rig that can be tried."""
    analysis = Analysis(tern.edited(("scatter", "trials"), 50))
    sources = (Source(each, analysis.project.scatter) for each in scattered.scatterable(analysis))
    return analysis, [Ran(source, scattered.run(source.tried, source.scatter)) for source in sources]


def test_what_a_tolerance_run_measures_is_declared_and_read_alike_in_words_and_histogram(runs):
    analysis, rans = runs
    seen = set()
    for ran in rans:
        key = tolerance_picture.key_of(ran.source.tried)
        picture = tolerance_picture.picture_of(analysis, key, ran)
        first, *lines = picture.verdict.splitlines()
        counted = "amplifiers" if ran.source.tried.judging.of == "amplifier" else "filters"
        assert first.endswith(f"of 50 {counted} keep every limit.")
        for measured, shown, line in zip(ran.run.measured, picture.titled, lines, strict=False):
            figure = parts.figure_of(measured)
            declared(figure)
            seen.add(figure.title)
            ends = figure.written(tuple(np.nanpercentile(measured.values, [5, 95])))
            assert line == f"{figure.title[:1].upper()}{figure.title[1:]} {ends} in nine of ten."
            _, histogram, tip = shown
            assert tip == figure.tip
            assert tip in picture.told
            mean = figure.written(float(np.nanmean(measured.values)))
            assert [each.text for each in histogram.labels] == [f"mean {mean}"]
            # The axis counts in the unit that the mean is written in.
            assert histogram.title == f"{figure.title}, {mean.rpartition(' ')[2]}"
        for figure in (parts.TRIED[0], parts.SCATTERERS[1]):
            assert figure.tip in picture.told
        (ref, share), *_ = ran.run.shares
        assert f" {ref.partition('.')[0]} " in lines[-1]
        assert f" {parts.SCATTERERS[1].text((ref, share))}" in lines[-1]
    assert {"−6 dB width", "worst loss on the dial", "worst return loss", "gain", "current of Q1"} <= seen


def test_what_may_have_made_a_birdie_is_told_by_its_figures(muddle):
    analysis = Analysis(muddle)
    spur = next(s for s in analysis.spurs("40m") if s.kind == "birdie" and s.crosses and s.moves)
    look = Look("40m", "receive", 7.1e6)
    picture = birdie_finder.picture_of(analysis, look, spur.dial_hz - 300, abs(spur.moves), None)
    assert picture.table.heads == tuple(figure.title for figure in products.CANDIDATES)
    assert picture.table.head_tips == tuple(figure.tip for figure in products.CANDIDATES)
    row = dict(zip(picture.table.heads, picture.table.rows[0], strict=True))
    known = keyed(products.SPURS)
    for key in ("products", "order", "level"):
        assert row[known[key].title] == known[key].text(spur)
    assert row["expected"] == known["dial_hz"].text(spur)
    assert row["off by"] == "+0.3 kHz"


def test_a_filter_that_cannot_be_made_has_no_figures_and_no_crash(tern):
    analysis = Analysis(tern.edited(("stages", "ladder", "crystal"), None))
    of = next(each for each in filters_on(analysis) if each.row.stage == "ladder")
    values = plain_row(filters.FILTERS, of)
    assert {value for key, value in values.items() if key not in ("stage", "kind", "band")} == {None}


def test_the_read_out_reads_the_same_on_page_sheet_report_and_difference(tern):
    analysis = Analysis(tern)
    page = {row[0]: row[1:] for row in read_out.picture_of(analysis, told(analysis)).plan.rows}
    text, rows = as_text(report(analysis)), differences.figures(analysis, "20m")
    for name, texts in build_sheet(analysis).read_out.figures:
        assert page[name] == texts, name
        assert texts[0] in text
    assert rows["stored, 20\u00a0m"][0] == page["stored"][0]


def test_a_crystal_reads_the_same_in_its_line_and_on_the_command_line():
    row = BatchRow("7", CrystalParameters(label="7", fs_hz=8.9987e6, lm_h=16.4e-3, c0_f=3.4e-12, rm_ohm=13.6))
    (line,) = crystal_lines.lines_of((row,), {}, {}, by_mesh=False)
    text = crystals_text(crystals_report((row,), None))
    for figure in crystals.PARAMETERS:
        assert figure.text(row) in text
        if figure.key not in ("cm_f", "fs_hz"):
            assert figure.text(row) in line.cells
    assert line.cells[2] == crystals.FS.text(row).removesuffix(" MHz") == "8.998700"


def test_a_crystals_intervals_read_the_same_in_its_cell_its_tip_and_on_the_command_line(tern):
    row = next(each for each in crystal_bench.batch_of(tern.crystal_batch) if each.parameters)
    p = replace(row.parameters, spread=(("lm_h", 5.43e-6), ("q", 812.0)))
    row = replace(row, parameters=p)
    whole, text = dict(p.whole_spread), crystals_text(crystals_report((row,), None))
    told = {line.split()[0]: line for line in crystal_lines.confidence(row).splitlines()[1:]}
    for figure, own, interval in zip(
        crystals.PARAMETERS, crystals.INTERVALS_OF_READINGS, crystals.INTERVALS, strict=True
    ):
        assert (figure.key, figure.title) == (own.key, own.title) == (interval.key, interval.title)
        if figure.key in whole:
            assert interval.text(row) == interval.written(whole[figure.key])
            assert told[figure.title].endswith(f" ± {interval.text(row)}")
            assert interval.text(row) in text
        assert (f" ± {own.text(row)}, " in told.get(figure.title, "")) == (figure.key in ("lm_h", "q"))
    assert crystals.INTERVALS_OF_READINGS[1].text(row) == "5.4 µH"
    (line,) = crystal_lines.lines_of((row,), {}, {}, by_mesh=False)
    assert line.cells[3].endswith(" ± 5 µH")


def test_a_row_of_the_survey_reads_the_same_in_its_table_and_on_the_command_line():
    (row, *_) = survey((Band(name="20m", low_hz=14.1e6, high_hz=14.35e6),), (9e6,))
    text, figure = survey_text((row,)), keyed(survey_figures.SURVEY)
    texts = {column.title: column.text(row) for column in survey_picture.COLUMNS}
    assert texts["cost"] == figure["cost"].text(row)
    assert texts["cost"] in text
    assert f"{texts['VFO, MHz']} MHz" == figure["vfo"].text(row)
    assert figure["vfo"].text(row) in text
    assert texts["image"] == figure["image_distance_hz"].text(row)


def test_a_part_reads_the_same_in_table_sheet_and_report(tern):
    analysis = Analysis(tern)
    table = {
        each.cells[0]: each.cells[1:]
        for each in parts_picture.picture_of(analysis, told(analysis, "stages", "ladder")).lines
    }
    lines = [each for each in as_text(report(analysis)).splitlines() if each.startswith("ladder ")]
    for row in analysis.parts:
        if row.stage == "ladder" and row.part.kind == "capacitor":
            designed, preferred = parts.DESIGNED.text(row), parts.PREFERRED.text(row)
            assert table[row.part.ref][:2] == (designed, preferred)
            line = next(each for each in lines if f" {row.part.ref} " in each)
            assert f" {designed} " in line
            assert f" {preferred} " in line


def test_bands_and_schemes_are_spelled_in_text_and_keep_their_names_in_json(tern):
    data = report(Analysis(tern))
    assert [(r["band"], r["scheme"]) for r in data["frequency_plan"]] == [
        ("20m", "if_minus_vfo"),
        ("12m", "sum"),
    ]
    text = as_text(data)
    assert re.search(r"^20 m +IF − VFO +14\.1", text, re.MULTILINE)
    assert re.search(r"^ladder +20 m, 12 m +X1 ", text, re.MULTILINE)
    assert re.search(r"^20 m, not: ", text, re.MULTILINE)
    told = "\n".join(line for line in text.splitlines()[1:])
    assert re.findall(r"\b\d+m\b|if_minus_vfo", told) == []
    rows = survey(tern.bands, [19.6608e6])
    assert "IF − VFO, IF + VFO" in survey_text(rows)


def test_nothing_is_missing_where_the_drive_will_do(sample):
    """The sample's ring is best at a decibel more than it gets, and content: no gain is offered for it."""
    (drive,) = [each for each in Analysis(sample).drives if each.oscillator == "carrier"]
    assert drive.missing_db > 0.3
    assert drive.suits
    shown = carrier.picture_of(Analysis(sample), None, told(Analysis(sample), "carrier"))
    assert not shown.short
    starved = Analysis(sample.edited(("carrier", "output_dbm"), -9.0))
    assert carrier.picture_of(starved, None, told(starved, "carrier")).short
