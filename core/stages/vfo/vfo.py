"""How the VFO behaves on its fitted parts: its dial, its drift, and whether it starts."""

from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from core.circuits.ladder import Array, frozen
from core.circuits.resonator import Mode
from core.model.stages.tank import Tank, Warmth
from core.model.values.notation import megahertz
from core.model.values.part_names import reference
from core.model.values.quantities import spelled
from core.record import record
from core.stages.gate import gate
from core.stages.outcome import Unsolved
from core.stages.vfo import oscillator
from core.stages.vfo.tank import RangeCover, TankDesign, circuit, resonance
from core.trade.temperature import Coefficient, coefficients

#: Points of the dial between its ends; the curves are smooth, and a reading between two is a line.
DIAL_POINTS = 201


@record(kw_only=True, slots=False)
class Dial:
    """How frequency follows the knob on a band.

    Arrays of shape (P,): over the whole travel `turns` of the knob and `f_hz`; over the wanted range
    `wanted_f_hz`, `hz_per_turn` and `scale_error_hz`, by how much a scale printed evenly between the ends
    is wrong. Figures over the wanted range: worst and least Hz per turn, turns used, largest scale error.
    """

    turns: Array
    f_hz: Array
    wanted_f_hz: Array
    hz_per_turn: Array
    scale_error_hz: Array
    wanted_positions: tuple[float, float]
    worst_hz_per_turn: float
    least_hz_per_turn: float
    worst_at_hz: float
    turns_used: float
    worst_scale_error_hz: float


@lru_cache(maxsize=64)
@gate("The VFO's dial")
def dial(made: TankDesign, band: str) -> Dial | Unsolved:
    """The dial of a band; `Unsolved` when the wanted range lies wholly outside what is covered."""
    cover = made.range_of(band)
    if cover is None:
        return Unsolved(f"On {spelled(band)} the VFO would pass zero; choose another mixing scheme or IF.")
    position = np.linspace(0.0, 1.0, DIAL_POINTS)
    f = resonance(made, band, position).f_hz
    variable = made.tank.variable
    turns = position * variable.travel_turns * variable.reduction
    slope = np.gradient(f, turns)
    ends = np.clip([cover.wanted_low_hz, cover.wanted_high_hz], f[0], f[-1])
    if not ends[1] > ends[0]:
        return Unsolved(
            f"The VFO covers {megahertz(f[0], f[-1])} and so nothing of what "
            f"{spelled(band)} wants; see what stands in the way below."
        )
    low, high = (float(each) for each in np.interp(ends, f, position))
    inside = np.linspace(low, high, DIAL_POINTS)
    slopes, freqs = np.interp(inside, position, slope), np.interp(inside, position, f)
    worst = int(np.argmax(slopes))
    even = ends[0] + (ends[1] - ends[0]) * (inside - low) / (high - low)
    knob = variable.travel_turns * variable.reduction
    return Dial(
        turns=frozen(turns),
        f_hz=f,
        wanted_f_hz=frozen(freqs),
        hz_per_turn=frozen(slopes),
        scale_error_hz=frozen(even - freqs),
        wanted_positions=(low, high),
        worst_hz_per_turn=float(slopes[worst]),
        least_hz_per_turn=float(slopes.min()),
        worst_at_hz=float(freqs[worst]),
        turns_used=(high - low) * knob,
        worst_scale_error_hz=float(np.abs(freqs - even).max()),
    )


# -- drift ----------------------------------------------------------------------------------------------


@record
class Contribution:
    """One part's part in the drift: its share of the tank [-], coefficient and effect, ppm per kelvin."""

    ref: str
    kind: str
    share: float
    coefficient_ppm: float
    effect_ppm: float


@record
class Drift:
    """Drift at one place of the dial.

    `ppm_per_k` and `hz_per_k` with every coefficient at its nominal value; `worst_hz_per_k` is the larger
    magnitude when all coefficients lie at the unkind end of their tolerance together.
    """

    f_hz: float
    ppm_per_k: float
    hz_per_k: float
    worst_hz_per_k: float
    contributions: tuple[Contribution, ...]


def type_of(role: str, tank: Tank) -> str | None:
    """The type of a capacitor by its role; None for what has no known coefficient (device, stray)."""
    known: dict[str, str] = {
        "shift": tank.shift_type,
        "trimmer": tank.trimmer.type,
        "tuning": tank.variable.type,
        "padder": tank.padder_type,
        "parallel": tank.parallel_type,
        "compensating": tank.compensation_type,
        "differential": "c0g",
        "differential_cold": tank.compensation_type,
        "feedback_upper": tank.feedback.type,
        "feedback_lower": tank.feedback.type,
        "coupling": tank.feedback.type,
    }
    return known.get(role)


def _known(made: TankDesign, band: str, found: Mode) -> Iterator[tuple[str, Coefficient, Array]]:
    """Reference, coefficient and share of every capacitor whose coefficient is known."""
    table = coefficients()
    for part in circuit(made, band).parts:
        type = type_of(part.role, made.tank)
        if type is not None:
            yield part.ref, table[type], found.shares[part.ref]


