"""The supply as one circuit of parts: what it does, who hangs on it, and what it is made of."""

import re
from math import inf

import numpy as np
import pytest

from core.circuits.circuit import GROUND, Hardware, Part
from core.circuits.devices.hardware import Joined, Regulating
from core.circuits.nodal import solve
from core.model.notebook.junk_box import CapacitorOnHand, RelayOnHand
from core.model.supply.supply import Decoupling, Load, Regulator, Relay
from core.rig.analysis import Analysis
from core.rig.board.boards import board_of
from core.rig.paper.export import netlist_of
from core.rig.paper.parts_list import parts_list
from core.rig.supply.by_table import adjusting
from core.rig.supply.consumers import feeding
from core.rig.supply.parts import relay_facts
from core.rig.supply.rails import RIG
from core.rig.supply.soldered import supply_soldered, told_of
from core.rig.supply.state import state
from core.rig.workshop.test_points import points_of
from core.stages.outcome import Unsolved
from core.trade.series import preferred


def made_of(rig):
    made = supply_soldered(Analysis(rig))
    assert made is not None
    return made


def volts(made, way):
    """Voltages of a supply by a nodal solution of our own: resistances, loads, and what regulators hold,
    whose currents are those of what hangs on them. A driver whose relay is on holds its coil at ground; what
    other transistors take is left out.
    """
    circuit, at = made.on(way), state(made.feeding, made.feeding.nominal_v, way, full=False)
    nodes = [node for node in circuit.nodes if node != GROUND]
    matrix, known = np.zeros((len(nodes), len(nodes))), np.zeros(len(nodes))

    def between(a, b, siemens):
        for one, other in ((a, b), (b, a)):
            if one != GROUND:
                matrix[nodes.index(one), nodes.index(one)] += siemens
                if other != GROUND:
                    matrix[nodes.index(one), nodes.index(other)] -= siemens

    on = {n for n, each in enumerate(made.feeding.supply.relays, 1) if each.powered in ("both", way)}
    regulated = iter(at.regulators)
    for branch in circuit.branches:
        part, ends = branch.part, branch.nodes
        if isinstance(part, Part) and part.kind in ("resistor", "inductor"):
            between(*ends, 1 / part.value if part.kind == "resistor" else 1e5)
        elif part.role == "relay_driver" and part.which in on:
            between(ends[0], GROUND, 1e5)
        elif isinstance(part, Hardware) and isinstance(part.device, Joined):
            for a, b, ohm in part.device.through:
                between(ends[a], ends[b], 1 / max(ohm, 1e-5))
        elif isinstance(part, Hardware) and isinstance(part.device, Regulating):
            one = next(regulated)
            known[nodes.index(ends[0])] -= one.load_a + one.own_a
            between(ends[1], GROUND, 1e6)
            known[nodes.index(ends[1])] += 1e6 * one.output_v
    source, *loads = circuit.ports
    between(source.node, GROUND, 1 / source.ohm)
    known[nodes.index(source.node)] += made.feeding.nominal_v / source.ohm
    for load in loads:
        between(load.node, GROUND, 0.0 if load.ohm == inf else 1 / load.ohm)
    found = np.linalg.solve(matrix + 1e-9 * np.eye(len(nodes)), known)
    return dict(zip(nodes, found.tolist(), strict=True))


@pytest.mark.parametrize("way", ["receive", "transmit"])
@pytest.mark.parametrize("name", ["tern", "muddle"])
def test_the_circuit_comes_to_the_voltages_that_the_supplys_tables_tell(request, name, way):
    made = made_of(request.getfixturevalue(name).edited(("supply", "polarity", "scheme"), "p_mosfet"))
    at, found = state(made.feeding, 13.8, way, full=False), volts(made, way)
    assert made.feeding.nominal_v == 13.8
    # What the switches of rails drop takes a hair off the currents, and the pull-up resistors add one.
    assert found[RIG] == pytest.approx(at.rig_v, abs=3e-3)
    for each in at.regulators:
        assert found[each.regulator.name] == pytest.approx(each.output_v, abs=1e-3)
    switched = [rail for rail in made.switches if rail.by == "mosfet"]
    assert {rail.way for rail in switched} == {"receive", "transmit"}
    for rail in switched:
        told = found[rail.source] - rail.rest_lost_v if rail.way == way else 0.0
        assert found[rail.node] == pytest.approx(told, abs=2e-3)


def test_everybody_who_is_fed_hangs_on_a_node_that_is_on_when_he_is(tern, muddle):
    for rig in (tern, muddle):
        made = made_of(rig)
        fed = {each.name: each for each in made.hanging}
        assert set(fed) == {one.name for one in made.feeding.consumers if any(one.powered)}
        nodes = {node for branch in made.branches for node in branch.nodes}
        assert {each.node for each in made.hanging} <= nodes
        for rail in made.switches:
            for each in made.on_node(rail.node):
                assert each.ways == (rail.way == "receive", rail.way == "transmit")
    assert any("Mic amplifier" in each for each in told_of(made, "rig transmit"))
    # Behind a choke and a resistor of his own, too.
    behind = Load(name="Carrier", of="carrier", receive_a=5e-3, decoupling=Decoupling(choke_h=100e-6))
    made = made_of(tern.edited(("supply", "loads"), (behind,)))
    assert told_of(made, "8 V")[1:] == ("Carrier oscillator 5 mA",)


