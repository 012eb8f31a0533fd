"""Which schematic is drawn of what a design gives to draw."""

from functools import singledispatch
from typing import Any

from app.sheet.amplifier_schematic import amplifier_svg, pair_svg
from app.sheet.audio_schematic import audio_svg, volume_svg
from app.sheet.content.blocks import Diagram, Labelled, Pieced, WindingsDrawn
from app.sheet.curve import curve_svg
from app.sheet.flow.fonts import INK, SOFT
from app.sheet.mixer_schematic import mixer_design_svg
from app.sheet.power_schematic import power_svg
from app.sheet.schematic import NO_LABELS, Labels, schematic_svg
from app.sheet.sketches.block_diagram import diagram_svg
from app.sheet.sketches.mixers import mixer_svg
from app.sheet.sketches.noise_bar import noise_svg
from app.sheet.sketches.oscillators import crystal_svg
from app.sheet.sketches.windings import windings_svg
from app.sheet.supply_schematic import supply_svg
from app.sheet.tank_schematic import crystal_oscillator_svg, tank_svg
from core.circuits.ladder import Network
from core.model.stages.mixers import Mixer
from core.rig.paper.receiver import ReceiverSection
from core.rig.paper.sheet_model import Curve
from core.rig.supply.soldered import SupplyDesign
from core.rig.workshop.crystal_circuits import CrystalCircuit
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.amplifiers.pair import PairDesign
from core.stages.audio.design import AudioDesign
from core.stages.audio.volume import VolumeDesign
from core.stages.crystal_oscillator.design import CrystalOscillatorDesign
from core.stages.mixers.design import MixerDesign
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


@drawn.register
def _(circuit: SupplyDesign, ink: str, soft: str, labels: Labels = NO_LABELS) -> str:
    return supply_svg(circuit, ink, soft)


@drawn.register
def _(circuit: CrystalOscillatorDesign, ink: str, soft: str, labels: Labels = NO_LABELS) -> str:
    return crystal_oscillator_svg(circuit, ink, soft)


@drawn.register
def _(circuit: Mixer, ink: str, soft: str, labels: Labels = NO_LABELS) -> str:
    return mixer_svg(circuit, ink, soft)


@drawn.register
def _(circuit: MixerDesign, ink: str, soft: str, labels: Labels = NO_LABELS) -> str:
    return mixer_design_svg(circuit, ink, soft)


@drawn.register
def _(circuit: CrystalCircuit, ink: str, soft: str, labels: Labels = NO_LABELS) -> str:
    return crystal_svg(circuit, ink, soft)


def picture_svg(of: Any) -> bytes:
    """What a picture of the sheet is drawn of, as SVG: a circuit, a response, a receiver's noise."""
    if isinstance(of, Labelled):
        labels = {each.ref: each.label for each in of.placement}
        return drawn(of.circuit, INK, SOFT, labels).encode()
    if isinstance(of, Pieced):
        part = (of.begins, of.ends)
        return supply_svg(of.circuit, INK, SOFT, piece=of.piece, part=part).encode()  # type: ignore[arg-type]
    if isinstance(of, WindingsDrawn):
        return windings_svg(of.windings).encode()
    if isinstance(of, Diagram):
        return diagram_svg(of).encode()
    if isinstance(of, Curve):
        return curve_svg(of).encode()
    assert isinstance(of, ReceiverSection)
    return noise_svg(of.noise).encode()
