"""Band-pass and low-pass against the ideal response, dense sweeps and the power that they lose."""

import numpy as np
import pytest

from core.circuits import nodal
from core.circuits.ladder import circuit_of, solve
from core.circuits.shapes.prototypes import attenuation_db
from core.model.stages.filters import BandPassFilter, LowPassFilter
from core.stages.band_pass import band_pass, first_design
from core.stages.filters import low_pass, stress
from core.stages.outcome import Unsolved

DIAL = (14.0e6, 14.35e6)


@pytest.mark.parametrize("around", [50.0, 75.0])
@pytest.mark.parametrize("shape", ["butterworth", "chebyshev"])
@pytest.mark.parametrize("resonators", [2, 3])
@pytest.mark.parametrize(
    ("coupling", "ends", "henry"),
    [
        ("top_capacitor", "series_capacitor", 1e-6),
        ("top_capacitor", "tapped_capacitor", 1e-6),
        ("top_capacitor", "link", 1e-6),
        ("top_capacitor", "link", None),
        ("shunt_capacitor", "series_capacitor", 8e-6),
        ("shunt_capacitor", "series_capacitor", None),
        ("shunt_capacitor", "link", 8e-6),
    ],
)
def test_the_first_design_of_a_narrow_filter_has_the_ideal_response(
    coupling, ends, henry, resonators, shape, around
):
    """By k and q a filter is exact for a vanishing width: this one is a thousandth of its centre wide."""
    width = 14.2e3
    asked = BandPassFilter(
        centre_hz=14.2e6,
        bandwidth_hz=width,
        shape=shape,
        ripple_db=0.5,
        coupling=coupling,
        ends=ends,
        resonators=resonators,
        inductance_h=henry,
        system_ohm=around,
    )
    network, ties = first_design.first_design(asked, ())
    assert (network.source_ohm, network.load_ohm) == (around, around)
    omega = np.linspace(-2.5, 2.5, 41)
    ideal = np.array([attenuation_db(shape, resonators, abs(o), 0.5) for o in omega])
    # Couplings leave the middle by some parts in a million; the fit that follows brings it back.
    losses = [
        solve(network, 14.2e6 + shift + omega * width / 2).loss_db for shift in np.linspace(-300, 300, 61)
    ]
    assert min(np.abs(loss - ideal).max() for loss in losses) < 0.12
    # Every capacitor is in one group, with its mirror image where it has one.
    values = {part.ref: part.value for part in network.parts}
    capacitors = [part for part in network.parts if part.kind == "capacitor"]
    assert sorted(ref for group in ties for ref in group) == sorted(part.ref for part in capacitors)
    roles = {part.ref: part.role for part in capacitors}
    for group in ties:
        assert len({roles[ref] for ref in group}) == 1
        assert [values[ref] for ref in group] == pytest.approx([values[group[0]]] * len(group))
    alone = [group for group in ties if len(group) == 1]
    # By itself stands what lies in the middle: a third resonator, or the coupling between two.
    assert [roles[group[0]] for group in alone] == ["resonator" if resonators == 3 else "coupling"]


def first_beyond(f_hz, loss_db, level_db, top):
    """Where the loss first passes a level, down and up from a point, by straight lines between points."""
    out = loss_db > level_db
    high, low = top + int(np.argmax(out[top:])), top - int(np.argmax(out[top::-1]))
    return tuple(
        np.interp(level_db, loss_db[[inside, n]], f_hz[[inside, n]]) if out[n] else None
        for n, inside in ((low, low + 1), (high, high - 1))
    )


