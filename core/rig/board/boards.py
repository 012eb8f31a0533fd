"""The boards of a rig: one a circuit, the VFO's and the supply's too, each laid out with what the builder has
put on it by hand.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

from core.circuits.active.operating import bias
from core.circuits.circuit import GROUND, Circuit, Part
from core.model.boards.board import Placed
from core.model.boards.package import OwnPackage
from core.model.project import Project
from core.model.values.errors import DesignError
from core.model.values.notation import format_value
from core.model.values.part_names import reference
from core.model.values.parts import TYPED
from core.model.values.quantities import spelled
from core.rig.analysis import Analysis
from core.rig.board.checks import Clash, LongLead, clashes, long_leads
from core.rig.board.edits import Words, packed
from core.rig.board.items import Item, Soldered, items_of
from core.rig.board.placing import Layout, kept, placed
from core.rig.board.plan import BoardPlan, Place, soldered
from core.rig.rows import OSCILLATORS, CircuitRow, OscillatorRow
from core.rig.supply.soldered import SupplyDesign, supply_soldered
from core.stages.outcome import Design, PartRow, Unsolved
from core.stages.vfo import soldered as oscillator
from core.stages.vfo import vfo
from core.stages.vfo.tank import TankDesign, given_parts

#: What the boards are asked for by that are no stage's.
VFO, SUPPLY, HELPER = "vfo", "supply", "helper"


#: Why a crystal oscillator has no board.
_BLOCK = {
    "carrier": "is a block of figures without parts; give it a circuit in its editor.",
    "helper": "is none of parts here; give the read-out a helper's circuit on its page, where one is needed.",
}


@dataclass(frozen=True, slots=True)
class Hand:
    """What the hand did to a board: where things were put, packages chosen, words by keys of parts, and the
    builder's own packages among which they are looked for.
    """

    places: tuple[Placed, ...]
    words: Words = ()
    own: tuple[OwnPackage, ...] = ()


@dataclass(frozen=True, eq=False, kw_only=True)
class StageBoard:
    """The board of one circuit: its stage, the bands that it serves where every band has a filter of its own,
    what is soldered, and the value of every body by its key. `usual` are the bodies as they are where nobody
    chose a package. Compared by identity, as it comes out of a cache.
    """

    stage: str
    bands: tuple[str, ...]
    title: str
    circuit: Circuit
    items: tuple[Item, ...]
    values: Mapping[str, str]
    by_hand: tuple[Placed, ...] = ()
    usual: tuple[Item, ...] = ()

    def usually(self, key: str) -> Item | None:
        """A part as it is where nobody chose a package; None where there is no such part."""
        return next((item for item in self.usual if item.key == key), None)

    @property
    def ports(self) -> tuple[str, ...]:
        """Where the signal comes in and goes out."""
        return tuple(dict.fromkeys(port.node for port in self.circuit.ports))

    @property
    def rails(self) -> tuple[str, ...]:
        """The nodes that the supply holds."""
        return tuple(dict.fromkeys(rail.node for rail in self.circuit.rails))

    @cached_property
    def layout(self) -> Layout:
        """Where all lies: automatically, and what was put by hand where it was put."""
        places = {each.key: Place(each.x_m, each.y_m, each.turned) for each in self.by_hand}
        return kept(placed(self.items, self.ports, self.rails), places)

    @cached_property
    def plan(self) -> BoardPlan:
        """The board."""
        held = self.layout
        known = {*held.places, *(island.key for island in held.islands)}
        by_hand = frozenset(each.key for each in self.by_hand if each.key in known)
        return soldered(
            self.items, held.islands, held.places, ports=self.ports, rails=self.rails, by_hand=by_hand
        )

    @cached_property
    def clashes(self) -> tuple[Clash, ...]:
        """What lies on what."""
        return clashes(self.plan)

    @cached_property
    def long_leads(self) -> tuple[LongLead, ...]:
        """Leads that are too long; of direct currents none is."""
        return () if self.stage == SUPPLY else long_leads(self.plan)


def boards(analysis: Analysis) -> tuple[StageBoard, ...]:
    """Every board of the rig: the stages' in the order of the path, then those of crystal oscillators, VFO
    and supply; none where a circuit could not be designed.
    """
    rows = (*analysis.circuits, *analysis.oscillators)
    stages = [_of_row(analysis, row) for row in rows if not isinstance(row.design, Unsolved)]
    others = (_of_vfo(analysis), _of_supply(analysis))
    return (*stages, *(each for each in others if each is not None))


def board_of(analysis: Analysis, stage: str, band: str = "") -> StageBoard:
    """The board of a stage, or of the `vfo`, `carrier`, `helper` or `supply`; of its filter on a band where
    each has its own. `DesignError` where there is none.
    """
    if stage == VFO and all(each.id != VFO for each in analysis.project.stages):
        of_vfo = _of_vfo(analysis)
        if of_vfo is None:
            raise DesignError("The VFO has no tank that could be designed; see its editor.")
        return of_vfo
    if stage == SUPPLY and all(each.id != SUPPLY for each in analysis.project.stages):
        of_supply = _of_supply(analysis)
        if of_supply is None:
            raise DesignError("No supply is planned for this rig; plan one on its page.")
        return of_supply
    rows: list[CircuitRow] = [row for row in analysis.circuits if row.stage == stage]
    if not rows and stage in OSCILLATORS and all(each.id != stage for each in analysis.project.stages):
        oscillator = analysis.oscillator(stage)
        if oscillator is None:
            raise DesignError(f"The {OSCILLATORS[stage].lower()} {_BLOCK[stage]}")
        rows = [oscillator]
    name = rows[0].name if rows else analysis.project.stage(stage).name
    if not rows:
        raise DesignError(
            f"{name} is a block of figures without parts; choose a stage that is made of parts."
        )
    row = next((each for each in rows if band in each.bands), rows[0] if not band else None)
    if row is None:
        raise DesignError(f"{name} has no filter for {spelled(band)}; add one or tick the band on another.")
    if isinstance(row.design, Unsolved):
        raise DesignError(row.design.reason)
    return _of_row(analysis, row)


def _of_row(analysis: Analysis, row: CircuitRow) -> StageBoard:
    assert not isinstance(row.design, Unsolved)
    stress = () if isinstance(row, OscillatorRow) else analysis.part_stress(row.stage, row.index)
    mica = frozenset(each.ref for each in stress if each.wants_mica)
    title = row.name
    if row.own_band:
        title = f"{row.name}, {' and '.join(spelled(band) for band in row.bands)}"
    bands = row.bands if row.own_band else ()
    hand = held(analysis.project, row.stage, bands)
    return _made(row.design, mica, stage=row.stage, bands=bands, title=title, hand=hand)


# Page, findings and whole board ask for the same ones; a step of the hand makes one.
@lru_cache(maxsize=96)
def _made(
    design: Design,
    mica: frozenset[str],
    *,
    stage: str,
    bands: tuple[str, ...],
    title: str,
    hand: Hand,
) -> StageBoard:
    usual, items = _soldered(design, mica, hand.words, hand.own)
    return StageBoard(
        stage=stage,
        bands=bands,
        title=title,
        circuit=_on_board(design),
        items=items,
        values=_values(design.parts, items),
        by_hand=hand.places,
        usual=usual,
    )


def _of_vfo(analysis: Analysis) -> StageBoard | None:
    made = analysis.tank
    if not isinstance(made, TankDesign) or not made.ranges:
        return None
    return _of_tank_made(made, held(analysis.project, VFO, ()))


@lru_cache(maxsize=32)
def _of_tank_made(made: TankDesign, hand: Hand) -> StageBoard:
    usual, items = _of_tank(made, hand.words, hand.own)
    return StageBoard(
        stage=VFO,
        bands=(),
        title="VFO",
        circuit=oscillator.soldered(made),
        items=items,
        values=_values((*made.parts, *given_parts(made)), items),
        by_hand=hand.places,
        usual=usual,
    )


def _of_supply(analysis: Analysis) -> StageBoard | None:
    made = supply_soldered(analysis)
    return None if made is None else _of_supply_made(made, held(analysis.project, SUPPLY, ()))


@lru_cache(maxsize=32)
def _of_supply_made(made: SupplyDesign, hand: Hand) -> StageBoard:
    known = Soldered(
        rows={row.ref: row for row in made.parts}, wound={}, kinds={}, watt={}, bodies=made.bodies
    )
    circuit = made.on_board
    usual = items_of(circuit, known)
    items = packed(usual, hand.words, hand.own)
    return StageBoard(
        stage=SUPPLY,
        bands=(),
        title="Supply",
        circuit=circuit,
        items=items,
        values=_values(made.parts, items),
        by_hand=hand.places,
        usual=usual,
    )


def held(project: Project, stage: str, bands: tuple[str, ...]) -> Hand:
    """What was put and chosen by hand on a board; `bands` are those that its filter serves."""
    of = next((b for b in project.boards if b.stage == stage and b.band in (bands or ("",))), None)
    if of is None:
        return Hand(())
    words = tuple((each.key, each.package) for each in of.packages)
    return Hand(of.places, words, project.packages if words else ())


Bodies = tuple[tuple[Item, ...], tuple[Item, ...]]


@lru_cache(maxsize=128)
def _soldered(design: Design, mica: frozenset[str], words: Words, own: tuple[OwnPackage, ...]) -> Bodies:
    """The bodies on a stage's board, as usual and as chosen; resistors by what heats them at rest."""
    known = Soldered(
        rows={row.ref: row for row in design.parts},
        wound=dict(getattr(design, "wound", ())),
        kinds=dict.fromkeys(mica, "silver_mica"),
        watt=_heat(design.circuit),
        bodies=getattr(design, "bodies", {}),
    )
    usual = items_of(_on_board(design), known)
    return usual, packed(usual, words, own)


