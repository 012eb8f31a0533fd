"""Which schematic is drawn of what a design gives to draw."""

from functools import singledispatch

from app.sheet.amplifier_schematic import amplifier_svg, pair_svg
from app.sheet.audio_schematic import audio_svg, volume_svg
from app.sheet.power_schematic import power_svg
from app.sheet.schematic import NO_LABELS, Labels, schematic_svg
from app.sheet.tank_schematic import tank_svg
from core.circuits.ladder import Network
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.amplifiers.pair import PairDesign
from core.stages.audio.design import AudioDesign
from core.stages.audio.volume import VolumeDesign
from core.stages.power_amplifier.design import PowerDesign
from core.stages.vfo.tank import TankDesign


@singledispatch
def drawn(circuit: object, ink: str, soft: str, labels: Labels = NO_LABELS) -> str:
    """The schematic of a circuit as SVG, in two colours; a kind of stage registers what draws its own.

    `labels` tell which measured crystal stands where, by reference.
    """
    raise TypeError(f"No schematic is known for a {type(circuit).__name__}.")


@drawn.register
def _(circuit: Network, ink: str, soft: str, labels: Labels = NO_LABELS) -> str:
    return schematic_svg(circuit, ink, soft, labels=labels)


@drawn.register
def _(circuit: AmplifierDesign, ink: str, soft: str, labels: Labels = NO_LABELS) -> str:
    return amplifier_svg(circuit, ink, soft)


@drawn.register
def _(circuit: PairDesign, ink: str, soft: str, labels: Labels = NO_LABELS) -> str:
    return pair_svg(circuit, ink, soft)


@drawn.register
def _(circuit: PowerDesign, ink: str, soft: str, labels: Labels = NO_LABELS) -> str:
    return power_svg(circuit, ink, soft)


@drawn.register
def _(circuit: TankDesign, ink: str, soft: str, labels: Labels = NO_LABELS) -> str:
    return tank_svg(circuit, ink, soft)


@drawn.register
def _(circuit: AudioDesign, ink: str, soft: str, labels: Labels = NO_LABELS) -> str:
    return audio_svg(circuit, ink, soft)


@drawn.register
def _(circuit: VolumeDesign, ink: str, soft: str, labels: Labels = NO_LABELS) -> str:
    return volume_svg(circuit, ink, soft)
