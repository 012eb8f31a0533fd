"""A new rig is a project or a sentence, at any IF and for any band that the model allows."""

import json

import pytest

from core.model.bands import Band
from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.rig.paper.report import report
from core.rig.start.new_rig import default_stage, new_rig, with_frequencies
from core.stages.kinds.table import KINDS
from core.stages.ordinary import typical_crystal

BANDS = (Band(),)


@pytest.mark.parametrize("if_hz", [1e4, 3e4, 2e8, 2.8e8, 3e8, 1e9])
def test_every_kind_of_stage_can_be_inserted_at_any_if(if_hz):
    for kind in KINDS:
        assert default_stage(kind, BANDS, if_hz).kind == kind
    json.dumps(report(Analysis(new_rig(BANDS, if_hz))), allow_nan=False)


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
