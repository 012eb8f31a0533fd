"""The amplifiers and mixers that a new rig begins with, as circuits where one comes to what is wanted."""

from collections.abc import Sequence

from core.model.bands import Band
from core.model.stages.amplifiers import Amplifier, PowerAmplifier
from core.model.stages.built_amplifier import BuiltAmplifier, Topology
from core.model.stages.stage import StageBase
from core.record import record
from core.stages.amplifiers.design import design
from core.stages.amplifiers.figures import figures
from core.stages.kinds.power import BUILT_POWER_AMPLIFIER
from core.stages.outcome import Unsolved
from core.stages.power_amplifier import design as power
from core.stages.power_amplifier.gain import at

#: Return loss that either port of such a stage must have, dB: an SWR of about 2 (common practice, no source).
_LEAST_RETURN_LOSS_DB = 10.0
#: What stands for a power amplifier that cannot be made of parts, and the gain that it has at least, dB.
_POWER = PowerAmplifier(id="power_amplifier", name="Power amplifier", direction="transmit", rated_w=8.0)
_LEAST_POWER_DB = 14.0
#: More gain than this on the lowest band than on the highest drives the stages behind it too far there, dB.
_MOST_TILT_DB = 1.0


@record
class Circuit:
    """A way to build an amplifier, and the current [A] of its first transistor."""

    topology: Topology
    device: str
    current_a: float


#: Beside a crystal filter, whose impedance changes within a few hundred hertz: three transistors, which hide
#: it; the cheap type as long as it has the gain.
AT_IF = (Circuit("three_transistors", "2n3904", 15e-3), Circuit("three_transistors", "2n5109", 15e-3))
#: Ahead of the receive mixer noise counts most: fast transistors at little current have the least.
AT_RF = (Circuit("feedback_transformer", "2n5109", 15e-3), Circuit("feedback_transformer", "2n3904", 10e-3))
#: The fast type where the bands lie so far apart that the cheap one's gain differs too much between them.
PRE_DRIVER = (
    Circuit("feedback_transformer", "2n3904", 25e-3),
    Circuit("feedback_transformer", "2n5109", 40e-3),
)
#: Some 0.7 W of heat in a transistor that may have 1 W; about a quarter of a watt comes out.
DRIVER = (Circuit("feedback_transformer", "2n5109", 60e-3),)


def built(
    block: Amplifier, at_hz: float, ways: Sequence[Circuit], down_to_hz: float | None = None
) -> BuiltAmplifier | Amplifier:
    """The first of the circuits that has the gain of `block` at `at_hz` [Hz] and matches there, in its place;
    down to `down_to_hz` [Hz], if given, it has hardly more.

    The block itself where none does: a gain that is typed in, to be built some other way.
    """
    for way in ways:
        stage = BuiltAmplifier.checked(
            id=block.id,
            name=block.name,
            direction=block.direction,
            in_path=block.in_path,
            topology=way.topology,
            device=way.device,
            current_a=way.current_a,
            gain_db=block.gain_db,
            designed_at_hz=at_hz,
        )
        made = design(stage)
        found = made if isinstance(made, Unsolved) else figures(made, at_hz)
        if isinstance(found, Unsolved):
            continue
        if min(found.input_return_loss_db, found.output_return_loss_db) < _LEAST_RETURN_LOSS_DB:
            continue
        lowest = found if isinstance(made, Unsolved) or down_to_hz is None else figures(made, down_to_hz)
        if not isinstance(lowest, Unsolved) and lowest.gain_db - found.gain_db <= _MOST_TILT_DB:
            return stage
    return block


def power_amplifier(bands: Sequence[Band]) -> StageBase:
    """The power amplifier of a new rig: of transistors, or a block where none can be made for these bands."""
    made = BUILT_POWER_AMPLIFIER.default(bands, 0.0)
    stage = made.edited(("id",), _POWER.id).edited(("name",), _POWER.name)
    found = power.design(stage, (), tuple((band.low_hz, band.high_hz) for band in bands))
    if isinstance(found, Unsolved) or found.most_w < _POWER.rated_w:
        return _POWER
    ends = [at(found, f) for band in bands for f in (band.low_hz, band.high_hz)]
    gains = [float(each.gain_db[0]) for each in ends if not isinstance(each, Unsolved)]
    return stage if len(gains) == len(ends) and min(gains) >= _LEAST_POWER_DB else _POWER
