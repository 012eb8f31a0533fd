"""The VFO as it is soldered: with its transistor in place of what that does to the tank, and its supply."""

from functools import lru_cache

from core.circuits.circuit import GROUND, Branch, Circuit, Part, Port, Rail, Transistor
from core.model.values.parts import key
from core.stages.parts import part
from core.stages.vfo.oscillator import GATE, SOURCE
from core.stages.vfo.tank import DECOUPLING_F, SHIFTED, TANK, TankDesign, circuit
from core.trade.devices import devices

RAIL = "supply"
_Q1 = "Q1"
#: What the circuit of the signal has that nobody solders.
_NOT_SOLDERED = frozenset({"stray", "device", "load"})


@lru_cache(maxsize=64)
def soldered(made: TankDesign) -> Circuit:
    """All that is soldered for all bands together; what is switched in on a band ends at a node of its own,
    where the band switch joins it to the tank or to ground.
    """
    feedback = made.tank.feedback
    found: dict[str, Branch] = {}
    for cover in made.ranges:
        for branch in circuit(made, cover.band).branches:
            name = key(branch.part.role, branch.part.which)
            if branch.part.role in _NOT_SOLDERED:
                continue
            if name not in found or SHIFTED in branch.nodes:
                found[name] = _switched(branch, cover.band)
    branches = [_at_the_supply(branch) for branch in found.values()]
    device = devices()[feedback.device].model
    branches.append(Branch(Transistor(_Q1, device, "device"), (RAIL, GATE, SOURCE)))
    branches.append(Branch(part("tank", "decoupling", None, DECOUPLING_F), (RAIL, GROUND)))
    return Circuit(
        tuple(branches), (Port(SOURCE, feedback.load_ohm or 1e3),), (Rail(RAIL, feedback.supply_v),)
    )


def _switched(branch: Branch, band: str) -> Branch:
    """A band's own capacitor or trimmer with the switch's end at a node of its own."""
    if branch.part.which != band or not isinstance(branch.part, Part):
        return branch
    away = TANK if SHIFTED in branch.nodes else GROUND
    return Branch(branch.part, tuple(f"switch {band}" if node == away else node for node in branch.nodes))


def _at_the_supply(branch: Branch) -> Branch:
    """The upper resistor of a divider goes to the supply, which for the signal is ground."""
    if branch.part.role != "bias_upper":
        return branch
    return Branch(branch.part, tuple(RAIL if node == GROUND else node for node in branch.nodes))
