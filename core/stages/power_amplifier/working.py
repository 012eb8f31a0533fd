"""A power amplifier at work: gain and load over frequency, output, heat, mismatch, drift.

The circuit is the one that is soldered: at full power each transistor stands in it as the current that its
law gives for its drive (a describing function), beside its capacitances. The gain so found is never told
above what the device is known to give at that frequency.
"""

from dataclasses import replace
from functools import lru_cache
from math import exp, log, pi

import numpy as np

from core.circuits.active.operating import bias
from core.circuits.circuit import GROUND, Bipolar, Branch, Circuit, ControlledSource, Part, Transistor
from core.circuits.ladder import Array, ComplexArray, frozen
from core.circuits.nodal import solve
from core.circuits.power.heat import Chain
from core.circuits.power.load_line import (
    LEAST_TOLD_DBC,
    Level,
    TwoTone,
    at_levels,
    drive_for,
    driven,
    most_power,
    two_tone,
)
from core.circuits.power.mismatch import Mismatched, scan, worst_heat_w
from core.circuits.units import dbm
from core.model.values.notation import format_value
from core.record import record
from core.stages.gate import gate
from core.stages.outcome import Unsolved
from core.stages.power_amplifier.bias import idle_at, idle_of
from core.stages.power_amplifier.board import BIAS, REGULATOR, SUPPLY, electrodes
from core.stages.power_amplifier.design import PORT_OHM, PowerDesign
from core.stages.power_amplifier.transformer import Windings

#: Figures hardly differ over this share of a frequency [-]: they are kept for a whole one.
_ALIKE = 1e-3
#: The mismatch that a transmitter should bear, as a standing-wave ratio [-], and the phases looked at.
SWR = 3.0
PHASES_RAD = np.arange(0, 360, 15) * pi / 180
#: Levels of the drive, and how often speech has each: amplitudes fall off exponentially, by e for this share
#: of the peak [-]; the mean power so comes to a seventh of the peak's. An estimate.
_LEVELS = np.linspace(0.0, 1.0, 41)
_SPEECH = np.exp(-_LEVELS / 0.3) / np.exp(-_LEVELS / 0.3).sum()
#: How far even harmonics cancel in push-pull, dB; an estimate, as transistors of one type differ by a tenth.
BALANCE_DB = 20.0
#: A trimmer turned to its end, ohm; above this a junction is gone whatever it is made of, °C.
_CLOSED_OHM, _BURNT_C = 0.1, 400.0
_ROUNDS = 40
#: Harmonics 2 to 5 are not told below these, dBc: what is measured at best before any filter, of one side and
#: of two in push-pull (from memory).
_LEAST_DBC = {1: (-20.0, -25.0, -35.0, -35.0), 2: (-40.0, -20.0, -45.0, -30.0)}


@record(eq=False, kw_only=True)
class OverFrequency:
    """A power amplifier over frequencies (F,) [Hz] at full drive.

    `gain_db` is its power gain from 50 ohm into 50 ohm, `network_db` what its circuit alone would give and
    `device_db` what the device is known to give, whose lesser it is. `load_ohm` is what each side's current
    sees, with the device's own capacitance, `most_w` the largest output [W], `drive_w` what it takes for the
    output wanted [W], `swr` that of the input.
    """

    f_hz: Array
    gain_db: Array
    network_db: Array
    device_db: Array
    load_ohm: ComplexArray
    most_w: Array
    drive_w: Array
    swr: Array
    reverse_db: Array


def _signal(design: PowerDesign) -> Circuit:
    """The circuit for the signal at full drive: rails at ground, each transistor as its current and its
    capacitances.
    """
    law, stage = design.law, design.stage
    side_w = design.full_w / stage.sides
    fundamental = (2 * side_w / design.load_ohm) ** 0.5
    inner = _drive_v(design) - law.common_ohm * fundamental
    siemens = fundamental / inner / law.count
    rails = {SUPPLY, REGULATOR}
    found: list[Branch] = []
    for branch in design.circuit.branches:
        nodes = tuple(GROUND if node in rails else node for node in branch.nodes)
        part = branch.part
        if isinstance(part, Transistor):
            if part.role == "transistor":
                found += _at_work(part, nodes, siemens)
        elif len(set(nodes)) > 1:
            found.append(Branch(part, nodes))
    # What was wired as a diode is small beside the resistor it stands at, and bypassed.
    trackers = [f"t{which}" for which in range(1, design.trackers + 1)]
    found += [Branch(Part(node, "resistor", 1.0), (node, GROUND)) for node in trackers]
    return Circuit(tuple(found), design.circuit.ports)