def _on_board(design: Design) -> Circuit:
    """What is soldered on a board: the circuit, and what else a design says is there."""
    found: Circuit = getattr(design, "on_board", design.circuit)
    return found


@lru_cache(maxsize=32)
def _of_tank(made: TankDesign, words: Words, own: tuple[OwnPackage, ...]) -> Bodies:
    """The bodies on the VFO's board; its capacitors are of the kinds chosen there."""
    rows = {row.ref: row for row in (*made.parts, *given_parts(made))}
    kinds = {ref: vfo.type_of(row.role, made.tank) for ref, row in rows.items()}
    circuit = oscillator.soldered(made)
    known = Soldered(
        rows=rows,
        wound={} if made.wound is None else {reference("tank", "coil"): made.wound},
        kinds={ref: kind for ref, kind in kinds.items() if kind is not None},
        watt=_heat(circuit),
    )
    usual = items_of(circuit, known)
    return usual, packed(usual, words, own)


def _heat(circuit: Circuit) -> dict[str, float]:
    """What each resistor turns into heat at rest [W]; nothing is known where nothing is at rest."""
    if not circuit.rails or not circuit.transistors:
        return {}
    rest = bias(circuit)
    if isinstance(rest, Unsolved):
        return {}
    volts = {GROUND: 0.0, **rest.volts}
    return {
        branch.part.ref: (volts[branch.nodes[0]] - volts[branch.nodes[1]]) ** 2 / branch.part.value
        for branch in circuit.branches
        if isinstance(branch.part, Part)
        and branch.part.kind == "resistor"
        and all(node in volts for node in branch.nodes)
    }


def _values(rows: Iterable[PartRow], items: Iterable[Item]) -> dict[str, str]:
    """What is written at each body, by its key: its value as fitted, or its type."""
    known = {row.ref: row for row in rows}
    named = ((item, known.get(item.of or item.ref)) for item in items)
    return {item.key: _value(row, item) for item, row in named if row is not None}


def _value(row: PartRow, item: Item) -> str:
    if item.trims and row.trimmer_f is not None:
        low, high = (format_value(farad, row.unit, 2) for farad in row.trimmer_f)
        return f"{low} to {high}"
    if row.kind in TYPED:
        return row.type
    if row.kind == "transformer":
        return row.type or f"{row.fitted:.3g} to 1"
    pieces = row.soldered if row.kind == "capacitor" else ()
    value = pieces[item.piece] if item.piece < len(pieces) else row.fitted
    return format_value(value, row.unit, 6 if row.unit == "Hz" else 3)
