"""From readings on the bench to a crystal's motional parameters.

Terms after IEC 60122-1: series arm Lm, Cm, Rm with the holder capacitance C0 across; fs = 1/(2π√(LmCm)).
Relations: (a) Rm = (Rs + Rl)(10^(loss/20) − 1), Lm = (Rs + Rl + Rm)/(2πB); (b) fL = fs √(1 + Cm/(C0 + CL))
for a total load CL (with C0 neglected: QST January 1961 p. 60); (c) fp = fs √(1 + Cm/C0); (d) a fit of a
measured sweep, in `crystal_sweep`.
"""

from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache
from math import isfinite, pi, sqrt

from core.model.bench import CrystalMethod
from core.record import record
from core.stages.outcome import Unsolved

#: C0/Cm below which no AT-cut plate can lie (π²/(8 k²), k = 8.8 %), and below which it is doubtful.
LEAST_CAPACITANCE_RATIO, DOUBTFUL_CAPACITANCE_RATIO = 159.0, 200.0
#: Q times frequency that quartz allows at room temperature, Hz: 16e12 for the best cuts (material limit, from
#: memory). Nothing measured in a fixture comes near; a Q above it means a reading of no loss.
LARGEST_Q_TIMES_HZ = 16e12
#: And what no crystal in a ladder has whatever its frequency [-].
LARGEST_Q = 5e6

#: Assumed errors of an ordinary fixture, common practice, no source: resistances as shares of themselves [-],
#: the level [dB], the known capacitor as a share [-], a C0 that was not measured or holds a stray [F].
RESISTANCE_ERROR, LEVEL_ERROR_DB, CAPACITOR_ERROR, HOLDER_ERROR_F = 0.05, 0.1, 0.02, 0.3e-12

Method = CrystalMethod
#: Half-widths of 95 % intervals by name of the figure.
Spread = tuple[tuple[str, float], ...]
#: Figures that have a spread.
FIGURES = ("fs_hz", "lm_h", "cm_f", "rm_ohm", "c0_f", "q")


@record(kw_only=True)
class CrystalParameters:
    """Motional parameters of one crystal in SI units; `rm_ohm` is None where the method cannot tell it.

    `spread` is the half-width of the 95 % interval by figure that the readings themselves give (fits only),
    `fixture_spread` what the assumed errors of the fixture add at worst. `ratio_measured`: C0/Cm follows
    from readings alone and not from an assumed C0.
    """

    label: str
    fs_hz: float
    lm_h: float
    c0_f: float
    rm_ohm: float | None = None
    ratio_measured: bool = False
    doubt: str = ""
    spread: Spread = ()
    fixture_spread: Spread = ()

    @property
    def cm_f(self) -> float:
        """Motional capacitance, F: that which resonates with Lm at fs."""
        return 1 / ((2 * pi * self.fs_hz) ** 2 * self.lm_h)

    @property
    def q(self) -> float | None:
        """Unloaded quality factor [-]; None without Rm."""
        return None if not self.rm_ohm else 2 * pi * self.fs_hz * self.lm_h / self.rm_ohm

    @property
    def fp_hz(self) -> float:
        """Parallel resonance, Hz."""
        return self.fs_hz * sqrt(1 + self.cm_f / self.c0_f)

    @property
    def least_c0_f(self) -> float | None:
        """The C0 [F] that quartz with this Cm has at least, where less was assumed; None otherwise."""
        least = LEAST_CAPACITANCE_RATIO * self.cm_f
        return None if self.ratio_measured or self.c0_f >= least else least

    @property
    def half_width_hz(self) -> float | None:
        """Half the crystal's own bandwidth fs/2Q, Hz: what its loss is beside an error in frequency."""
        return None if not self.rm_ohm else self.rm_ohm / (4 * pi * self.lm_h)

    @property
    def whole_spread(self) -> Spread:
        """Readings, and at worst the fixture, by figure."""
        own, fixture = dict(self.spread), dict(self.fixture_spread)
        return tuple(
            (name, own.get(name, 0.0) + fixture.get(name, 0.0))
            for name in FIGURES
            if name in own or name in fixture
        )