@pytest.mark.parametrize("coupling", ["top_capacitor", "shunt_capacitor"])
@pytest.mark.parametrize("series", ["exact", "E24"])
def test_figures_of_a_band_pass_are_those_of_a_dense_sweep(coupling, series):
    asked = BandPassFilter(
        centre_hz=14.2e6, bandwidth_hz=500e3, coupling=coupling, capacitors=series, coil_q=180
    )
    made, found = (make(asked, (DIAL,)) for make in (band_pass.design, band_pass.figures))
    f = np.linspace(5e6, 40e6, 14_001)
    loss = solve(made.network, f).loss_db
    top = int(loss.argmin())
    assert found.insertion_loss_db == pytest.approx(loss[top], abs=1e-3)
    widths = (found.bandwidth_3db_hz, found.bandwidth_6db_hz, found.bandwidth_60db_hz)
    for depth, width in zip((3, 6, 60), widths, strict=True):
        low, high = first_beyond(f, loss, loss[top] + depth, top)
        assert width == (None if low is None or high is None else pytest.approx(high - low, rel=3e-4))
        if depth == 3:
            assert found.centre_hz == pytest.approx((high + low) / 2, abs=100)
            inner = np.linspace(low + 0.1 * (high - low), high - 0.1 * (high - low), 401)
            there = solve(made.network, inner)
            assert found.ripple_db == pytest.approx(np.ptp(there.loss_db), abs=0.02)
            assert found.return_loss_db == pytest.approx(there.return_loss_db.min(), abs=0.02)
    dial = solve(made.network, np.linspace(*DIAL, 201))
    assert found.served_loss_db == pytest.approx(dial.loss_db.max(), abs=0.01)
    assert found.served_return_loss_db == pytest.approx(dial.return_loss_db.min(), abs=0.05)
    assert band_pass.figures(asked, ()).served_loss_db is None
    assert band_pass.figures(asked, ()).served_return_loss_db is None


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"bandwidth_hz": 5.69e6}, "too wide for coupled resonators"),
        ({"inductance_h": 0.02e-6, "bandwidth_hz": 1.2e6}, "no more than the 50 Ω around"),
        (
            {"coupling": "shunt_capacitor", "inductance_h": 40e-6, "bandwidth_hz": 600e3},
            "not below the 50 Ω around",
        ),
    ],
)
def test_what_a_band_pass_cannot_be_is_told(fields, told):
    asked = BandPassFilter(centre_hz=14.2e6, **{"bandwidth_hz": 500e3, **fields})
    found = first_design.first_design(asked, ())
    assert isinstance(found, Unsolved)
    assert told in found.reason


def test_the_centre_and_the_usual_coil():
    asked = BandPassFilter()
    # From 14 to 21.45 MHz the middle is 17.725 MHz, whichever comes first.
    for dials in ((DIAL, (21e6, 21.45e6)), ((21e6, 21.45e6), DIAL)):
        assert first_design.centre_of(asked, dials) == pytest.approx(17.725e6)
    assert first_design.centre_of(asked, ()) is None
    assert first_design.centre_of(BandPassFilter(centre_hz=7e6), (DIAL,)) == 7e6
    # 130 ohm at 14.2 MHz are 1.457 uH, told to two digits.
    assert first_design.usual_inductance(2 * np.pi * 14.2e6) == pytest.approx(1.5e-6)


