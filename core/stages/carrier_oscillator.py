"""Where the carrier must lie at the edge of the ladder's pass-band, and what that does to speech."""

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from core.circuits.ladder import Array, frozen, solve
from core.circuits.response import crossing
from core.model.bands import Sideband
from core.model.filters import LadderFilter
from core.stages import ladder_filter
from core.stages.outcome import Unsolved


@dataclass(frozen=True, slots=True)
class CarrierPlace:
    """The carrier at a pass-band edge.

    `side` is where it lies as seen from the pass-band; upper sideband at the IF wants it below.
    `suppression_db` is the ladder's loss at the carrier relative to its least loss;
    `unwanted_sideband_1khz_db` its loss to the unwanted sideband's 1 kHz tone relative to the wanted's.
    """

    frequency_hz: float
    side: Literal["below", "above"]
    suppression_db: float
    unwanted_sideband_1khz_db: float

    def signal_hz(self, audio_hz: float) -> float:
        """Frequency at the IF [Hz] of a tone of `audio_hz` [Hz]."""
        return self.frequency_hz + audio_hz if self.side == "below" else self.frequency_hz - audio_hz


@lru_cache(maxsize=128)
def place(
    ladder: LadderFilter, if_hz: float, sideband_at_if: Sideband, edge_suppression_db: float
) -> CarrierPlace | Unsolved:
    """The frequency on the ladder's skirt that is `edge_suppression_db` below its least loss [dB].

    Searched outwards from the −3 dB point on the side where the carrier of `sideband_at_if` lies.
    """
    made, band = ladder_filter.design(ladder, if_hz), ladder_filter.band(ladder, if_hz)
    if isinstance(made, Unsolved):
        return made
    if isinstance(band, Unsolved):
        return band
    low, high = band.edges_hz[3.0]
    assert low is not None  # band() refuses a curve without edges
    assert high is not None
    below = sideband_at_if == "upper"
    reach = 4 * (high - low)
    f = np.linspace(low, max(low - reach, low / 2), 301) if below else np.linspace(high, high + reach, 301)
    level = band.least_loss_db + edge_suppression_db
    stopped = np.flatnonzero(solve(made.network, f).loss_db > level)
    if stopped.size == 0 or stopped[0] == 0:
        side = "lower" if below else "upper"
        return Unsolved(
            f"The ladder's {side} skirt is never {edge_suppression_db:.0f} dB down, so the carrier has no "
            "place there; use more poles or ask for less suppression at the carrier."
        )
    near, far = sorted((float(f[stopped[0] - 1]), float(f[stopped[0]])))
    frequency = crossing(made.network, near, far, level)
    sign = 1 if below else -1
    at_carrier, wanted, unwanted = solve(
        made.network, frequency + sign * np.array([0.0, 1000.0, -1000.0])
    ).loss_db
    return CarrierPlace(
        frequency,
        "below" if below else "above",
        float(at_carrier - band.least_loss_db),
        float(unwanted - wanted),
    )


def audio_response(
    ladder: LadderFilter, if_hz: float, carrier: CarrierPlace, audio_hz: Array
) -> Array | Unsolved:
    """Loss [dB] of the ladder to tones of `audio_hz`, shape (F,) [Hz], relative to its least loss."""
    made, band = ladder_filter.design(ladder, if_hz), ladder_filter.band(ladder, if_hz)
    if isinstance(made, Unsolved):
        return made
    if isinstance(band, Unsolved):
        return band
    sign = 1 if carrier.side == "below" else -1
    return frozen(solve(made.network, carrier.frequency_hz + sign * audio_hz).loss_db - band.least_loss_db)