@record(kw_only=True)
class Fixture:
    """What the readings were taken with: source and load resistance at the crystal [ohm], the capacitor of
    methods (b) and (c) [F], the oscillator's own load capacitance [F], and C0 where the table has none [F].

    `to_a_wire`: a sweep's 0 dB is a wire in the crystal's place; else it is the available power.
    `as_files_state`: a sweep was taken between the resistances that its file states, where it states any.
    """

    source_ohm: float = 50.0
    load_ohm: float = 50.0
    capacitor_f: float = 33e-12
    load_capacitance_f: float | None = None
    c0_f: float = 3.5e-12
    c0_measured: bool = False
    to_a_wire: bool = True
    as_files_state: bool = True

    @property
    def around_ohm(self) -> float:
        """Both resistances in series, as the crystal sees them [ohm]."""
        return self.source_ohm + self.load_ohm

    # A bag has one fixture, and two thousand crystals.
    @lru_cache(maxsize=16)  # noqa: B019
    def misjudged(self) -> "tuple[tuple[Fixture, Fixture], ...]":
        """The fixture with each of its parts off by its assumed error, upwards and downwards."""

        def both(share: float, *names: str) -> "tuple[Fixture, Fixture]":
            up, down = (
                replace(self, **{name: getattr(self, name) * (1 + sign * share) for name in names})
                for sign in (1, -1)
            )
            return up, down

        return (
            both(RESISTANCE_ERROR, "source_ohm", "load_ohm"),
            both(CAPACITOR_ERROR, "capacitor_f"),
            both(min(HOLDER_ERROR_F / self.c0_f, 0.9), "c0_f"),
        )


def checked(found: CrystalParameters) -> CrystalParameters | Unsolved:
    """Refuse what cannot be a quartz crystal; mark what is doubtful."""
    figures = (found.fs_hz, found.lm_h, found.c0_f, found.rm_ohm or 1.0)
    if not all(isfinite(v) and v > 0 for v in figures):
        return Unsolved(
            f"{found.label}: these readings give no positive inductance and capacitance; read again."
        )
    if found.q is not None and found.q > min(LARGEST_Q, LARGEST_Q_TIMES_HZ / found.fs_hz):
        return Unsolved(
            f"{found.label}: a Q of {found.q:.1e} is more than quartz can have; check the loss, the "
            "fixture's resistances and what 0 dB stands for, and read again."
        )
    ratio = found.c0_f / found.cm_f
    if ratio < LEAST_CAPACITANCE_RATIO and found.ratio_measured:
        return Unsolved(
            f"{found.label}: C0/Cm would be {ratio:.0f}, below the "
            f"{LEAST_CAPACITANCE_RATIO:.0f} that quartz allows; check the fixture's values and read again."
        )
    if ratio < DOUBTFUL_CAPACITANCE_RATIO and found.ratio_measured:
        return doubted(found, f"C0/Cm of {ratio:.0f} is unusually low")
    return found


def doubted(found: CrystalParameters, doubt: str) -> CrystalParameters:
    """The same crystal with one more doubt."""
    return replace(found, doubt="; ".join(each for each in (found.doubt, doubt) if each))


def _with_fixture(
    found: CrystalParameters, others: Iterable[tuple[CrystalParameters, CrystalParameters]]
) -> CrystalParameters | Unsolved:
    """`found` with the spread that the fixture's errors make at worst, all at once.

    `others` are found with one error each, upwards and downwards. Where one gives no crystal at all, as a
    loss that is smaller than its error, the figure is taken to be wholly unknown.
    """
    values = {name: value for name in FIGURES if (value := getattr(found, name))}
    spread = dict.fromkeys(values, 0.0)
    for up, down in others:
        for name, value in values.items():
            share = 0.0
            for each in (getattr(up, name), getattr(down, name)):
                off = abs(each / value - 1) if each is not None and isfinite(each) and each > 0 else 1.0
                share = max(share, off)
            # Errors of factors multiply.
            spread[name] += share * (value + spread[name])
    return checked(replace(found, fixture_spread=tuple(spread.items())))


