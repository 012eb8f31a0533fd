"""Every kind of stage that a signal path can hold, and how a project's file tells one from another.

What else the program knows of a kind stands in `core/stages/kinds`, a row a kind.
"""

from typing import Annotated, Any

from pydantic import GetCoreSchemaHandler
from pydantic_core import CoreSchema, core_schema

from core.model.stages.amplifiers import Amplifier, Attenuator, PowerAmplifier
from core.model.stages.audio import AudioAmplifier, AudioPower, BuiltAudio
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.model.stages.built_amplifier import BuiltAmplifier
from core.model.stages.built_power_amplifier import BuiltPowerAmplifier
from core.model.stages.filters import BandPass, LadderFilter, LowPass
from core.model.stages.gain_control import GainControl
from core.model.stages.mixers import Mixer
from core.model.stages.stage import StageBase


def word_of(model: type[StageBase]) -> str:
    """The word by which a file names this kind of stage."""
    return str(model.model_fields["kind"].default)


#: Kind to its model, in the order in which a builder meets them from the antenna on.
STAGES: dict[str, type[StageBase]] = {
    word_of(model): model
    for model in (
        LowPass,
        BandPass,
        Amplifier,
        BuiltAmplifier,
        BilateralAmplifier,
        Attenuator,
        GainControl,
        Mixer,
        LadderFilter,
        AudioAmplifier,
        BuiltAudio,
        AudioPower,
        PowerAmplifier,
        BuiltPowerAmplifier,
    )
}


class _ByKind:
    """A stage is read as its `kind` says; a model built anew reads the kinds that the table has then."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.tagged_union_schema(
            {word: handler.generate_schema(model) for word, model in STAGES.items()},
            discriminator="kind",
            strict=False,
            from_attributes=True,
        )


#: A stage of any kind.
Stage = Annotated[StageBase, _ByKind()]
