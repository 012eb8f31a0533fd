"""An audio amplifier as a circuit at rest, and what designing one is made of."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cached_property
from math import pi

import numpy as np

from core.circuits.active.linear import Linear, around
from core.circuits.active.operating import Bias, bias, bias_near
from core.circuits.active.swing import LEAST_COLLECTOR_V, Swing, swings
from core.circuits.active.two_port import TwoPort
from core.circuits.circuit import Bipolar, Circuit, Rail
from core.circuits.ladder import Array
from core.model.values.notation import format_value
from core.model.values.part_names import NAMES
from core.model.values.parts import TYPED, Family
from core.record import record
from core.stages.audio.boards import BOARDS, SUPPLY
from core.stages.outcome import PartRow, Unsolved
from core.stages.parts import Built, Key
from core.trade.audio import ChipRow
from core.trade.devices import Row
from core.trade.series import neighbours

#: The tone at which gain is asked, Hz.
TONE_HZ = 1000.0
#: How far above the onset of clipping the output is at which a decibel of gain is lost [dB]: of a stage with
#: feedback, which clips hard, by the fundamental of a clipped sine; of one without by the rule for class A of
#: `large_signal.py`.
CLIPS_HARD_DB, CLIPS_SOFTLY_DB = 1.0, 1.5
#: What a base needs more at the peak than at rest [V]: two decades of current.
_MORE_BASE_V = 0.12


@record(kw_only=True)
class Asked:
    """What was asked: voltage gain [dB], input resistance [ohm], corners [Hz], each None where it was not."""

    gain_db: float
    input_ohm: float | None
    low_hz: float
    high_hz: float | None


@record(eq=False, kw_only=True, slots=False)
class AudioDesign:
    """An audio amplifier's circuit on its resulting parts, at rest. Compared by identity.

    `made_with` is its transistor or chip in words, `beyond_db` how far above the onset of clipping a decibel
    of gain is lost [dB].
    """

    board: str
    made_with: str
    transistor: Row | None
    chip: ChipRow | None
    circuit: Circuit
    parts: tuple[PartRow, ...]
    rest: Bias
    linear: Linear
    asked: Asked
    beyond_db: float
    span_hz: tuple[float, float] = (20.0, 20e3)

    @property
    def supply_a(self) -> float:
        """What the stage takes from its supply at rest, A."""
        return sum(self.rest.rails_a.values())

    @property
    def ends_ohm(self) -> tuple[float, float]:
        """Source and load that it is made for, ohm."""
        return self.circuit.ports[0].ohm, self.circuit.ports[1].ohm

    @cached_property
    def swings(self) -> tuple[Swing, ...]:
        """What limits its output at the tone."""
        if self.board == "complementary":
            return _class_b(self)
        return swings(self.circuit, self.linear, TONE_HZ)

    @property
    def drawing(self) -> "AudioDesign":
        """Drawn as it is."""
        return self


def _class_b(design: AudioDesign) -> tuple[Swing, ...]:
    """How far a complementary pair can pull either way, and what its driver's current carries: it leaves
    class A by design, so that the circuit at rest does not tell.

    The upper half is lifted by the bootstrap until its collector is empty; the lower half follows the driver
    down until that is. At the peak a transistor's own resistance is small beside the one at its emitter.
    """
    assert design.transistor is not None
    device = design.transistor.model
    assert isinstance(device, Bipolar)
    fitted = {row.key: row.fitted for row in design.parts}
    at = design.rest.transistors
    behind = fitted.get("output_resistor", 0.0) + 1 / (2j * pi * TONE_HZ * fitted["coupling:2"])
    up_v = max(at["Q2"].output_v - LEAST_COLLECTOR_V, 0.0)
    down_v = max(at["Q1"].output_v - LEAST_COLLECTOR_V - _MORE_BASE_V, 0.0)
    driver_a = abs(at["Q1"].output_a) * device.current_gain
    return (
        Swing("Q2", "voltage", up_v, 1.0, fitted["emitter:1"] + behind),
        Swing("Q1", "voltage", down_v, 1.0, fitted["emitter:2"] + behind),
        Swing("Q1", "current", driver_a, 0.0, 1.0),
    )


def at_supply(design: AudioDesign, supply_v: float) -> AudioDesign | Unsolved:
    """The same parts on another supply [V]."""
    circuit = replace(design.circuit, rails=(Rail(SUPPLY, supply_v),))
    rest = bias_near(circuit, design.rest)
    made = rest if isinstance(rest, Unsolved) else around(circuit, rest)
    if isinstance(made, Unsolved):
        return made
    assert not isinstance(rest, Unsolved)
    return replace(design, circuit=circuit, rest=rest, linear=made)


def voltage_gain_db(port: TwoPort, load_ohm: complex) -> Array:
    """Voltage gain from the input's terminal into a load [ohm], dB."""
    (a, b), _ = port.chain
    return np.asarray(-20 * np.log10(np.abs(a + b / load_ohm)))


