"""The stages of a path as blocks: gain, noise figure, intercept, compression, and what is known of them
beside: a two-port with its noise where a stage is made of parts.
"""

from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache

from core.circuits.active.two_port import TwoPort
from core.model.project import Stage
from core.model.stages.stage import Way
from core.record import record
from core.stages.kinds.kind import (
    NOMINAL_OHM,
    PASSIVE,
    SPEECH_TONE_HZ,
    BlockFigures,
    Driver,
    Place,
    Role,
    Sending,
    Zone,
    passive,
)
from core.stages.kinds.table import KINDS, kind_of
from core.stages.outcome import Design, FilterDesign, Unsolved

#: How far from the signal others are taken to stand, Hz; the second of two tones at twice that.
SPACINGS_HZ = (2e3, 5e3, 20e3)
#: Places among the `tones` of a zone, and how many there are.
SIGNAL, IMAGE, TONES = 0, 1, 2 + 4 * len(SPACINGS_HZ)
LOWEST_HZ = 1e3


@record(kw_only=True)
class Block(BlockFigures):
    """One stage of the path with its block figures; `zone` is the frequency it takes its input at.

    `port` is the stage at the `Tones` of its zone, None where its figures are all that is known.
    """

    stage: str
    name: str
    kind: str
    zone: Zone
    port: TwoPort | None = None

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


@lru_cache(maxsize=256)
def _losses_db(port: TwoPort) -> tuple[float, float]:
    """What a filter loses between nominal resistances, of the signal and of its image [dB]."""
    signal_db, image_db, *_ = port.gain_db(NOMINAL_OHM, NOMINAL_OHM)
    return -float(signal_db), -float(image_db)


def block(stage: Stage, at: Place, f_hz: tuple[float, ...] | None = None) -> Block:
    """A stage at its place as a block, and as a two-port at frequencies `f_hz` [Hz]."""
    kind = kind_of(stage)
    port = None if f_hz is None else kind.two_port(stage, at, f_hz)
    plain = port is not None and kind.role in PASSIVE
    made = passive(*_losses_db(port)) if plain and port is not None else kind.block(stage, at)
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
        swings=made.swings,
        beyond_db=made.beyond_db,
        electret_ohm=made.electret_ohm,
        port=port,
    )


@lru_cache(maxsize=256)
def tones(signal_hz: float, image_hz: float, side: int = 1) -> tuple[float, ...]:
    """The frequencies at which a path is looked at in one zone [Hz]: `SIGNAL`, `IMAGE`, and what stands
    `beside` the signal at each of the spacings.

    `side` is −1 where what lies above the signal at the antenna lies below it here.
    """
    away = [side * way * times * spacing for spacing in SPACINGS_HZ for way in (1, -1) for times in (1, 2)]
    found = (signal_hz, image_hz, *(signal_hz + each for each in away))
    # Far down a tone of another band may come out at nothing; no filter is designed there.
    return tuple(max(each, LOWEST_HZ) for each in found)


@lru_cache(maxsize=1)
def audio_tones() -> tuple[float, ...]:
    """The same in audio [Hz]: the tone, the tone again, as its image falls there too, and what the others
    come out at.
    """
    away = [way * times * spacing for spacing in SPACINGS_HZ for way in (1, -1) for times in (1, 2)]
    return (SPEECH_TONE_HZ, SPEECH_TONE_HZ, *(abs(SPEECH_TONE_HZ + each) for each in away))


def beside(spacing: int, way: int) -> tuple[int, int]:
    """Places among the `tones` of the two tones beside the signal at a spacing, above (0) or below it (1)."""
    first = 2 + 4 * spacing + 2 * way
    return first, first + 1


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
    drives_dbm: Mapping[str, float],
    side: int = 1,
) -> tuple[Block, ...]:
    """The stages of a path in signal order, with their circuits, as blocks.

    `dial_hz` and `speech_hz`, a tone of speech at the IF, are the signal, and their images what the mixers
    would fold onto it, all in Hz; None where the carrier has no place. `side` is −1 where mixing turns the
    spectrum over, `drives_dbm` what each mixer gets of its oscillator [dBm], by its key.
    """
    if_hz = None if speech_hz is None or speech_image_hz is None else tones(speech_hz, speech_image_hz, side)
    at_hz: dict[Zone, tuple[float, ...] | None] = {
        "rf": tones(dial_hz, dial_image_hz),
        "if": if_hz,
        "audio": audio_tones(),
    }
    made = [None if isinstance(each, Unsolved) else each for each in designs]
    filters = [None, *(each if isinstance(each, FilterDesign) else None for each in made), None]
    blocks: list[Block] = []
    for n, (stage, zone) in enumerate(zip(path, zones(path, way), strict=True)):
        at = Place(
            zone=zone,
            way=way,
            dial_hz=dial_hz,
            speech_hz=speech_hz,
            dial_image_hz=dial_image_hz,
            speech_image_hz=speech_image_hz,
            drive_dbm=drives_dbm.get(stage.id),
            design=made[n],
            before=filters[n],
            behind=filters[n + 2],
        )
        blocks.append(block(stage, at, at_hz[zone]))
    return tuple(blocks)


def power_amplifier(
    path: Sequence[Stage], design: Callable[[Stage], Design | Unsolved]
) -> tuple[int, Sending | None]:
    """The first power amplifier of a path: its place in it and what it sends; None and 0 when there is none.

    `design` gives the circuit of a stage that is made of parts.
    """
    for place, stage in enumerate(path):
        kind = kind_of(stage)
        if kind.role == "power_amplifier":
            made = None if kind.making is None else design(stage)
            sent = kind.power(stage, None if isinstance(made, Unsolved) else made)
            if sent is not None:
                return place, sent
    return 0, None
