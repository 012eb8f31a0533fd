"""A crystal's figures and their confidence, held against arithmetic and brute force done in the test."""

from dataclasses import replace

import numpy as np
import pytest

from core.stages.crystal_sweep import from_sweep, transmission
from core.stages.crystals import CrystalParameters, Fixture
from core.stages.outcome import Unsolved

X = CrystalParameters(label="X", fs_hz=9e6, lm_h=16e-3, c0_f=4.5e-12, rm_ohm=12.0)
#: The order in which the test differentiates, and the figures' own units.
FITTED = ("lm_h", "fs_hz", "rm_ohm", "c0_f")


def through(crystal, f_hz, source=50.0, load=50.0):
    """|S21| of a crystal between two resistances against the available power, by the voltage divider."""
    w, ws = 2 * np.pi * f_hz, 2 * np.pi * crystal.fs_hz
    arm = crystal.rm_ohm + 1j * w * crystal.lm_h - 1j * ws**2 * crystal.lm_h / w
    z = 1 / (1 / arm + 1j * w * crystal.c0_f)
    return 2 * np.sqrt(source * load) / (source + load + z)


def test_a_wire_or_the_power_is_what_a_sweep_counts_from():
    f = np.array([8.99e6, 9e6, 9.0005e6, 9.02e6])
    # Between 50 and 200 ohm a wire passes 2 sqrt(50 x 200)/250 = 0.8 of what the source could give.
    power = Fixture(source_ohm=50.0, load_ohm=200.0, to_a_wire=False)
    np.testing.assert_allclose(transmission(X, f, power), through(X, f, 50.0, 200.0), rtol=1e-6)
    wire = replace(power, to_a_wire=True)
    np.testing.assert_allclose(transmission(X, f, wire), through(X, f, 50.0, 200.0) / 0.8, rtol=1e-6)
    # A crystal whose loss is not known is taken as one without.
    np.testing.assert_allclose(
        transmission(replace(X, rm_ohm=None), f, wire), through(replace(X, rm_ohm=0.0), f, 50.0, 200.0) / 0.8
    )


@pytest.mark.parametrize("to_a_wire", [True, False])
@pytest.mark.parametrize(
    ("fs", "lm", "c0", "rm", "below", "above"),
    [
        # Widths of the sweep below and above fs in the crystal's own −3 dB widths between 100 ohm.
        (9e6, 16e-3, 4.5e-12, 12.0, 6, 30),
        # Not as far as parallel resonance: C0 is seen in the skirts alone.
        (9e6, 16e-3, 4.5e-12, 12.0, 8, 8),
        (3.58e6, 110e-3, 3.4e-12, 90.0, 4, 40),
        (25e6, 2.0e-3, 5.0e-12, 150.0, 3, 20),
        (4.9152e6, 70e-3, 6.0e-12, 2.0, 30, 60),
        # Far more lossy than the fixture, so that the peak is low.
        (10e6, 12e-3, 5.0e-12, 900.0, 3, 10),
    ],
)
def test_a_sweep_gives_the_crystal_back_whatever_it_is(fs, lm, c0, rm, below, above, to_a_wire):
    true = CrystalParameters(label="c", fs_hz=fs, lm_h=lm, c0_f=c0, rm_ohm=rm)
    width = (100 + rm) / (2 * np.pi * lm)
    f = np.linspace(fs - below * width, fs + above * width, 601)
    fixture = Fixture(source_ohm=25.0, load_ohm=75.0, to_a_wire=to_a_wire)
    swept = through(true, f, 25.0, 75.0) / (2 * np.sqrt(25 * 75) / 100 if to_a_wire else 1)
    for magnitude_only in (False, True):
        seen = np.abs(swept) if magnitude_only else swept
        found = from_sweep("c", f[::-1], seen[::-1], fixture, magnitude_only=magnitude_only)
        for name in FITTED:
            rel = 1e-9 if name == "fs_hz" else 1e-4
            assert getattr(found, name) == pytest.approx(getattr(true, name), rel=rel), name
        assert found.ratio_measured
        assert found.label == "c"