def peak_offset_hz(rm_ohm: float, lm_h: float, c0_f: float, around_ohm: float, f_hz: float) -> float:
    """How far the peak of a crystal in a resistive fixture lies above its series resonance, Hz (negative).

    The holder capacitance turns the peak down: with B = ωC0, |R + Z|² is least where the series arm's
    reactance is X = −B Rm (2R + Rm), to first order in B (derived here).
    """
    reactance = -2 * pi * f_hz * c0_f * rm_ohm * (2 * around_ohm + rm_ohm)
    return reactance / (4 * pi * lm_h)


def from_bandwidth(
    label: str, peak_hz: float, bandwidth_hz: float, loss_db: float, fixture: Fixture
) -> CrystalParameters | Unsolved:
    """Method (a): peak [Hz], −3 dB bandwidth [Hz] and insertion loss [dB] in a fixture of known resistance.

    The peak is corrected for C0; bandwidth and loss are not, which errs by about 0.1 % at 50 ohm and less in
    a lower fixture.
    """
    if bandwidth_hz <= 0 or peak_hz <= 0:
        return Unsolved(f"{label}: peak and bandwidth must be above zero; read again.")
    if loss_db <= 0:
        return Unsolved(
            f"{label}: a crystal always loses something; a loss of {loss_db:g} dB cannot be, read again."
        )
    if not all(isfinite(v) and v < 1e12 for v in (peak_hz, bandwidth_hz)) or loss_db > 200:
        return Unsolved(f"{label}: these readings are too large for a crystal; read again.")

    def once(fixture: Fixture, loss_db: float) -> CrystalParameters:
        around = fixture.around_ohm
        rm = around * (10 ** (loss_db / 20) - 1)
        lm = (around + rm) / (2 * pi * bandwidth_hz)
        fs = peak_hz - peak_offset_hz(rm, lm, fixture.c0_f, around, peak_hz)
        return CrystalParameters(
            label=label,
            fs_hz=fs,
            lm_h=lm,
            c0_f=fixture.c0_f,
            rm_ohm=rm,
            ratio_measured=fixture.c0_measured,
        )

    off = [(once(up, loss_db), once(down, loss_db)) for up, down in fixture.misjudged()]
    level = once(fixture, loss_db + LEVEL_ERROR_DB), once(fixture, loss_db - LEVEL_ERROR_DB)
    return _with_fixture(once(fixture, loss_db), [*off, level])


def _of_resonance(
    label: str,
    fs_hz: float,
    cm_f: float,
    fixture: Fixture,
    rm_ohm: float | None = None,
    *,
    ratio_measured: bool = False,
) -> CrystalParameters:
    lm = 1 / ((2 * pi * fs_hz) ** 2 * cm_f) if cm_f > 0 else float("nan")
    return CrystalParameters(
        label=label,
        fs_hz=fs_hz,
        lm_h=lm,
        c0_f=fixture.c0_f,
        rm_ohm=rm_ohm,
        ratio_measured=ratio_measured or fixture.c0_measured,
    )


