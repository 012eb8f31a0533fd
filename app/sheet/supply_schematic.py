"""Schematics of supplies as SVG: from the lead to every rail, with who hangs on each."""

from collections.abc import Callable, Iterable
from functools import lru_cache, partial
from textwrap import wrap
from typing import get_args

import schemdraw.elements as elm

from app.sheet.amplifier_schematic import Pen, Point, paper
from app.sheet.schematic import plain_text
from app.sheet.sketches.svg_text import as_text
from core.circuits.circuit import Branch
from core.model.values.notation import format_value
from core.model.values.parts import Role, Which
from core.rig.supply.rails import RIG, RailSwitch
from core.rig.supply.soldered import Piece, SupplyDesign, told_of
from core.stages.outcome import PartRow

#: How high each part is, how wide one of two abreast, and where the ground is below a line.
_ENTRANCE, _REGULATOR, _MORE, _SWITCH, _RELAY, _DECOUPLING = 4.0, 3.4, 1.7, 5.6, 5.6, 3.6
_ABREAST, _DOWN = 12.5, -1.7
_TWO_ABREAST = ("rails", "decoupling")
#: How much lower the point of a note of one line is than that line, and how high each further line is.
_LOWER, _LINE = 0.35, 0.33
#: Letters in a line of who hangs on a rail.
_WIDE = 34
#: And beside a relay's coil.
_NARROW = 16


PIECES: tuple[Piece, ...] = get_args(Piece)


@lru_cache(maxsize=48)
def supply_svg(
    design: SupplyDesign,
    ink: str = "#2b2620",
    soft: str = "#6a6055",
    font_size: float = 11.0,
    piece: Piece | None = None,
    part: tuple[int, int | None] = (0, None),
) -> str:
    """SVG text of a supply, or of a `part` of one `piece` of it; `ink` draws wires, `soft` writes values.
    Ends of one name are joined.
    """
    drawing = paper(ink, font_size)
    rows = {(row.role, row.which): row for row in design.parts}
    y = 0.0
    for each in PIECES if piece is None else (piece,):
        parts = _drawn_in(each, design)[slice(*part)]
        for place, (draw, height) in enumerate(parts):
            pen = _SupplyPen(drawing, rows, soft, rise=y)
            aside = each in _TWO_ABREAST and place % 2 == 1
            pen.shift = _ABREAST if aside else 0.0
            draw(pen)
            last = place + 1 == len(parts)
            y -= height if aside or each not in _TWO_ABREAST or last else 0.0
    return plain_text(drawing.get_imagedata("svg").decode(), font_size)


def _drawn_in(piece: Piece, design: SupplyDesign) -> list[tuple[Callable[["_SupplyPen"], None], float]]:
    """What draws each part of a piece, and how high that is."""
    if piece == "feeds":
        found: list[tuple[Callable[[_SupplyPen], None], float]] = [
            (partial(_entrance, design=design), _ENTRANCE)
        ]
        for branch in design.of_role("regulator"):
            more = _MORE * bool(design.parts_of("adjust_upper", branch.part.which))
            found.append((partial(_regulator, design=design, branch=branch), _REGULATOR + more))
        return found
    if piece == "rails":
        return [(partial(_switch, design=design, of=of), _SWITCH) for of in design.transistor_switches]
    if piece == "relays":
        return [(partial(_relay, design=design, branch=each), _RELAY) for each in design.of_role("relay")]
    of = design.of_role("decoupling_capacitor")
    return [(partial(_decoupling, design=design, branch=each), _DECOUPLING) for each in of]


