"""Band-passes of coils coupled by their field: against scikit-rf, nodal equations and closed forms.

Closed forms of two circuits tuned alike: they swing at f0/√(1 + k) and f0/√(1 − k); two coils in series read
L1 + L2 ± 2k√(L1 L2); 10 lg(1 + Ω^2N) for the wanted Butterworth (textbook theory of coupled circuits).
"""

import re

import numpy as np
import pytest

from core.circuits import nodal
from core.circuits.circuit import CoupledCoils, Part
from core.circuits.ladder import Arm, Coupled, Network, circuit_of, solve
from core.circuits.netlist import netlist
from core.circuits.slopes import log_slopes
from core.model.stages.filters import BandPassFilter
from core.model.values.notation import parse
from core.stages.band_pass import band_pass
from core.stages.built.curve_fit import fit
from core.stages.built.curve_words import remedy
from core.stages.outcome import FilterDesign, Unsolved
from core.stages.tolerance.drawn import draw
from core.stages.tolerance.judging import Spreads
from tests.published.reference import scattering

DIALS = ((14.0e6, 14.35e6),)
ENDS = ["series_capacitor", "tapped_capacitor", "tapped_coil", "link"]
F = np.linspace(11e6, 18e6, 141)


def asked(**fields):
    return BandPassFilter(**{"coupling": "mutual_inductance", **fields})


@pytest.mark.parametrize("ends", ENDS)
def test_the_row_with_losses_is_exact(ends):
    made = band_pass.design(asked(ends=ends, coil_q=90.0), DIALS)
    ours, theirs, nodes = solve(made.network, F), scattering(made.network, F), nodal.solve(made.circuit, F)
    for s11, s21 in ((theirs[:, 0, 0], theirs[:, 1, 0]), (nodes.s[0, 0], nodes.s[1, 0])):
        np.testing.assert_allclose(ours.s11, s11, atol=1e-9)
        np.testing.assert_allclose(ours.s21, s21, atol=1e-9)
    turned = solve(made.network.reversed(), F)
    np.testing.assert_allclose(turned.s21, ours.s21, rtol=1e-12)
    (coils,) = (b.part for b in made.circuit.branches if isinstance(b.part, CoupledCoils))
    assert [part.ref for part in coils.coils] == ["L1", "L2"]
    k = next(p.fitted for p in made.parts if p.ref == "K1")
    assert re.search(rf"^K_K1 L_L1 L_L2 {re.escape(repr(k))}$", netlist(made.circuit, "t", (1e6, 2e7)), re.M)


def test_scattered_values_are_the_same_in_the_row_and_at_the_nodes():
    made = band_pass.design(asked(), DIALS)
    values = {"K1": [[0.02], [0.05]], "L2": [[1.4e-6], [1.7e-6]], "C1": [[60e-12], [66e-12]]}
    values = {ref: np.array(each) for ref, each in values.items()}
    ours, nodes = solve(made.network, F, values=values), nodal.solve(made.circuit, F, values=values)
    np.testing.assert_allclose(ours.s21, nodes.s[1, 0], atol=1e-9)


@pytest.mark.parametrize("ends", ENDS)
@pytest.mark.parametrize("width_hz", [300e3, 800e3])
def test_without_loss_it_is_the_butterworth_asked_for(ends, width_hz):
    made = band_pass.design(asked(ends=ends, bandwidth_hz=width_hz, coil_q=1e7), DIALS)
    omega = np.array([-1.0, -0.5, 0.0, 0.5, 1.0])
    loss = solve(made.network, 14.175e6 + omega * width_hz / 2).loss_db
    np.testing.assert_allclose(loss, 10 * np.log10(1 + omega**4), atol=0.15)


def test_what_is_told_of_the_coupling_sets_it():
    made = band_pass.design(asked(), DIALS)
    rows = {p.ref: p for p in made.parts}
    k, coil = rows["K1"].fitted, rows["L1"].fitted
    told = r"^(\S+ \S+) shared.* read (\S+ \S+) more .* lie (\S+ \S+) apart"
    texts = re.search(told, rows["K1"].note).groups()
    shared, more, apart = (parse(text, unit) for text, unit in zip(texts, ("H", "H", "Hz"), strict=True))
    assert shared == pytest.approx(k * coil, rel=5e-3)
    assert more == pytest.approx((2 * coil * (1 + k)) - (2 * coil * (1 - k)), rel=5e-3)
    # Two such circuits without their ends, looked at through next to nothing.
    farad = 1 / ((2 * np.pi * 14.175e6) ** 2 * coil)
    tank = [Part("C1", "capacitor", farad), Part("C2", "capacitor", farad)]
    coils = Coupled(
        (Part("L1", "inductor", coil, 400.0), Part("L2", "inductor", coil, 400.0), Part("K1", "coupling", k))
    )
    probe = [Part(f"R{n}", "resistor", 1e6) for n in (1, 2)]
    row = (
        Arm("series", (probe[0],)),
        Arm("shunt", (tank[0],)),
        coils,
        Arm("shunt", (tank[1],)),
        Arm("series", (probe[1],)),
    )
    f = np.linspace(13.5e6, 14.9e6, 28_001)
    loss = solve(Network(row, 50.0, 50.0), f).loss_db
    peaks = f[1:-1][(loss[1:-1] < loss[:-2]) & (loss[1:-1] < loss[2:])]
    assert peaks.size == 2
    assert peaks[1] - peaks[0] == pytest.approx(apart, rel=0.02)
    assert peaks == pytest.approx([14.175e6 / np.sqrt(1 + k), 14.175e6 / np.sqrt(1 - k)], rel=2e-4)


