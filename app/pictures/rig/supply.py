"""What feeds the rig: who hangs on whom, currents, protection, and what still works."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal, TypeVar

from app.pictures.rig.supply_plots import LanePicture, sequence_of, works_of
from app.pictures.told import Told, in_columns, in_rows, line
from app.style import words
from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.figure import Table, by_key, keyed
from core.rig.sections.supply import BATTERY, KEY_DOWN, SEQUENCE, SWITCHING, TOTALS
from core.rig.sections.supply_parts import (
    DECOUPLING,
    FUSE,
    LEAD,
    POLARITY,
    REGULATORS,
    RELAYS,
    scheme_words,
)
from core.rig.supply.consumers import Feeding, feeding
from core.rig.supply.parts import decoupling_facts, regulator_facts, relay_facts
from core.rig.supply.polarity import backwards, fuse_facts, lead_facts
from core.rig.supply.sequence import switching
from core.rig.supply.soldered import SupplyDesign, supply_soldered
from core.rig.supply.state import battery_life, totals
from core.rig.supply.table import Node, rows_of, tree

T = TypeVar("T")
#: What is looked at: who feeds whom, what protects, what happens as voltage and time go on, the circuit.
What = Literal["feeds", "protects", "works", "circuit"]
_NOTHING = "No supply is planned for this rig; tick “Supply” on the left to plan one."
_HEADS = ("figure", "value")
_AMPERE, _VOLT = keyed(SWITCHING)["receive_a"], keyed(TOTALS)["source_v"]
_CURRENTS = by_key(SWITCHING, "name", "on_in_receive", "on_in_transmit", "receive_a", "full_a")
_POLARITY = by_key(POLARITY, "scheme", "part", "drop_v", "loss_w", "safe", "happens")
#: Currents in the diagram, to two digits.
_DRAWN = replace(_AMPERE, digits=2)
#: Colours of edges by the directions that they are on in; beside it stands a letter.
_ROLES = {(True, True): "copper", (True, False): "dial", (False, True): "overload"}
_LETTERS = {(True, True): "R T", (True, False): "R", (False, True): "T", (False, False): "off"}


@record
class Box:
    """A box of the diagram, below the one before it: how far in it stands, its name, what is told of it, and
    the colour of its edge.
    """

    column: int
    name: str
    told: str
    role: str


@record
class Diagram:
    """Who feeds whom: boxes, and lines from one box to another by their places among the boxes."""

    boxes: tuple[Box, ...]
    lines: tuple[tuple[int, int], ...]

    @property
    def spoken(self) -> str:
        """The diagram for those who hear the window."""
        return "; ".join(f"{box.name}, {box.told}" if box.told else box.name for box in self.boxes)


@record(kw_only=True)
class SupplyPicture:
    """What the page shows; tables and plots of what is not looked at are None."""

    title: str
    diagram: Diagram | None = None
    currents: Told | None = None
    totals: Told | None = None
    polarity: Told | None = None
    fuse: Told | None = None
    lead: Told | None = None
    regulators: Told | None = None
    relays: Told | None = None
    decoupling: Told | None = None
    works: LanePicture | None = None
    sequence: LanePicture | None = None
    events: Told | None = None
    key_down: Told | None = None
    schematic: SupplyDesign | None = None

    @property
    def parts(self) -> SupplyDesign | None:
        """What the table of parts is of, beside the drawing."""
        return self.schematic


def picture_of(analysis: Analysis, held: Analysis | None, what: What) -> SupplyPicture | str:
    """What the page shows of a rig; a sentence where no supply is planned."""
    of = feeding(analysis)
    if of is None:
        return _NOTHING
    title = _title(of)
    if what == "feeds":
        return SupplyPicture(
            title=title,
            diagram=_diagram(tree(of)),
            currents=in_columns(_CURRENTS, rows_of(of)),
            totals=_side_by_side(TOTALS, totals(of)),
        )
    if what == "circuit":
        made = supply_soldered(analysis)
        return SupplyPicture(title=title, schematic=made)
    if what == "protects":
        facts = fuse_facts(of)
        return SupplyPicture(
            title=title,
            polarity=in_columns(_POLARITY, backwards(of)),
            fuse=in_rows(_HEADS, (line(figure, facts) for figure in FUSE)),
            lead=in_rows(_HEADS, (line(figure, lead_facts(of)) for figure in LEAD)),
            regulators=_side_by_side(REGULATORS, regulator_facts(of)),
            relays=_side_by_side(RELAYS, relay_facts(of)),
            decoupling=_side_by_side(DECOUPLING, decoupling_facts(of)),
        )
    sends = of.sends_dbm is not None
    return SupplyPicture(
        title=title,
        works=works_of(analysis, held),
        sequence=sequence_of(switching(of)) if sends else None,
        events=in_columns(SEQUENCE, switching(of).events) if sends else None,
        key_down=in_rows(_HEADS, (line(figure, switching(of)) for figure in KEY_DOWN)) if sends else None,
    )


def _side_by_side(table: Table[T], of: Sequence[T]) -> Told:
    """A table with a column for each result below its name; without rows for none."""
    name, *others = table
    if not of:
        return Told((), ())
    return in_rows((name.title, *map(name.text, of)), (line(figure, *of) for figure in others))


def _title(of: Feeding) -> str:
    """What everything comes to, in a line."""
    row = next(each for each in totals(of) if each.of == "nominal")
    drawn = f"{_AMPERE.written(row.receive_a)} in receive"
    if of.sends_dbm is not None:
        drawn += f", {_AMPERE.written(row.transmit_full_a)} at full output"
    life = battery_life(of)
    hours = "" if life is None else f"; the battery lasts {keyed(BATTERY)['hours'].text(life)}"
    return f"{_VOLT.written(of.nominal_v)}: {drawn}{hours}"


def _diagram(root: Node) -> Diagram:
    boxes: list[Box] = []
    lines: list[tuple[int, int]] = []

    def put(node: Node, column: int) -> None:
        at = len(boxes)
        boxes.append(Box(column, _name(node), _told(node), _ROLES.get(node.ways, "quiet")))
        # What stands in the lead goes straight down, those who are fed stand further in.
        down = node.place in ("source", "fuse", "polarity")
        for each in node.feeds:
            lines.append((at, len(boxes)))
            put(each, column if down else column + 1)

    put(root, 0)
    return Diagram(tuple(boxes), tuple(lines))


def _name(node: Node) -> str:
    if node.place == "source":
        return words.choice(node.word, "source")
    if node.place == "polarity":
        return scheme_words(node.word)
    return f"{node.name} regulator" if node.place == "regulator" else node.name


def _told(node: Node) -> str:
    if node.place == "source":
        return _VOLT.written(node.volt)
    if node.place == "fuse":
        return _AMPERE.written(node.full_a)
    if node.place == "polarity":
        return ""
    drawn = [a for a, on in zip((node.receive_a, node.full_a), node.ways, strict=True) if on]
    known = ["?" if each is None else _DRAWN.written(each) for each in drawn]
    return f"{_LETTERS[node.ways]}  {' / '.join(dict.fromkeys(known))}"