class _SupplyPen(Pen):
    """A pen that also draws what has a type, moved to the right by `shift`."""

    shift = 0.0

    def _up(self, at: Point) -> Point:
        x, y = super()._up(at)
        return x + self.shift, y

    def _down(self, at: Point) -> Point:
        x, y = super()._down(at)
        return x - self.shift, y

    def typed(
        self, role: Role, which: Which, a: Point, b: Point, symbol: type[elm.Element], side: str = "top"
    ) -> None:
        """A part of two leads that has a type, its reference and type beside it."""
        row = self.row(role, which)
        text = f"{as_text(row.ref)}\n{as_text(row.type)}"
        self.drawing.add(symbol().at(self._up(a)).to(self._up(b)).label(text, loc=side, color=self.soft))

    def up(self, at: Point) -> Point:
        """A point on the paper."""
        return self._up(at)

    def anchors(self, made: elm.Element, *names: str) -> tuple[Point, ...]:
        """Where ends of something drawn are."""
        return tuple(self._down(getattr(made, name)) for name in names)

    def added(self, made: elm.Element, row: PartRow, *names: str, side: str = "right") -> tuple[Point, ...]:
        """Draw a transistor with its reference and type; gives where ends of it are."""
        text = f"{as_text(row.ref)}\n{as_text(row.type)}"
        return self.anchors(self.drawing.add(made.label(text, loc=side, color=self.soft)), *names)

    def note(self, at: Point, lines: Iterable[str]) -> None:
        """Words to the right of a point."""
        made = [*map(as_text, lines)]
        text = "\n".join(made)
        if text:
            # The last line stands above its point.
            low = at[1] - _LOWER - _LINE * (len(made) - 1)
            label = elm.Label().at(self._up((at[0], low)))
            label = label.label(text, halign="left", valign="center", color=self.soft)
            self.drawing.add(label)

    def named_end(self, at: Point, text: str, loc: str) -> None:
        """An end by its name."""
        self.end(at, as_text(text), loc)


def _entrance(pen: _SupplyPen, design: SupplyDesign) -> None:
    """Fuse, connector, switch, what stands in or across the lead, suppressor and smoothing."""
    x = 0.0
    pen.named_end((x, 0), "source +", "left")
    if ("fuse", None) in pen.rows:
        pen.typed("fuse", None, (x, 0), (x + 2.4, 0), elm.Fuse)
        x += 2.4
    pen.wire((x, 0), (x + 2.6, 0))
    pen.dot((x + 1.3, 0))
    row = pen.row("supply_connector")
    pen.note((x + 0.3, -0.4), (f"{row.ref}  {row.type}",))
    x += 2.6
    if ("on_switch", None) in pen.rows:
        pen.typed("on_switch", None, (x, 0), (x + 2.0, 0), elm.Switch)
        x += 2.0
    scheme = design.feeding.supply.polarity.scheme
    if scheme == "series_diode":
        pen.typed("polarity_diode", None, (x, 0), (x + 2.0, 0), elm.Diode)
        x += 2.0
    elif scheme == "p_mosfet":
        x = _in_lead(pen, x)
    across: list[tuple[Role, type[elm.Element]]] = []
    if scheme == "shunt_diode":
        across.append(("polarity_diode", elm.Diode))
    if ("suppressor", None) in pen.rows:
        across.append(("suppressor", elm.Zener))
    pen.wire((x, 0), (x + 1.0, 0))
    x += 1.0
    for role, symbol in across:
        pen.dot((x, 0))
        pen.typed(role, None, (x, _DOWN), (x, 0), symbol, "bot")
        pen.ground((x, _DOWN))
        pen.wire((x, 0), (x + 2.4, 0))
        x += 2.4
    if ("smoothing", None) in pen.rows:
        pen.dot((x, 0))
        pen.hang("smoothing", None, (x, 0), _DOWN)
        pen.wire((x, 0), (x + 2.0, 0))
        x += 2.0
    pen.named_end((x, 0), RIG, "right")
    pen.note((x + 0.2, -0.45), _hanging(design, RIG))


