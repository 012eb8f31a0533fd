"""The stages of a path reduced to block figures: gain, noise figure, intercept, compression."""

from collections.abc import Sequence
from dataclasses import dataclass

from core.model.project import Stage
from core.model.stages.amplifiers import PowerAmplifier
from core.model.stages.stage import Way
from core.stages.kinds.kind import PASSIVE, BlockFigures, Driver, Place, Role, Zone
from core.stages.kinds.table import KINDS, kind_of
from core.stages.outcome import Design, FilterDesign, Unsolved


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
        input_ohm=made.input_ohm,
        output_ohm=made.output_ohm,
        reverse_db=made.reverse_db,
    )


def zones(stages: Sequence[Stage], way: Way) -> tuple[Zone, ...]:
    """At which frequency each stage of a path (in signal order) takes its input: RF, IF or audio."""
    order: list[Zone] = ["rf", "if", "audio"] if way == "receive" else ["audio", "if", "rf"]
    turns_at: list[Driver] = ["vfo", "carrier"] if way == "receive" else ["carrier", "vfo"]
    position, result = 0, []
    for stage in stages:
        result.append(order[position])
        if position < 2 and kind_of(stage).driver(stage) == turns_at[position]:
            position += 1
    return tuple(result)


def path_blocks(
    path: Sequence[Stage],
    way: Way,
    designs: Sequence[Design | Unsolved],
    *,
    dial_hz: float,
    dial_image_hz: float,
    speech_hz: float | None,
    speech_image_hz: float | None,
) -> tuple[Block, ...]:
    """The stages of a path in signal order, with their circuits, as blocks.

    `dial_hz` and `speech_hz`, a tone of speech at the IF, are the signal, and their images what the mixers
    would fold onto it, all in Hz; None where the carrier has no place.
    """
    made = [None if isinstance(each, Unsolved) else each for each in designs]
    filters = [None, *(each if isinstance(each, FilterDesign) else None for each in made), None]
    blocks: list[Block] = []
    noisy = False
    for n, (stage, zone) in enumerate(zip(path, zones(path, way), strict=True)):
        at = Place(
            zone=zone,
            way=way,
            dial_hz=dial_hz,
            speech_hz=speech_hz,
            dial_image_hz=dial_image_hz if noisy else None,
            speech_image_hz=speech_image_hz if noisy else None,
            design=made[n],
            before=filters[n],
            behind=filters[n + 2],
        )
        blocks.append(block(stage, at))
        # Ahead of the first stage that adds noise there is thermal noise at the image and no more.
        noisy = way == "receive" and (noisy or not blocks[-1].passive)
    return tuple(blocks)


def power_amplifier(path: Sequence[Stage]) -> tuple[int, PowerAmplifier | None]:
    """The first power amplifier of a path and its place in it; None and 0 when there is none."""
    powers = ((place, kind_of(stage).power(stage)) for place, stage in enumerate(path))
    return next(((place, each) for place, each in powers if each is not None), (0, None))
