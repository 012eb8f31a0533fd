"""A reading of the supply taken into the design: a part as built, or what the lead to the rig loses."""

from core.model.values.base import Path
from core.model.values.notation import significant
from core.model.values.parts import key, taken_apart
from core.rig.analysis import Analysis
from core.rig.findings import Edit
from core.rig.log.item import Item
from core.rig.supply.consumers import WAYS, Feeding
from core.rig.supply.rails import rail_volts
from core.rig.supply.soldered import SupplyDesign, supply_soldered
from core.rig.supply.state import at_rig, loop_ohm, on_ohm, polarity_drop_v
from core.stages.outcome import Unsolved


def taken_of_supply(analysis: Analysis, item: Item, value: float) -> Edit | Unsolved:
    """The edit that takes a reading of a part or a test point of the supply, or why none does.

    The voltage of a regulator becomes its output as built, that of a rail what its switch is when it is on,
    and that of the rig what plugs, switch and holder in the lead must be.
    """
    made = supply_soldered(analysis)
    if made is None:
        return Unsolved("No supply is planned, so that nothing of it can be taken into the design.")
    role, which, _ = taken_apart(item.key)
    if item.about == "part" or role == "regulator":
        ref = next((row.ref for row in made.parts if row.key == item.key), "")
        return _as_built(analysis, made, item, ref, value)
    if role == "rail":
        return _switch(analysis, made, item, int(which or 0), value)
    if item.unit == "V":
        return _lead(analysis, made.feeding, item, value)
    return Unsolved(
        "The whole current is the sum of all who are fed: read the current of each, and type under “Currents "
        "and decoupling” what a circuit does not tell."
    )


def _as_built(analysis: Analysis, made: SupplyDesign, item: Item, ref: str, value: float) -> Edit | Unsolved:
    if ref not in made.places:
        return Unsolved(f"{item.title} is no part whose value as built can be given.")
    path, name = made.places[ref]
    values = {**dict(analysis.project.at(path)), name: significant(value, 4)}
    return _tried(analysis, item, f"Supply: {ref} as built", path, values, value)


def _switch(analysis: Analysis, made: SupplyDesign, item: Item, number: int, value: float) -> Edit | Unsolved:
    """What a rail loses across its switch at what it carries at rest."""
    rail = next((each for each in made.transistor_switches if each.number == number), None)
    if rail is None:
        return Unsolved(
            "A relay switches this rail, which loses nothing: look at its contact and at what feeds it."
        )
    lost_v = rail_volts(made.feeding, rail.way)[rail.source] - value
    if lost_v <= 0 or rail.rest_a <= 0:
        return Unsolved(f"{item.title} is no lower than what feeds it, so that its switch loses nothing.")
    ref = next(row.ref for row in made.parts if row.key == key("rail_switch", number))
    return _as_built(analysis, made, item, ref, lost_v / rail.rest_a)


def _lead(analysis: Analysis, of: Feeding, item: Item, value: float) -> Edit | Unsolved:
    """Plugs, switch and fuse holder as they must be for the voltage that arrives at the rig: U = Us − I R,
    with the current that flows at that voltage.
    """
    way = next(each for each in WAYS if each == item.way)
    ampere = at_rig(of, of.nominal_v, value, way, full=False).total_a
    lost_v = of.nominal_v - value - polarity_drop_v(of.supply.polarity, ampere, on_ohm(of.supply))
    contacts_ohm = of.supply.lead.contacts_ohm
    others_ohm = loop_ohm(of.supply) - contacts_ohm
    wanted_ohm = lost_v / ampere - others_ohm if ampere > 0 else -1.0
    if wanted_ohm < 0:
        return Unsolved(
            f"{item.title} is higher than the source leaves there whatever the contacts are: read the supply "
            "itself too."
        )
    path: Path = ("supply", "lead", "contacts_ohm")
    return _tried(
        analysis, item, f"{item.title} as read: contacts in the lead", path, significant(wanted_ohm, 4), value
    )


def _tried(
    analysis: Analysis, item: Item, label: str, path: Path, wanted: object, value: float
) -> Edit | Unsolved:
    edit = Edit(label, ((path, wanted),))
    if edit.tried_on(analysis.project) is None:
        return Unsolved(f"{item.title} of {item.text(value)} is beyond what the design allows; read again.")
    return edit