def test_resistors_of_an_adjustable_regulator_come_nearer_than_the_usual_one_alone():
    """1.25 V (1 + R2/R1) + 50 µA R2, R2 of E24: against R1 of 240 Ω alone."""
    off, usually_off = [], []
    for volt in (3.3, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0):
        upper, lower, gives = adjusting(Regulator(type="317", output_v=volt))
        assert gives == pytest.approx(1.25 * (1 + lower / upper) + 50e-6 * lower)
        plain = preferred((volt - 1.25) / (1.25 / 240 + 50e-6), "E24")
        usual = 1.25 * (1 + plain / 240) + 50e-6 * plain
        off.append(abs(gives / volt - 1))
        usually_off.append(abs(usual / volt - 1))
        assert off[-1] <= usually_off[-1] + 1e-12
    assert max(off) < 0.03
    assert sum(off) < 0.7 * sum(usually_off)


def test_a_relay_that_switches_supplies_stands_as_it_is_on(tern):
    relay = Relay(switches="antenna_and_supplies", suppressor="diode_and_zener")
    made = made_of(tern.edited(("supply", "relays"), (relay,)))
    assert {(each.node, each.by) for each in made.switches if each.source == RIG} == {
        ("rig receive", "relay"),
        ("rig transmit", "relay"),
    }
    for way in ("receive", "transmit"):
        (branch,) = [b for b in made.on(way).branches if b.part.role == "relay"]
        joined = {frozenset((branch.nodes[a], branch.nodes[b])) for a, b, _ in branch.part.device.through}
        assert frozenset((RIG, f"rig {way}")) in joined
        assert len(joined) == 3
    # The diode lets the coil's current on into the Zener diode, whose cathode it meets.
    (diode,), (zener,) = made.of_role("let_go_diode"), made.of_role("let_go_zener")
    assert diode.nodes[1] == zener.nodes[1]
    assert diode.nodes[0] == made.of_role("relay")[0].nodes[1]


@pytest.mark.parametrize(("full_v", "sold_v"), [(13.8, 13), (14.4, 15)])
def test_a_zener_diode_that_lets_a_coil_go_is_one_that_is_sold(tern, full_v, sold_v):
    rig = tern.edited(("supply", "relays"), (Relay(suppressor="diode_and_zener"),))
    made = made_of(rig.edited(("supply", "source", "full_v"), full_v))
    (zener,) = made.parts_of("let_go_zener", 1)
    assert zener.type == f"Zener {sold_v} V, 1.3 W"
    (facts,) = relay_facts(made.feeding)
    assert facts.let_go_v == pytest.approx(full_v + sold_v + 0.7)


def test_the_drivers_base_gets_a_twentieth_of_the_coils_current(tern):
    made = made_of(tern)
    (row,) = made.parts_of("relay_base", 1)
    assert row.designed == pytest.approx((13.8 - 0.7) / (13.8 / 360 / 20))
    assert row.preferred == 6.8e3
    heavy = made_of(tern.edited(("supply", "relays", 0, "coil_ohm"), 90.0))
    assert heavy.parts_of("relay_driver", 1)[0].type == "2N2222A"


def test_capacitors_on_hand_that_are_large_enough_come_first(tern):
    box = (
        CapacitorOnHand(capacitance_f=1000e-6, type="other", count=1),
        CapacitorOnHand(capacitance_f=220e-6, type="other", count=3),
        CapacitorOnHand(capacitance_f=470e-9, type="other", count=1),
    )
    rig = tern.edited(("junk_box", "parts"), box).edited(("junk_box", "first"), True)
    plain, mine = made_of(tern), made_of(rig)

    def values(made, role):
        return [(row.designed, row.preferred) for row in made.parts if row.role == role]

    assert values(plain, "smoothing") == [(470e-6, 470e-6)]
    assert values(mine, "smoothing") == [(470e-6, 1000e-6)]
    # One of the two regulators gets the only larger one.
    assert values(mine, "regulator_input") == [(330e-9, 470e-9), (330e-9, 330e-9)]
    # Of enough that the stages before it leave some.
    many = tuple(each.edited(("count",), 20) for each in box)
    counts = [
        sum(each.on_hand for each in parts_list(Analysis(one)) if each.stage == "supply")
        for one in (tern, rig.edited(("junk_box", "parts"), many))
    ]
    assert counts == [0, 3]


