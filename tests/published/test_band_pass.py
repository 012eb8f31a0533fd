"""The band-pass against a worked example and the formulas of coupled resonators.

Worked double-tuned 7 MHz filter: computed by nodal analysis and by scikit-rf, which agreed.
"""

import numpy as np
import pytest

from core.circuits.ladder import Arm, Network, Part, solve
from core.circuits.shapes.prototypes import three_db_edge
from core.model.stages.filters import BandPassFilter
from core.stages.band_pass import band_pass, first_design
from core.stages.band_pass.widths import QUALITIES, loss_over_width

ASKED = BandPassFilter(centre_hz=7.1e6, bandwidth_hz=300e3, inductance_h=1.6e-6, coil_q=200)
TABLE = """
3.50 80.693 80.694
5.20 55.010 55.015
6.50 27.055 27.141
6.90 6.814 7.769
6.95 3.273 4.698
7.00 0.813 2.527
7.05 0.050 1.631
7.10 0.000 1.448
7.15 0.056 1.585
7.20 0.738 2.343
7.25 2.717 4.089
7.30 5.534 6.522
7.70 21.314 21.437
9.00 36.015 36.031
14.20 44.233 44.235
21.20 44.212 44.213
"""


def worked(q: float | None) -> Network:
    """The worked circuit with its own rounded parts."""

    def end(n):
        return Arm("series", (Part(f"CE{n}", "capacitor", 65.55e-12),))

    def tank(n):
        tuned = (Part(f"L{n}", "inductor", 1.6e-6, q), Part(f"C{n}", "capacitor", 240.49e-12))
        return Arm("shunt", tuned, "in_parallel")

    middle = Arm("series", (Part("CC", "capacitor", 9.38e-12),))
    return Network((end(1), tank(1), middle, tank(2), end(2)), 50, 50)


def test_the_worked_response():
    table = np.array([[float(v) for v in line.split()] for line in TABLE.strip().splitlines()])
    for column, q in ((1, None), (2, 200.0)):
        np.testing.assert_allclose(solve(worked(q), 1e6 * table[:, 0]).loss_db, table[:, column], atol=0.01)


def test_the_first_design_has_the_worked_parts():
    network, _ = first_design.first_design(ASKED, ())
    values = {p.ref: p.value for p in network.parts}
    assert values["CE1"] == pytest.approx(65.55e-12, rel=1e-3)
    assert values["C1"] == pytest.approx(240.49e-12, rel=1e-3)
    assert values["CC1"] == pytest.approx(9.38e-12, rel=1e-3)


@pytest.mark.parametrize("ends", ["series_capacitor", "tapped_capacitor", "link"])
@pytest.mark.parametrize("resonators", [2, 3])
@pytest.mark.parametrize("bandwidth", [250e3, 600e3])
def test_the_fitted_filter_is_as_wide_as_asked(ends, resonators, bandwidth):
    asked = BandPassFilter(
        centre_hz=7.1e6,
        bandwidth_hz=bandwidth,
        ends=ends,
        resonators=resonators,
        coil_q=1e7,
        inductance_h=1.6e-6,
    )
    found = band_pass.figures(asked, ())
    assert found.bandwidth_3db_hz == pytest.approx(bandwidth, rel=0.01)
    assert found.centre_hz == pytest.approx(7.1e6, rel=0.002)


def test_the_fitted_chebyshev_has_its_ripple():
    asked = BandPassFilter(
        centre_hz=14.2e6, bandwidth_hz=500e3, shape="chebyshev", ripple_db=0.5, resonators=3, coil_q=1e7
    )
    found = band_pass.figures(asked, ())
    assert found.bandwidth_3db_hz == pytest.approx(500e3 * three_db_edge(3, 0.5), rel=0.01)
    assert found.ripple_db == pytest.approx(0.5, abs=0.05)


@pytest.mark.parametrize(("q", "loss"), [(250, 1.160), (200, 1.448), (150, 1.924), (100, 2.865)])
def test_the_loss_of_finite_q(q, loss):
    # Two equal resonators, |S21| = 2 (K/Qe)/(K² + (1/Qe + 1/Qu)²): K 0.029878, Qe 33.470 (calculated).
    found = band_pass.figures(ASKED.edited(("coil_q",), float(q)), ())
    assert found.insertion_loss_db == pytest.approx(loss, abs=0.02)


@pytest.mark.parametrize(("q", "loss"), [(250, 1.163), (200, 1.454), (150, 1.938), (100, 2.907)])
def test_the_loss_over_the_width_by_the_elements_of_the_prototype(q, loss):
    """4.343 sum(g)/(Qu B/f0) at 300 kHz of 7.1 MHz, calculated; scaled, as it goes with 1/Q."""
    found = loss_over_width(ASKED, ())
    for row, of in zip(found.loss_db, QUALITIES, strict=True):
        told = np.exp(np.interp(np.log(300e3), np.log(found.width_hz), np.log(row)))
        assert told * of / q == pytest.approx(loss, abs=0.002)
    assert (found.here_hz, found.here_q) == (300e3, 200)
    assert found.here_db == pytest.approx(1.448, abs=0.02)


@pytest.mark.parametrize("share", [0.03, 0.08])
def test_the_estimate_of_loss_is_that_of_exact_filters(share):
    f0 = 7.1e6
    one = BandPassFilter(centre_hz=f0, bandwidth_hz=share * f0, resonators=3, coil_q=QUALITIES[2])
    exact = band_pass.figures(one, ()).insertion_loss_db
    found = loss_over_width(one, ())
    told = np.interp(share * f0, found.width_hz, found.loss_db[2])
    assert told == pytest.approx(exact, rel=0.07)
