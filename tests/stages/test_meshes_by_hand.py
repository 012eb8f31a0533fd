"""A ladder's mesh equations with published couplings, couplings that count loss, and the carrier's place."""

import numpy as np
import pytest

from core.circuits.ladder import solve
from core.circuits.shapes.flat_couplings import flat_couplings, largest_sum
from core.circuits.shapes.prototypes import couplings, three_db_edge
from core.model.stages.filters import Crystal, LadderFilter
from core.stages.filters import ladder_filter, ladder_meshes
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.filters.carrier_oscillator import place
from core.stages.outcome import Unsolved

FS, LM, C0 = 9e6, 16e-3, 4.5e-12
CRYSTAL = Crystal(motional_inductance_h=LM, holder_capacitance_f=C0, quality_factor=75e3)
LADDER = LadderFilter(
    id="l", name="L", poles=4, shape="butterworth", bandwidth_hz=2500.0, crystal=CRYSTAL, capacitors="exact"
)
#: Butterworth couplings and end quality factor for four resonators, as tables print them.
K, Q = (0.8409, 0.5412, 0.8409), 0.7654
LARGEST = 0.8409 + 0.5412
#: fs (sqrt(1 + Cm/C0) − 1).
SPACING = FS * (np.sqrt(1 + 1 / ((2 * np.pi * FS) ** 2 * LM * C0)) - 1)


def reactance(f_hz):
    """The series arm with C0 across, as two admittances."""
    w = 2 * np.pi * f_hz
    arm = w * LM - (2 * np.pi * FS) ** 2 * LM / w
    return 1 / (1 / arm - w * C0) if arm else 0.0


def test_the_textbook_design_by_its_table():
    made = ladder_meshes.meshes(LADDER.edited(("refine",), False), FS)
    half = 2 * np.pi * 2500 * LM
    assert made.half_ohm == pytest.approx(half)
    assert made.coupling_ohm == pytest.approx([k * half for k in K], rel=1e-4)
    assert made.end_ohm == pytest.approx(half / Q, rel=1e-4)
    # The inner meshes have the larger sum of couplings and no capacitor; the ends make up for 0.5412.
    assert made.series_ohm == pytest.approx([0.5412 * half, 0.0, 0.0, 0.5412 * half], rel=1e-4)
    # The middle lies where a crystal's slope has overcome that sum.
    assert made.low_hz == pytest.approx(FS + 2500 * (LARGEST - 1) / 2, abs=0.1)
    assert made.high_hz - made.low_hz == pytest.approx(2500)


def test_the_refined_design_puts_the_exact_reactance_in_the_place_of_the_straight_line():
    made = ladder_meshes.meshes(LADDER, FS)
    low, high = reactance(made.low_hz), reactance(made.high_hz)
    assert made.high_hz - made.low_hz == pytest.approx(2500)
    assert made.half_ohm == pytest.approx((high - low) / 2, rel=1e-6)
    # Its middle is the sum of couplings.
    assert (high + low) / 2 == pytest.approx(LARGEST * made.half_ohm, rel=1e-4)
    assert made.coupling_ohm == pytest.approx([k * made.half_ohm for k in K], rel=1e-4)
    assert made.end_ohm == pytest.approx(made.half_ohm / Q, rel=1e-4)
    assert made.series_ohm == pytest.approx([0.5412 * made.half_ohm, 0, 0, 0.5412 * made.half_ohm], rel=1e-4)
    assert ladder_meshes.crystal_reactance(made.high_hz, FS, LM, C0) == pytest.approx(high, rel=1e-9)
    assert ladder_meshes.parallel_spacing_hz(FS, CRYSTAL) == pytest.approx(SPACING, rel=1e-6)
    # As capacitors at the middle of the pass-band, from source to load.
    w = np.pi * (made.low_hz + made.high_hz)
    arms = ladder_meshes.bare_arms(LADDER, made, FS)
    values = [part.value for arm in arms for part in arm.parts if part.kind == "capacitor"]
    ohms = [made.series_ohm[0], *made.coupling_ohm, made.series_ohm[3]]
    order = [ohms[0], ohms[1], ohms[2], ohms[3], ohms[4]]
    assert values == pytest.approx([1 / (w * ohm) for ohm in order])
    kinds = [(arm.position, arm.parts[0].kind) for arm in arms]
    crystal, series, shunt = ("series", "crystal"), ("series", "capacitor"), ("shunt", "capacitor")
    assert kinds == [crystal, series, shunt, crystal, shunt, crystal, shunt, crystal, series]