def test_slopes_of_coupled_coils_are_what_small_changes_make():
    made = band_pass.design(asked(ends="tapped_capacitor"), DIALS)
    refs = ("L1", "L2", "K1", "CA1", "CB2")
    found = log_slopes(made.network, F, refs)
    for row, ref in zip(found, refs, strict=True):
        value = next(p.value for p in made.network.parts if p.ref == ref)
        below, above = (
            solve(made.network, F, values={ref: value * np.exp(side)}).s21 for side in (-1e-5, 1e-5)
        )
        np.testing.assert_allclose(row, np.log(below / above) / 2e-5, rtol=1e-4, atol=1e-4)


def test_a_coupling_scatters_by_its_own_tolerance_and_is_found_by_a_fit():
    made = band_pass.design(asked(), DIALS)
    spreads = Spreads(coupling=0.1)
    drawn = draw(made.circuit, spreads, 400)["K1"]
    k = next(p.fitted for p in made.parts if p.ref == "K1")
    assert np.ptp(drawn) == pytest.approx(0.2 * k, rel=0.05)
    assert "K1" not in draw(made.circuit, Spreads(), 10)
    f = np.linspace(13e6, 15.4e6, 201)
    measured = solve(made.network, f, values={"K1": 0.85 * k})
    noise = np.random.default_rng(1).normal(scale=0.01, size=f.size)
    found = fit(made, f, -measured.loss_db + noise, Spreads(coil=0.05, coupling=0.1))
    assert [each.row.ref for each in found.off] == ["K1"]
    assert found.of("K1").off == pytest.approx(-0.15, abs=0.02) or found.off[0].off == pytest.approx(
        -0.15, abs=0.02
    )
    assert remedy(found.off[0]) == "move the two coils nearer to each other"


def test_what_cannot_be_coupled_so_is_refused_with_the_reason():
    three = band_pass.design(asked(resonators=3), DIALS)
    assert "outer two couple past the middle one" in three.reason
    assert isinstance(band_pass.design(asked(resonators=2), DIALS), FilterDesign)
    cored = band_pass.design(asked(core="T50-6"), DIALS)
    assert "T50-6" in cored.reason
    assert "wind them in air" in cored.reason


def test_automatic_takes_the_coils_where_no_capacitor_can_do_it():
    # Tapped coils lie at the ends of parallel circuits only, and so narrow a filter wants a tenth of a pF.
    narrow = BandPassFilter(
        coupling="automatic", ends="tapped_coil", bandwidth_hz=60e3, inductance_h=4e-6, coil_q=300.0
    )
    made = band_pass.design(narrow, DIALS)
    note = next(p.note for p in made.parts if p.ref == "K1")
    assert note.startswith(
        "by the coils themselves, as no capacitor can do it, as one at the top would be 0."
    )
    for coupling in ("top_capacitor", "shunt_capacitor"):
        other = band_pass.design(narrow.edited(("coupling",), coupling), DIALS)
        if isinstance(other, FilterDesign):
            assert min(p.fitted for p in other.parts if p.role == "coupling") < 1.5e-12
        else:
            assert isinstance(other, Unsolved)
    usual = band_pass.design(BandPassFilter(coupling="automatic"), DIALS)
    assert not [p for p in usual.parts if p.role == "mutual"]
    # On a core the coils cannot: it stays with what there is.
    cored = band_pass.design(narrow.edited(("core",), "T50-6"), DIALS)
    assert not [p for p in cored.parts if p.role == "mutual"]


def test_a_coupling_as_built_counts():
    plain = band_pass.design(asked(), DIALS)
    closer = asked(as_built={"mutual:1": 0.05})
    built = band_pass.design(closer, DIALS)
    assert next(p.fitted for p in built.parts if p.ref == "K1") == 0.05
    wide, usual = (band_pass.figures(each, DIALS).bandwidth_3db_hz for each in (closer, asked()))
    assert wide > 1.4 * usual
    assert circuit_of(built.network) != circuit_of(plain.network)
    with pytest.raises(ValueError, match="K1 cannot be 2"):
        asked(as_built={"mutual:1": 2.0})
