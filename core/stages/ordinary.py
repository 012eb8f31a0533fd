"""The ordinary stages that a new rig is made of, and that the IF survey takes for granted."""

from math import pi

from core.model.bands import Band
from core.model.stages.filters import BandPassFilter, Crystal, LadderFilter, LowPassFilter
from core.model.stages.mixers import Mixer
from core.model.values.notation import significant

#: C0 over Cm of ordinary crystals [-], from memory.
_USUAL_RATIO = 230.0


def typical_crystal(frequency_hz: float) -> Crystal:
    """A crystal of ordinary make at `frequency_hz` [Hz], until the builder has measured theirs.

    Lm = 14 mH (10 MHz / f)^2.4, a line through the usual ranges of HC-49 fundamentals (120 mH at 4 MHz,
    15 mH at 10 MHz, 4.5 mH at 16 MHz); C0 is 230 times Cm and 3.5 pF at least, as quartz allows no ratio
    below some 160; Q 75 000. Rough, from memory; below 40 kHz, where the line leads beyond any crystal, the
    10 kH that a tuning fork of quartz has.
    """
    inductance = min(significant(14e-3 * (10e6 / frequency_hz) ** 2.4, 3), 1e4)
    motional_f = 1 / ((2 * pi * frequency_hz) ** 2 * inductance)
    holder = max(3.5e-12, significant(_USUAL_RATIO * motional_f, 2))
    return Crystal(motional_inductance_h=inductance, holder_capacitance_f=holder)


def ordinary_ladder(if_hz: float) -> LadderFilter:
    """The ladder that a new rig gets for an IF of `if_hz` [Hz]."""
    return LadderFilter(id="ladder", name="Ladder filter", crystal=typical_crystal(if_hz))


def ordinary_mixer() -> Mixer:
    """The mixer between dial and IF."""
    return of_circuit(Mixer(id="mixer", name="Mixer"))


def of_circuit(mixer: Mixer) -> Mixer:
    """The mixer with what its circuit does at the drive that it gets; Schottky diodes are content with the
    7 dBm that an oscillator gives.
    """
    return mixer.edited(("figures_from",), "circuit").edited(("diode",), "1n5711")


def ordinary_band_pass(band: Band) -> BandPassFilter:
    """Wide enough for the band with room for tolerances, and not so narrow that coil loss eats the signal."""
    width = max(1.5 * (band.high_hz - band.low_hz), 0.045 * band.centre_hz)
    return BandPassFilter(
        bands=(band.name,), resonators=3, bandwidth_hz=max(round(width, -4), 1e3), coupling="automatic"
    )


def ordinary_low_pass(band: Band) -> LowPassFilter:
    """One low-pass a band."""
    return LowPassFilter(bands=(band.name,))
