"""A crystal oscillator's design: preferred values for what is asked, and what the whole circuit does on them.

Start-up margin with the worst crystal gives the transistor's current, the current the resistors, its swing
the buffer's gain; where the crystal would get too hot the divider is made smaller.
"""

from dataclasses import replace
from functools import lru_cache
from math import inf, isfinite
from types import MappingProxyType

import numpy as np

from core.circuits.active.operating import Bias
from core.circuits.active.oscillation import Rest
from core.circuits.circuit import Circuit, Rail
from core.circuits.ladder import Array
from core.model.values.notation import format_value
from core.model.values.part_names import reference
from core.record import record
from core.stages.crystal_oscillator.asked import Asked
from core.stages.crystal_oscillator.on_hand import blocks_on_hand, divider_on_hand
from core.stages.crystal_oscillator.settled import (
    BESIDE_MOST,
    SolvedValues,
    nearby,
    on_grid,
    solved_values,
)
from core.stages.crystal_oscillator.soldered import (
    FAMILY,
    OSCILLATOR,
    RELAY_LEADS,
    Fitted,
    device_of,
    soldered,
    with_relay,
)
from core.stages.crystal_oscillator.switched import Switched, rest_without, switched
from core.stages.crystal_oscillator.values import Fitting, Values, crystal_of
from core.stages.crystal_oscillator.working import Working, beside, pulled_hz, working
from core.stages.filters.carrier_oscillator import Pulling
from core.stages.gate import gate
from core.stages.on_hand import ALL_BOUGHT
from core.stages.outcome import PartRow, Unsolved
from core.stages.wound import Wound
from core.trade.devices import devices

#: Levels hardly differ over this share of a frequency [nepers].
_ALIKE = 1e-3
#: With capacitors on hand the margin may be so much of the one with bought ones [-], and the level so much
#: further off [dB]; choices.
_HARDLY, _LEVEL_DB = 0.97, 0.5
#: What is switched, with the crystal itself.
_OF_ROW = frozenset({"crystal", "coil", "damping_resistor", "trimmer"})


@record(eq=False, kw_only=True, slots=False)
class CrystalOscillatorDesign:
    """A crystal oscillator on its resulting parts; compared by identity, as filters' designs are.

    `places` tell what it does at each of its frequencies, `pullings` how its crystal is brought there;
    `around` and `fitted` are what these were read off.
    """

    asked: Asked
    circuit: Circuit
    parts: tuple[PartRow, ...]
    rest: Bias
    places: tuple[Working, ...]
    pullings: tuple[Pulling, ...]
    wound: tuple[tuple[str, Wound], ...]
    fitted: Fitted
    around: Rest

    @property
    def span_hz(self) -> tuple[float, float]:
        """About the frequencies asked, Hz."""
        asked = [each.wanted_hz for each in self.asked.places]
        return 0.999 * min(asked), 1.001 * max(asked)

    @property
    def kind(self) -> str:
        """Of what kind the oscillator's transistor is: bipolar or jfet."""
        return device_of(self.asked).kind

    @property
    def drawing(self) -> "CrystalOscillatorDesign":
        """It is drawn by its roles."""
        return self

    @property
    def on_board(self) -> Circuit:
        """All that is soldered on its board: the circuit, and the relay that switches its sidebands."""
        return with_relay(self.asked, self.circuit)

    @property
    def bodies(self) -> dict[str, tuple[str, tuple[str, ...], str]]:
        """What its relay is on a board: the package, the order of its leads, and where that is from."""
        return {reference(FAMILY, "relay"): ("relay", RELAY_LEADS, "from memory")}

    @property
    def supply_a(self) -> float:
        """What it draws at rest, A; swinging its oscillator draws some tenths of a milliampere more."""
        return sum(self.rest.rails_a.values())

    @property
    def level_dbm(self) -> float | None:
        """The least level at its output over its frequencies, dBm; None where it lacks one of them."""
        return output_dbm(self.asked)

    def beside(self, which: str | None) -> tuple[float, float] | None:
        """Where it could oscillate beside its crystal [Hz] and its margin there [-]; None for nowhere."""
        return beside(self.fitted, self.around, which)

    def pulled_hz(self, which: str | None, trimmer_f: Array) -> Array:
        """Frequency [Hz] over settings of a row's trimmer, shape (T,) [F]; NaN where there is none."""
        return pulled_hz(self.fitted, self.around, which, trimmer_f)