def at_rest(
    circuit: Circuit,
    *,
    board: str,
    of: Row | ChipRow,
    parts: tuple[PartRow, ...],
    asked: Asked,
    beyond_db: float,
) -> AudioDesign | Unsolved:
    """The design of a circuit, once it is at rest."""
    rest = bias(circuit)
    if isinstance(rest, Unsolved):
        return rest
    made = around(circuit, rest)
    if isinstance(made, Unsolved):
        return made
    return AudioDesign(
        board=board,
        made_with=of.name,
        transistor=None if isinstance(of, ChipRow) else of,
        chip=of if isinstance(of, ChipRow) else None,
        circuit=circuit,
        parts=parts,
        rest=rest,
        linear=made,
        asked=asked,
        beyond_db=beyond_db,
    )


def rows(
    family: Family,
    board: str,
    as_built: tuple[tuple[str, float], ...],
    values: tuple[Mapping[Key, float], Mapping[Key, float]],
    type_of: str,
) -> tuple[PartRow, ...]:
    """The rows of a board's parts, exact and preferred `values` by place; those without one are left out."""
    built, made = Built(family, as_built), []
    exact, rounded = values
    for role, which, _ in BOARDS[board]:
        if NAMES[family][role].kind in TYPED:
            made.append(built.row(role, which, 1.0, 1.0, type_of))
        elif (role, which) in rounded:
            made.append(built.row(role, which, exact[role, which], rounded[role, which]))
    return tuple(made)


def next_up(value: float, series: str) -> float:
    """The preferred value at or above one."""
    return neighbours(value, series)[1]


def nearest_gain(
    values: Mapping[Key, float],
    place: Key,
    exact: Mapping[Key, float],
    series: str,
    gain_db: float,
    got_db: Callable[[Mapping[Key, float]], float | Unsolved],
) -> dict[Key, float] | Unsolved:
    """The values with that one of some preferred ones at a place with which the gain comes nearest to the one
    asked [dB], whatever the others' rounding does; `got_db` gives the gain of values.
    """
    best: tuple[float, dict[Key, float]] | None = None
    near = {each for share in (0.8, 0.9, 1.0, 1.1, 1.25) for each in neighbours(exact[place] * share, series)}
    for value in sorted(near):
        tried = {**values, place: value}
        got = got_db(tried)
        if isinstance(got, Unsolved):
            return got
        if best is None or abs(got - gain_db) < best[0]:
            best = abs(got - gain_db), tried
    assert best is not None
    return best[1]


def inverse(siemens: float) -> float:
    """Resistance of a conductance [S]; infinite for none or less."""
    return 1 / siemens if siemens > 0 else float("inf")


def outside_supply(of: ChipRow, supply_v: float) -> str | None:
    """Why a chip does not work at a supply [V]; None where it does."""
    if of.least_v <= supply_v <= of.most_v:
        return None
    wrong = "starves" if supply_v < of.least_v else "breaks"
    return (
        f"{of.name} {wrong} at {format_value(supply_v, 'V', 3)}: it is made for {of.least_v:g} to "
        f"{of.most_v:g} V; change its supply or take another."
    )
