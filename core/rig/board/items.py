"""What is laid on a stage's board: each part of its circuit as a body with leads at nodes."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from core.circuits.circuit import (
    GROUND,
    Branch,
    Circuit,
    ControlledSource,
    CoupledCoils,
    Hardware,
    Part,
    Transformer,
    Transistor,
    Windings,
)
from core.circuits.devices.chips import BYPASS_PIN, Chip
from core.model.values.parts import key
from core.rig.wound.ends import coil_of
from core.stages.outcome import PartRow
from core.stages.wound import Wound
from core.trade.audio import audio_chips
from core.trade.bodies.packages import (
    RELAY_PINS,
    Package,
    air_coil,
    dual_in_line,
    packages,
    signal_relay,
    transistors,
    wound_core,
)
from core.trade.cores import cores

#: Roles of capacitors that stand between a supply or a bias and ground, or couple: no tuned circuit.
_ROUGH = frozenset(
    {
        "bypass",
        "decoupling",
        "feedback_block",
        "feed_bypass",
        "bias_bypass",
        "gain_block",
        "bootstrap",
        "damping_capacitor",
        "smoothing",
        "regulator_input",
        "regulator_output",
        "decoupling_capacitor",
    }
)
#: Roles of what is not on the board.
_ELSEWHERE = frozenset({"stray", "fuse"})
#: Where a capacitor of some value becomes another kind [F]; common practice, no source.
_SMALL_F, _CERAMIC_F, _FILM_F, _ELECTROLYTIC_F = 470e-12, 150e-9, 0.9e-6, 10e-6
_BY_SIZE = (
    (47e-6, "electrolytic_5"),
    (150e-6, "electrolytic_6"),
    (500e-6, "electrolytic_8"),
    (1.1e-3, "electrolytic_10"),
)
#: A resistor is given twice the watts that it turns into heat; common practice, no source.
_RESERVE = 2.0
#: Cores that are drawn where nobody has chosen one: of a coil, and of a transformer.
USUAL_CORE, USUAL_TRANSFORMER = "T50-2", "FT37-43"
#: A choke above this is a larger one [H]; common practice, no source.
_SMALL_CHOKE_H = 220e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One body on the board: the key of its part (`coupling:3`), its reference, its package, and the node
    that each of its feet goes to.

    `electrodes` are what its leads are called, empty where it does not matter. `told` says what else of it is
    known: a core that nobody chose, leads whose order no table has. `of` is the reference of its part, where
    that is not all it is called; of a part in several pieces it is that of number `piece` from 0 on, or what
    `trims` it. `pins` tells where the order of its leads is from, empty where that does not matter.
    """

    key: str
    ref: str
    package: Package
    nodes: tuple[str, ...]
    coil: bool = False
    electrodes: tuple[str, ...] = ()
    told: str = ""
    of: str = ""
    piece: int = 0
    trims: bool = False
    pins: str = ""


@dataclass(frozen=True, kw_only=True)
class Soldered:
    """What the packages are chosen by, besides the circuit: rows of the parts by reference, coils as wound,
    the kind of capacitor by reference, heat of resistors by reference [W], and of hardware by reference its
    package, the order of its leads, and where that is from.
    """

    rows: Mapping[str, PartRow]
    wound: Mapping[str, Wound]
    kinds: Mapping[str, str]
    watt: Mapping[str, float]
    bodies: Mapping[str, tuple[str, tuple[str, ...], str]] = field(default_factory=dict)


