"""The power amplifier of a builder's parts in the table of kinds."""

from core.circuits.units import dbm
from core.model.stages.built_power_amplifier import BuiltPowerAmplifier
from core.model.stages.stage import Way
from core.stages.kinds.draw import Draw
from core.stages.kinds.kind import BlockFigures, Kind, Making, Place, Sending, Surroundings, passive
from core.stages.outcome import Design, Unsolved
from core.stages.power_amplifier import design as power
from core.stages.power_amplifier.design import PowerDesign
from core.stages.power_amplifier.gain import at
from core.stages.power_amplifier.working import mean_a, most_w, output

#: Noise figure that a power stage counts with, dB; an assumption, of no matter behind a driver.
_NOISE_DB = 10.0


def _designed(stage: BuiltPowerAmplifier, around: Surroundings) -> PowerDesign | Unsolved:
    dials = tuple((b.low_hz, b.high_hz) for b in around.bands)
    return power.design(stage, around.transistors, dials, around.every)


def _amplifies(stage: BuiltPowerAmplifier, place: Place) -> BlockFigures:
    """One that cannot be made counts as a piece of wire, and a finding says so."""
    made = place.design if isinstance(place.design, PowerDesign) else None
    if made is None or place.signal_hz is None:
        return passive(0.0)
    there, sent = at(made, place.signal_hz), output(made)
    if isinstance(there, Unsolved) or isinstance(sent, Unsolved):
        return passive(0.0)
    measured_db = BUILT_POWER_AMPLIFIER.measured_gain_db(stage, place.way)
    gain_db = float(there.gain_db[0]) if measured_db is None else measured_db
    return BlockFigures(
        gain_db=gain_db,
        noise_figure_db=_NOISE_DB,
        iip3_dbm=sent.intercept_dbm - gain_db,
        p1db_out_dbm=dbm(float(there.most_w[0])),
        reverse_db=float(there.reverse_db[0]),
    )


def _draws(stage: BuiltPowerAmplifier, around: Surroundings, way: Way, supply_v: float) -> Draw | None:
    """In receive its bias is off. The bias comes from a regulator, so that idle current hardly changes."""
    made = _designed(stage, around)
    if isinstance(made, Unsolved):
        return None
    bears_v = made.bears.most_v / 2
    if way == "receive":
        return Draw(rest_a=0.0, made_for_v=stage.supply_v, bears_v=bears_v)
    return Draw(
        rest_a=made.supply_a,
        full_a=mean_a(made, supply_v),
        made_for_v=stage.supply_v,
        bears_v=bears_v,
    )


def _largest_w(stage: BuiltPowerAmplifier, around: Surroundings, supply_v: float) -> float | None:
    made = _designed(stage, around)
    return None if isinstance(made, Unsolved) else most_w(made, supply_v)


def _sends(stage: BuiltPowerAmplifier, design: Design | None) -> Sending | None:
    found = output(design) if isinstance(design, PowerDesign) else None
    if found is None or isinstance(found, Unsolved):
        return None
    assert isinstance(design, PowerDesign)
    return Sending(
        rated_w=design.most_w,
        harmonics_dbc=found.harmonics_dbc,
        source="currents on its load line, never below what is measured at best; an estimate until measured",
    )


BUILT_POWER_AMPLIFIER = Kind(
    model=BuiltPowerAmplifier,
    name="Power amplifier of transistors",
    spelled="Power amplifier of transistors",
    short=lambda zone, way: "PA",
    role="power_amplifier",
    default=lambda bands, if_hz: BuiltPowerAmplifier(
        id="built_power_amplifier",
        name="Power amplifier of transistors",
        direction="transmit",
        designed_at_hz=bands[0].centre_hz if bands else 14e6,
        # Levels the gain of the bands, at the price of two decibels.
        feedback_ohm=150.0,
        idle_a=0.4,
    ),
    block=_amplifies,
    measured_gains={"receive": "measured_gain_db", "transmit": "measured_gain_db"},
    making=Making(design=_designed),
    power=_sends,
    draws=_draws,
    largest_w=_largest_w,
)
