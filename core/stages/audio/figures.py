"""What an audio amplifier does between a source and a load: gain, corners, noise, output, hum, heat."""

from dataclasses import replace
from functools import lru_cache
from math import log10, pi, sqrt

import numpy as np

from core.circuits.active.linear import around
from core.circuits.active.swing import least
from core.circuits.active.two_port import TwoPort, of_linear
from core.circuits.circuit import GROUND, Branch, Part, Port
from core.circuits.ladder import Array, frozen
from core.circuits.units import BOLTZMANN
from core.record import record
from core.stages.audio.boards import SUPPLY
from core.stages.audio.design import TONE_HZ, AudioDesign, voltage_gain_db
from core.stages.gate import gate
from core.stages.outcome import Unsolved

#: Over which range an amplifier is looked at [Hz], and at how many points.
LOOKED_AT_HZ, _POINTS = (20.0, 50e3), 241
#: Where hum is: twice the mains' 50 Hz, behind a full-wave rectifier [Hz].
HUM_HZ = 100.0
#: Resistance of the supply from which ripple comes [ohm].
_SUPPLY_OHM = 1e-3
#: Air in the case [°C]; a choice.
AIR_C = 40.0


@record(eq=False, kw_only=True)
class AudioSweep:
    """Gain from the source's open voltage to the load over frequency, relative to that at the tone [dB], and
    voltage gain from the input's terminal [dB], shapes (F,) over `f_hz` [Hz].
    """

    f_hz: Array
    relative_db: Array
    gain_db: Array


@record(kw_only=True)
class Heat:
    """What heats a power stage: at rest, at its largest output and at the output that heats most [W]; into
    which the load takes `load_w` at its largest, and how warm its chip or hotter transistor is then [°C].
    """

    rest_w: float
    full_w: float
    worst_w: float
    load_w: float
    part: str
    worst_c: float
    most_w: float
    part_w: float
    full_a: float


@record(kw_only=True)
class AudioFigures:
    """An audio amplifier at the tone, between the source and load [ohm] that it is made for.

    Voltage gain from the input's terminal to the load [dB]; impedances [ohm]; corners at which 3 dB are lost
    from the source on [Hz], None beyond what is looked at; noise figure [dB] and noise at the input with the
    source's own [V/√Hz]; largest output at the onset of clipping [V effective, W] and what ends it; what of
    the supply's ripple reaches the load [dB]; current at rest [A].
    """

    gain_db: float
    input_ohm: complex
    output_ohm: complex
    low_hz: float | None
    high_hz: float | None
    noise_figure_db: float
    noise_v: float
    output_v: float
    output_w: float
    first_limit: str
    supply_gain_db: float
    supply_a: float


def noisy(design: AudioDesign, f_hz: tuple[float, ...]) -> TwoPort | None:
    """The amplifier at frequencies [Hz], with its noise; None where it has no answer."""
    return _noisy(design, f_hz)


@lru_cache(maxsize=128)
def _noisy(design: AudioDesign, f_hz: tuple[float, ...]) -> TwoPort | None:
    found = of_linear(design.linear, np.array(f_hz))
    return None if isinstance(found, Unsolved) or not np.isfinite(found.chain).all() else found


@lru_cache(maxsize=64)
@gate("The audio amplifier's response")
def sweep(design: AudioDesign) -> AudioSweep | Unsolved:
    """The amplifier over audio frequencies, between the ends that it is made for."""
    f = np.geomspace(*LOOKED_AT_HZ, _POINTS)
    port = of_linear(design.linear, np.append(f, TONE_HZ))
    if isinstance(port, Unsolved):
        return port
    source, load = design.ends_ohm
    whole = port.gain_db(source, load)
    return AudioSweep(
        f_hz=frozen(f),
        relative_db=frozen(whole[:-1] - whole[-1]),
        gain_db=frozen(voltage_gain_db(port, load)[:-1].copy()),
    )


def corners(f_hz: Array, relative_db: Array, down_db: float = 3.0) -> tuple[float | None, float | None]:
    """Where a response relative to the tone [dB], shape (F,) over F frequencies [Hz], has fallen by so much
    [dB], to either side of the tone; None where it has not.
    """
    middle = int(np.searchsorted(f_hz, TONE_HZ))
    low = [n for n in range(middle) if relative_db[n] < -down_db]
    high = [n for n in range(middle, len(f_hz)) if relative_db[n] < -down_db]
    ends = (None if not low else (low[-1], low[-1] + 1), None if not high else (high[0], high[0] - 1))
    found: list[float | None] = []
    for pair in ends:
        if pair is None:
            found.append(None)
            continue
        outside, inside = pair
        share = (relative_db[inside] + down_db) / (relative_db[inside] - relative_db[outside])
        found.append(float(f_hz[inside] * (f_hz[outside] / f_hz[inside]) ** share))
    return found[0], found[1]