@pytest.mark.parametrize(
    ("poles", "largest"),
    [
        # Two resonators have one coupling of 0.7071, and C0 then allows the whole spacing.
        (2, 0.7071),
        (4, LARGEST),
    ],
)
def test_how_wide_holder_capacitance_lets_a_ladder_be(poles, largest):
    limit = 0.98 * SPACING * (largest - np.sqrt(max(largest**2 - 1, 0)) if largest > 1 else 1.0)
    ladder = LADDER.edited(("poles",), poles)
    assert ladder_meshes.greatest_width_hz(ladder, FS) == pytest.approx(limit, rel=2e-4)
    refused = ladder_meshes.meshes(ladder.edited(("bandwidth_hz",), 1.001 * limit), FS)
    assert f"holder capacitance allows {limit / 1e3:.3g} kHz at most" in refused.reason
    made = ladder_meshes.meshes(ladder.edited(("bandwidth_hz",), 0.999 * limit), FS)
    low, high = reactance(made.low_hz), reactance(made.high_hz)
    assert (high + low) / (high - low) == pytest.approx(largest, rel=2e-3)
    assert high > low


def test_loss_against_width_and_where_it_is_too_much():
    # 9 MHz over 75 000 times 2500 Hz are 0.048; 0.12 of it is a Q of 30 000.
    assert ladder_meshes.dissipation(LADDER, CRYSTAL, FS) == pytest.approx(0.048)
    flat = LADDER.edited(("flatness",), "for_the_crystals")
    bad, good = (
        ladder_meshes.meshes(flat.edited(("crystal", "quality_factor"), q), FS) for q in (29.9e3, 30.1e3)
    )
    assert bad.reason == (
        "A Q of 2.99e+04 is too low to keep 2.5 kHz flat at 9 MHz, where 3e+04 is the least; ask for more "
        "width, take better crystals, or design for crystals without loss."
    )
    assert not isinstance(good, Unsolved)
    # Not counted at all, they are the plain couplings.
    assert ladder_meshes.meshes(flat, FS, 0.0) == ladder_meshes.meshes(LADDER, FS)


def test_a_band_below_zero_is_told():
    # Two textbook meshes at 300 Hz: 300 + 2500 (0.7071 - 1)/2 is below zero.
    two = LADDER.edited(("poles",), 2).edited(("refine",), False)
    assert "larger than its frequency" in ladder_meshes.meshes(two, 300.0).reason
    assert ladder_meshes.meshes(two, 400.0).low_hz == pytest.approx(400 - 2500 * 0.29289 / 2, abs=0.1)


def test_steps_of_two_per_cent():
    for value in (0.003, 0.0486, 1.0, 7.3):
        found = ladder_meshes.stepped(value, 0.02)
        assert abs(np.log(found / value)) <= np.log(1.02) / 2 + 1e-12
        steps = np.log(found) / np.log(1.02)
        assert steps == pytest.approx(round(steps), abs=1e-9)


def wanted_db(shape, order, ripple_db, x):
    if shape == "butterworth":
        return 10 * np.log10(1 + x ** (2 * order))
    # Chebyshev's polynomial by its recurrence.
    before, now = np.ones_like(x), x
    for _ in range(order - 1):
        before, now = now, 2 * x * now - before
    return 10 * np.log10(1 + (10 ** (ripple_db / 10) - 1) * now**2)