def _in_lead(pen: _SupplyPen, x: float) -> float:
    """A MOSFET in the lead with what holds its gate; gives where the line goes on."""
    row = pen.row("polarity_mosfet")
    pen.wire((x, 0), (x + 0.8, 0))
    made = elm.PFet().theta(-90).at(pen.up((x + 0.8, 0))).anchor("drain")
    gate, out = pen.added(made, row, "gate", "source")
    foot = (gate[0], gate[1] - 1.9)
    pen.part("polarity_gate", None, gate, foot)
    pen.ground(foot)
    if ("polarity_zener", None) in pen.rows:
        x = out[0] + 1.0
        pen.dot(gate)
        pen.wire(gate, (x, gate[1]))
        pen.wire(out, (x, 0))
        pen.typed("polarity_zener", None, (x, gate[1]), (x, 0), elm.Zener, "bot")
        pen.dot((x, 0))
        pen.wire((x, 0), (x + 3.2, 0))
        return x + 3.2
    return out[0]


def _regulator(pen: _SupplyPen, design: SupplyDesign, branch: Branch) -> None:
    """A regulator between its capacitors, and what sets an adjustable one."""
    n = branch.part.which
    source, output = branch.nodes[:2]
    row = pen.row("regulator", n)
    pen.named_end((0, 0), source, "left")
    pen.wire((0, 0), (2.6, 0))
    pen.dot((1.0, 0))
    pen.hang("regulator_input", n, (1.0, 0), _DOWN)
    box = elm.RBox().at(pen.up((2.6, 0))).to(pen.up((6.2, 0)))
    pen.drawing.add(box.label(f"{as_text(row.ref)}  {as_text(row.type)}", loc="top", color=pen.soft))
    pen.wire((6.2, 0), (11.4, 0))
    foot = (4.4, _DOWN)
    if ("adjust_upper", n) in pen.rows:
        pen.wire((4.4, -0.25), foot, (7.2, _DOWN))
        pen.part("adjust_upper", n, (7.2, 0), (7.2, _DOWN))
        pen.dot((7.2, 0))
        pen.dot((7.2, _DOWN))
        pen.hang("adjust_lower", n, (7.2, _DOWN), 2 * _DOWN)
    else:
        pen.wire((4.4, -0.25), foot)
        pen.ground(foot)
    pen.dot((9.2, 0))
    pen.hang("regulator_output", n, (9.2, 0), _DOWN)
    pen.named_end((11.4, 0), output, "right")
    pen.note((11.6, -0.45), _hanging(design, output))


def _switch(pen: _SupplyPen, design: SupplyDesign, of: RailSwitch) -> None:
    """A rail that a transistor switches, with what pulls that down."""
    n, row = of.number, pen.row("rail_switch", of.number)
    pen.named_end((0, 0), of.source, "left")
    pen.wire((0, 0), (2.6, 0))
    pen.dot((1.0, 0))
    if of.by == "pnp":
        made = elm.BjtPnp().theta(90).at(pen.up((2.6, 0))).anchor("emitter")
        gate, out = pen.added(made, row, "base", "collector")
    else:
        made = elm.PFet().theta(-90).flip().at(pen.up((2.6, 0))).anchor("source")
        gate, out = pen.added(made, row, "gate", "drain")
    low: Point = (gate[0], -2.0)
    pen.part("rail_pull", n, (1.0, 0), (1.0, -2.0))
    pen.wire((1.0, -2.0), low)
    pen.wire(gate, low)
    pen.dot(low)
    pulled = low
    if of.by == "pnp":
        pulled = (low[0] + 2.2, low[1])
        pen.part("rail_control", n, low, pulled)
    driver = pen.row("rail_driver", n)
    pen.wire(pulled, (pulled[0], pulled[1] - 0.4))
    pulled = (pulled[0], pulled[1] - 0.4)
    made = elm.BjtNpn().theta(0).reverse().at(pen.up(pulled)).anchor("collector")
    base, foot = pen.added(made, driver, "base", "emitter", side="left")
    pen.ground(foot)
    pen.part("rail_base", n, base, (base[0] + 2.2, base[1]))
    pen.named_end((base[0] + 2.2, base[1]), f"{of.way} line", "right")
    pen.wire(out, (out[0] + 1.0, 0))
    pen.named_end((out[0] + 1.0, 0), of.node, "right")
    pen.note((out[0] + 1.2, -0.45), _hanging(design, of.node))


