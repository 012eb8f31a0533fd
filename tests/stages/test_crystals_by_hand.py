"""A crystal's figures and their confidence, held against arithmetic and brute force done in the test."""

from dataclasses import replace

import numpy as np
import pytest

from core.stages.crystals.crystal_sweep import from_sweep, transmission
from core.stages.crystals.crystals import (
    CrystalParameters,
    Fixture,
    checked,
    from_bandwidth,
    from_parallel_resonance,
    from_series_capacitor,
)
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


@pytest.mark.parametrize("rm", [12.0, 900.0])
def test_the_interval_of_a_fit_is_whites_estimator(rm):
    """Half-widths are 1.96 deviations of (J'J)^-1 J' diag(r^2) J (J'J)^-1 n/(n - p), J by differences."""
    # With many ohms Lm is known no better than Rm, so that both tell in Q.
    true = replace(X, rm_ohm=rm)
    f = np.linspace(9e6 - 3e3, 9e6 + 24e3, 24)
    rng = np.random.default_rng(5)
    noise = (0.004 if rm < 100 else 3e-4) * (rng.normal(size=f.size) + 1j * rng.normal(size=f.size))
    swept = through(true, f) + noise
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
        assert spread["lm_h"] == pytest.approx(found.lm_h * lm, rel=3e-3)
        assert spread["cm_f"] == pytest.approx(found.cm_f * lm, rel=3e-3)
        assert spread["fs_hz"] == pytest.approx(found.fs_hz * fs, rel=3e-3)
        assert spread["rm_ohm"] == pytest.approx(found.rm_ohm * rm, rel=3e-3)
        assert spread["c0_f"] == pytest.approx(found.c0_f * c0, rel=3e-3)
        assert spread["q"] == pytest.approx(found.q * q, rel=3e-3)


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


@pytest.mark.parametrize(
    ("points", "off", "taken"), [(801, 0.094, True), (801, 0.106, False), (24, 0.1, False)]
)
def test_a_sweep_is_no_crystals_where_its_points_miss_by_more_than_a_tenth(points, off, taken):
    # Each point misses by so much to the other side than its neighbours: no crystal follows that. With 24
    # points, 48 misses and 4 parameters, the same misses mean sqrt(48/44) times the deviation.
    f = np.linspace(9e6 - 3e3, 9e6 + 24e3, points)
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


def test_figures_that_follow_from_the_four():
    # 16 mH resonates at 9 MHz with 19.545 fF; 12 ohm are a Q of 2 pi 9e6 16e-3/12 = 75398, 9e6/2Q = 59.68 Hz.
    assert X.cm_f == pytest.approx(19.545e-15, rel=1e-4)
    assert X.q == pytest.approx(75398, rel=1e-4)
    assert X.half_width_hz == pytest.approx(9e6 / (2 * X.q))
    assert X.fp_hz == pytest.approx(9e6 * np.sqrt(1 + X.cm_f / 4.5e-12))
    unknown = replace(X, rm_ohm=None, c0_f=159.0 * X.cm_f * 0.99)
    assert (unknown.q, unknown.half_width_hz) == (None, None)
    assert unknown.least_c0_f == pytest.approx(159.0 * X.cm_f)
    assert replace(unknown, ratio_measured=True).least_c0_f is None
    assert replace(unknown, c0_f=159.0 * X.cm_f * 1.01).least_c0_f is None
    spread = replace(X, spread=(("lm_h", 1e-5), ("q", 50.0)), fixture_spread=(("q", 7.0), ("c0_f", 3e-13)))
    assert spread.whole_spread == (("lm_h", 1e-5), ("c0_f", 3e-13), ("q", 57.0))


def test_the_peak_of_a_fixture_lies_where_a_fine_sweep_has_it():
    # A large holder and a lossy crystal, so that the peak moves by tens of hertz.
    lossy = replace(X, rm_ohm=60.0, c0_f=12e-12)
    f = np.linspace(9e6 - 3000, 9e6 + 3000, 240001)
    size = np.abs(through(lossy, f, 50.0, 100.0))
    peak, passed = f[np.argmax(size)], f[size > size.max() / np.sqrt(2)]
    loss = 20 * np.log10(2 * np.sqrt(5000) / 150 / size.max())
    moved = 9e6 - peak
    assert moved > 50
    fixture = Fixture(source_ohm=50.0, load_ohm=100.0, c0_f=12e-12)
    found = from_bandwidth("x", peak, passed[-1] - passed[0], loss, fixture)
    # The correction is of first order, and the loss and width it is made of are off by some per cent too.
    assert found.fs_hz == pytest.approx(9e6, abs=0.04 * moved)
    assert found.rm_ohm == pytest.approx(60.0, rel=0.02)
    # With the loss known method (c) corrects its peak alike; the true fp is that of fs.
    again = from_parallel_resonance("x", peak, lossy.fp_hz, fixture, loss_db=loss)
    assert again.fs_hz == pytest.approx(9e6, abs=0.04 * moved)
    assert again.cm_f == pytest.approx(lossy.cm_f, rel=3e-4)
    assert again.rm_ohm == pytest.approx(60.0, rel=0.02)


