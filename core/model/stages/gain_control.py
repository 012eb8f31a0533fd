"""What takes gain out of the receiver for loud stations: a volume control, or automatic gain control."""

from typing import ClassVar, Literal

from core.model.stages.stage import Member, StageBase
from core.model.values.as_built import VolumeAsBuilt
from core.model.values.parts import Family
from core.model.values.quantities import AudioOhm, DecibelLoss, Watt, stated

#: Who turns it.
Turned = Literal["by_hand", "automatically"]


class GainControl(StageBase):
    """A control with a range, as a stage that loses more or less.

    Full up it has its least loss. On louder stations it takes out as much as brings the audio down to what it
    holds, as far as its range goes.
    """

    family: ClassVar[Family] = "volume"
    kind: Literal["gain_control"] = "gain_control"
    turned: Turned = stated(
        "by_hand", "Turned", "By hand, as a volume control, or automatically, as AGC does before a hand acts."
    )
    range_db: DecibelLoss = stated(
        60.0,
        "Range",
        "How much gain it can take out at most.",
        "50 to 70 dB for a volume potentiometer, 30 to 80 dB for AGC",
    )
    loss_db: DecibelLoss = stated(
        0.0, "Least loss", "Its loss full up, and its noise figure then.", "0 for a potentiometer, 0 to 3 dB"
    )
    held_w: Watt = stated(
        0.05, "Audio held", "What the speaker is to get of a loud station.", "20 to 200 mW in a quiet room"
    )
    track_ohm: AudioOhm | None = stated(
        None,
        "Potentiometer",
        "Resistance of its track, with which it loads what stands before it; empty: a matched control.",
        "10 kΩ, logarithmic",
    )
    as_built: VolumeAsBuilt = stated((), "As built", "Values really fitted, by part.")

    @property
    def members(self) -> tuple[Member, ...]:
        """A circuit it has as a potentiometer only."""
        return () if self.track_ohm is None else (Member(None, self, None),)
