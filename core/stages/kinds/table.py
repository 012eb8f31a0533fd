"""The table of kinds: one row a kind, found by the word in a project's file."""

from typing import Any

from core.model.stages.audio import AudioPower, BuiltAudio
from core.model.stages.kinds import Stage, word_of
from core.model.stages.stage import StageBase
from core.stages.kinds.amplifiers import BILATERAL_AMPLIFIER, BUILT_AMPLIFIER
from core.stages.kinds.audio import AUDIO_POWER, BUILT_AUDIO, GAIN_CONTROL
from core.stages.kinds.blocks import AMPLIFIER, ATTENUATOR, AUDIO, POWER_AMPLIFIER
from core.stages.kinds.filters import BAND_PASS, LADDER, LOW_PASS
from core.stages.kinds.kind import Kind
from core.stages.kinds.mixing import MIXER
from core.stages.kinds.power import BUILT_POWER_AMPLIFIER

_ROWS: tuple[Kind[Any], ...] = (
    LOW_PASS,
    BAND_PASS,
    AMPLIFIER,
    BUILT_AMPLIFIER,
    BILATERAL_AMPLIFIER,
    ATTENUATOR,
    GAIN_CONTROL,
    MIXER,
    LADDER,
    AUDIO,
    BUILT_AUDIO,
    AUDIO_POWER,
    POWER_AMPLIFIER,
    BUILT_POWER_AMPLIFIER,
)
#: Kind to what is known of it, in the order in which a new stage is offered.
KINDS: dict[str, Kind[Any]] = {word_of(row.model): row for row in _ROWS}


def kind_of(stage: StageBase) -> Kind[Any]:
    """The row of a stage."""
    return KINDS[stage.kind]


def audio_of_parts(stage: Stage) -> BuiltAudio | AudioPower | None:
    """The audio stage of parts that a stage is; None of any other."""
    kind = kind_of(stage)
    return kind.voltage_audio(stage) or kind.power_audio(stage)
