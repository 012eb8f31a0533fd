"""The sheet's numbers are the analysis' numbers, each in its place."""

import numpy as np
import pytest

from core.circuits.ladder import solve
from core.model.values.quantities import spelled
from core.rig.analysis import Analysis
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.parts_list import parts_list
from core.stages.kinds.table import KINDS
from core.stages.vfo import vfo
from core.stages.vfo.tank import given_parts


@pytest.fixture(params=["tern", "muddle"])
def analysis(request):
    return Analysis(request.getfixturevalue(request.param))


def test_every_stage_stands_beside_its_own_gain_level_and_headroom(analysis):
    sheet = build_sheet(analysis)
    receive, transmit = sheet.paths
    for table, ask, level in (
        (receive, analysis.receive, lambda found: found.s9_dbm),
        (transmit, analysis.transmit, lambda found: found.level_dbm),
    ):
        for column, band in enumerate(sheet.bands):
            found = ask(band)
            assert table.start_dbm[column] == level(found)[0]
            assert [row.name for row in table.rows] == [block.name for block in found.blocks]
            running = table.start_dbm[column]
            for n, row in enumerate(table.rows):
                assert row.level_dbm[column] == level(found)[n + 1]
                assert row.gain_db[column] == found.blocks[n].gain_db
                assert row.headroom_db[column] == found.headroom_db[n]
                running += row.gain_db[column]
                if table is receive:
                    # S9 is far from overload up to the detector: levels are the running sum of the gains.
                    assert row.level_dbm[column] == pytest.approx(running, abs=0.6) or n > 7
            assert table.summary[column].startswith(f"{spelled(band)}: ")


def test_every_filter_prints_its_own_parts_kinds_and_curve(analysis):
    sheet, listed = build_sheet(analysis), parts_list(analysis)
    drawn = [section for section in sheet.filters if section.curve is not None]
    for row, section in zip(analysis.filters, drawn, strict=True):
        assert section.parts == row.design.parts
        mine = [each for each in listed if (each.stage, each.index) == (row.stage, row.index)]
        assert [each.part.ref for each in mine] == [part.ref for part in section.parts]
        assert section.kinds == tuple(each.kind for each in mine)
        for part, kind in zip(section.parts, section.kinds, strict=True):
            assert ("C0G" in kind) == (part.kind == "capacitor")
        assert section.title.startswith(row.name)
        curve = section.curve
        assert np.array_equal(curve.loss_db, solve(row.design.network, curve.f_hz).loss_db)
        inside = (curve.f_hz >= curve.low_hz) & (curve.f_hz <= curve.high_hz)
        if inside.any() and not inside.all():
            assert np.median(curve.loss_db[inside]) < np.median(curve.loss_db[~inside])


def test_the_vfos_columns_are_its_bands_and_its_worst_figures(analysis):
    section, made = build_sheet(analysis).vfo, analysis.tank
    if section is None:
        pytest.fail("both samples have a tank")
    rows = dict(section.figures)
    assert section.parts == (*made.parts, *given_parts(made))
    assert len(section.kinds) == len(section.parts)
    for column, cover in enumerate(made.ranges):
        found = vfo.figures(made, cover.band)
        assert section.bands[column] == cover.band
        wanted = f"{cover.wanted_low_hz / 1e6:.4f} to {cover.wanted_high_hz / 1e6:.4f} MHz"
        assert rows["wanted"][column] == wanted
        assert float(rows["start-up"][column].removesuffix(" times")) == pytest.approx(
            min(found.start), rel=0.06
        )
        most = max(found.dial.hz_per_turn) / 1e3
        assert float(rows["tuning, most"][column].removesuffix(" kHz/turn")) == pytest.approx(most, rel=0.01)
        worst = max(each.worst_hz_per_k for each in found.drift)
        assert float(rows["drift, worst case"][column].removesuffix(" Hz/K")) == pytest.approx(worst, abs=0.5)
        ends = rows["drift, low and high end"][column]
        assert "-" not in ends, "a minus sign, not a hyphen"
        assert "−0" not in ends


@pytest.mark.parametrize("name", ["sample", "muddle"])
def test_every_stage_has_three_figures_to_verify_which_are_its_own(request, name):
    sheet = build_sheet(Analysis(request.getfixturevalue(name)))
    asked = [each for each in (*sheet.filters, *sheet.plain) if each.stage not in ("carrier", "read_out")]
    assert len(asked) > 10
    for section in asked:
        assert not getattr(section, "reason", ""), section.title
        assert len(section.verify) == 3, section.title
        assert set(section.verify) <= set(section.figures), section.title
        assert len({title for title, _ in section.verify}) == 3
    assert len(sheet.vfo.verify) == 3
    told = {text for _, texts in sheet.vfo.figures for text in texts}
    assert {text for _, text in sheet.vfo.verify} <= told
    of_supply = dict(sheet.fed.verify)
    assert set(of_supply) == {"current, receive", "current, full output", "at the rig, full output"}


@pytest.mark.parametrize("word", sorted(KINDS))
def test_a_stage_of_any_kind_has_figures_to_verify(sample, word):
    """What can be designed; a bilateral stage has them in either direction."""
    stage = KINDS[word].default(sample.bands, sample.if_hz).edited(("id",), "probe")
    analysis = Analysis(sample.stage_inserted(6, stage))
    sheet = build_sheet(analysis)
    mine = [each for each in (*sheet.filters, *sheet.plain) if each.stage == "probe"]
    assert mine
    for section in mine:
        assert not getattr(section, "reason", "")
        assert len(section.verify) == 3, section.figures