def _relay(pen: _SupplyPen, design: SupplyDesign, branch: Branch) -> None:
    """A relay's coil with what it is let go through and what drives it, and its contacts."""
    n = int(branch.part.which or 1)
    row, nodes = pen.row("relay", n), branch.nodes
    x = 3.2
    pen.named_end((0.6, 0), nodes[0], "left")
    pen.wire((0.6, 0), (x, 0))
    coil = elm.Inductor2().at(pen.up((x, 0))).to(pen.up((x, _DOWN)))
    pen.drawing.add(coil)
    asked = design.feeding.supply.relays[n - 1]
    volt, ohm = format_value(asked.coil_v, "V", 3), format_value(asked.coil_ohm, "Ω", 3)
    told = (*wrap(asked.name, _NARROW), f"{volt}, {ohm}")
    pen.note((0.7, -0.35), (row.ref, *told))
    low: Point = (x, _DOWN)
    if ("let_go_diode", n) in pen.rows:
        beside, middle = x + 1.6, 0.0
        pen.dot((x, 0))
        pen.wire((x, 0), (beside, 0))
        pen.wire(low, (beside, _DOWN))
        if ("let_go_zener", n) in pen.rows:
            middle = _DOWN / 2
            pen.typed("let_go_zener", n, (beside, 0), (beside, middle), elm.Zener, "bot")
        pen.typed("let_go_diode", n, (beside, _DOWN), (beside, middle), elm.Diode, "bot")
    if ("relay_driver", n) in pen.rows:
        pen.dot(low)
        pen.wire(low, (x, _DOWN - 0.5))
        low = (x, _DOWN - 0.5)
        made = elm.BjtNpn().theta(0).at(pen.up(low)).anchor("collector")
        base, foot = pen.added(made, pen.row("relay_driver", n), "base", "emitter")
        pen.ground(foot)
        pen.part("relay_base", n, (base[0] - 2.0, base[1]), base)
        source = design.nodes_of("relay_base", n)[0]
        pen.named_end((base[0] - 2.0, base[1]), source, "left")
    else:
        pen.wire(low, (low[0], _DOWN - 0.8))
        pen.named_end((low[0], _DOWN - 0.8), nodes[1], "right")
    for pole in range((len(nodes) - 2) // 3):
        common, closed, opened = nodes[2 + 3 * pole : 5 + 3 * pole]
        at: Point = (10.2, -0.4 - 2.2 * pole)
        made = elm.SwitchSpdt().theta(0).at(pen.up(at)).anchor("a")
        # At rest the arm points to the upper one.
        up, down = pen.anchors(pen.drawing.add(made), "c", "b")
        pen.named_end(at, common, "left")
        for node, end in ((closed, up), (opened, down)):
            pen.named_end(end, node, "right")
            pen.note((end[0] + 2.6, end[1]), _hanging(design, node, 60))


def _decoupling(pen: _SupplyPen, design: SupplyDesign, branch: Branch) -> None:
    """What keeps somebody's supply to itself."""
    n = branch.part.which
    x, start = 0.0, None
    for role in ("decoupling_choke", "decoupling_resistor"):
        if (role, n) in pen.rows:
            if start is None:
                start = design.nodes_of(role, n)[0]
                pen.named_end((0, 0), start, "left")
            pen.part(role, n, (x, 0), (x + 2.2, 0))  # type: ignore[arg-type]
            x += 2.2
    pen.wire((x, 0), (x + 1.6, 0))
    pen.dot((x, 0))
    pen.hang("decoupling_capacitor", n, (x, 0), _DOWN)
    pen.named_end((x + 1.6, 0), branch.nodes[0], "right")


def _hanging(design: SupplyDesign, node: str, at: int | None = None) -> list[str]:
    # A number stays beside its unit.
    told = (each.replace(" mA", "\u00a0mA").replace(" A", "\u00a0A") for each in told_of(design, node))
    return wrap(", ".join(told), _WIDE if at is None else at)
