"""The stages of a path reduced to block figures: gain, noise figure, intercept, compression."""

from dataclasses import dataclass

from core.model.project import Stage
from core.model.stages.stage import Way
from core.stages.kinds.kind import PASSIVE, BlockFigures, Driver, Place, Role, Zone
from core.stages.kinds.table import KINDS, kind_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Block(BlockFigures):
    """One stage of the path with its block figures; `zone` is the frequency it takes its input at."""

    stage: str
    name: str
    kind: str
    zone: Zone

    @property
    def role(self) -> Role:
        """What the stage is there for."""
        return KINDS[self.kind].role

    @property
    def passive(self) -> bool:
        """Whether the stage adds no noise beyond its loss."""
        return self.role in PASSIVE

    @property
    def p1db_in_dbm(self) -> float | None:
        """Input level [dBm] at which the stage's gain is 1 dB less than it says."""
        return None if self.p1db_out_dbm is None else self.p1db_out_dbm - self.gain_db + 1


def block(stage: Stage, at: Place) -> Block:
    """Block figures of a stage at its place."""
    made = kind_of(stage).block(stage, at)
    return Block(
        stage=stage.id,
        name=stage.name,
        kind=stage.kind,
        zone=at.zone,
        gain_db=made.gain_db,
        noise_figure_db=made.noise_figure_db,
        iip3_dbm=made.iip3_dbm,
        p1db_out_dbm=made.p1db_out_dbm,
        image_gain_db=made.image_gain_db,
    )


def zones(stages: tuple[Stage, ...], way: Way) -> tuple[Zone, ...]:
    """At which frequency each stage of a path (in signal order) takes its input: RF, IF or audio."""
    order: list[Zone] = ["rf", "if", "audio"] if way == "receive" else ["audio", "if", "rf"]
    turns_at: list[Driver] = ["vfo", "carrier"] if way == "receive" else ["carrier", "vfo"]
    position, result = 0, []
    for stage in stages:
        result.append(order[position])
        if position < 2 and kind_of(stage).driver(stage) == turns_at[position]:
            position += 1
    return tuple(result)
