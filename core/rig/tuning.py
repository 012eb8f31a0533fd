"""What tunes the rig, asked of an analysis: the VFO on a band, its warming up, and edits of its tank."""

from core.circuits.circuit import Circuit
from core.circuits.ladder import Array
from core.model.stages.tank import Tank
from core.rig.analysis import Analysis
from core.stages.outcome import Unsolved
from core.stages.vfo import tank, tank_design, vfo
from core.stages.vfo.compensation import Compensation, compensated, compensation
from core.stages.vfo.oscillator import Operating, operating
from core.stages.vfo.tank import TankDesign
from core.stages.vfo.vfo import Dial, WarmUp

#: What keeps a VFO steady.
GUIDANCE = vfo.GUIDANCE

_BLOCK = "The VFO is a block without a tank."


def tank_of(analysis: Analysis) -> TankDesign | Unsolved:
    """The VFO's tank, or why there is none."""
    return Unsolved(_BLOCK) if analysis.tank is None else analysis.tank


def dial_on(analysis: Analysis, band: str) -> Dial | Unsolved:
    """The dial of a band, or why there is none."""
    made = tank_of(analysis)
    return made if isinstance(made, Unsolved) else vfo.dial(made, band)


def warm_up_hz(made: TankDesign, hz_per_k: float, seconds: Array) -> Array:
    """Drift [Hz] of a tank at times after switching on, any shape [s], for a drift in Hz per kelvin."""
    return vfo.warm_up_hz(hz_per_k, made.tank.warmth, seconds)


def warm_up(made: TankDesign, hz_per_k: float) -> WarmUp:
    """The figures of a tank's warm-up for a drift in Hz per kelvin."""
    return vfo.warm_up(hz_per_k, made.tank.warmth)


def device(made: TankDesign) -> Operating:
    """The oscillator's device at its operating point."""
    return operating(made.tank.feedback)


def circuit(made: TankDesign, band: str) -> Circuit:
    """The oscillator's circuit on a band, nodes and parts."""
    return tank.circuit(made, band)


def compensation_of(made: TankDesign) -> Compensation | Unsolved:
    """What stills a tank's drift, or why nothing does."""
    return compensation(made)


def kept(made: TankDesign) -> Tank:
    """The tank with every part's present value as built."""
    return tank_design.kept(made)


def anew(asked: Tank) -> Tank:
    """The tank without as-built values, so that its parts are found again."""
    return tank_design.anew(asked)


def stilled(made: TankDesign, found: Compensation) -> Tank:
    """The tank with a compensation fitted."""
    return compensated(made, found)