@pytest.mark.parametrize("shape", ["chebyshev", "chebyshev_trap", "butterworth"])
@pytest.mark.parametrize("dials", [(), (DIAL,), ((7.0e6, 7.2e6), DIAL)])
def test_figures_of_a_low_pass_are_those_of_a_dense_sweep(shape, dials):
    if shape == "chebyshev_trap" and (7.0e6, 7.2e6) in dials:
        return
    asked = LowPassFilter(shape=shape, order=7, ripple_db=0.2, cutoff_hz=16e6, capacitors="E12")
    found, made = (make(asked, dials) for make in (low_pass.figures, low_pass.design))
    if isinstance(found, Unsolved):
        # Without a band there is no harmonic for the trap.
        assert (shape, dials) == ("chebyshev_trap", ())
        return
    f = np.geomspace(0.8e6, 320e6, 6_001)
    loss = solve(made.network, f).loss_db
    least = loss[f < 16e6].min()
    edges = (found.bandwidth_3db_hz, found.bandwidth_6db_hz, found.bandwidth_60db_hz)
    for depth, edge in zip((3, 6, 60), edges, strict=True):
        _, beyond = first_beyond(f, loss, least + depth, int(np.argmax(f > 8e6)))
        assert edge == pytest.approx(beyond, rel=1e-4)
    used = np.concatenate([np.linspace(*each, 201) for each in dials]) if dials else f[f <= 0.95 * 16e6]
    there = solve(made.network, used)
    assert found.insertion_loss_db == pytest.approx(there.loss_db.min(), abs=5e-3)
    assert found.return_loss_db == pytest.approx(there.return_loss_db.min(), abs=0.3)
    if dials:
        assert found.served_loss_db == pytest.approx(there.loss_db.max(), abs=5e-3)
        assert found.served_return_loss_db == found.return_loss_db
    else:
        assert (found.served_loss_db, found.served_return_loss_db) == (None, None)
    edge = found.bandwidth_3db_hz
    s11 = np.abs(solve(made.network, np.linspace(0.8e6, min(16e6, 0.8 * edge), 801)).s11)
    assert found.ripple_db == pytest.approx(np.ptp(-10 * np.log10(1 - s11**2)), abs=0.01)
    assert found.centre_hz is None


@pytest.mark.parametrize("shape", ["chebyshev", "chebyshev_trap"])
def test_volts_amperes_and_watts_of_a_low_passs_parts(shape):
    """Node voltages by the nodal solver; all losses together are what the filter does not hand on."""
    asked = LowPassFilter(shape=shape, bands=("20m",), coil_q=120, capacitor_q=600)
    f_hz, power = 14.3e6, 20.0
    rows = {row.ref: row for row in stress.part_stress(asked, (DIAL,), power, f_hz)}
    network = low_pass.design(asked, (DIAL,)).network
    circuit = circuit_of(network)
    found = nodal.solve(circuit, [f_hz])
    emf = np.sqrt(8 * power * 50)
    w = 2 * np.pi * f_hz
    assert set(rows) == {part.ref for part in network.parts}
    for branch in circuit.branches:
        part = branch.part
        ends = [emf * found.at(node)[0] if node != "0" else 0.0 for node in branch.nodes]
        volts = abs(ends[0] - ends[1])
        reactance = w * part.value if part.kind == "inductor" else 1 / (w * part.value)
        rms = volts / np.sqrt(2) / reactance
        assert rows[part.ref].peak_v == pytest.approx(volts, rel=1e-6)
        assert rows[part.ref].rms_a == pytest.approx(rms, rel=1e-4)
        # A coil's Q is in series with it and a capacitor's across it: to first order the same.
        assert rows[part.ref].loss_w == pytest.approx(rms**2 * reactance / part.q, rel=1e-3)
    response = solve(network, [f_hz])
    lost = power * (1 - abs(response.s11[0]) ** 2 - abs(response.s21[0]) ** 2)
    assert sum(row.loss_w for row in rows.values()) == pytest.approx(lost, rel=2e-3)
    lossless = stress.part_stress(asked.edited(("coil_q",), 1e6), (DIAL,), power, f_hz)
    assert max(row.loss_w for row in lossless if row.ref.startswith("L")) < 1e-3
    # Of the worst place each figure is the worst by itself.
    worst = {row.ref: row for row in stress.worst_stress(asked, (DIAL, (7.0e6, 7.2e6)), power)}
    for name in ("peak_v", "rms_a", "loss_w"):
        places = [*np.linspace(*DIAL, 5), *np.linspace(7.0e6, 7.2e6, 5)]
        for ref, row in worst.items():
            every = [
                getattr(each, name)
                for place in places
                for each in stress.part_stress(asked, (DIAL, (7.0e6, 7.2e6)), power, float(place))
                if each.ref == ref
            ]
            assert getattr(row, name) == pytest.approx(max(every))