@lru_cache(maxsize=64)
@gate("The audio amplifier's figures")
def figures(design: AudioDesign) -> AudioFigures | Unsolved:
    """Figures between the ends that the amplifier is made for."""
    port, over = of_linear(design.linear, [TONE_HZ]), sweep(design)
    if isinstance(port, Unsolved):
        return port
    if isinstance(over, Unsolved):
        return over
    source, load = design.ends_ohm
    low, high = corners(over.f_hz, over.relative_db)
    figure_db = float(port.noise_figure_db(source)[0])
    first, most_v = least(design.swings, load)
    return AudioFigures(
        gain_db=float(voltage_gain_db(port, load)[0]),
        input_ohm=complex(port.input_ohm(load)[0]),
        output_ohm=complex(port.output_ohm(source)[0]),
        low_hz=low,
        high_hz=high,
        noise_figure_db=figure_db,
        noise_v=sqrt(4 * BOLTZMANN * 290.0 * source * 10 ** (figure_db / 10)),
        output_v=most_v / sqrt(2),
        output_w=most_v**2 / (2 * load),
        first_limit=f"{first.ref} runs out of {first.what}",
        supply_gain_db=supply_gain_db(design, source, load),
        supply_a=design.supply_a,
    )


@lru_cache(maxsize=64)
def supply_gain_db(design: AudioDesign, source_ohm: complex, load_ohm: complex) -> float:
    """Voltage at the load over the ripple on the supply at `HUM_HZ` [dB], with a source at the input [ohm,
    its real part counts]; −∞ for none.
    """
    circuit = design.circuit
    source = Branch(Part("source", "resistor", max(abs(source_ohm), 1.0)), ("in", GROUND))
    driven = replace(
        circuit,
        branches=(*circuit.branches, source),
        ports=(Port(SUPPLY, _SUPPLY_OHM), Port("out", max(load_ohm.real, 1e-3))),
        rails=(),
    )
    linear = around(driven, design.rest)
    port = linear if isinstance(linear, Unsolved) else of_linear(linear, [HUM_HZ])
    if isinstance(port, Unsolved):
        return -np.inf
    return float(voltage_gain_db(port, load_ohm.real)[0])


@lru_cache(maxsize=64)
def heat(design: AudioDesign) -> Heat | None:
    """What heats a power stage with its load; None of a voltage amplifier.

    Class B on one supply: a current of V/(π R) in the mean at a peak V into R, so that the heat is greatest
    at V = Vs/π and then Vs²/(2 π² R) beyond that at rest; at its largest output it is what the supply gives
    less what the load takes.
    """
    if design.board not in ("chip", "complementary"):
        return None
    supply_v = design.circuit.rails[0].volt
    _, load = design.ends_ohm
    behind = sum(row.fitted for row in design.parts if row.role == "output_resistor")
    whole = load + behind
    _, most_v = least(design.swings, load)
    peak_v = most_v * whole / load
    rest_w = supply_v * design.supply_a

    def heated(peak: float) -> float:
        return rest_w + supply_v * peak / (pi * whole) - peak**2 / (2 * whole)

    worst_v = min(supply_v / pi, peak_v)
    worst_w = heated(worst_v)
    if design.chip is not None:
        part, part_w, most_w = design.chip.name, worst_w, design.chip.most_watt
        worst_c = AIR_C + worst_w * design.chip.kelvin_per_watt
    else:
        assert design.transistor is not None
        # Either half of the pair has half of it; data sheets state the heat for a junction at 150 °C in 25.
        at = design.rest.transistors
        part_w = at["Q2"].watt + (worst_w - rest_w) / 2
        part, most_w = "Q2 and Q3", design.transistor.most_watt
        worst_c = AIR_C + part_w * 125.0 / most_w
    return Heat(
        rest_w=rest_w,
        full_w=heated(peak_v),
        worst_w=worst_w,
        load_w=most_v**2 / (2 * load),
        part=part,
        worst_c=worst_c,
        most_w=most_w,
        part_w=part_w,
        full_a=design.supply_a + peak_v / (pi * whole),
    )


def gain_missed_db(design: AudioDesign, found: AudioFigures) -> float:
    """How far the gain that was asked exceeds what it comes to [dB]; of a power stage before what is in
    series with its load.
    """
    _, load = design.ends_ohm
    behind = (
        sum(row.fitted for row in design.parts if row.role == "output_resistor")
        if design.board in ("chip", "complementary")
        else 0.0
    )
    return design.asked.gain_db - found.gain_db - 20 * log10(1 + behind / load)
