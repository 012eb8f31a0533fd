"""Amplifiers of a builder's parts in the table of kinds."""

from collections.abc import Mapping

from core.circuits.active.two_port import TwoPort
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.model.stages.built_amplifier import READINGS, BuiltAmplifier
from core.model.stages.stage import Way
from core.stages.amplifiers import design as amplifier
from core.stages.amplifiers import pair
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.amplifiers.figures import figures
from core.stages.amplifiers.noisy import noisy
from core.stages.amplifiers.pair import PairDesign
from core.stages.amplifiers.scattered import AMPLIFIER
from core.stages.kinds.draw import Draw, drawn
from core.stages.kinds.kind import ONE_GAIN, BlockFigures, Kind, Making, Place, Surroundings, passive
from core.stages.outcome import Unsolved


def _designed(stage: BuiltAmplifier, around: Surroundings) -> AmplifierDesign | Unsolved:
    return amplifier.design(stage, around.transistors)


def _designed_both_ways(stage: BilateralAmplifier, around: Surroundings) -> PairDesign | Unsolved:
    return pair.design(stage, around.transistors)


def _amplifies(stage: BuiltAmplifier, at: Place) -> BlockFigures:
    made = at.design if isinstance(at.design, AmplifierDesign) else None
    return _block(made, at, BUILT_AMPLIFIER.readings(stage, at.way))


def _amplifies_both_ways(stage: BilateralAmplifier, at: Place) -> BlockFigures:
    made = at.design.on(at.way) if isinstance(at.design, PairDesign) else None
    return _block(made, at, BILATERAL_AMPLIFIER.readings(stage, at.way))


def _block(made: AmplifierDesign | None, at: Place, read: Mapping[str, float]) -> BlockFigures:
    """Figures, those that were `read` as they were; one that cannot be made counts as a piece of wire, and a
    finding says so.
    """
    if made is None or at.signal_hz is None:
        return passive(0.0)
    found = figures(made, at.signal_hz)
    if isinstance(found, Unsolved):
        return passive(0.0)
    gain_db = read.get("gain_db", found.gain_db)
    return BlockFigures(
        gain_db=gain_db,
        noise_figure_db=read.get("noise_figure_db", found.noise_figure_db),
        iip3_dbm=read.get("oip3_dbm", found.oip3_dbm) - gain_db,
        p1db_out_dbm=read.get("compression_dbm", found.compression_dbm),
        input_ohm=found.input_ohm,
        output_ohm=found.output_ohm,
        reverse_db=found.reverse_db,
    )


def _moved(stage: BuiltAmplifier, was_hz: float, if_hz: float) -> BuiltAmplifier:
    """One that was made for the IF is made for the new one."""
    return stage.edited(("designed_at_hz",), if_hz) if stage.designed_at_hz == was_hz else stage


def _noisy(stage: BuiltAmplifier, at: Place, f_hz: tuple[float, ...]) -> TwoPort | None:
    made = at.design if isinstance(at.design, AmplifierDesign) else None
    read = BUILT_AMPLIFIER.readings(stage, at.way)
    return None if made is None else noisy(made, f_hz, read.get("gain_db"), read.get("noise_figure_db"))


def _noisy_both_ways(stage: BilateralAmplifier, at: Place, f_hz: tuple[float, ...]) -> TwoPort | None:
    made = at.design.on(at.way) if isinstance(at.design, PairDesign) else None
    return None if made is None else noisy(made, f_hz, BILATERAL_AMPLIFIER.measured_gain_db(stage, at.way))


def _draws(stage: BuiltAmplifier, around: Surroundings, way: Way, supply_v: float) -> Draw | None:
    return drawn(_designed(stage, around), supply_v, stage.supply_v)


def _draws_either_way(
    stage: BilateralAmplifier, around: Surroundings, way: Way, supply_v: float
) -> Draw | None:
    made = _designed_both_ways(stage, around)
    return drawn(made if isinstance(made, Unsolved) else made.on(way), supply_v, stage.supply_v)


BUILT_AMPLIFIER = Kind(
    model=BuiltAmplifier,
    name="Amplifier of transistors",
    spelled="Amplifier of transistors",
    short=lambda zone, way: "amp",
    role="amplifier",
    default=lambda bands, if_hz: BuiltAmplifier(
        id="built_amplifier", name="Amplifier of transistors", direction="receive", designed_at_hz=if_hz
    ),
    at_if=_moved,
    block=_amplifies,
    two_port=_noisy,
    gains=ONE_GAIN,
    measured_gains={"receive": "measured_gain_db", "transmit": "measured_gain_db"},
    measured={key: field for key, field in READINGS.items() if key != "gain_db"},
    making=Making(design=_designed, judging=AMPLIFIER),
    draws=_draws,
)

BILATERAL_AMPLIFIER = Kind(
    model=BilateralAmplifier,
    name="Bilateral amplifier",
    spelled="Bilateral amplifier of transistors",
    short=lambda zone, way: "amp",
    role="amplifier",
    default=lambda bands, if_hz: BilateralAmplifier(
        id="bilateral_amplifier", name="Bilateral amplifier", direction="both", designed_at_hz=if_hz
    ),
    block=_amplifies_both_ways,
    two_port=_noisy_both_ways,
    gains={"receive": "receive_gain_db", "transmit": "transmit_gain_db"},
    measured_gains={"receive": "measured_receive_gain_db", "transmit": "measured_transmit_gain_db"},
    making=Making(design=_designed_both_ways, judging=AMPLIFIER),
    draws=_draws_either_way,
)
