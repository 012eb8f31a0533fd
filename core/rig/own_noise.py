"""A receiver's own noise along its path, with what its mixers fold in from their images.

A mixer's single-sideband noise figure counts a termination at 290 K on its image. What an amplifier ahead
of it delivers there beyond that is folded onto the signal: an RF stage behind the band-pass does it at the
image, an IF amplifier behind the ladder at the audio image of the detector (the other side of the carrier).
A filter between amplifier and mixer takes it away. Derived here; without images it is H. Friis, Proc. IRE 32
(1944) 419 (from memory).
"""

from dataclasses import dataclass

from core.circuits.units import decibels, ratio
from core.rig.blocks import Block, Zone


@dataclass(frozen=True, slots=True)
class OwnNoise:
    """Noise in k T0 B behind each stage, the antenna at 290 K first, and the noise figure that follows, dB.

    The last two are by how much that is lower without the first mixer's image, and without the detector's.
    """

    levels: tuple[float, ...]
    noise_figure_db: float
    image_db: float
    detector_image_db: float


def noise_figure_db(blocks: tuple[Block, ...]) -> float:
    """Noise figure of a cascade without any image, dB (Friis)."""
    factor, gain = 1.0, 1.0
    for each in blocks:
        factor += (ratio(each.noise_figure_db) - 1) / gain
        gain *= ratio(each.gain_db)
    return decibels(factor)


def own_noise(blocks: tuple[Block, ...]) -> OwnNoise:
    """The noise of a path in signal order.

    Amplifiers are taken to amplify, and to be as noisy, at the image as at the signal.
    """
    gain = ratio(sum(each.gain_db for each in blocks))
    levels = _levels(blocks, ("rf", "if"))
    whole, straight, clean = (
        decibels(each[-1] / gain) for each in (levels, _levels(blocks, ("if",)), _levels(blocks, ("rf",)))
    )
    return OwnNoise(tuple(levels), whole, whole - straight, whole - clean)


def _levels(blocks: tuple[Block, ...], folds: tuple[Zone, ...]) -> list[float]:
    """Noise behind each stage in k T0 B, the mixers of the zones `folds` folding their image in."""
    signal, image = 1.0, 1.0
    levels = [signal]
    for each in blocks:
        gain, added = ratio(each.gain_db), ratio(each.noise_figure_db) - 1
        if each.kind == "mixer":
            signal = (signal + added + (image - 1 if each.zone in folds else 0.0)) * gain
            image = signal
        else:
            signal = (signal + added) * gain
            if each.kind in ("band_pass", "low_pass", "ladder", "attenuator"):
                # Passive and at 290 K: what it takes away it replaces by its own thermal noise.
                through = 0.0 if each.image_gain_db is None else ratio(each.image_gain_db)
                image = image * through + 1 - through
            else:
                image = (image + added) * gain
        levels.append(signal)
    return levels
