"""Audio amplifiers of a builder's parts, and the volume control, in the table of kinds."""

from math import isfinite

from core.circuits.active.swing import least
from core.circuits.active.two_port import TwoPort
from core.circuits.units import dbm
from core.model.stages.audio import AudioPower, BuiltAudio
from core.model.stages.gain_control import GainControl
from core.stages.audio import power, voltage, volume
from core.stages.audio.design import TONE_HZ, AudioDesign, at_supply
from core.stages.audio.figures import heat, noisy
from core.stages.audio.volume import VolumeDesign
from core.stages.kinds.draw import Draw
from core.stages.kinds.kind import (
    ONE_GAIN,
    BlockFigures,
    Kind,
    Making,
    Place,
    Surroundings,
    draws_nothing,
    passive,
)
from core.stages.outcome import Unsolved


def _amplified(stage: BuiltAudio, around: Surroundings) -> AudioDesign | Unsolved:
    return voltage.design(stage, around.transistors, around.every)


def _powered(stage: AudioPower, around: Surroundings) -> AudioDesign | Unsolved:
    return power.design(stage, around.transistors, around.every)


def _block(stage: BuiltAudio | AudioPower, at: Place) -> BlockFigures:
    """Between the ends that it is made for; the levels have it between those that it really stands between.

    One that cannot be made counts as a piece of wire, and a finding says so.
    """
    made = at.design if isinstance(at.design, AudioDesign) else None
    port = None if made is None else noisy(made, (TONE_HZ,))
    if made is None or port is None:
        return passive(0.0)
    source, load = made.ends_ohm
    _, most_v = least(made.swings, load)
    most_w = most_v**2 / (2 * load)
    return BlockFigures(
        gain_db=float(port.gain_db(source, load)[0]),
        noise_figure_db=float(port.noise_figure_db(source)[0]),
        p1db_out_dbm=dbm(most_w) + made.beyond_db if isfinite(most_w) and most_w > 0 else None,
        input_ohm=complex(port.input_ohm(load)[0]),
        output_ohm=complex(port.output_ohm(source)[0]),
        swings=made.swings,
        beyond_db=made.beyond_db,
        electret_ohm=next((row.fitted for row in made.parts if row.role == "electret"), None),
    )


def _noisy(stage: BuiltAudio | AudioPower, at: Place, f_hz: tuple[float, ...]) -> TwoPort | None:
    return noisy(at.design, f_hz) if isinstance(at.design, AudioDesign) else None


def _draws(made: AudioDesign | Unsolved, supply_v: float) -> Draw | None:
    """What an audio amplifier draws from a supply [V]; None where it cannot be made."""
    if isinstance(made, Unsolved):
        return None
    fed = at_supply(made, supply_v)
    if isinstance(fed, Unsolved):
        return None
    warm = heat(fed)
    return Draw(
        rest_a=fed.supply_a,
        full_a=None if warm is None else warm.full_a,
        made_for_v=made.circuit.rails[0].volt,
        bears_v=None if made.chip is None else made.chip.most_v,
    )


def _controls(stage: GainControl, at: Place, f_hz: tuple[float, ...]) -> TwoPort | None:
    if at.zone != "audio" or not isinstance(at.design, VolumeDesign):
        return None
    return volume.full_up(at.design.track_ohm, f_hz)


GAIN_CONTROL = Kind(
    model=GainControl,
    name="Volume",
    spelled="Volume control or AGC",
    short=lambda zone, way: "vol" if zone == "audio" else "AGC",
    role="gain_control",
    gain_is="its gain full up",
    default=lambda bands, if_hz: GainControl(id="gain_control", name="Volume", direction="receive"),
    block=lambda stage, at: passive(stage.loss_db, stage.loss_db),
    two_port=_controls,
    making=Making(design=lambda stage, around: volume.design(stage)),
    draws=draws_nothing,
    control=lambda stage: stage,
)

BUILT_AUDIO = Kind(
    model=BuiltAudio,
    name="Audio amplifier of parts",
    spelled="Audio amplifier of transistors or an operational amplifier",
    short=lambda zone, way: "AF",
    role="audio",
    gain_is="its gain between what stands beside it",
    default=lambda bands, if_hz: BuiltAudio(
        id="built_audio", name="Preamplifier", direction="receive", source_ohm=50.0
    ),
    block=_block,
    two_port=_noisy,
    gains=ONE_GAIN,
    making=Making(design=_amplified),
    draws=lambda stage, around, way, supply_v: _draws(_amplified(stage, around), supply_v),
    voltage_audio=lambda stage: stage,
)

AUDIO_POWER = Kind(
    model=AudioPower,
    name="Audio power stage",
    spelled="Audio power stage into speaker or headphones",
    short=lambda zone, way: "AF",
    role="audio",
    gain_is="its gain between what stands beside it",
    default=lambda bands, if_hz: AudioPower(id="audio_power", name="Audio power stage", direction="receive"),
    block=_block,
    two_port=_noisy,
    gains=ONE_GAIN,
    making=Making(design=_powered),
    draws=lambda stage, around, way, supply_v: _draws(_powered(stage, around), supply_v),
    power_audio=lambda stage: stage,
)