def multiplied(make, name, pairs):
    """The spread of a figure where each pair holds arguments with one error up and down: factors multiply."""
    value, factor = getattr(make(), name), 1.0
    for pair in pairs:
        factor *= 1 + max(abs(getattr(make(**wrong), name) / value - 1) for wrong in pair)
    return value * (factor - 1)


def of_bandwidth(loss_db=1.5, source=50.0, c0=4.5e-12):
    """Method (a) in three lines: a crystal with what the readings say."""
    rm = 2 * source * (10 ** (loss_db / 20) - 1)
    lm = (2 * source + rm) / (2 * np.pi * 1100.0)
    return CrystalParameters(
        label="", fs_hz=9e6 + 9e6 * c0 * rm * (4 * source + rm) / (2 * lm), lm_h=lm, c0_f=c0, rm_ohm=rm
    )


def of_capacitor(c=33e-12, c0=4.5e-12, plain=9.0004e6, shifted=9.0027e6, own=235e-12):
    """Method (b) by solving f = fs sqrt(1 + Cm/(C0 + CL)) for both readings as a straight line in Cm."""
    # f1²/f2² = (1 + Cm a)/(1 + Cm b), so Cm (f2² a − f1² b) = f1² − f2².
    a, b = 1 / (c0 + own), 1 / (c0 + own * c / (own + c))
    cm = (plain**2 - shifted**2) / (shifted**2 * a - plain**2 * b)
    fs = plain / np.sqrt(1 + cm * a)
    return CrystalParameters(label="", fs_hz=fs, lm_h=1 / ((2 * np.pi * fs) ** 2 * cm), c0_f=c0)


def of_resonances(c=10e-12, c0=None, second=9.006e6):
    """Method (c): C0 known, or found with a capacitor across."""
    r1, r2 = (9.0195e6 / 9e6) ** 2 - 1, (second / 9e6) ** 2 - 1
    c0 = c0 or c * r2 / (r1 - r2)
    return CrystalParameters(label="", fs_hz=9e6, lm_h=1 / ((2 * np.pi * 9e6) ** 2 * c0 * r1), c0_f=c0)


PARTS = Fixture(capacitor_f=33e-12, load_capacitance_f=235e-12, c0_f=4.5e-12)


@pytest.mark.parametrize(
    ("method", "readings", "make", "pairs"),
    [
        (
            from_bandwidth,
            (9e6, 1100.0, 1.5, Fixture(c0_f=4.5e-12)),
            of_bandwidth,
            [
                ({"source": 52.5}, {"source": 47.5}),
                ({"c0": 4.8e-12}, {"c0": 4.2e-12}),
                ({"loss_db": 1.6}, {"loss_db": 1.4}),
            ],
        ),
        (
            from_series_capacitor,
            (9.0004e6, 9.0027e6, PARTS),
            of_capacitor,
            [({"c": 33.66e-12}, {"c": 32.34e-12}), ({"c0": 4.8e-12}, {"c0": 4.2e-12})],
        ),
        (
            from_parallel_resonance,
            (9e6, 9.0195e6, Fixture(capacitor_f=10e-12), 9.006e6),
            of_resonances,
            [({"c": 10.2e-12}, {"c": 9.8e-12})],
        ),
        (
            from_parallel_resonance,
            (9e6, 9.0195e6, Fixture(c0_f=4.5e-12)),
            lambda c0=4.5e-12: of_resonances(c0=c0),
            [({"c0": 4.8e-12}, {"c0": 4.2e-12})],
        ),
    ],
    ids=["bandwidth", "series capacitor", "parallel resonances", "parallel resonance"],
)
def test_readings_and_what_the_fixture_makes_of_them(method, readings, make, pairs):
    found = method("x", *readings)
    told = dict(found.fixture_spread)
    for name in ("fs_hz", "lm_h", "cm_f", "rm_ohm", "c0_f", "q"):
        if getattr(make(), name) is None:
            assert getattr(found, name) is None
            assert name not in told
            continue
        assert getattr(found, name) == pytest.approx(getattr(make(), name), rel=1e-9), name
        wanted = multiplied(make, name, pairs)
        assert told[name] == pytest.approx(wanted, rel=1e-4, abs=1e-9 * getattr(found, name)), name


