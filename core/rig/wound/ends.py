"""Which way windings go: of each the end it starts at, which a dot marks, and what either end goes to.

All windings on one core run the same way round from their starts, so that these are in phase. A coil with an
end at ground starts there, a tap counts its turns from there, and so do links.
"""

from collections.abc import Iterator
from dataclasses import replace
from math import sqrt

from core.circuits.circuit import GROUND, Branch, Circuit, CoupledCoils, Part, Transformer, Windings
from core.record import record
from core.rig.analysis import Analysis
from core.rig.circuits import member_on
from core.rig.rows import CircuitRow
from core.stages.outcome import Unsolved
from core.stages.power_amplifier.design import PowerDesign
from core.stages.vfo import soldered
from core.stages.vfo.tank import TankDesign
from core.stages.wound import Wound

_NUMBERS = ("first", "second", "third", "fourth")
#: What the windings of a ladder's transformers are called, by their number: its inner side is the filter's.
_SIDES = {1: ("outer", "inner"), 2: ("inner", "outer")}
#: Roles of what stands in a circuit and is no part.
_NO_PARTS = frozenset({"stray", "device", "load"})
#: Ends of one node that are named; of more the rest is counted.
_NAMED = 5


@record(kw_only=True)
class WindingEnds:
    """One winding, or a tap, of a coil or transformer `ref`.

    `winding` is empty for the only one. `turns` are None where no core was chosen; then `share` tells them:
    of a tap or link over its coil's, of a transformer's winding over its last one's [-]. `start` and `end`
    are what its ends go to, `ohm` the impedance between them where that is known [ohm].
    """

    stage: str
    bands: tuple[str, ...]
    ref: str
    winding: str
    turns: int | None
    share: float | None
    start: str
    end: str
    ohm: float | None = None

    @property
    def of_several(self) -> bool:
        """Whether there are more windings on its core."""
        return bool(self.winding)


def ends_of(analysis: Analysis, row: CircuitRow) -> tuple[WindingEnds, ...]:
    """The windings of one circuit of a stage."""
    design = row.design
    if isinstance(design, Unsolved):
        return ()
    wound: dict[str, Wound] = dict(getattr(design, "wound", ()))
    member = member_on(analysis.project.stage(row.stage), row.bands[0] if row.bands else "")
    tapped = not isinstance(member, Unsolved) and getattr(member.asked, "ends", "") == "tapped_coil"
    made = _Ends(design.circuit, wound, tapped=tapped)
    if isinstance(design, PowerDesign):
        made.power = design
    return tuple(made.told(row.stage, row.bands))


def vfo_ends(analysis: Analysis) -> tuple[WindingEnds, ...]:
    """The VFO's coil, and its choke."""
    made = analysis.tank
    if not isinstance(made, TankDesign) or not made.ranges:
        return ()
    coil = next(row.ref for row in made.parts if row.role == "coil")
    wound = {} if made.wound is None else {coil: made.wound}
    bands = tuple(cover.band for cover in made.ranges)
    return tuple(_Ends(soldered.soldered(made), wound).told("vfo", bands))


def every_end(analysis: Analysis) -> tuple[WindingEnds, ...]:
    """All windings of the rig in the order of the path, then the VFO's."""
    return (*(each for row in analysis.circuits for each in ends_of(analysis, row)), *vfo_ends(analysis))


def coil_of(circuit: Circuit, link: Branch) -> Branch | None:
    """The coil that a link or tap is of: one to ground at either side of it."""
    if link.part.role != "link":
        return None
    ends = {node for node in link.nodes if node != GROUND}
    coils = [
        branch
        for branch in circuit.branches
        if isinstance(branch.part, Part)
        and branch.part.kind == "inductor"
        and branch.nodes[1] == GROUND
        and branch.nodes[0] in ends
    ]
    return coils[0] if len(coils) == 1 else None


