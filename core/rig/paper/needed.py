"""What the whole rig needs, like parts together: how many of each, and where they go."""

import csv
from io import StringIO

from core.model.notebook.junk_box import WireOnHand
from core.model.notebook.junk_box_table import guarded
from core.model.values.notation import format_value
from core.model.values.parts import TYPED
from core.model.values.quantities import spelled
from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.parts import part_value
from core.rig.figures.read_out import HELPER
from core.rig.paper.parts_list import ListedPart, parts_list, sort_of
from core.rig.rows import OSCILLATORS
from core.rig.wound.windings import Winding, windings
from core.stages.coils.winding import on_core
from core.stages.crystal_oscillator.design import CrystalOscillatorDesign
from core.stages.kinds.table import kind_of
from core.stages.outcome import Unsolved
from core.trade.cores import cores

#: In this order kinds of parts are listed; others follow.
_ORDER = (
    *("resistor", "capacitor", "inductor", "transformer", "crystal", "transistor", "diode", "chip"),
    *("regulator", "relay", "fuse", "connector", "switch", "wire"),
)
#: A wire as near to the one told is it [-].
_SAME_WIRE = 0.05
#: Of the Q of a coil so much is left with a thinner wire on hand at least [-]; a choice.
_Q_LEFT = 0.9


@record(kw_only=True)
class NeededLine:
    """Parts that are alike: `what` they are, their value and type in words, the rating that they must stand,
    how many, and where they go, a stage and its references each. `on_hand` is how many of them there are,
    None where nobody counted.
    """

    what: str
    value: str
    type: str = ""
    rating: str = ""
    quantity: int
    where: tuple[tuple[str, tuple[str, ...]], ...]
    on_hand: int | None = None

    @property
    def to_get(self) -> int:
        """How many are still to be had."""
        return self.quantity - min(self.on_hand or 0, self.quantity)

    @property
    def places(self) -> str:
        """Where they go, in words."""
        return "; ".join(f"{stage}: {', '.join(refs)}" for stage, refs in self.where)


@record(kw_only=True)
class Piece:
    """One piece to solder: a part, or one of several that it is made of; `value` as written."""

    of: ListedPart
    value: str
    size: float
    rating: str
    on_hand: bool

    @property
    def sort(self) -> tuple[str, str, str, str]:
        """What pieces are alike by."""
        return self.of.part.kind, "" if self.of.type is None else self.of.type.name, self.value, self.rating


def pieces(analysis: Analysis, listed: tuple[ListedPart, ...]) -> list[Piece]:
    """Every piece of a parts list, in its order: of a capacitor made of several each, and its trimmer."""
    ratings = {
        (row.stage, row.index, stress.ref): stress.stands_it or ""
        for row in analysis.circuits
        for stress in analysis.part_stress(row.stage, row.index)
    }
    found = []
    for each in listed:
        part, rating = each.part, ratings.get((each.stage, each.index, each.part.ref), "")
        values = [(part_value(value, part.unit), value) for value in part.soldered]
        if part.kind in (*TYPED, "transformer"):
            values = [(sort_of(each)[2], 1.0)]
        if part.kind == "crystal" and each.stage == "helper" and analysis.read_out is not None:
            # Bought by what is written on it, which is not its series resonance.
            values = [(HELPER.text(analysis.read_out), part.fitted)]
        found += [
            Piece(of=each, value=value, size=size, rating=rating, on_hand=n < each.on_hand)
            for n, (value, size) in enumerate(values)
        ]
        if part.trimmer_f is not None and part.as_built is None:
            value, size = _trimmer(*part.trimmer_f), part.trimmer_f[1]
            on_hand = each.trimmer_on_hand
            found.append(Piece(of=each, value=value, size=size, rating=rating, on_hand=on_hand))
    return found


def _trimmer(low_f: float, high_f: float) -> str:
    return f"{part_value(low_f, 'F')} to {part_value(high_f, 'F')}, trimmer"


def needed(analysis: Analysis, listed: tuple[ListedPart, ...]) -> tuple[NeededLine, ...]:
    """A line for each sort of piece of the list, and for what mixers, carrier and read-out need besides."""
    sorts: dict[tuple[str, str, str, str], list[Piece]] = {}
    for piece in pieces(analysis, listed):
        sorts.setdefault(piece.sort, []).append(piece)
    sized = [(alike[0].size, _line(alike)) for alike in sorts.values()]
    sized += [
        (0.0, each) for each in (*_of_stages(analysis), *_of_carrier(analysis), *_of_read_out(analysis))
    ]
    sized += [(0.0, each) for each in _of_wire(analysis)]
    order = {kind: place for place, kind in enumerate(_ORDER)}
    sized.sort(key=lambda each: (order.get(each[1].what, len(order)), each[1].type, each[0]))
    return tuple(line for _, line in sized)


def _line(alike: list[Piece]) -> NeededLine:
    first = alike[0]
    where: dict[str, list[str]] = {}
    for piece in alike:
        of = piece.of
        own = f"{of.name}, {' and '.join(map(spelled, of.bands))}" if of.index is not None else of.name
        where.setdefault(own, []).append(of.part.ref)
    what, type_, value, rating = first.sort
    return NeededLine(
        what=what,
        value=value,
        type=type_,
        rating=rating,
        quantity=len(alike),
        where=tuple((name, tuple(refs)) for name, refs in where.items()),
        on_hand=sum(piece.on_hand for piece in alike),
    )