@lru_cache(maxsize=32)
def design(asked: Asked) -> CrystalOscillatorDesign | Unsolved:
    """The oscillator with its values found, or why it cannot be made."""
    made: list[CrystalOscillatorDesign] = []
    figures = _designed(asked, made)
    return figures if isinstance(figures, Unsolved) else made[0]


@lru_cache(maxsize=32)
def output_dbm(asked: Asked) -> float | None:
    """The least level at the oscillator's output over its frequencies, dBm; None where it lacks one of them.

    It needs no design but that of the grid (`_levels`).
    """
    known = [each for each in _levels(asked) if each is not None]
    return min(known) if len(known) == len(asked.places) else None


def _levels(asked: Asked) -> tuple[float | None, ...]:
    """The level at the output at each place [dBm], None where there is none: that of a crystal at the nearest
    frequency of a grid, for it hardly changes from one to the next, and mixers whose drive stays are not
    solved anew with every step of an IF.
    """
    made = design(on_grid(asked, _ALIKE))
    if isinstance(made, Unsolved):
        return (None,) * len(asked.places)
    return tuple(each.level_dbm for each in made.places)


# What the gate looks at are the figures: a design holds thousands of numbers that these were read off.
@gate("The crystal oscillator")
def _designed(
    asked: Asked, made: list[CrystalOscillatorDesign]
) -> tuple[tuple[Working, ...], tuple[PartRow, ...]] | Unsolved:
    """Puts the design into `made`; gives its figures and parts."""
    found = _on_values(asked, _taken(nearby(asked)))
    if isinstance(found, Unsolved):
        return found
    if on_grid(asked, _ALIKE) != asked:
        # What is told of each place is the level that its mixers are told.
        told = tuple(
            replace(each, level_dbm=None if each.level_dbm is None else level_dbm)
            for each, level_dbm in zip(found.places, _levels(asked), strict=True)
        )
        found = replace(found, places=told)
    made.append(found)
    return found.places, found.parts


@lru_cache(maxsize=32)
def _taken(asked: Asked) -> SolvedValues:
    """Preferred values, of what is on hand where it does as well: with as much of that as can be."""
    if not asked.shelf:
        return solved_values(asked)
    plain = replace(asked, shelf=ALL_BOUGHT)
    bought = solved_values(plain)
    divider, blocks = divider_on_hand(asked, bought), blocks_on_hand(asked, bought)
    sets = [(*divider, *blocks_on_hand(asked, bought, divider)), blocks] if divider else [blocks]
    with_bought = _on_values(plain, bought)
    for on_hand in filter(None, sets):
        found = solved_values(plain, on_hand)
        if as_good(_on_values(plain, found), with_bought):
            given, was = dict(on_hand), {row[:2]: row[2] for row in bought}
            return tuple((*row[:2], was[row[:2]], *row[3:]) if row[:2] in given else row for row in found)
    return bought


def as_good(found: CrystalOscillatorDesign | Unsolved, bought: CrystalOscillatorDesign | Unsolved) -> bool:
    """Whether one with parts on hand starts, is as cool, as loud and as quiet beside its crystal as is asked,
    or hardly less so than that with bought ones, and reaches its frequencies with no more coils.
    """
    if isinstance(bought, Unsolved) or isinstance(found, Unsolved):
        return False
    circuit, mine, was = found.asked.circuit, _Judged(found), _Judged(bought)
    return (
        mine.margin >= _HARDLY * min(circuit.margin, was.margin)
        and mine.heat_w <= max(circuit.most_w, was.heat_w)
        and mine.off_db <= was.off_db + _LEVEL_DB
        and mine.beside <= max(BESIDE_MOST, was.beside)
        and mine.missed <= was.missed
        and mine.coils <= was.coils
    )