def _at_work(part: Transistor, nodes: tuple[str, ...], siemens: float) -> list[Branch]:
    out, control, common = nodes
    device, ref = part.device, part.ref

    def capacitor(name: str, farad: float, a: str, b: str) -> Branch:
        return Branch(Part(f"{ref} {name}", "capacitor", farad), (a, b))

    if isinstance(device, Bipolar):
        within = f"{ref} base"
        diffusion = siemens * device.transit_s
        return [
            Branch(Part(f"{ref} rb", "resistor", device.base_ohm), (control, within)),
            Branch(Part(f"{ref} rpi", "resistor", device.current_gain / siemens), (within, common)),
            capacitor("cpi", device.emitter_f + diffusion, within, common),
            capacitor("cmu", device.feedback_f, within, out),
            Branch(ControlledSource(ref, siemens), (out, common, within, common)),
        ]
    return [
        capacitor("cgs", device.gate_source_f, control, common),
        capacitor("cgd", device.gate_drain_f, control, out),
        capacitor("cds", device.drain_source_f, out, common),
        Branch(ControlledSource(ref, siemens), (out, common, control, common)),
    ]


def at(design: PowerDesign, f_hz: float) -> OverFrequency | Unsolved:
    """Figures at `f_hz` [Hz], to a thousandth of it."""
    return over(design, (float(exp(round(log(f_hz) / _ALIKE) * _ALIKE)),))


@lru_cache(maxsize=256)
@gate("The power amplifier's gain")
def over(design: PowerDesign, f_hz: tuple[float, ...]) -> OverFrequency | Unsolved:
    """The amplifier at frequencies [Hz]."""
    circuit, f = _signal(design), np.asarray(f_hz)
    found = solve(circuit, f)
    if isinstance(found, Unsolved):
        return found
    stage = design.stage
    drain, _, common = electrodes(stage)[0]
    # The first transistor's; those of a pair do the same.
    within = next(each for each in circuit.branches if isinstance(each.part, ControlledSource))
    assert isinstance(within.part, ControlledSource)

    def volt(node: str) -> ComplexArray:
        return found.at(node) if node != GROUND else np.zeros(f.shape, dtype=complex)

    current = design.law.count * within.part.siemens * (volt(within.nodes[2]) - volt(common))
    load = -(volt(drain) - volt(common)) / current
    cores = np.array([_passed(design.input, each) for each in f_hz])
    behind = np.array([_passed(design.output, each) for each in f_hz])
    network = 20 * np.log10(np.abs(found.s[1, 0])) + 10 * np.log10(cores * behind)
    device = design.bears.gain_at_db(f)
    gain = np.minimum(network, device)
    # Of what each side gives, a share reaches the output.
    given = stage.sides * np.abs(current) ** 2 * load.real / 2
    through = np.abs(volt("out")) ** 2 / (2 * PORT_OHM) / given
    if (load.real <= 0).any():
        at_hz = format_value(float(f[np.argmin(load.real)]), "Hz", 3)
        return Unsolved(
            f"At {at_hz} more comes back through the device than goes out, so that it has no largest output; "
            "give it more swamping, less feedback, or a match that is made for that frequency."
        )
    most = stage.sides * most_power(stage.supply_v, 1 / load, design.law)[0] * through * behind
    reflected = np.minimum(np.abs(found.s[0, 0]), 0.9999)
    return OverFrequency(
        f_hz=frozen(f),
        gain_db=frozen(gain),
        network_db=frozen(network),
        device_db=frozen(device),
        load_ohm=frozen(load),
        most_w=frozen(most),
        drive_w=frozen(np.minimum(most, design.full_w) / 10 ** (gain / 10)),
        swr=frozen((1 + reflected) / (1 - reflected)),
        reverse_db=frozen(20 * np.log10(np.abs(found.s[0, 1]))),
    )


def _passed(coil: Windings | None, f_hz: float) -> float:
    return 1.0 if coil is None else coil.passes(f_hz)


@record(kw_only=True)
class Drift:
    """Idle current of each transistor [A] at room temperature, with junctions at `hot_junction_c` [°C] after
    two tones without a pause, and once it rests in balance from there; `runs_away` where there is none.
    """

    cold_a: float
    hot_a: float
    hot_junction_c: float
    after_a: float
    runs_away: bool


