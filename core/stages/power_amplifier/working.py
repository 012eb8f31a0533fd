"""A power amplifier at work: output, heat, mismatch, drift."""

from dataclasses import replace
from functools import lru_cache
from math import pi

import numpy as np

from core.circuits.active.operating import bias
from core.circuits.ladder import Array, frozen
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
from core.record import record
from core.stages.gate import gate
from core.stages.outcome import Unsolved
from core.stages.power_amplifier.bias import idle_at, idle_of
from core.stages.power_amplifier.board import BIAS, REGULATOR
from core.stages.power_amplifier.design import PowerDesign
from core.stages.power_amplifier.gain import drive_v

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
    drive = drive_v(design)
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
