"""What the front filters keep out: it follows the dial, and its worst is the worst over the band."""

import numpy as np
import pytest

from core.circuits.ladder import solve
from core.rig.analysis import Analysis
from core.rig.figures.figure import keyed
from core.rig.figures.products import HARMONICS, REJECTIONS
from core.rig.levels.harmonics import Harmonic
from core.rig.plan.frequency_plan import image_for
from core.rig.plan.rejections import Rejection


@pytest.mark.parametrize("dial_hz", [7.01e6, 7.125e6, 7.19e6])
def test_each_signal_stands_where_the_dial_puts_it(muddle, dial_hz):
    analysis = Analysis(muddle)
    plan, design = analysis.band_plan("40m"), analysis.filter_design("band_pass", "40m")
    rows = {row.name: row for row in analysis.rejections("band_pass", "40m", dial_hz)}
    vfo = plan.vfo_at(dial_hz)
    where = {"image": image_for(plan.scheme, plan.carrier_hz, vfo), "2 VFO": 2 * vfo, "IF": plan.carrier_hz}
    for name, at in where.items():
        assert rows[name].at_hz == pytest.approx(at)
        loss = solve(design.network, [at, dial_hz]).loss_db
        assert rows[name].rejected_db == pytest.approx(loss[0] - loss[1], abs=1e-9)


def test_the_least_rejection_is_that_of_the_worst_dial(tern):
    analysis = Analysis(tern)
    plan, design = analysis.band_plan("20m"), analysis.filter_design("band_pass", "20m")
    dials = np.linspace(plan.dial_low_hz, plan.dial_high_hz, 500)
    second = 2 * np.array([plan.vfo_at(dial) for dial in dials])
    worst = (solve(design.network, second).loss_db - solve(design.network, dials).loss_db).min()
    row = next(r for r in analysis.rejections("band_pass", "20m", 14.2e6) if r.name == "2 VFO")
    assert row.least_db == pytest.approx(worst, abs=0.05)
    assert row.least_db < row.rejected_db - 1


def test_beyond_what_wiring_allows_no_number_is_told(tern):
    told, harmonics = keyed(REJECTIONS), keyed(HARMONICS)
    far = Rejection(name="VFO", at_hz=5.4e6, rejected_db=133.4, least_db=99.9, least_at_hz=5.5e6)
    assert (told["rejected_db"].text(far), told["least_db"].text(far)) == ("over 100.0 dB", "99.9 dB")
    assert told["rejected_db"].plain(far) == {"rejected_db": 133.4}
    fifth = Harmonic(
        band="20m",
        number=5,
        frequency_hz=70.6e6,
        amplifier_dbc=-30.0,
        filter_db=109.6,
        result_dbc=-139.6,
        limit_dbc=-43.0,
    )
    texts = [harmonics[key].text(fifth) for key in ("filter_db", "result_dbc", "margin_db")]
    assert texts == ["over 100.0 dB", "under −100.0 dBc", "+57.0 dB"]
