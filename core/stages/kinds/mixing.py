"""The mixer in the table of kinds."""

from core.model.stages.mixers import Mixer
from core.model.stages.stage import Way
from core.stages.kinds.draw import NOTHING, Draw
from core.stages.kinds.kind import BlockFigures, Bought, Kind, Making, Place, Surroundings, Zone
from core.stages.mixers import figures as mixer
from core.stages.mixers.design import ArrayDesign, MixerDesign, as_soldered, design, lowest
from core.stages.mixers.drive import AtDrive, Balance, balance, over_drive
from core.stages.mixers.figures import MixerFigures
from core.stages.ordinary import ordinary_mixer
from core.stages.outcome import Unsolved


def _designed(stage: Mixer, around: Surroundings) -> MixerDesign | Unsolved:
    return design(stage, lowest(stage, around.bands, around.if_hz), around.transistors, around.every)


def _mixes(stage: Mixer, at: Place) -> BlockFigures:
    """As its circuit does at its drive, less what the inductance of its transformers takes where it works."""
    made = at.design if isinstance(at.design, MixerDesign) else None
    drive = at.drive_dbm if made is None or at.drive_dbm is None else at.drive_dbm - made.drive_lost_db
    f = mixer.figures(as_soldered(stage), drive)
    winding_hz = at.dial_hz if stage.oscillator == "vfo" else at.speech_hz
    lost = made.signal_lost_db(winding_hz) if made is not None and winding_hz else 0.0

    def lost_in(reading: float | None) -> float:
        """A reading has it in it, and of a type it is not known."""
        return lost if reading is None and isinstance(f.circuit, AtDrive) else 0.0

    gain = f.gain_db - lost_in(stage.gain_db)
    return BlockFigures(
        gain_db=gain,
        noise_figure_db=f.noise_figure_db + lost_in(stage.noise_figure_db),
        iip3_dbm=f.iip3_dbm + lost_in(stage.iip3_dbm),
        p1db_out_dbm=f.p1db_in_dbm + lost_in(stage.p1db_in_dbm) + gain - 1,
        input_ohm=f.input_ohm if made is None else made.port_ohm("input", f.input_ohm),
        output_ohm=f.output_ohm if made is None else made.port_ohm("output", f.output_ohm),
        reverse_db=f.reverse_db - lost_in(stage.gain_db),
    )


def _figures(stage: Mixer, drive_dbm: float | None, second_dbc: float) -> MixerFigures:
    return mixer.figures(as_soldered(stage), drive_dbm, second_dbc)


def _short(zone: Zone, way: Way) -> str:
    """A modulator takes in audio, a detector gives it."""
    if zone == "audio":
        return "mod"
    return "det" if zone == "if" and way == "receive" else "mix"


def _balanced(stage: Mixer, drive_dbm: float, audio_dbm: float) -> Balance | Unsolved | None:
    computed = stage.figures_from == "circuit" and stage.oscillator == "carrier"
    return balance(as_soldered(stage), drive_dbm, audio_dbm) if computed else None


def _draws(stage: Mixer, around: Surroundings, way: Way, supply_v: float) -> Draw | None:
    """Diodes live on the oscillator; transistors draw what their circuit does, where that is known."""
    if stage.type != "transistor_array":
        return NOTHING
    made = _designed(stage, around) if stage.members else None
    fed = made.at_supply_a(supply_v) if isinstance(made, ArrayDesign) else None
    return None if fed is None else Draw(rest_a=fed, made_for_v=stage.supply_v)


#: Diodes and trifilar transformers of a mixer, by its type.
_SOLDERED = {"two_diode": (2, 1), "ring": (4, 2)}


def _bought(stage: Mixer) -> tuple[Bought, ...]:
    """What a mixer of a type is made of, where its circuit does not tell."""
    if stage.members:
        return ()
    if stage.type not in _SOLDERED:
        return (("transistor", "array of a four-quadrant mixer", 1),)
    count, transformers = _SOLDERED[stage.type]
    return (
        ("diode", "for mixers, matched", count),
        ("transformer", "trifilar, for a mixer", transformers),
    )


MIXER = Kind(
    model=Mixer,
    name="Mixer",
    spelled="Mixer",
    short=_short,
    role="mixer",
    default=lambda bands, if_hz: ordinary_mixer(),
    block=_mixes,
    making=Making(design=_designed),
    driver=lambda stage: stage.oscillator,
    mixing=_figures,
    over_drive=lambda stage: over_drive(as_soldered(stage)) if stage.figures_from == "circuit" else None,
    balance=_balanced,
    bought=_bought,
    draws=_draws,
)
