"""What is wrong with a board as it is laid: what lies on what, leads too long, and what is joined with what.

What a board joins is read back from its geometry alone, as if somebody followed the copper with a meter.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import Literal

from core.circuits.circuit import GROUND
from core.model.values.notation import format_value
from core.rig.board.items import Item
from core.rig.board.plan import BoardPlan, Body, Box, Island, lead_key

#: The longest bare lead of a part to an island of the signal or to ground, and to a rail [m]. At a nanohenry
#: a millimetre 15 mm are 3 ohm at 30 MHz; common practice, no source.
LONGEST_M, LONGEST_RAIL_M = 15e-3, 30e-3
ClashKind = Literal["bodies", "body_on_island", "islands", "lead_on_island", "lead_to_ground"]


@dataclass(frozen=True, slots=True)
class Clash:
    """Two things in one place: keys of both, as in a file, and what is told of it, without a full stop."""

    kind: ClashKind
    keys: tuple[str, str]
    told: str

    @property
    def sentence(self) -> str:
        """What it is and what to do."""
        return f"{self.told}; move one of them."


@dataclass(frozen=True, slots=True)
class LongLead:
    """A bare lead that is longer [m] than is good; `limit_m` what is."""

    key: str
    ref: str
    length_m: float
    limit_m: float

    @property
    def sentence(self) -> str:
        """What it is and what to do."""
        most = format_value(self.limit_m, "m", 2)
        # With as many digits as it takes to read more than the limit.
        long = next((text for n in (2, 3) if (text := format_value(self.length_m, "m", n)) != most), None)
        told = f"{long} long, {most} at most" if long else f"longer than {most}"
        return f"A lead of {self.ref} is {told}; move it nearer to its island."


#: Islands of different nodes nearer than this touch once they are soldered [m]; common practice, no source.
_TOUCH_M = 0.2e-3


def clashes(plan: BoardPlan) -> tuple[Clash, ...]:
    """Everything that is where something else is already."""
    named = islands_named(plan)
    boxes = [(body, body.box) for body in plan.bodies]
    found: list[Clash] = []
    for (one, box), (other, there) in combinations(boxes, 2):
        if box.meets(there):
            a, b = one.item, other.item
            found.append(Clash("bodies", (a.key, b.key), f"{a.ref} lies on {b.ref}"))
    touching = [(island, island.box.grown(_TOUCH_M)) for island in plan.islands]
    for (i, around), (j, _) in combinations(touching, 2):
        if i.node != j.node and around.meets(j.box):
            told = f"The islands {named[i.key]} and {named[j.key]} touch"
            found.append(Clash("islands", (i.key, j.key), told))
    for body, box in boxes:
        for island in plan.islands:
            found += _on_island(body, box, island, named[island.key])
    return tuple(found)


def _on_island(body: Body, box: Box, island: Island, name: str) -> Iterator[Clash]:
    """What is wrong between a part and an island: its body on one that is another's, or its leads."""
    keys, ref = (body.item.key, island.key), body.item.ref
    if island.node not in body.item.nodes and island.box.meets(box):
        yield Clash("body_on_island", keys, f"{ref} covers the island {name}")
    for lead in body.leads:
        if lead.node != island.node and island.box.cut_by(lead.foot, lead.end):
            if lead.node == GROUND:
                yield Clash("lead_to_ground", keys, f"The lead of {ref} to ground meets the island {name}")
            else:
                yield Clash("lead_on_island", keys, f"A lead of {ref} passes over the island {name}")


def islands_named(plan: BoardPlan) -> dict[str, str]:
    """What each island is called: by the parts that are soldered on it."""
    meet: dict[str, list[str]] = {}
    for body in plan.bodies:
        for node in dict.fromkeys(body.item.nodes):
            meet.setdefault(node, []).append(body.item.ref)
    found = {}
    for island in plan.islands:
        refs = meet.get(island.node, [])
        found[island.key] = "of the supply" if island.node in plan.rails else "of " + ", ".join(refs[:3])
    return found


def long_leads(plan: BoardPlan) -> tuple[LongLead, ...]:
    """Bare leads that are longer than is good; those to a rail may be longer."""
    found = []
    for body in plan.bodies:
        for lead in body.leads:
            limit = LONGEST_RAIL_M if lead.node in plan.rails else LONGEST_M
            if lead.length_m > limit * (1 + 1e-9):
                found.append(LongLead(body.item.key, body.item.ref, lead.length_m, limit))
    return tuple(found)


def nets(plan: BoardPlan) -> dict[str, str]:
    """What each lead of a part is joined with, by the lead's key: name of a net, `0` for the ground plane.

    Read from where things lie: islands that touch are one, a bare lead joins every island that it touches,
    an insulated wire those at its ends, and a lead that ends on none is soldered to the plane.
    """
    parent = {name: name for name in (GROUND, *(island.key for island in plan.islands))}

    def root(name: str) -> str:
        while parent[name] != name:
            name = parent[name]
        return name

    def join(a: str, b: str) -> None:
        one, other = root(a), root(b)
        if one != other:
            # The ground plane keeps its name.
            parent[other if other != GROUND else one] = one if other != GROUND else other

    for one, other in combinations(plan.islands, 2):
        if one.box.grown(_TOUCH_M).meets(other.box):
            join(one.key, other.key)
    for wire in plan.wires:
        ends = [_under(plan.islands, end) for end in (wire.a, wire.b)]
        join(ends[0] or GROUND, ends[1] or GROUND)
    at: dict[str, str] = {}
    for body in plan.bodies:
        for n, lead in enumerate(body.leads):
            touched = [i.key for i in plan.islands if i.box.cut_by(lead.foot, lead.end)]
            if _under(plan.islands, lead.end) is None:
                touched.append(GROUND)
            for near, far in pairwise(touched):
                join(near, far)
            if not lead.can:
                at[lead_key(body.item, n)] = touched[0]
    return {key: root(name) for key, name in at.items()}


def _under(islands: Sequence[Island], point: tuple[float, float]) -> str | None:
    return next((island.key for island in islands if island.box.holds(point)), None)


def misjoined(plan: BoardPlan, items: Iterable[Item]) -> tuple[str, ...]:
    """Where a board differs from its circuit, a sentence each: a part that is not there, leads joined that
    must not be, or apart that belong together. Empty when the two are alike.
    """
    read = nets(plan)
    found = []
    by_node: dict[str, set[str]] = {}
    by_net: dict[str, set[str]] = {}
    for item in items:
        for n, node in enumerate(item.nodes):
            net = read.get(lead_key(item, n))
            if net is None:
                found.append(f"{item.ref} is not on the board.")
                break
            by_node.setdefault(node, set()).add(net)
            by_net.setdefault(net, set()).add(node)
    found += [f"The leads of node {node} are not joined." for node, met in by_node.items() if len(met) > 1]
    found += [f"Nodes {', '.join(sorted(met))} are joined." for met in by_net.values() if len(met) > 1]
    if GROUND in by_node and by_node[GROUND] != {GROUND}:
        found.append("A lead to ground does not reach the ground plane.")
    return tuple(found)