class _Judged:
    """The worst of what an oscillator does over its frequencies: margin [-], heat in the crystal [W], how far
    its level is off [dB], the margin beside the crystal [-], how many frequencies it misses, and its coils.
    """

    def __init__(self, of: CrystalOscillatorDesign) -> None:
        levels = [each.level_dbm for each in of.places]
        known = [each for each in levels if each is not None]
        far = [of.beside(each.place.which) for each in of.places]
        self.margin = min(each.margin for each in of.places)
        self.heat_w = max(each.crystal_w or 0.0 for each in of.places)
        self.off_db = abs(min(known) - of.asked.level_dbm) if len(known) == len(levels) else inf
        self.beside = max((each[1] for each in far if each is not None), default=0.0)
        self.missed = sum(not each.reaches for each in of.pullings)
        self.coils = sum(each.coil_h > 0 for each in of.pullings)


def _on_values(asked: Asked, solved: SolvedValues) -> CrystalOscillatorDesign | Unsolved:
    """The oscillator with these values."""
    values = Values(asked)
    crystal = crystal_of(asked, values.built)
    for part_row in solved:
        values.keep(values.built.row(*part_row))
    found = rest_without(asked, values, crystal)
    if isinstance(found, Unsolved):
        return found
    rest, direct = found
    rows = tuple(switched(asked, values, crystal, rest, place) for place in asked.places)
    wound = []
    for row in rows:
        coil = row.fitted_in(values, asked)
        if coil is not None:
            wound.append(coil)
    coils = {row.place.which: row.coil_q for row in rows}
    fitted = Fitted(
        values=MappingProxyType(values.fitted), crystal=crystal.part, coil_q=MappingProxyType(coils)
    )
    places = tuple(working(asked, fitted, rest, direct, place) for place in asked.places)
    circuit = soldered(asked, fitted)
    return CrystalOscillatorDesign(
        asked=asked,
        circuit=circuit,
        parts=_in_order(asked, values, crystal, circuit),
        rest=direct,
        places=places,
        pullings=tuple(_reaching(row, fitted, rest, asked.trimmer_f) for row in rows),
        wound=tuple(wound),
        fitted=fitted,
        around=rest,
    )


def _reaching(row: Switched, fitted: Fitted, rest: Rest, trimmer_f: tuple[float, float]) -> Pulling:
    """How a row pulls, with what the whole circuit reaches with the trimmer at its ends [F], where it
    oscillates there.
    """
    low, high = map(float, pulled_hz(fitted, rest, row.place.which, np.array(trimmer_f[::-1])))
    return replace(
        row.pulling,
        reachable_low_hz=low if isfinite(low) else row.pulling.reachable_low_hz,
        reachable_high_hz=high if isfinite(high) else row.pulling.reachable_high_hz,
    )


def _in_order(asked: Asked, values: Values, crystal: Fitting, circuit: Circuit) -> tuple[PartRow, ...]:
    """The parts in the order of the circuit, crystal first."""
    row = values.built.row("crystal", 1, asked.fs_hz, asked.fs_hz, _note(asked, crystal))
    found = [row]
    for branch in circuit.branches:
        key = (branch.part.role, branch.part.which)
        if key[0] == "transistor":
            name = device_of(asked).name if key[1] == OSCILLATOR else devices()[asked.circuit.buffer].name
            note = "oscillator" if key[1] == OSCILLATOR else "buffer"
            found.append(values.built.row("transistor", key[1], 1, 1, f"{name}, {note}", name))
        elif key in values.rows:
            found.append(values.rows[key])
    return tuple(found)


def _note(asked: Asked, crystal: Fitting) -> str:
    henry = format_value(crystal.of.motional_inductance_h, "H", 3)
    farad = format_value(crystal.of.holder_capacitance_f, "F", 2)
    marked = "" if asked.marked_hz is None else f"marked {format_value(asked.marked_hz, 'Hz', 7)}; "
    return f"{marked}series resonance; Lm {henry}, C0 {farad}"


def without_row(made: CrystalOscillatorDesign, supply_v: float) -> Circuit:
    """Its circuit without what brings the crystal to its frequency, fed with a voltage [V]."""
    kept = tuple(b for b in made.circuit.branches if b.part.role not in _OF_ROW)
    return Circuit(kept, made.circuit.ports, tuple(Rail(rail.node, supply_v) for rail in made.circuit.rails))