def from_series_capacitor(
    label: str, plain_hz: float, shifted_hz: float, fixture: Fixture
) -> CrystalParameters | Unsolved:
    """Method (b): oscillator frequency without and with a known capacitor in series [Hz].

    The oscillator's own load capacitance counts when it is given; without it the plain frequency is
    taken as series resonance, and a doubt says what that costs. Exact: ρ = (f2/f1)² − 1,
    u = 1/(C0+CL2) − 1/(C0+CL1), Cm = ρ/(u − ρ/(C0+CL1)).
    """
    if not 0 < plain_hz < shifted_hz:
        return Unsolved(
            f"{label}: a series capacitor raises the frequency; these readings show no rise, read again."
        )
    rho = (shifted_hz / plain_hz) ** 2 - 1

    def once(fixture: Fixture) -> CrystalParameters:
        own = fixture.load_capacitance_f
        first = 0.0 if own is None else 1 / (fixture.c0_f + own)
        together = fixture.capacitor_f if own is None else 1 / (1 / own + 1 / fixture.capacitor_f)
        room = 1 / (fixture.c0_f + together) - first - rho * first
        cm = rho / room if room > 0 else float("nan")
        fs = plain_hz / sqrt(1 + cm * first) if cm > 0 else plain_hz
        return _of_resonance(label, fs, cm, fixture)

    found = once(fixture)
    if fixture.load_capacitance_f is None:
        # What an oscillator of some 200 pF would make of the same readings.
        usual = once(replace(fixture, load_capacitance_f=200e-12))
        low = found.fs_hz - usual.fs_hz
        if isfinite(low) and isfinite(usual.lm_h):
            found = replace(
                found,
                doubt=f"oscillator's load not given: with 200 pF, fs would be {low:.0f} Hz lower and Lm "
                f"{100 * abs(usual.lm_h / found.lm_h - 1):.0f} % off",
            )
    return _with_fixture(found, [(once(up), once(down)) for up, down in fixture.misjudged()])


def from_parallel_resonance(
    label: str,
    fs_hz: float,
    fp_hz: float,
    fixture: Fixture,
    with_capacitor_hz: float | None = None,
    loss_db: float | None = None,
) -> CrystalParameters | Unsolved:
    """Method (c): series and parallel resonance [Hz] with C0 known, or measured by a second parallel
    resonance with the fixture's capacitor across the crystal; the loss at the peak [dB] gives Rm too.

    r = (fp/fs)² − 1; Cm = r C0, and C0 = Cx/(r1/r2 − 1) from the second reading. With the loss known, the
    peak is corrected for C0.
    """
    if not 0 < fs_hz < fp_hz:
        return Unsolved(f"{label}: parallel resonance must lie above series resonance; read both again.")
    if loss_db is not None and not 0 < loss_db <= 200:
        return Unsolved(f"{label}: a loss of {loss_db:g} dB cannot be; read it again or leave it empty.")
    ratio = (fp_hz / fs_hz) ** 2 - 1
    second = None if with_capacitor_hz is None else (with_capacitor_hz / fs_hz) ** 2 - 1
    if second is not None and not 0 < second < ratio:
        return Unsolved(f"{label}: a capacitor across the crystal lowers parallel resonance; read it again.")

    def once(fixture: Fixture, loss_db: float | None = loss_db) -> CrystalParameters:
        if second is not None:
            fixture = replace(fixture, c0_f=fixture.capacitor_f / (ratio / second - 1))
        rm = None if loss_db is None else fixture.around_ohm * (10 ** (loss_db / 20) - 1)
        found = _of_resonance(label, fs_hz, ratio * fixture.c0_f, fixture, rm, ratio_measured=True)
        if rm is None:
            return found
        offset = peak_offset_hz(rm, found.lm_h, fixture.c0_f, fixture.around_ohm, fs_hz)
        exact = ((fp_hz / (fs_hz - offset)) ** 2 - 1) * fixture.c0_f
        return _of_resonance(label, fs_hz - offset, exact, fixture, rm, ratio_measured=True)

    off = [(once(up), once(down)) for up, down in fixture.misjudged()]
    if loss_db is not None:
        off.append((once(fixture, loss_db + LEVEL_ERROR_DB), once(fixture, loss_db - LEVEL_ERROR_DB)))
    return _with_fixture(once(fixture), off)