@record(kw_only=True)
class Output:
    """What a power amplifier gives and takes at full drive, all its transistors together.

    `drive_v` is the amplitude at gate or base for full power, `peak_a` the current's peak of one side,
    `mean_a` what the supply gives [A]. Levels [W] with a carrier at full power, two tones and speech with its
    peaks (the last an estimate), the worst heat at any drive [W], third- and fifth-order products as
    computed, and harmonics 2 to 5 [dBc] before any filter. `feedback_w` and `swamping_w` heat each resistor
    of that kind [W], the first 0 without one.
    """

    drive_v: float
    peak_a: float
    mean_a: float
    carrier: Level
    tones: TwoTone
    speech: Level
    worst_w: float
    harmonics_dbc: tuple[float, ...]
    feedback_w: float
    swamping_w: float

    @property
    def third_dbc(self) -> float:
        """Third-order products of two tones as they are told [dBc]: never below what a real device keeps."""
        return max(self.tones.third_dbc, LEAST_TOLD_DBC)

    @property
    def is_artefact(self) -> bool:
        """Whether the products computed are better than a memoryless square law may be believed."""
        return self.tones.third_dbc < LEAST_TOLD_DBC

    @property
    def intercept_dbm(self) -> float:
        """The third-order intercept at the output [dBm] that the products told stand for."""
        return dbm(self.carrier.output_w / 4) - self.third_dbc / 2


@lru_cache(maxsize=64)
@gate("The power amplifier's output")
def output(design: PowerDesign) -> Output | Unsolved:
    """The amplifier into the load that its match makes."""
    stage, law = design.stage, design.law
    load, supply, sides = design.load_ohm, stage.supply_v, stage.sides
    drive = _drive_v(design)
    full = driven(law, design.bias_v, [drive])
    out, taken = at_levels(law, design.bias_v, drive * _LEVELS, supply, load)
    tones = two_tone(law, design.bias_v, drive, supply, load)
    first = float(full.harmonics_a[0, 0])
    values = design.values()
    fed = values.get(("feedback", 1))
    harmonics = 20 * np.log10(np.maximum(np.abs(full.harmonics_a[1:, 0] / first), 1e-10))
    if sides == 2:
        harmonics[[0, 2]] -= BALANCE_DB
    both = Level(output_w=sides * tones.level.output_w, supply_w=sides * tones.level.supply_w)
    return Output(
        drive_v=drive,
        peak_a=float(full.peak_a[0]),
        mean_a=sides * float(full.mean_a[0]),
        carrier=Level(output_w=design.full_w, supply_w=sides * supply * float(full.mean_a[0])),
        tones=replace(tones, level=both),
        speech=Level(output_w=sides * float(out @ _SPEECH), supply_w=sides * float(taken @ _SPEECH)),
        worst_w=sides * float((taken - out).max()),
        harmonics_dbc=tuple(map(float, np.maximum(harmonics, _LEAST_DBC[sides]))),
        feedback_w=0.0 if fed is None else (drive + first * load) ** 2 / (2 * fed),
        swamping_w=drive**2 / (2 * values["swamping", 1]),
    )


@record(eq=False, kw_only=True)
class Working:
    """What a power amplifier goes through: one side over the phases of a mismatch, the worst heat there of
    all transistors [W], the thermal chain, and the bias: voltage and idle current of each transistor from one
    end of the trimmer to the other, what the divider takes [A], and its drift.
    """

    output: Output
    mismatched: Mismatched
    mismatch_w: float
    chain: Chain
    bias_range_v: tuple[float, float]
    idle_range_a: tuple[float, float]
    bias_a: float
    drift: Drift

    @property
    def peak_v(self) -> float:
        """The highest voltage at a drain or collector with that mismatch, V."""
        return float(self.mismatched.peak_v.max())

    @property
    def hottest_w(self) -> float:
        """The most heat that an ordinary emission makes: two tones without a pause, or a carrier, W."""
        return max(self.output.tones.level.heat_w, self.output.carrier.heat_w)