def test_the_interval_of_a_fit_is_whites_estimator():
    """Half-widths are 1.96 deviations of (J'J)^-1 J' diag(r^2) J (J'J)^-1 n/(n - p), J by differences here."""
    f = np.linspace(9e6 - 3e3, 9e6 + 24e3, 24)
    rng = np.random.default_rng(5)
    noise = 0.004 * (rng.normal(size=f.size) + 1j * rng.normal(size=f.size))
    swept = through(X, f) + noise
    for magnitude_only in (False, True):
        seen = np.abs(swept) if magnitude_only else swept
        found = from_sweep("X", f, seen, Fixture(), magnitude_only=magnitude_only)

        def miss(crystal, seen=seen, magnitude_only=magnitude_only):
            s = through(crystal, f)
            return np.abs(s) - seen if magnitude_only else np.concatenate([(s - seen).real, (s - seen).imag])

        columns = []
        for name in FITTED:
            step = getattr(found, name) * (1e-9 if name == "fs_hz" else 1e-6)
            up, down = (replace(found, **{name: getattr(found, name) + s}) for s in (step, -step))
            columns.append((miss(up) - miss(down)) / (2 * step))
        scale = np.array([getattr(found, name) for name in FITTED])
        jacobian, left = np.array(columns).T * scale, miss(found)
        inverse = np.linalg.inv(jacobian.T @ jacobian)
        squares = (jacobian * left[:, None] ** 2).T @ jacobian
        cov = inverse @ squares @ inverse * left.size / (left.size - 4)
        lm, fs, rm, c0 = 1.96 * np.sqrt(np.diag(cov))
        # Q is w Lm / Rm.
        q = 1.96 * np.sqrt(cov[0, 0] + cov[2, 2] - 2 * cov[0, 2])
        spread = dict(found.spread)
        assert spread["lm_h"] == pytest.approx(found.lm_h * lm, rel=0.02)
        assert spread["cm_f"] == pytest.approx(found.cm_f * lm, rel=0.02)
        assert spread["fs_hz"] == pytest.approx(found.fs_hz * fs, rel=0.02)
        assert spread["rm_ohm"] == pytest.approx(found.rm_ohm * rm, rel=0.02)
        assert spread["c0_f"] == pytest.approx(found.c0_f * c0, rel=0.02)
        assert spread["q"] == pytest.approx(found.q * q, rel=0.02)


@pytest.mark.parametrize("c0_measured", [False, True])
@pytest.mark.parametrize("magnitude_only", [False, True])
def test_what_a_fixtures_errors_add_is_what_a_fit_with_them_finds(c0_measured, magnitude_only):
    """Each error by itself, the fit made anew: both resistances 5 % off, the level 0.1 dB, C0 by 0.3 pF."""
    f = np.linspace(9e6 - 6e3, 9e6 + 26e3, 401)
    swept = through(X, f)
    swept = np.abs(swept) if magnitude_only else swept
    right = Fixture(c0_f=4.5e-12, c0_measured=c0_measured)

    def fitted(fixture=right, gain=1.0):
        return from_sweep("X", f, gain * swept, fixture, magnitude_only=magnitude_only)

    found, level = fitted(), 10 ** (0.1 / 20)
    pairs = [
        [fitted(replace(right, source_ohm=50 * share, load_ohm=50 * share)) for share in (1.05, 0.95)],
        [fitted(gain=level), fitted(gain=1 / level)],
    ]
    if c0_measured:
        pairs.append([fitted(replace(right, c0_f=4.5e-12 + off)) for off in (0.3e-12, -0.3e-12)])
    told = dict(found.fixture_spread)
    for name in ("lm_h", "rm_ohm", "q", "c0_f"):
        if name == "c0_f" and c0_measured:
            assert told[name] == pytest.approx(0.3e-12)
            continue
        each = [max(abs(np.log(getattr(one, name) / getattr(found, name))) for one in pair) for pair in pairs]
        extra = 0.3e-12 if name == "c0_f" else 0.0
        # The program follows straight lines where the fits follow curves.
        assert told[name] - extra == pytest.approx(getattr(found, name) * np.expm1(sum(each)), rel=0.1), name
    assert told["cm_f"] / found.cm_f == pytest.approx(told["lm_h"] / found.lm_h)
    hertz = sum(max(abs(one.fs_hz - found.fs_hz) for one in pair) for pair in pairs)
    assert told["fs_hz"] == pytest.approx(hertz, rel=0.15, abs=0.02)


@pytest.mark.parametrize(("off", "taken"), [(0.094, True), (0.106, False)])
def test_a_sweep_is_no_crystals_where_its_points_miss_by_more_than_a_tenth(off, taken):
    # Each point misses by so much to the other side than its neighbours: no crystal follows that.
    f = np.linspace(9e6 - 6e3, 9e6 + 26e3, 801)
    turn = np.where(np.arange(f.size) % 2, 1.0, -1.0)
    found = from_sweep("X", f, through(X, f) + off * (1 + 1j) * turn, Fixture())
    if taken:
        assert found.lm_h == pytest.approx(16e-3, rel=0.1)
    else:
        assert found == Unsolved(
            "X: no crystal fits this sweep; check fixture and file (S21 of a crystal in series)."
        )


def test_sweeps_that_cannot_be_fitted_say_why():
    f = np.linspace(9e6 - 6e3, 9e6 + 26e3, 401)
    assert "11 points is too coarse" in from_sweep("X", f[:11], through(X, f[:11]), Fixture()).reason
    few = np.linspace(9e6 - 1.5e3, 9e6 + 21e3, 12)
    assert from_sweep("X", few, through(X, few), Fixture()).lm_h == pytest.approx(16e-3, rel=1e-4)
    for part in (f[f > 9e6 + 50], f[f < 9e6 - 50]):
        told = from_sweep("X", part, through(X, part), Fixture())
        assert "does not hold the series resonance" in told.reason