@pytest.mark.parametrize(
    ("shape", "order", "loss", "bend", "rms_db"),
    [
        # An odd order has enough couplings to be exact, an even one is kept a mirror image.
        ("butterworth", 7, 0.03, 0.02, 3e-4),
        ("butterworth", 6, 0.03, 0.02, 0.025),
        ("butterworth", 3, 0.05, 0.1, 0.03),
        ("chebyshev", 8, 0.02, 0.05, 0.1),
        ("chebyshev", 5, 0.05, 0.0, 0.06),
    ],
)
def test_couplings_that_count_loss_have_the_shape_when_the_mesh_matrix_is_inverted(
    shape, order, loss, bend, rms_db
):
    """Flat to a tenth of a decibel over the inner pass-band, where without them it is rounded."""
    found = flat_couplings(shape, order, 0.1, loss, bend)
    plain = couplings(shape, order, 0.1)
    edge = 1.0 if shape == "butterworth" else three_db_edge(order, 0.1)
    x = 0.97 * edge * np.sin(np.linspace(-np.pi / 2, np.pi / 2, 5 * order))
    outside = edge * np.array([-1.25, -1.1, -1, 1, 1.1, 1.25])

    def off(k, q, offsets, x):
        sums = np.append(k, 0) + np.append(0, k) + offsets
        own = loss * (1 + bend * (sums.max() + x)) ** 2 + 1j * x
        z = np.zeros((x.size, order, order), dtype=complex)
        for mesh in range(order):
            z[:, mesh, mesh] = own + 1j * offsets[mesh]
        for mesh, each in enumerate(k):
            z[:, mesh, mesh + 1] = z[:, mesh + 1, mesh] = 1j * each
        z[:, 0, 0] += 1 / q
        z[:, -1, -1] += 1 / q
        lost = -20 * np.log10(2 / q * np.abs(np.linalg.inv(z)[:, 0, -1]))
        return lost - wanted_db(shape, order, 0.1, np.abs(x))

    flat, rounded = (
        off(each.k, q, np.array(offsets), x)
        for each, q, offsets in (
            (found, found.q, found.offsets),
            (plain, plain.q_first, np.zeros(order)),
        )
    )
    assert np.ptp(flat) < 0.25 * np.ptp(rounded)
    assert np.sqrt(np.mean((flat - flat.mean()) ** 2)) < rms_db
    # At and beyond its edges it keeps the shape to what the pass-band leaves over; it counts for less there.
    beyond = off(found.k, found.q, np.array(found.offsets), outside) - flat.mean()
    assert np.abs(beyond).max() < (10 * rms_db if shape == "butterworth" else 10)
    assert np.abs(beyond[[2, 3]]).max() < 1.25
    if order % 2 == 0:
        assert found.k == pytest.approx(found.k[::-1])
        assert found.offsets == pytest.approx(found.offsets[::-1])
    assert largest_sum(np.array([found.k]), np.array([found.offsets]))[0] == pytest.approx(
        (np.append(found.k, 0) + np.append(0, found.k) + found.offsets).max()
    )


@pytest.mark.parametrize(("sideband", "sign"), [("upper", 1), ("lower", -1)])
def test_the_carriers_place_by_a_dense_sweep(sideband, sign):
    solved = ladder_filter.solved(AskedLadder(LADDER.edited(("poles",), 6), FS))
    f = np.linspace(solved.low_hz - 6e3, solved.high_hz + 6e3, 20_001)
    loss = solve(solved.design.network, f).loss_db
    least = loss.min()

    def outermost(depth):
        passed = f[loss <= least + depth]
        return passed[0] if sign > 0 else passed[-1]

    def lost(hz):
        return float(np.interp(hz, f, loss))

    found = place(solved, sideband, 20.0)
    assert found.side == ("below" if sign > 0 else "above")
    assert found.frequency_hz == pytest.approx(outermost(20.0), abs=1)
    assert found.suppression_db == pytest.approx(20.0, abs=1e-3)
    assert found.lowest_audio_hz == pytest.approx(sign * (outermost(6.0) - found.frequency_hz), abs=1.5)
    assert found.signal_hz(700.0) == pytest.approx(found.frequency_hz + sign * 700)
    told = (
        found.unwanted_sideband_1khz_db,
        found.unwanted_sideband_300hz_db,
        found.unwanted_sideband_2khz_db,
    )
    for tone, figure in zip((1000.0, 300.0, 2000.0), told, strict=True):
        other = lost(found.frequency_hz - sign * tone) - lost(found.frequency_hz + sign * tone)
        assert figure == pytest.approx(other, abs=0.02)
    # Or so far outside the edge that 250 Hz is 6 dB down.
    asked = place(solved, sideband, 20.0, 250.0)
    assert asked.frequency_hz == pytest.approx(outermost(6.0) - sign * 250, abs=1)
    assert asked.lowest_audio_hz == 250.0
    assert asked.suppression_db == pytest.approx(lost(asked.frequency_hz) - least, abs=0.02)


@pytest.mark.parametrize(("sideband", "side"), [("upper", "lower"), ("lower", "upper")])
def test_a_skirt_that_is_never_so_deep_has_no_place_for_the_carrier(sideband, side):
    two = ladder_filter.solved(AskedLadder(LADDER.edited(("poles",), 2), FS))
    told = place(two, sideband, 90.0)
    assert told.reason.startswith(f"The ladder's {side} skirt is never 90 dB down")
    # Nor is there one inside the pass-band.
    assert isinstance(place(two, sideband, -1.0), Unsolved)