@lru_cache(maxsize=128)
def drift(made: TankDesign, band: str, position: float) -> Drift:
    """Drift of a band at a position of the travel [-].

    df/f = -1/2 (coil's coefficient + sum of share x coefficient over the capacitors); the device's and the
    stray capacitances have no known coefficient and count as steady.
    """
    return _drift(made, band, resonance(made, band, np.array([position])), 0)


def _drift(made: TankDesign, band: str, found: Mode, place: int) -> Drift:
    """Drift of the resonance at one place of a solution's positions."""
    coil = made.coil_kind
    rows = [Contribution(reference("tank", "coil"), coil.name, 1.0, coil.ppm, -coil.ppm / 2)]
    tolerance = coil.tolerance_ppm
    for ref, of, share in _known(made, band, found):
        part = float(share[place])
        if part == 0:
            continue
        rows.append(Contribution(ref, of.name, part, of.ppm, -of.ppm * part / 2))
        tolerance += of.tolerance_ppm * part
    f, ppm = float(found.f_hz[place]), sum(row.effect_ppm for row in rows)
    worst = max(abs(ppm - tolerance / 2), abs(ppm + tolerance / 2))
    return Drift(f, ppm, ppm * f / 1e6, worst * f / 1e6, tuple(rows))


def drift_ppm(made: TankDesign, band: str, found: Mode) -> Array:
    """Drift [ppm/K] of a band at every position of a resonance, shape (P,), at the nominal coefficients."""
    total = np.full(found.f_hz.shape, made.coil_kind.ppm, dtype=float)
    for _, of, share in _known(made, band, found):
        total = total + of.ppm * share
    return -total / 2


@record
class WarmUp:
    """Drift after switching on, Hz: in all, in the first twenty minutes, and in the hour after those."""

    total_hz: float
    first_hz: float
    next_hour_hz: float


#: The first part of a warm-up and the hour after it, s.
FIRST_S, HOUR_S = 1200.0, 3600.0


def warm_up_hz(drift_hz_per_k: float, warmth: Warmth, seconds: Array) -> Array:
    """Drift [Hz] at times after switching on, any shape [s], for `drift_hz_per_k` [Hz/K].

    The box warms towards its rise with one time constant, and the tank follows the box.
    """
    return drift_hz_per_k * warmth.rise_k * (1 - np.exp(-np.asarray(seconds) / warmth.time_constant_s))


def warm_up(drift_hz_per_k: float, warmth: Warmth) -> WarmUp:
    """The figures of a warm-up for a drift in Hz per kelvin [`drift_hz_per_k`, Hz/K]."""
    first, later = warm_up_hz(drift_hz_per_k, warmth, np.array([FIRST_S, FIRST_S + HOUR_S]))
    return WarmUp(drift_hz_per_k * warmth.rise_k, float(first), float(later - first))


# -- start-up -------------------------------------------------------------------------------------------


@lru_cache(maxsize=128)
def start_margin(made: TankDesign, band: str, position: float) -> float:
    """How many times the device gives back what the tank loses, at a position of the travel [-]."""
    found = resonance(made, band, np.array([position]))
    return oscillator.margin(made.tank, (made.coil_h, made.coil_q), found, 0)


@record
class VfoFigures:
    """The VFO on one band: its cover, its dial, drift and start-up at the low and high end of the range."""

    cover: RangeCover
    dial: Dial
    drift: tuple[Drift, Drift]
    start: tuple[float, float]

    @property
    def worst_drift(self) -> Drift:
        """The end of the dial that drifts more."""
        return max(self.drift, key=lambda each: abs(each.hz_per_k))


@lru_cache(maxsize=64)
@gate("The VFO")
def figures(made: TankDesign, band: str) -> VfoFigures | Unsolved:
    """All figures of a band; `Unsolved` when nothing of its range is covered."""
    of = dial(made, band)
    if isinstance(of, Unsolved):
        return of
    cover = made.range_of(band)
    assert cover is not None  # dial() refuses a band without a range
    ends = resonance(made, band, np.array(of.wanted_positions))
    return VfoFigures(
        cover,
        of,
        (_drift(made, band, ends, 0), _drift(made, band, ends, 1)),
        (
            oscillator.margin(made.tank, (made.coil_h, made.coil_q), ends, 0),
            oscillator.margin(made.tank, (made.coil_h, made.coil_q), ends, 1),
        ),
    )


#: What keeps a VFO steady, printed beside it; common practice, no source.
GUIDANCE: tuple[str, ...] = (
    "Wind the coil rigidly on a ceramic or dry former and fix it with little dope; keep it a diameter away "
    "from any metal.",
    "Keep the VFO in a box of its own, away from the power amplifier, regulators and anything that warms.",
    "Use C0G capacitors, several smaller ones in parallel rather than one large one: each then warms less.",
    "Feed the oscillator from a regulator of its own, and take its output through a buffer.",
    "Let it run an hour before setting the trimmer, then set both ends of the dial against a counter.",
)
