"""A receiver's own noise along its path, with what its mixers fold in from their images.

A mixer's single-sideband noise figure counts a termination at 290 K on its image. What an amplifier ahead
of it delivers there beyond that is folded onto the signal: an RF stage behind the band-pass does it at the
image, an IF amplifier behind the ladder at the audio image of the detector (the other side of the carrier).
A filter between amplifier and mixer takes it away. Derived here; without images it is H. Friis, Proc. IRE 32
(1944) 419 (from memory).
"""

from math import inf

from core.circuits.units import added_db, excess_db
from core.record import record
from core.rig.levels.blocks import Block, Zone


@record
class OwnNoise:
    """Noise behind each stage in dB over k T0 B, the antenna at 290 K first, and the noise figure, dB.

    The last two are by how much that is lower without the first mixer's image, and without the detector's.
    """

    levels_db: tuple[float, ...]
    noise_figure_db: float
    image_db: float
    detector_image_db: float


def noise_figure_db(blocks: tuple[Block, ...]) -> float:
    """Noise figure of a cascade without any image, dB (Friis)."""
    factor_db, gain_db = 0.0, 0.0
    for each in blocks:
        factor_db = added_db(factor_db, excess_db(each.noise_figure_db) - gain_db)
        gain_db += each.gain_db
    return factor_db


def own_noise(blocks: tuple[Block, ...]) -> OwnNoise:
    """The noise of a path in signal order.

    Amplifiers are taken to amplify, and to be as noisy, at the image as at the signal.
    """
    gain_db = sum(each.gain_db for each in blocks)
    levels = _levels(blocks, ("rf", "if"))
    whole, straight, clean = (
        each[-1] - gain_db for each in (levels, _levels(blocks, ("if",)), _levels(blocks, ("rf",)))
    )
    return OwnNoise(tuple(levels), whole, whole - straight, whole - clean)


def _levels(blocks: tuple[Block, ...], folds: tuple[Zone, ...]) -> list[float]:
    """Noise behind each stage, dB over k T0 B, the mixers of the zones `folds` folding their image in."""
    signal, image = 0.0, 0.0
    levels = [signal]
    for each in blocks:
        added = excess_db(each.noise_figure_db)
        if each.role == "mixer":
            signal = added_db(signal, added)
            if each.zone in folds:
                signal = added_db(signal, excess_db(image))
            signal += each.gain_db
            image = signal
        else:
            signal = added_db(signal, added) + each.gain_db
            if each.passive:
                # Passive and at 290 K: what it takes away it replaces by its own thermal noise.
                beyond = -inf if each.image_gain_db is None else excess_db(image) + each.image_gain_db
                image = added_db(0.0, beyond)
            else:
                image = added_db(image, added) + each.gain_db
        levels.append(signal)
    return levels
