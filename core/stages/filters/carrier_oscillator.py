"""Where the carrier must lie at the edge of the ladder's pass-band, and what that does to speech."""

from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from core.circuits.ladder import Array, frozen, group_delay_s, solve
from core.circuits.response import crossing
from core.model.bands import Sideband
from core.model.stages.filters import Crystal
from core.record import record
from core.stages.coils.winding import wind
from core.stages.filters import ladder_meshes
from core.stages.filters.ladder_filter import SolvedLadder
from core.stages.gate import gate
from core.stages.outcome import Unsolved
from core.stages.wound import Wound

#: The tones that speech is made of, Hz: what the spread of the group delay is taken over.
SPEECH_HZ = (300.0, 2700.0)

#: Tones at which the unwanted sideband is judged, Hz; in the order of the figures of `CarrierPlace`.
_SIDEBAND_TONES_HZ = (1000.0, 300.0, 2000.0)


@record(kw_only=True)
class CarrierPlace:
    """The carrier at a pass-band edge.

    `side` is where it lies as seen from the pass-band; upper sideband at the IF wants it below.
    `suppression_db` is the ladder's loss at the carrier relative to its least loss;
    `unwanted_sideband_1khz_db` its loss to the unwanted sideband's 1 kHz tone relative to the wanted's, and
    so for 300 Hz and 2 kHz. `lowest_audio_hz` is the tone that the ladder's edge puts 6 dB down.
    """

    frequency_hz: float
    side: Literal["below", "above"]
    suppression_db: float
    unwanted_sideband_1khz_db: float
    unwanted_sideband_300hz_db: float
    unwanted_sideband_2khz_db: float
    lowest_audio_hz: float | None

    def signal_hz(self, audio_hz: float) -> float:
        """Frequency at the IF [Hz] of a tone of `audio_hz` [Hz]."""
        return self.frequency_hz + audio_hz if self.side == "below" else self.frequency_hz - audio_hz

    def signals_hz(self, audio_hz: Array) -> Array:
        """Frequencies at the IF [Hz] of tones of `audio_hz` (F,) [Hz]."""
        return self.frequency_hz + audio_hz if self.side == "below" else self.frequency_hz - audio_hz


@lru_cache(maxsize=128)
@gate("The carrier's place")
def place(
    solved: SolvedLadder,
    sideband_at_if: Sideband,
    edge_suppression_db: float,
    lowest_audio_hz: float | None = None,
) -> CarrierPlace | Unsolved:
    """The frequency on the ladder's skirt that is `edge_suppression_db` below its least loss [dB].

    Searched outwards from the −3 dB point on the side where the carrier of `sideband_at_if` lies. With
    `lowest_audio_hz` [Hz] given, the carrier lies that far outside the −6 dB edge instead.
    """
    band = solved.band
    below = sideband_at_if == "upper"
    edge = band.edges_hz[6.0][0 if below else 1]
    sign = 1 if below else -1
    if lowest_audio_hz is None:
        found = _on_the_skirt(solved, below, edge_suppression_db)
        if isinstance(found, Unsolved):
            return found
        frequency = found
    elif edge is None:
        return Unsolved("The ladder's edge is never 6 dB down, so no tone can be told by it; use more poles.")
    else:
        frequency = edge - sign * lowest_audio_hz
    if not lowest_audio_hz:
        lowest_audio_hz = None if edge is None else sign * (edge - frequency)
    tones = sign * np.array([0.0, *_SIDEBAND_TONES_HZ, *(-tone for tone in _SIDEBAND_TONES_HZ)])
    loss = solve(solved.design.network, frequency + tones).loss_db
    unwanted = [float(loss[4 + n] - loss[1 + n]) for n in range(3)]
    return CarrierPlace(
        frequency_hz=frequency,
        side="below" if below else "above",
        suppression_db=float(loss[0] - band.least_loss_db),
        unwanted_sideband_1khz_db=unwanted[0],
        unwanted_sideband_300hz_db=unwanted[1],
        unwanted_sideband_2khz_db=unwanted[2],
        lowest_audio_hz=lowest_audio_hz,
    )


def _on_the_skirt(solved: SolvedLadder, below: bool, edge_suppression_db: float) -> float | Unsolved:
    """Where the lower or upper skirt is so far down, Hz."""
    network, low, high = solved.design.network, solved.low_hz, solved.high_hz
    reach = 4 * (high - low)
    f = np.linspace(low, max(low - reach, low / 2), 301) if below else np.linspace(high, high + reach, 301)
    level = solved.band.least_loss_db + edge_suppression_db
    stopped = np.flatnonzero(solve(network, f).loss_db > level)
    if stopped.size == 0 or stopped[0] == 0:
        side = "lower" if below else "upper"
        return Unsolved(
            f"The ladder's {side} skirt is never {edge_suppression_db:.0f} dB down, so the carrier has no "
            "place there; use more poles or ask for less suppression at the carrier."
        )
    near, far = sorted((float(f[stopped[0] - 1]), float(f[stopped[0]])))
    return crossing(network, near, far, level)


