"""Amplifiers and pads with typed-in figures in the table of kinds."""

from core.circuits.units import dbm
from core.model.stages.amplifiers import Amplifier, Attenuator, PowerAmplifier
from core.model.stages.audio import AudioAmplifier
from core.model.stages.stage import Way
from core.stages.kinds.draw import Draw
from core.stages.kinds.kind import (
    ONE_GAIN,
    BlockFigures,
    Kind,
    Place,
    Sending,
    Surroundings,
    draws_nothing,
    passive,
)
from core.stages.outcome import Design


def _amplifies(stage: Amplifier, at: Place) -> BlockFigures:
    return BlockFigures(
        gain_db=stage.gain_db,
        noise_figure_db=stage.noise_figure_db,
        iip3_dbm=stage.oip3_dbm - stage.gain_db,
        p1db_out_dbm=stage.p1db_dbm,
        reverse_db=None if stage.reverse_isolation_db is None else -stage.reverse_isolation_db,
    )


def _sends(stage: PowerAmplifier, at: Place) -> BlockFigures:
    return BlockFigures(
        gain_db=stage.gain_db,
        noise_figure_db=stage.noise_figure_db,
        iip3_dbm=stage.oip3_dbm - stage.gain_db,
        p1db_out_dbm=dbm(stage.rated_w),
        reverse_db=None if stage.reverse_isolation_db is None else -stage.reverse_isolation_db,
    )


def _stated(stage: PowerAmplifier, design: Design | None) -> Sending:
    return Sending(
        rated_w=stage.rated_w,
        harmonics_dbc=(
            stage.second_harmonic_dbc,
            stage.third_harmonic_dbc,
            stage.fourth_harmonic_dbc,
            stage.fifth_harmonic_dbc,
        ),
        source="as stated for the stage, an assumption until measured",
    )


def _speaks(stage: AudioAmplifier, at: Place) -> BlockFigures:
    return BlockFigures(
        gain_db=stage.gain_db,
        noise_figure_db=stage.noise_figure_db,
        p1db_out_dbm=dbm(stage.largest_output_w),
    )


def _draws_for_power(stage: PowerAmplifier, around: Surroundings, way: Way, supply_v: float) -> Draw:
    """By its efficiency at its largest output; a block does not tell what it draws at rest, so that nothing
    is counted then.
    """
    return Draw(rest_a=0.0, full_a=stage.rated_w / stage.efficiency / supply_v)


AMPLIFIER = Kind(
    model=Amplifier,
    name="Amplifier",
    spelled="Amplifier",
    short=lambda zone, way: "amp",
    role="amplifier",
    default=lambda bands, if_hz: Amplifier(
        id="amplifier",
        name="Amplifier",
        direction="transmit",
        gain_db=16,
        noise_figure_db=6,
        oip3_dbm=38,
        p1db_dbm=27,
    ),
    block=_amplifies,
    gains=ONE_GAIN,
)

ATTENUATOR = Kind(
    model=Attenuator,
    name="Pad",
    spelled="Pad",
    short=lambda zone, way: "pad",
    role="pad",
    default=lambda bands, if_hz: Attenuator(id="attenuator", name="Pad", direction="receive"),
    # A pad is the same at any frequency.
    block=lambda stage, at: passive(stage.loss_db, stage.loss_db),
    draws=draws_nothing,
)

POWER_AMPLIFIER = Kind(
    model=PowerAmplifier,
    name="Power amplifier",
    spelled="Power amplifier",
    short=lambda zone, way: "PA",
    role="power_amplifier",
    default=lambda bands, if_hz: PowerAmplifier(
        id="power_amplifier", name="Power amplifier", direction="transmit", rated_w=8
    ),
    block=_sends,
    gains=ONE_GAIN,
    power=_stated,
    draws=_draws_for_power,
)

AUDIO = Kind(
    model=AudioAmplifier,
    name="Audio amplifier",
    spelled="Audio amplifier",
    short=lambda zone, way: "AF",
    role="audio",
    default=lambda bands, if_hz: AudioAmplifier(
        id="audio", name="Audio amplifier", direction="receive", gain_db=72
    ),
    block=_speaks,
    gains=ONE_GAIN,
)