@pytest.mark.parametrize(
    ("contacts", "coil_v", "found"),
    [
        ("2 change-over", 12.0, 1),
        ("two poles", 12.0, 1),
        ("", 12.0, 0),
        ("2 change-over", 5.0, 0),
        # Ten amperes are no ten contacts.
        ("1 change-over, 10 A", 12.0, 0),
        ("12 V, 1 change-over", 12.0, 0),
        ("12 V, 2CO, 1 A", 12.0, 1),
    ],
)
def test_a_relay_on_hand_needs_coil_and_contacts(tern, contacts, coil_v, found):
    rig = tern.edited(("supply", "relays"), (Relay(switches="antenna_and_supplies"),))
    rig = rig.edited(("junk_box", "parts"), (RelayOnHand(coil_v=coil_v, contacts=contacts, count=2),))
    (line,) = [each for each in parts_list(Analysis(rig)) if each.part.kind == "relay"]
    assert (line.on_hand, line.to_buy) == (found, 1 - found)


def test_the_netlist_has_every_part_and_finds_its_operating_point(tern):
    rig = tern.edited(("supply", "loads", 0, "decoupling"), Decoupling())
    made = made_of(rig)
    text = netlist_of(Analysis(rig), "supply", "20m", "transmit")
    assert "\n.op\n" in text
    names = {line.split()[0].lower() for line in text.splitlines() if line[:1] not in "*."}
    open_in_transmit = {rail.number for rail in made.switches if rail.way == "receive"}
    for row in made.parts:
        gone = row.kind == "connector" or (row.role == "rail_switch" and row.which in open_in_transmit)
        # One of them reads `rk1` as the relay's first path does; all have the reference behind a letter.
        assert any(name[2:].split("_")[0] == row.ref.lower() for name in names) != gone, row.ref
    assert re.search(r"^V_line_transmit_line transmit_line 0 DC 13\.8$", text, re.MULTILINE)
    assert re.search(r"^V_line_receive_line receive_line 0 DC 0\.0$", text, re.MULTILINE)


def test_no_signal_is_solved_through_a_supply(tern):
    found = solve(made_of(tern).circuit, [1e6])
    assert isinstance(found, Unsolved)
    assert "stands in a supply" in found.reason


def test_the_supplys_test_points_are_its_tables_numbers(tern):
    analysis = Analysis(tern)
    of, points = feeding(analysis), {each.key: each for each in points_of(analysis)}
    heard, sent = (state(of, 13.8, way, full=False) for way in ("receive", "transmit"))
    assert points["supply/rig/receive"].dc_v == heard.rig_v
    assert points["supply/rig/transmit"].dc_v == sent.rig_v
    assert points["supply/current/receive"].dc_a == heard.total_a
    assert points["supply/current/transmit"].dc_a == sent.total_a
    assert points["supply/regulator:1"].dc_v == 8.0
    assert points["supply/relay:1/transmit"].dc_v == sent.rig_v
    assert "supply/relay:1/receive" not in points
    rail = points["supply/rail:2/transmit"]
    assert rail.words == "rig transmit rail"
    # Of the rail's current 117 mΩ of the MOSFET take their share.
    carried = sum(each.ampere for each in sent.fed if each.name in ("Power amplifier", "Driver"))
    assert sent.rig_v - rail.dc_v > 0.117 * carried
    adjusted = Analysis(tern.edited(("supply", "regulators", 0, "type"), "317"))
    points = {each.key: each for each in points_of(adjusted)}
    assert points["supply/regulator:1"].dc_v == adjusting(adjusted.project.supply.regulators[0])[2] != 8.0


def test_the_board_tells_that_makers_differ_where_they_do(tern):
    board = board_of(Analysis(tern.edited(("supply", "regulators", 0, "type"), "low_drop")), "supply")
    told = {item.key: item.told for item in board.items}
    assert told["regulator:1"] == "order of its leads not known"
    assert told["regulator:2"] == ""
    assert all(item.key != "fuse" for item in board.items)


@pytest.mark.parametrize("name", ["0", "rig", "source", "lead", "gate", "receive line"])
def test_a_rail_that_is_called_like_a_node_of_the_circuit_is_joined_with_nothing(tern, name):
    """A builder may call a rail whatever comes to mind; its node is no other's."""
    plain, named = made_of(tern), made_of(tern.edited(("supply", "regulators", 0, "name"), name))
    before, after = ([branch.nodes for branch in made.branches] for made in (plain, named))
    other = {
        old: new for one, two in zip(before, after, strict=True) for old, new in zip(one, two, strict=True)
    }
    assert len(set(other.values())) == len(other)
    assert other[GROUND] == GROUND
    assert [row.ref for row in plain.parts] == [row.ref for row in named.parts]


@pytest.mark.parametrize("supply_v", [0.01, 0.69, 0.71])
def test_a_supply_no_higher_than_a_junction_has_a_circuit_all_the_same(muddle, supply_v):
    """Nothing is switched from it, which the voltages tell; its parts are still some that can be had."""
    relays = tuple(each.edited(("driven_by",), "transistor") for each in muddle.supply.relays)
    rig = muddle.edited(("station", "supply_v"), supply_v).edited(("supply", "relays"), relays)
    made = supply_soldered(Analysis(rig))
    bases = [row for row in made.parts if row.role == "relay_base"]
    assert len(bases) == len(relays) > 0
    assert all(row.fitted >= 1.0 for row in bases)
    assert netlist_of(Analysis(rig), "supply", "40m", "receive")