@pytest.mark.parametrize("measured", [False, True])
def test_a_ratio_follows_from_readings_alone_where_c0_was_measured(measured):
    fixture = replace(PARTS, c0_measured=measured)
    assert from_bandwidth("x", 9e6, 1100.0, 1.5, fixture).ratio_measured is measured
    assert from_series_capacitor("x", 9.0004e6, 9.0027e6, fixture).ratio_measured is measured
    # Series and parallel resonance tell the ratio by themselves.
    assert from_parallel_resonance("x", 9e6, 9.0195e6, fixture).ratio_measured


def test_a_figure_whose_error_leaves_no_crystal_is_wholly_unknown():
    # A loss of 0.08 dB that may be 0.1 dB less: Rm by the factors 1 + 1, 1.05 and (0.18/0.08 dB) 1.26.
    found = from_bandwidth("x", 9e6, 1000.0, 0.08, Fixture(c0_f=4.5e-12))
    up = (10 ** (0.18 / 20) - 1) / (10 ** (0.08 / 20) - 1) - 1
    assert dict(found.fixture_spread)["rm_ohm"] == pytest.approx(
        found.rm_ohm * ((1 + up) * 1.05 - 1), rel=1e-6
    )
    assert up > 1
    # A C0 of 0.2 pF may be 0.02 to 0.38 pF: nothing is taken to be less than a tenth of itself.
    small = from_parallel_resonance("x", 9e6, 9.02e6, Fixture(c0_f=0.2e-12))
    assert dict(small.fixture_spread)["c0_f"] == pytest.approx(0.9 * 0.2e-12)


def test_an_oscillator_whose_load_is_not_given_is_told_with_what_200_picofarad_would_make():
    told = from_series_capacitor("x", 9.0004e6, 9.0027e6, Fixture(capacitor_f=33e-12, c0_f=4.5e-12))
    plain, usual = of_capacitor(own=1.0), of_capacitor(own=200e-12)
    assert told.fs_hz == pytest.approx(9.0004e6)
    assert told.lm_h == pytest.approx(plain.lm_h, rel=1e-6)
    low, off = 9.0004e6 - usual.fs_hz, 100 * abs(usual.lm_h / plain.lm_h - 1)
    assert told.doubt == (
        f"oscillator's load not given: with 200 pF, fs would be {low:.0f} Hz lower and Lm {off:.0f} % off"
    )
    assert (round(low), round(off)) == (440, 4)


@pytest.mark.parametrize(
    ("method", "readings", "told"),
    [
        (from_bandwidth, (0.0, 900.0, 1.0, Fixture()), "above zero"),
        (from_bandwidth, (9e6, 0.0, 1.0, Fixture()), "above zero"),
        (from_bandwidth, (9e6, 900.0, 0.0, Fixture()), "a loss of 0 dB cannot be"),
        (from_bandwidth, (2e12, 900.0, 1.0, Fixture()), "too large"),
        (from_bandwidth, (9e6, 2e12, 1.0, Fixture()), "too large"),
        (from_bandwidth, (9e6, 900.0, 201.0, Fixture()), "too large"),
        (from_series_capacitor, (0.0, 9e6, Fixture()), "no rise"),
        (from_series_capacitor, (9e6, 9e6, Fixture()), "no rise"),
        (from_parallel_resonance, (0.0, 9e6, Fixture()), "must lie above series resonance"),
        (from_parallel_resonance, (9e6, 9e6, Fixture()), "must lie above series resonance"),
        (from_parallel_resonance, (9e6, 9.02e6, Fixture(), None, 0.0), "a loss of 0 dB"),
        (from_parallel_resonance, (9e6, 9.02e6, Fixture(), None, 201.0), "a loss of 201 dB"),
        (from_parallel_resonance, (9e6, 9.02e6, Fixture(), 9e6), "lowers parallel resonance"),
        (from_parallel_resonance, (9e6, 9.02e6, Fixture(), 9.02e6), "lowers parallel resonance"),
    ],
)
def test_readings_that_cannot_be_are_told_apart(method, readings, told):
    found = method("x", *readings)
    assert isinstance(found, Unsolved)
    assert told in found.reason


@pytest.mark.parametrize(
    ("fs", "q", "refused"),
    [
        # 16e12 over the frequency, and 5 million whatever it is.
        (9e6, 1.75e6, False),
        (9e6, 1.80e6, True),
        (1e6, 4.9e6, False),
        (1e6, 5.1e6, True),
    ],
)
def test_a_q_beyond_what_quartz_has_is_refused(fs, q, refused):
    lm = 0.02
    c0 = 250 / ((2 * np.pi * fs) ** 2 * lm)
    made = checked(CrystalParameters(label="x", fs_hz=fs, lm_h=lm, c0_f=c0, rm_ohm=2 * np.pi * fs * lm / q))
    assert isinstance(made, Unsolved) is refused
    if refused:
        assert f"a Q of {q:.1e} is more than quartz can have" in made.reason