def items_of(circuit: Circuit, known: Soldered) -> tuple[Item, ...]:
    """Every body that is soldered for a circuit, in its order.

    A link winding is on its coil's core: one body with four leads. What a trimmer sets is a fixed capacitor
    with a trimmer across, and capacitors in parallel are so many bodies. Strays are no parts, and a fuse is
    at the other end of its lead.
    """
    links = {
        n: coil
        for n, branch in enumerate(circuit.branches)
        if isinstance(branch.part, Transformer) and (coil := coil_of(circuit, branch)) is not None
    }
    joined = {id(coil): circuit.branches[n] for n, coil in links.items()}
    tracks = [branch for branch in circuit.of_role("potentiometer") if branch.part.which is not None]
    found: list[Item] = []
    for n, branch in enumerate(circuit.branches):
        if branch.part.role in _ELSEWHERE or n in links:
            continue
        if branch in tracks:
            found += [_potentiometer(tracks)] if branch is tracks[0] else []
        else:
            found += _bodies(branch, known, joined.get(id(branch)))
    return tuple(found)


def _potentiometer(halves: list[Branch]) -> Item:
    """The body of a potentiometer, whose track on either side of the wiper is a part of the circuit."""
    one, two = halves
    nodes = (*one.nodes, two.nodes[1])
    return Item(
        key=key(one.part.role),
        ref=one.part.ref,
        package=packages()["potentiometer"],
        nodes=nodes,
        electrodes=("1", "2, wiper", "3"),
    )


def _bodies(branch: Branch, known: Soldered, link: Branch | None) -> Iterator[Item]:
    part, nodes = branch.part, branch.nodes
    item = Item(
        key=key(part.role, part.which),
        ref=part.ref or part.role,
        package=packages()["dip8"],
        nodes=nodes,
    )
    if isinstance(part, Transistor):
        yield _transistor(item, part, known)
    elif isinstance(part, CoupledCoils) and part.coils:
        for coil, ends in zip(part.coils, (nodes[:2], nodes[2:]), strict=True):
            bare = replace(item, key=key(coil.role, coil.which), ref=coil.ref, nodes=ends)
            yield _coil(bare, coil, known, None)
    elif isinstance(part, CoupledCoils | Transformer | Windings):
        core = known.wound[part.ref].on if part.ref in known.wound else USUAL_TRANSFORMER
        told = "" if part.ref in known.wound else f"drawn as {core}, no core chosen"
        yield replace(item, package=_on_core(core, len(nodes)), coil=True, told=told)
    elif isinstance(part, ControlledSource):
        yield item
    elif isinstance(part, Chip):
        yield _chip(item, part, known)
    elif isinstance(part, Hardware):
        yield _hardware(item, part, known)
    elif part.kind == "inductor":
        yield _coil(item, part, known, link)
    else:
        yield from _pieces(item, part, known)


def _pieces(item: Item, part: Part, known: Soldered) -> Iterator[Item]:
    """A resistor, crystal or capacitor; a capacitor in as many pieces as it is made of, and its trimmer."""
    row = known.rows.get(part.ref)
    if part.kind != "capacitor" or row is None or part.role in ("trimmer", "tuning"):
        yield replace(item, package=packages()[_package_of(part, part.value, known)])
        return
    for n, farad in enumerate(row.soldered):
        package = packages()[_package_of(part, farad, known)]
        piece = replace(item, package=package, piece=n)
        if n:
            piece = replace(piece, key=f"{item.key}/{n + 1}", ref=f"{item.ref} {n + 1}", of=item.ref)
        yield piece
    if row.as_built is None and row.trimmer_f is not None:
        ref = f"{item.ref} trimmer"
        trimmer = packages()["trimmer"]
        yield replace(item, key=f"{item.key}/trimmer", ref=ref, package=trimmer, of=item.ref, trims=True)


def _transistor(item: Item, part: Transistor, known: Soldered) -> Item:
    """A transistor with its leads in the order in which they stand."""
    leads = part.device.leads
    row = known.rows.get(part.ref)
    device = "" if row is None else row.type.lower()
    pinned = transistors().get(device)
    if pinned is None or set(pinned.order) != set(leads):
        return replace(
            item, package=packages()["to92"], electrodes=leads, told="order of its leads not known"
        )
    return replace(
        item,
        package=packages()[pinned.package],
        nodes=tuple(item.nodes[leads.index(each)] for each in pinned.order),
        electrodes=pinned.order,
        pins=pinned.status,
    )