class _Ends:
    """The windings of a circuit, with what is known of their turns."""

    def __init__(self, circuit: Circuit, wound: dict[str, Wound], *, tapped: bool = False) -> None:
        self.circuit, self.wound, self.tapped = circuit, wound, tapped
        self.power: PowerDesign | None = None

    def told(self, stage: str, bands: tuple[str, ...]) -> Iterator[WindingEnds]:
        """Every winding in the order of the circuit, links and taps behind their coil."""
        links = [
            (branch, coil)
            for branch in self.circuit.branches
            if isinstance(branch.part, Transformer) and (coil := coil_of(self.circuit, branch)) is not None
        ]
        for branch in self.circuit.branches:
            part = branch.part
            if isinstance(part, Part) and part.kind == "inductor":
                mine = [link for link, its in links if its is branch]
                turns = self._turns_of(part.ref)
                word = "coil" if mine else ""
                yield self._row(stage, bands, branch, branch.nodes, word, turns, None)
                for link in mine:
                    yield self._off(stage, bands, branch, link, turns)
            elif isinstance(part, CoupledCoils) and part.coils:
                for coil_part, nodes in zip(part.coils, (branch.nodes[:2], branch.nodes[2:]), strict=True):
                    own, turns = Branch(coil_part, nodes), self._turns_of(coil_part.ref)
                    yield self._row(stage, bands, own, nodes, "", turns, None)
            elif isinstance(part, Windings) or (
                isinstance(part, Transformer | CoupledCoils) and all(branch is not one for one, _ in links)
            ):
                yield from self._windings(stage, bands, branch)

    def _windings(self, stage: str, bands: tuple[str, ...], branch: Branch) -> Iterator[WindingEnds]:
        part = branch.part
        assert isinstance(part, Transformer | CoupledCoils | Windings)
        shares: tuple[float, ...]
        if isinstance(part, Windings):
            shares = tuple(sqrt(henry / part.henry[-1]) for henry in part.henry)
        else:
            ratio = part.ratio if isinstance(part, Transformer) else sqrt(part.primary_h / part.secondary_h)
            shares = (ratio, 1.0)
        pairs = [branch.nodes[n : n + 2] for n in range(0, len(branch.nodes), 2)]
        if all(pair[1] == GROUND for pair in pairs):
            pairs = [pair[::-1] for pair in pairs]
        for n, (pair, share) in enumerate(zip(pairs, shares, strict=True)):
            turns, ohm = self._turned(part, n)
            row = self._row(stage, bands, branch, pair, _NUMBERS[n], turns, share, own=n)
            yield row if ohm is None else replace(row, ohm=ohm)

    def _turned(self, part: Transformer | CoupledCoils | Windings, n: int) -> tuple[int | None, float | None]:
        """Turns of a transformer's winding and the impedance at it, where they are known."""
        if self.power is not None:
            made = self.power.input if part.role == "input_transformer" else self.power.output
            if made is None:
                return None, None
            turns = (made.primary, made.secondary)
            return turns[n], made.primary_ohm * (turns[n] / made.primary) ** 2
        sides = _SIDES[int(part.which or 1)] if part.role == "match_transformer" else _NUMBERS
        turned = self._turns_of(f"{part.ref}, {sides[n]} winding")
        return self._turns_of(part.ref) if turned is None else turned, None

    def _turns_of(self, name: str) -> int | None:
        coil = self.wound.get(name)
        return None if coil is None else coil.turns

    def _off(
        self, stage: str, bands: tuple[str, ...], coil: Branch, link: Branch, turns: int | None
    ) -> WindingEnds:
        """A link or a tap of a coil: its turns from the grounded end on."""
        part = link.part
        assert isinstance(part, Transformer)
        outer, inner = link.nodes[:2], link.nodes[2:]
        share = part.ratio
        if coil.nodes[0] in outer:
            outer, share = inner, 1 / share
        hot = next(node for node in outer if node != GROUND)
        return WindingEnds(
            stage=stage,
            bands=bands,
            ref=coil.part.ref,
            winding="tap" if self.tapped else "link",
            turns=None if turns is None else round(share * turns),
            share=share,
            start="ground",
            end=self._goes_to(hot, link, None),
            ohm=self._port_ohm(hot),
        )

    def _row(
        self,
        stage: str,
        bands: tuple[str, ...],
        branch: Branch,
        nodes: tuple[str, ...],
        winding: str,
        turns: int | None,
        share: float | None,
        *,
        own: int | None = None,
    ) -> WindingEnds:
        """A winding between two nodes; `own` is its number from 0 on among several with given starts."""
        start, end = nodes
        if own is None and end == GROUND:
            start, end = end, start
        return WindingEnds(
            stage=stage,
            bands=bands,
            ref=branch.part.ref,
            winding=winding,
            turns=turns,
            share=share,
            start=self._goes_to(start, branch, own),
            end=self._goes_to(end, branch, own),
            ohm=self._port_ohm(end) if GROUND in nodes else None,
        )

    def _port_ohm(self, node: str) -> float | None:
        return next((port.ohm for port in self.circuit.ports if port.node == node), None)

    def _goes_to(self, node: str, own: Branch, mine: int | None) -> str:
        """What else is at a node: ground, a rail, an end of the circuit, other windings, other parts."""
        if node == GROUND:
            return "ground"
        found = [rail.node for rail in self.circuit.rails if rail.node == node]
        ends = [port.node for port in self.circuit.ports]
        if node in ends and len(ends) > 2:
            # A mixer's are called what they are, as it may be passed either way.
            found.append(node)
        elif node in ends:
            found.append("input" if ends.index(node) == 0 and len(ends) > 1 else "output")
        if mine is not None:
            found += _joined(own, node, mine)
        for branch in self.circuit.branches:
            beside = node in branch.nodes and branch.part is not own.part
            if beside and branch.part.role not in _NO_PARTS and coil_of(self.circuit, branch) is None:
                found.append(branch.part.ref)
        found = list(dict.fromkeys(found))
        if len(found) > _NAMED:
            found = [*found[: _NAMED - 1], f"{len(found) - _NAMED + 1} more"]
        return ", ".join(found) or node


def _joined(own: Branch, node: str, mine: int) -> Iterator[str]:
    """Ends of the other windings of a transformer that meet at a node."""
    for n in range(len(own.nodes) // 2):
        pair = own.nodes[2 * n : 2 * n + 2]
        if n != mine and node in pair:
            yield f"{'start' if pair[0] == node else 'end'} of the {_NUMBERS[n]}"
