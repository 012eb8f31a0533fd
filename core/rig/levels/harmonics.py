"""Harmonics of the transmitter before and behind its filters, against a limit."""

import numpy as np

from core.circuits.ladder import Response
from core.model.bands import Band
from core.record import record
from core.stages.kinds.kind import Sending
from core.stages.loss import MOST_LOSS_DB

#: Harmonics that are looked at; in this order the loss at each end of the dial stands, the fundamental first.
ORDERS = range(2, 10)
#: How far each harmonic above the fifth lies below the one two before it, dB; an assumption.
_FALL_DB = 6.0


@record(kw_only=True, slots=False)
class Harmonic:
    """One harmonic of the transmitter: before and after the low-pass, against the limit, dB and dBc."""

    band: str
    number: int
    frequency_hz: float
    amplifier_dbc: float
    filter_db: float
    result_dbc: float
    limit_dbc: float

    @property
    def margin_db(self) -> float:
        """How far the harmonic lies under the limit, dB; negative when it breaks it."""
        return self.limit_dbc - self.result_dbc


def harmonics(
    amplifier: Sending, band: Band, low_pass: Response | None, limit_db: float
) -> tuple[Harmonic, ...]:
    """Harmonics 2 to 9 of the transmitter at the worse end of the band, against a limit in dB.

    `low_pass` holds the loss at both ends of the dial and at the harmonics of each, shape (18,): first
    the lower end's 1 to 9, then the upper's; None when the path has no low-pass.
    """
    rows = []
    for number, before in zip(ORDERS, _before_dbc(amplifier), strict=True):
        ends = []
        for end, dial_hz in enumerate((band.low_hz, band.high_hz)):
            loss = 0.0
            if low_pass is not None:
                at = np.minimum(
                    low_pass.loss_db[[ORDERS[-1] * end + number - 1, ORDERS[-1] * end]], MOST_LOSS_DB
                )
                loss = float(at[0] - at[1])
            ends.append(
                Harmonic(
                    band=band.name,
                    number=number,
                    frequency_hz=number * dial_hz,
                    amplifier_dbc=before,
                    filter_db=loss,
                    result_dbc=before - loss,
                    limit_dbc=-limit_db,
                )
            )
        rows.append(max(ends, key=lambda row: row.result_dbc))
    return tuple(rows)


def _before_dbc(amplifier: Sending) -> list[float]:
    """What leaves the amplifier: as assumed, computed or measured up to the fifth, evenly falling above, even
    and odd ones by themselves.
    """
    levels = [*amplifier.harmonics_dbc]
    while len(levels) < len(ORDERS):
        levels.append(levels[-2] - _FALL_DB)
    return levels
