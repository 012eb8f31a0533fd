"""The stages of a path reduced to block figures: gain, noise figure, intercept, compression."""

from dataclasses import dataclass
from functools import partial
from typing import Literal

from core.circuits.units import dbm
from core.model.project import Stage
from core.model.stages.amplifiers import Amplifier, Attenuator, PowerAmplifier
from core.model.stages.audio import AudioAmplifier
from core.model.stages.mixers import Mixer
from core.model.stages.stage import Way
from core.stages import mixer

Zone = Literal["rf", "if", "audio"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One stage of the path reduced to its block figures; None where a passive stage has none.

    `zone` is the frequency it amplifies at; for a mixer that of its input. `image_gain_db` counts for filters
    only: their gain at the image of the next mixer, None where what comes to them there is thermal noise
    anyway or nothing is known, so that nothing of it passes.
    """

    stage: str
    name: str
    kind: str
    zone: Zone
    gain_db: float
    noise_figure_db: float
    iip3_dbm: float | None = None
    p1db_out_dbm: float | None = None
    image_gain_db: float | None = None

    @property
    def p1db_in_dbm(self) -> float | None:
        """Input level [dBm] at which the stage's gain is 1 dB less than it says."""
        return None if self.p1db_out_dbm is None else self.p1db_out_dbm - self.gain_db + 1


def block(stage: Stage, zone: Zone, loss_db: float, image_loss_db: float | None = None) -> Block:
    """Block figures of a stage; the losses count for filters only: at the signal, and at the image [dB]."""
    made = partial(Block, stage=stage.id, name=stage.name, kind=stage.kind, zone=zone)
    if isinstance(stage, Amplifier | PowerAmplifier):
        return made(
            gain_db=stage.gain_db,
            noise_figure_db=stage.noise_figure_db,
            iip3_dbm=stage.oip3_dbm - stage.gain_db,
            p1db_out_dbm=stage.p1db_dbm if isinstance(stage, Amplifier) else dbm(stage.rated_w),
        )
    if isinstance(stage, Mixer):
        f = mixer.figures(stage)
        return made(
            gain_db=f.gain_db,
            noise_figure_db=f.noise_figure_db,
            iip3_dbm=f.iip3_dbm,
            p1db_out_dbm=f.p1db_in_dbm + f.gain_db - 1,
        )
    if isinstance(stage, AudioAmplifier):
        return made(
            gain_db=stage.gain_db,
            noise_figure_db=stage.noise_figure_db,
            p1db_out_dbm=dbm(stage.largest_output_w),
        )
    if isinstance(stage, Attenuator):
        loss_db = stage.loss_db
        image_loss_db = loss_db
    # A passive stage at 290 K: its noise figure is its loss.
    image_gain_db = None if image_loss_db is None else -image_loss_db
    return made(gain_db=-loss_db, noise_figure_db=loss_db, image_gain_db=image_gain_db)


def zones(stages: tuple[Stage, ...], way: Way) -> tuple[Zone, ...]:
    """At which frequency each stage of a path (in signal order) takes its input: RF, IF or audio."""
    order: list[Zone] = ["rf", "if", "audio"] if way == "receive" else ["audio", "if", "rf"]
    turns_at = ["vfo", "carrier"] if way == "receive" else ["carrier", "vfo"]
    position, result = 0, []
    for stage in stages:
        result.append(order[position])
        if isinstance(stage, Mixer) and position < 2 and stage.oscillator == turns_at[position]:
            position += 1
    return tuple(result)
