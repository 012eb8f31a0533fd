"""The mixer in the table of kinds."""

from core.model.stages.mixers import Mixer
from core.model.stages.stage import Way
from core.stages.kinds.draw import NOTHING, Draw
from core.stages.kinds.kind import BlockFigures, Bought, Kind, Place, Surroundings, Zone
from core.stages.mixer_circuit import Balance, balance, over_drive
from core.stages.mixers import figures as mixer
from core.stages.ordinary import ordinary_mixer
from core.stages.outcome import Unsolved
from core.trade.diodes import diodes


def _mixes(stage: Mixer, at: Place) -> BlockFigures:
    f = mixer.figures(stage, at.drive_dbm)
    return BlockFigures(
        gain_db=f.gain_db,
        noise_figure_db=f.noise_figure_db,
        iip3_dbm=f.iip3_dbm,
        p1db_out_dbm=f.p1db_in_dbm + f.gain_db - 1,
        input_ohm=f.input_ohm,
        output_ohm=f.output_ohm,
        reverse_db=f.reverse_db,
    )


def _short(zone: Zone, way: Way) -> str:
    """A modulator takes in audio, a detector gives it."""
    if zone == "audio":
        return "mod"
    return "det" if zone == "if" and way == "receive" else "mix"


def _balanced(stage: Mixer, drive_dbm: float, audio_dbm: float) -> Balance | Unsolved | None:
    computed = stage.figures_from == "circuit" and stage.oscillator == "carrier"
    return balance(stage, drive_dbm, audio_dbm) if computed else None


def _draws(stage: Mixer, around: Surroundings, way: Way, supply_v: float) -> Draw | None:
    """Diodes live on the oscillator; of transistors the tail current is known, where the circuit counts."""
    if stage.type != "transistor_array":
        return NOTHING
    return Draw(rest_a=stage.tail_a) if stage.figures_from == "circuit" else None


#: Diodes and trifilar transformers of a mixer, by its type.
_SOLDERED = {"two_diode": (2, 1), "ring": (4, 2)}


def _bought(stage: Mixer) -> tuple[Bought, ...]:
    """Diodes of the type that its circuit is computed with, any fast ones where it is not."""
    if stage.type not in _SOLDERED:
        return (("transistor", "array of a four-quadrant mixer", 1),)
    diode = diodes()[stage.diode].name if stage.figures_from == "circuit" else "for mixers, matched"
    count, transformers = _SOLDERED[stage.type]
    return (("diode", diode, count), ("transformer", "trifilar, for a mixer", transformers))


MIXER = Kind(
    model=Mixer,
    name="Mixer",
    spelled="Mixer",
    short=_short,
    role="mixer",
    default=lambda bands, if_hz: ordinary_mixer(),
    block=_mixes,
    driver=lambda stage: stage.oscillator,
    mixing=mixer.figures,
    over_drive=lambda stage: over_drive(stage) if stage.figures_from == "circuit" else None,
    balance=_balanced,
    bought=_bought,
    draws=_draws,
)
