"""Amplifiers of a builder's parts in the table of kinds."""

from core.model.stages.built_amplifier import BuiltAmplifier
from core.stages.amplifiers import design as amplifier
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.amplifiers.figures import figures
from core.stages.kinds.kind import BlockFigures, Kind, Making, Place, Surroundings, passive
from core.stages.outcome import Unsolved


def _designed(stage: BuiltAmplifier, around: Surroundings) -> AmplifierDesign | Unsolved:
    return amplifier.design(stage, around.transistors)


def _amplifies(stage: BuiltAmplifier, at: Place) -> BlockFigures:
    """One that cannot be made counts as a piece of wire, and a finding says so."""
    if not isinstance(at.design, AmplifierDesign) or at.signal_hz is None:
        return passive(0.0)
    found = figures(at.design, at.signal_hz)
    if isinstance(found, Unsolved):
        return passive(0.0)
    gain_db = found.gain_db if stage.measured_gain_db is None else stage.measured_gain_db
    return BlockFigures(
        gain_db=gain_db,
        noise_figure_db=found.noise_figure_db,
        iip3_dbm=found.oip3_dbm - gain_db,
        p1db_out_dbm=found.compression_dbm,
        input_ohm=found.input_ohm,
        output_ohm=found.output_ohm,
        reverse_db=found.reverse_db,
    )


BUILT_AMPLIFIER = Kind(
    model=BuiltAmplifier,
    name="Amplifier of transistors",
    spelled="Amplifier of transistors",
    short=lambda zone, way: "amp",
    role="amplifier",
    default=lambda bands, if_hz: BuiltAmplifier(
        id="built_amplifier", name="Amplifier of transistors", direction="receive", designed_at_hz=if_hz
    ),
    block=_amplifies,
    making=Making(design=_designed),
)
