"""Which view shows a kind of stage."""

from typing import Any

from app.stage_views.amplifier import AmplifierView, PowerView
from app.stage_views.audio import AudioView
from app.stage_views.base import StageView
from app.stage_views.block import BlockView
from app.stage_views.front_filter import FrontFilterView
from app.stage_views.ladder import LadderView
from app.stage_views.mixer import MixerView

#: Kind to its view; a kind without one is shown by its block figures, with its schematic if it has a circuit.
VIEWS: dict[str, type[StageView[Any]]] = {
    "built_amplifier": AmplifierView,
    "bilateral_amplifier": AmplifierView,
    "built_audio": AudioView,
    "audio_power": AudioView,
    "built_power_amplifier": PowerView,
    "ladder": LadderView,
    "mixer": MixerView,
    "band_pass": FrontFilterView,
    "low_pass": FrontFilterView,
}


def view_of(kind: str) -> type[StageView[Any]]:
    """The view of a kind of stage."""
    return VIEWS.get(kind, BlockView)