def _chip(item: Item, part: Chip, known: Soldered) -> Item:
    """A chip with the pins that are used, in their order."""
    row = known.rows.get(part.ref)
    of = next((each for each in audio_chips().values() if row is not None and each.name == row.note), None)
    if of is None:
        return replace(item, electrodes=part.device.leads, told="order of its pins not known")
    at = dict(zip(part.device.leads, item.nodes, strict=True)) | {"ground": GROUND, "bypass": BYPASS_PIN}
    used = tuple(n for n, lead in enumerate(of.pins) if lead)
    return replace(
        item,
        package=dual_in_line(len(of.pins), used),
        nodes=tuple(at[of.pins[n]] for n in used),
        electrodes=tuple(of.pins[n] for n in used),
        pins=of.status,
    )


def _hardware(item: Item, part: Hardware, known: Soldered) -> Item:
    """A connector, diode, regulator or relay with its leads in the order in which they stand."""
    name, order, status = known.bodies.get(part.ref, ("terminals", (), ""))
    if name == "relay":
        order = tuple(sorted(part.leads, key=RELAY_PINS.__getitem__))
        package = signal_relay(tuple(RELAY_PINS[lead] for lead in order))
    else:
        package = packages()[name]
    told = "" if order or len(part.leads) == 2 else "order of its leads not known"
    order = order or part.leads
    nodes = tuple(item.nodes[part.leads.index(lead)] for lead in order)
    return replace(item, package=package, nodes=nodes, electrodes=order, told=told, pins=status)


def _coil(item: Item, part: Part, known: Soldered, link: Branch | None) -> Item:
    """A coil or choke, with the link that is wound on it."""
    wound = known.wound.get(part.ref)
    if part.role == "choke" and wound is None:
        name = "choke_small" if part.value <= _SMALL_CHOKE_H else "choke_large"
        return replace(item, package=packages()[name])
    leads = 2 if link is None else 4
    told = ""
    if wound is None:
        package, told = _on_core(USUAL_CORE, leads), f"drawn as {USUAL_CORE}, no core chosen"
    else:
        package = _on_core(wound.on, leads) if wound.size_m is None else air_coil(*wound.size_m)
    if link is None:
        return replace(item, package=package, coil=True, told=told)
    outer = next(node for node in link.nodes if node not in (GROUND, item.nodes[0]))
    return replace(
        item,
        ref=f"{item.ref} with {link.part.ref}",
        of=item.ref,
        package=package,
        nodes=(*item.nodes, outer, GROUND),
        coil=True,
        told=told,
    )


def _on_core(name: str, leads: int) -> Package:
    return wound_core(cores()[name], leads)


def _package_of(part: Part, value: float, known: Soldered) -> str:
    """The package of a resistor, capacitor or crystal by kind, role and value [SI]."""
    if part.kind == "crystal":
        return "crystal_hc49u"
    if part.kind == "resistor":
        wanted = _RESERVE * known.watt.get(part.ref, 0.0)
        by_watt = [each for each in packages().values() if each.watt is not None and each.usual]
        fitting = [each for each in by_watt if (each.watt or 0.0) >= wanted]
        return (min(fitting, key=lambda p: p.watt or 0.0) if fitting else by_watt[-1]).package
    if part.role == "trimmer":
        return "trimmer"
    if part.role == "tuning":
        return "air_variable"
    kind = known.kinds.get(part.ref)
    if kind == "polystyrene":
        return kind
    if kind == "silver_mica":
        return "mica"
    return _capacitor(value, part.role)


def _capacitor(farad: float, role: str) -> str:
    if farad <= _SMALL_F:
        return "ceramic_small"
    if farad <= _CERAMIC_F:
        return "ceramic"
    if farad <= _FILM_F:
        return "film"
    if farad <= _ELECTROLYTIC_F and role not in _ROUGH:
        return "electrolytic_5"
    return next((name for most, name in _BY_SIZE if farad <= most), "electrolytic_16")