def _of_stages(analysis: Analysis) -> list[NeededLine]:
    """What stages in the path need besides the parts of their circuits."""
    found: dict[tuple[str, str], list[tuple[str, int]]] = {}
    for stage in analysis.project.stages:
        for what, value, count in kind_of(stage).bought(stage) if stage.in_path else ():
            found.setdefault((what, value), []).append((stage.name, count))
    return [
        NeededLine(
            what=what,
            value=value,
            quantity=sum(count for _, count in places),
            where=tuple((name, (f"{count} pieces" if count > 1 else "1 piece",)) for name, count in places),
        )
        for (what, value), places in found.items()
    ]


def _of_carrier(analysis: Analysis) -> list[NeededLine]:
    """Crystal, series coil and trimmer of each sideband's carrier where its oscillator is a block; of one of
    parts what switches it between sidebands.
    """
    project, made = analysis.project, analysis.carrier_circuit
    found = []
    if isinstance(made, CrystalOscillatorDesign):
        if len(made.places) == 1:
            return []
        relay = made.asked.circuit.switched_by == "relay"
        value = "one changeover contact" if relay else "two ways"
        at = (("Carrier oscillator", ("sideband",)),)
        return [NeededLine(what="relay" if relay else "switch", value=value, quantity=1, where=at)]
    for row in analysis.carriers:
        if row.pulling is None:
            continue
        where = f"Carrier oscillator, {' and '.join(map(spelled, row.bands))}"
        lines = [
            ("crystal", part_value(project.if_hz, "Hz"), "X"),
            (
                "capacitor",
                _trimmer(project.carrier.trimmer_low_f, project.carrier.trimmer_high_f),
                "CT",
            ),
        ]
        if row.pulling.coil_h:
            lines.append(("inductor", part_value(row.pulling.coil_h, "H"), "L"))
        found += [
            NeededLine(what=what, value=value, quantity=1, where=((where, (ref,)),))
            for what, value, ref in lines
        ]
    return found


def _of_read_out(analysis: Analysis) -> list[NeededLine]:
    """The helper's crystal."""
    plan = analysis.read_out
    if plan is None or plan.helper_hz is None or analysis.helper_circuit is not None:
        return []
    where = (("Read-out", ("X",)),)
    return [NeededLine(what="crystal", value=HELPER.text(plan), type="helper", quantity=1, where=where)]


def _of_wire(analysis: Analysis) -> list[NeededLine]:
    """The wire of all coils that are told how to be wound, together by its diameter."""
    names = {each.id: each.name for each in analysis.project.stages} | OSCILLATORS | {"vfo": "VFO"}
    found: dict[float, list[Winding]] = {}
    for each in windings(analysis):
        found.setdefault(each.wound.wire_m, []).append(each)
    box = [each for each in analysis.project.junk_box.parts if isinstance(each, WireOnHand)]
    first = analysis.project.junk_box.first
    lines = []
    for wire_m, coils in sorted(found.items()):
        long_m = sum(each.wound.length_m for each in coils)
        same = [w for w in box if abs(w.diameter_m / wire_m - 1) <= _SAME_WIRE]
        thinner = [w for w in box if w not in same and all(_does(each, w.diameter_m) for each in coils)]
        # The thickest of what does.
        enough = [w for w in thinner if w.length_m * w.count >= long_m]
        instead = max(enough, key=lambda w: w.diameter_m, default=None) if first else None
        left_m = sum(w.length_m * w.count for w in same)
        where: dict[str, list[str]] = {}
        for each in coils:
            where.setdefault(names[each.stage], []).append(each.ref)
        lines.append(
            NeededLine(
                what="wire",
                value=f"{format_value(long_m, 'm', 2)} of {1e3 * wire_m:g} mm, enamelled",
                type=f"{1e3 * instead.diameter_m:g} mm on hand will do"
                if instead and left_m < long_m
                else "",
                quantity=1,
                where=tuple((name, tuple(refs)) for name, refs in where.items()),
                on_hand=int(left_m >= long_m or instead is not None),
            )
        )
    return lines


def _does(coil: Winding, wire_m: float) -> bool:
    """Whether a coil on a core has hardly less Q of another wire [m], where that is thinner."""
    core = cores().get(coil.wound.on)
    if core is None or wire_m > coil.wound.wire_m:
        return False
    turns, of, at = coil.wound.turns, coil.wound.wire_m, coil.check_hz
    now, was = (on_core(core, coil.set_h, at, wire_m=each, turns=turns) for each in (wire_m, of))
    if isinstance(now, Unsolved) or isinstance(was, Unsolved):
        # A broadband transformer's few turns are of any wire.
        return not coil.rings
    return now.quality >= _Q_LEFT * was.quality


def needed_of(analysis: Analysis) -> tuple[NeededLine, ...]:
    """What a rig needs."""
    return needed(analysis, parts_list(analysis))


def needed_csv(lines: tuple[NeededLine, ...]) -> str:
    """The lines as CSV with a header row."""
    text = StringIO()
    rows = csv.writer(text)
    rows.writerow(("what", "value", "type", "rating", "quantity", "on hand", "to get", "where"))
    for each in lines:
        on_hand = "" if each.on_hand is None else each.on_hand
        texts = (guarded(cell) for cell in (each.what, each.value, each.type, each.rating))
        rows.writerow((*texts, each.quantity, on_hand, each.to_get, guarded(each.places)))
    return text.getvalue()