@record(kw_only=True)
class Pulling:
    """How the carrier's crystal is brought to where the filter wants it.

    `coil_h` is the series coil (0: none), `trimmer_f` the trimmer's setting for the wanted frequency or None
    where it cannot be had, and the reachable range is that of the whole trimmer with this coil, Hz. `wound`
    is the coil on its core, or why that cannot be; None where no core was chosen, or no coil is wanted.
    """

    wanted_hz: float
    coil_h: float
    trimmer_f: float | None
    reachable_low_hz: float
    reachable_high_hz: float
    wound: Wound | Unsolved | None = None

    @property
    def reaches(self) -> bool:
        """Whether the wanted frequency lies in reach."""
        return self.trimmer_f is not None


#: Below this 1 + w C0 X [-] the coil resonates with the holder rather than with the crystal.
_LEAST_RULED = 0.02


def pulled_hz(crystal: Crystal, fs_hz: float, coil_h: float, trimmer_f: ArrayLike, load_f: float) -> Array:
    """Frequency [Hz] of a crystal with a coil [H], a trimmer [F] and the circuit's load [F] all in series.

    `trimmer_f` has any shape. The crystal's reactance X is what the others cancel:
    X = 1/(w C) + 1/(w CL) - w L. Solved for the frequency with w held, and again with the w found, until
    it stands (a pull changes w by less than a thousandth). Zero where the coil is so large that it resonates
    with the holder's capacitance: the crystal then no longer rules the frequency.
    """
    capacitance = np.asarray(trimmer_f, dtype=float)
    ws = 2 * np.pi * fs_hz
    w = np.full(capacitance.shape, ws)
    ruled = np.ones(capacitance.shape, dtype=bool)
    for _ in range(5):
        wanted = 1 / (w * capacitance) + 1 / (w * load_f) - w * coil_h
        left = 1 + w * crystal.holder_capacitance_f * wanted
        ruled &= left > _LEAST_RULED
        half = wanted / np.where(ruled, left, 1.0) / (2 * crystal.motional_inductance_h)
        w = half + np.sqrt(half**2 + ws**2)
        # A pull by halves is none of a crystal either.
        ruled &= w > ws / 2
        w = np.where(ruled, w, ws)
    return np.asarray(np.where(ruled, w / (2 * np.pi), 0.0))


@lru_cache(maxsize=128)
def pull(
    crystal: Crystal,
    fs_hz: float,
    wanted_hz: float,
    trimmer_f: tuple[float, float],
    load_f: float,
    coil_h: float | None = None,
    core: str = "",
) -> Pulling:
    """Bring a crystal resonant at `fs_hz` [Hz] to `wanted_hz` [Hz] with a trimmer of a range [F].

    Without a coil given [H], none is used when the trimmer alone reaches; otherwise one that puts the wanted
    frequency at the geometric middle of the trimmer. On a `core` it is what whole turns come to.
    """
    w = 2 * np.pi * wanted_hz
    reactance = ladder_meshes.crystal_reactance(
        wanted_hz, fs_hz, crystal.motional_inductance_h, crystal.holder_capacitance_f
    )

    def trimmer_for(coil: float) -> float | None:
        left = reactance + w * coil - 1 / (w * load_f)
        value = 1 / (w * left) if left > 0 else np.inf
        return float(value) if trimmer_f[0] <= value <= trimmer_f[1] else None

    coil = coil_h
    if coil is None:
        middle = np.sqrt(trimmer_f[0] * trimmer_f[1])
        centring = (1 / (w * middle) + 1 / (w * load_f) - reactance) / w
        coil = 0.0 if trimmer_for(0.0) is not None else max(float(centring), 0.0)
    wound = wind(coil, wanted_hz, core=core) if core and coil > 0 else None
    if isinstance(wound, Wound):
        coil = wound.nearest_h(coil)
    low, high = (float(pulled_hz(crystal, fs_hz, coil, c, load_f)) for c in (trimmer_f[1], trimmer_f[0]))
    return Pulling(
        wanted_hz=wanted_hz,
        coil_h=coil,
        trimmer_f=trimmer_for(coil),
        reachable_low_hz=low,
        reachable_high_hz=high,
        wound=wound,
    )


@lru_cache(maxsize=64)
@gate("The ladder's group delay")
def group_delay_spread_s(
    solved: SolvedLadder, carrier: CarrierPlace, audio_hz: tuple[float, float] = SPEECH_HZ
) -> float | Unsolved:
    """Largest less least group delay [s] of the ladder over a range of tones [Hz]."""
    delays = group_delay_s(solved.design.network, carrier.signals_hz(np.linspace(*audio_hz, 121)))
    return float(delays.max() - delays.min())


@gate("The ladder's group delay")
def audio_group_delay_s(solved: SolvedLadder, carrier: CarrierPlace, audio_hz: Array) -> Array | Unsolved:
    """Group delay [s] of the ladder to tones of `audio_hz`, shape (F,) [Hz]."""
    return group_delay_s(solved.design.network, carrier.signals_hz(audio_hz))


@gate("The ladder's response to speech")
def audio_response(solved: SolvedLadder, carrier: CarrierPlace, audio_hz: Array) -> Array | Unsolved:
    """Loss [dB] of the ladder to tones of `audio_hz`, shape (F,) [Hz], relative to its least loss."""
    loss_db = solve(solved.design.network, carrier.signals_hz(audio_hz)).loss_db
    return frozen(loss_db - solved.band.least_loss_db)
