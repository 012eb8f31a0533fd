"""How far the display may be off, from the counter's clock and from oscillators that nobody has measured.

The module counts one frequency and adds or subtracts a stored one, so the display is wrong by the clock's
share of what is counted and by whatever the stored frequencies really are off. What was measured with the
same counter is off by the same share, and all of it together then by that share of the dial.
"""

from core.model.readout import ReadOut
from core.record import record
from core.rig.plan.frequency_plan import BandPlan
from core.rig.read_out.schemes import Reading

#: How far a crystal oscillator stands from what is marked or computed until it is measured, parts in a
#: million: cut and pulling of an ordinary crystal; from memory.
ASSUMED_CRYSTAL_PPM = 30.0


@record
class DialError:
    """How far the display may be off at the upper end of the dial, Hz.

    `unmeasured` names the oscillators that are taken as marked or computed; with them measured by the same
    counter it is `measured_hz`.
    """

    hz: float
    measured_hz: float
    unmeasured: tuple[str, ...]


def dial_error(reading: Reading, band: BandPlan, read_out: ReadOut) -> DialError:
    """The error of a reading of `band`, worst case: the parts are added up."""
    clock = read_out.counter.reference_ppm / 1e6
    measured = clock * band.dial_high_hz
    if reading.arrangement == "both":
        # Whatever carrier and VFO are, they are counted.
        return DialError(measured, measured, ())
    upper = (band.sideband == "upper") != band.sideband_inverted
    carrier_measured = read_out.carrier_upper_hz if upper else read_out.carrier_lower_hz
    # dial = counted ± carrier ± helper; the counted product holds its own multiple of the helper.
    sign = -1.0 if band.scheme == "vfo_minus_if" else 1.0
    parts = [("carrier", sign * band.carrier_hz, carrier_measured)]
    if reading.helper_hz is not None:
        parts.append(("helper", -reading.counts[1] * reading.helper_hz, read_out.helper_measured_hz))
    known = max(reading.counted_hz) + sum(hz for _, hz, at in parts if at is not None)
    unknown = sum(abs(hz) for _, hz, at in parts if at is None)
    error = clock * abs(known) + ASSUMED_CRYSTAL_PPM / 1e6 * unknown
    return DialError(error, measured, tuple(name for name, _, at in parts if at is None))