@lru_cache(maxsize=32)
@gate("The power amplifier's figures")
def working(design: PowerDesign) -> Working | Unsolved:
    """What the amplifier goes through in a mismatch of 3 to 1, and as it warms."""
    found = output(design)
    if isinstance(found, Unsolved):
        return found
    stage = design.stage
    gamma = (SWR - 1) / (SWR + 1)
    wrong = scan(
        design.law,
        design.bias_v,
        found.drive_v,
        stage.supply_v,
        design.load_ohm,
        gamma,
        PHASES_RAD,
    )
    worst = worst_heat_w(found.carrier.supply_w, found.carrier.output_w, gamma)
    chain = Chain(
        junction_k_w=design.bears.junction_k_w,
        insulator_k_w=stage.insulator_k_w,
        sink_k_w=stage.sink_k_w,
        ambient_c=stage.ambient_c,
        sink_kg=stage.sink_kg,
        count=stage.transistors,
    )
    volts, amperes = _range(design)
    return Working(
        output=found,
        mismatched=wrong,
        mismatch_w=max(stage.sides * float(wrong.heat_w.max()), worst),
        chain=chain,
        bias_range_v=volts,
        idle_range_a=amperes,
        bias_a=design.rest.rails_a[REGULATOR],
        drift=_drift(design, chain, found.tones.level.heat_w),
    )


def most_w(design: PowerDesign, supply_v: float) -> float:
    """The largest output [W] of the same circuit on another supply [V]."""
    return design.stage.sides * float(most_power(supply_v, 1 / design.load_ohm, design.law)[0])


def mean_a(design: PowerDesign, supply_v: float) -> float:
    """What the same circuit takes from another supply [V] at its largest output there [A]."""
    sides, law = design.stage.sides, design.law
    side_w = most_w(design, supply_v) / sides
    drive = drive_for(law, design.bias_v, (2 * side_w / design.load_ohm) ** 0.5)
    return sides * float(driven(law, design.bias_v, [drive]).mean_a[0]) + design.rest.rails_a[REGULATOR]


def _drive_v(design: PowerDesign) -> float:
    """The amplitude at gate or base [V] for full power."""
    fundamental = (2 * design.full_w / design.stage.sides / design.load_ohm) ** 0.5
    return drive_for(design.law, design.bias_v, fundamental)


def _range(design: PowerDesign) -> tuple[tuple[float, float], tuple[float, float]]:
    """Voltage at gate or base [V] and idle current [A] with the trimmer at either end, the least first."""
    if design.trimmer_ohm is None:
        volt = design.rest.volts[BIAS]
        return (volt, volt), (design.idle_a, design.idle_a)
    ends = []
    for ohm in (design.trimmer_ohm, _CLOSED_OHM):
        rest = bias(design.with_values({("bias_trimmer", None): ohm}))
        if isinstance(rest, Unsolved):
            raise FloatingPointError(rest.reason)
        ends.append((rest.volts[BIAS], idle_of(rest)))
    (low_v, low_a), (high_v, high_a) = ends
    return (low_v, high_v), (low_a, high_a)


def _drift(design: PowerDesign, chain: Chain, heat_w: float) -> Drift:
    """Idle current once the stage is as hot as `heat_w` [W] makes it, and whether it stays then."""
    stage, law = design.stage, design.law

    def idle_a(junction_c: float, sink_c: float) -> float:
        return idle_at(law, design.bears, design.bias_v, design.follows_per_k, junction_c, sink_c)

    junction, sink = float(chain.junction_c(heat_w)), float(chain.sink_c(heat_w))
    hot = idle_a(junction, sink)
    after, steady = hot, True
    for _ in range(_ROUNDS):
        resting_w = stage.sides * after * stage.supply_v
        now = (float(chain.junction_c(resting_w)), float(chain.sink_c(resting_w)))
        if now[0] > _BURNT_C:
            steady = False
            break
        after = idle_a(*now)
    return Drift(
        cold_a=design.idle_a,
        hot_a=hot / law.count,
        hot_junction_c=junction,
        after_a=after / law.count,
        runs_away=not steady,
    )


@record(eq=False, kw_only=True)
class OverTime:
    """Junction and sink [°C] over times (T,) [s] of transmitting without a pause, from cold."""

    time_s: Array
    junction_c: Array
    sink_c: Array


@lru_cache(maxsize=64)
def over_time(chain: Chain, heat_w: float, points: int = 121) -> OverTime:
    """Temperatures with a heat [W] up to five of the sink's time constants."""
    time = np.linspace(0.0, 5 * max(chain.sink_s, 1.0), points)
    junction, sink = chain.over_time(heat_w, time)
    return OverTime(time_s=frozen(time), junction_c=frozen(junction), sink_c=frozen(sink))
