"""Boards with islands: what is laid joins what the circuit joins, and nothing lies on anything else."""

from itertools import combinations, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.circuits.circuit import (
    GROUND,
    Branch,
    Circuit,
    CoupledCoils,
    Part,
    Port,
    Rail,
    Transformer,
    Transistor,
)
from core.model.bands import Band
from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.rig.board import placing
from core.rig.board.boards import board_of, boards
from core.rig.board.checks import LONGEST_M, LongLead, clashes, long_leads, misjoined, nets
from core.rig.board.items import Soldered, items_of
from core.rig.board.placing import automatic
from core.rig.board.plan import Box, Island, lead_key
from core.rig.start.new_rig import new_rig
from core.stages.kinds.table import KINDS
from core.stages.outcome import Unsolved
from core.trade.devices import devices

BARE = Soldered(rows={}, wound={}, kinds={}, watt={})


def laid(circuit, known=BARE):
    items = items_of(circuit, known)
    ports = tuple(dict.fromkeys(port.node for port in circuit.ports))
    return items, automatic(items, ports, tuple(rail.node for rail in circuit.rails))


def overlaps(plan):
    """Every pair of rectangles that overlap, by arithmetic of our own: bodies, islands, and bodies on
    islands that are not theirs.
    """

    def over(a, b):
        return min(a[2], b[2]) - max(a[0], b[0]) > 1e-6 and min(a[3], b[3]) - max(a[1], b[1]) > 1e-6

    bodies = [(each.item.ref, each.box, set(each.item.nodes)) for each in plan.bodies]
    found = [(a, b) for (a, one, _), (b, other, _) in combinations(bodies, 2) if over(one, other)]
    islands = [(each.key, each.box) for each in plan.islands]
    found += [(a, b) for (a, one), (b, other) in combinations(islands, 2) if over(one, other)]
    for ref, box, nodes in bodies:
        found += [(ref, i.key) for i in plan.islands if i.node not in nodes and over(box, i.box)]
    return found


nodes = st.sampled_from([GROUND, GROUND, "a", "b", "c", "d", "e", "f", "rail"])
VALUES = {
    "resistor": st.floats(10, 1e6),
    "capacitor": st.sampled_from([10e-12, 1e-9, 100e-9, 470e-9, 10e-6, 1e-3]),
    "inductor": st.floats(1e-7, 1e-3),
    "crystal": st.just(9e6),
}


@st.composite
def branches(draw, n):
    shape = draw(st.sampled_from(["two"] * 6 + ["transistor", "coils"]))
    if shape == "transistor":
        name = draw(st.sampled_from(["2n3904", "j310"]))
        return Branch(
            Transistor(f"Q{n}", devices()[name].model, "transistor", n), draw(st.tuples(*[nodes] * 3))
        )
    if shape == "coils":
        part = CoupledCoils(f"T{n}", 1e-6, 4e-6, 0.9, None, "output_transformer", n)
        return Branch(part, draw(st.tuples(*[nodes] * 4)))
    kind = draw(st.sampled_from(sorted(VALUES)))
    return Branch(
        Part(f"P{n}", kind, draw(VALUES[kind]), role="other", which=n), draw(st.tuples(nodes, nodes))
    )


@st.composite
def circuits(draw):
    count = draw(st.integers(1, 14))
    rows = tuple(draw(branches(n)) for n in range(count))
    ports = tuple(Port(node, 50.0) for node in draw(st.sampled_from([(), ("a",), ("a", "b"), ("b", "f")])))
    return Circuit(rows, ports, (Rail("rail", 12.0),))


@settings(max_examples=120)
@given(circuits())
def test_any_circuit_becomes_a_board_that_joins_what_it_joins(circuit):
    items, plan = laid(circuit)
    assert [body.item for body in plan.bodies] == list(items)
    assert len(items) == len(circuit.branches)
    assert overlaps(plan) == []
    assert clashes(plan) == ()
    assert misjoined(plan, items) == ()


@settings(max_examples=25)
@given(circuits())
def test_parts_that_find_no_place_get_islands_of_their_own(circuit):
    """As if nothing had room: wires then join what no lead reaches, and the board is right all the same."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(placing, "_REACHES", ())
        patched.setattr(placing, "placed", placing.placed.__wrapped__)
        items, plan = laid(circuit)
    assert overlaps(plan) == []
    assert misjoined(plan, items) == ()
    inner = [n for item in items for n in item.nodes if n != GROUND]
    assert len(plan.islands) > len(set(inner)) or not inner


def every_board(project):
    return boards(Analysis(project))


def joined_in(circuit):
    """Which leads the circuit joins, as sets of `part key.number`; links apart, which are on their coils, and
    a fuse, which is at the other end of its lead.
    """
    found = {}
    for branch in circuit.branches:
        if branch.part.role in ("stray", "link", "fuse"):
            continue
        which = "" if branch.part.which is None else f":{branch.part.which}"
        first = 1
        if branch.part.role == "potentiometer" and which:
            # Its track's halves meet at the wiper, the second lead of one body.
            first, which = branch.part.which, ""
        for n, node in enumerate(branch.nodes, first):
            found.setdefault(node, set()).add(f"{branch.part.role}{which}.{n}")
    return found


def leads_in(circuit):
    """What the leads of transistors and chips are called in the circuit, in its order, by their key."""
    return {
        f"{part.role}{'' if part.which is None else f':{part.which}'}": getattr(part, "leads", None)
        or part.device.leads
        for part in (branch.part for branch in circuit.branches)
        if hasattr(part, "device")
    } | {"potentiometer": ("1", "2, wiper", "3")}


def check(board):
    """That a board's netlist, read off where things lie, is the circuit's: no part missing, none joined that
    must not be.
    """
    read, back = nets(board.plan), {}
    orders = {item.key: item for item in board.items}
    for key, net in read.items():
        part, lead = key.rsplit(".", 1)
        item = orders[part]
        if item.electrodes:
            # In the order of the circuit: collector, base, emitter; a chip has pins that no circuit knows of.
            name, inside = item.electrodes[int(lead) - 1], leads_in(board.circuit)[part]
            if name not in inside:
                continue
            lead = inside.index(name) + 1
        # Pieces of one capacitor, and its trimmer, all stand where the circuit has it.
        back.setdefault(net, set()).add(f"{part.split('/')[0]}.{lead}")
    wanted = joined_in(board.circuit)
    links = {key for leads in back.values() for key in leads if key.endswith((".3", ".4"))}
    links = {key for key in links if "with" in orders[key.rsplit(".", 1)[0]].ref}
    for leads in back.values():
        leads -= links
    assert {frozenset(each) for each in back.values() if each} == {
        frozenset(each) for each in wanted.values()
    }
    assert back[GROUND] == wanted[GROUND]


BANDS = (
    Band(name="40m", low_hz=7.0e6, high_hz=7.2e6, sideband="lower", scheme="sum"),
    Band(name="20m", low_hz=14.0e6, high_hz=14.35e6, sideband="upper", scheme="sum"),
)


@pytest.fixture(scope="module")
def rigs(sample, muddle):
    return {"sample": sample, "muddle": muddle, "new": new_rig(BANDS, 9e6)}


@pytest.mark.parametrize("name", ["sample", "muddle", "new"])
def test_every_stage_becomes_a_board_equal_to_its_circuit(rigs, name):
    found = every_board(rigs[name])
    assert len(found) >= 5
    for board in found:
        check(board)
        assert overlaps(board.plan) == [], board.title
        assert clashes(board.plan) == (), board.title
        assert misjoined(board.plan, board.items) == (), board.title
        assert board.plan.crossings == (), board.title


def test_transistor_arrays_leave_half_the_crossings_to_the_builder(sample):
    """Six transistors whose collectors are joined crosswise: 27 pairs of leads crossed on these four boards
    as long as what crosses was laid once more near its place, and leads over bodies counted alike.
    """
    rig = sample
    for stage in ("mixer", "detector"):
        rig = rig.edited(("stages", stage, "type"), "transistor_array")
    without = rig
    for stage in ("mixer", "detector"):
        without = without.edited(("stages", stage, "degeneration_ohm"), 0.0)
    found = [board_of(Analysis(each), stage) for each in (rig, without) for stage in ("mixer", "detector")]
    for board in found:
        check(board)
        assert board.clashes == ()
        assert misjoined(board.plan, board.items) == ()
    assert sum(len(board.plan.crossings) for board in found) <= 13
    # Nor are more leads too long for it: there were 31.
    assert sum(len(board.long_leads) for board in found) <= 23


@pytest.mark.parametrize("word", sorted(KINDS))
def test_every_kind_of_stage_that_has_a_circuit_becomes_a_board(sample, word):
    stage = KINDS[word].default(sample.bands, sample.if_hz).edited(("id",), "probe")
    rig = sample.stage_inserted(0, stage)
    design = Analysis(rig).design("probe", "20m")
    if KINDS[word].making is None or isinstance(design, Unsolved):
        with pytest.raises(DesignError):
            board_of(Analysis(rig), "probe")
        return
    board = board_of(Analysis(rig), "probe", "20m")
    drawn = " ".join(item.ref for item in board.items).split()
    parts = (branch.part for branch in design.circuit.branches)
    assert {part.ref for part in parts if part.role != "stray"} <= set(drawn)
    assert overlaps(board.plan) == []
    assert board.clashes == board.long_leads == ()
    assert misjoined(board.plan, board.items) == ()


def test_the_halves_of_a_bilateral_amplifier_lie_below_one_another_and_two_wires_join_them(sample):
    """A wire at either terminal; the rest are the supplies' own."""
    stage = KINDS["bilateral_amplifier"].default(sample.bands, sample.if_hz).edited(("id",), "pair")
    board = board_of(Analysis(sample.stage_inserted(0, stage)), "pair")
    signal = [wire for wire in board.plan.wires if wire.node not in board.rails]
    assert {wire.node for wire in signal} == set(board.ports)
    assert len(signal) == 2
    rows = {body.item.ref: body.place.y_m for body in board.plan.bodies}
    assert rows["C1"] < rows["RE1"] < rows["C4"] < rows["RE4"]


@pytest.mark.parametrize(
    ("shift", "part", "ends"), [("parallel", "CT20m", {"tank"}), ("series", "CB20m", {"shifted"})]
)
def test_what_the_vfo_switches_in_on_a_band_ends_at_an_island_of_its_own(sample, shift, part, ends):
    """Where the band switch is wired to; the tank has neither strays nor what the transistor does to it."""
    rig = sample.edited(("bands", "20m", "vfo_shift"), shift)
    board = board_of(Analysis(rig), "vfo")
    item = next(item for item in board.items if item.ref == part)
    assert set(item.nodes) == ends | {"switch 20m"}
    assert "switch 20m" in {island.node for island in board.plan.islands}
    assert {"Q1", "CD1", "RG"} <= {item.ref for item in board.items}
    assert not {"input", "feed-through", "stray"} & {item.ref for item in board.items}
    check(board)
    assert board.clashes == ()


def test_a_resonators_capacitor_is_a_fixed_one_with_a_trimmer_across(sample):
    """As the parts list says, and together they reach the value; one as built is one piece."""
    analysis = Analysis(sample)
    board = board_of(analysis, "band_pass", "20m")
    row = next(row for row in analysis.design("band_pass", "20m").parts if row.ref == "C1")
    (fixed,), (low, high) = row.pieces, row.trimmer_f
    assert fixed + low < row.fitted < fixed + high
    bodies = [item for item in board.items if "C1" in (item.of, item.ref)]
    assert [item.package.package for item in bodies] == ["ceramic_small", "trimmer"]
    told = [f"{1e12 * fixed:g} pF", f"{1e12 * low:g} pF to {1e12 * high:g} pF"]
    assert [board.values[item.key] for item in bodies] == told
    assert told[0] in row.note
    fitted = sample.edited(("stages", "band_pass", "filters", 0, "as_built"), {"resonator:1": 52e-12})
    board = board_of(Analysis(fitted), "band_pass", "20m")
    assert [board.values[item.key] for item in board.items if "C1" in (item.of, item.ref)] == ["52 pF"]


def test_capacitors_in_parallel_are_so_many_bodies(sample):
    paired = sample.edited(("stages", "ladder", "capacitors"), "E12_pairs")
    analysis = Analysis(paired)
    rows = {row.ref: row for row in analysis.design("ladder", "20m").parts}
    board = board_of(analysis, "ladder")
    two = [ref for ref, row in rows.items() if len(row.pieces) == 2]
    assert two
    for ref in two:
        bodies = [item for item in board.items if ref in (item.of, item.ref)]
        assert len(bodies) == 2
        told = [float(board.values[item.key].split()[0]) for item in bodies]
        assert sum(told) == pytest.approx(1e12 * rows[ref].fitted, rel=0.01)
        assert len({item.nodes for item in bodies}) == 1
    check(board)
    assert clashes(board.plan) == ()


def test_a_link_is_wound_on_its_coil_and_its_leads_go_where_the_circuit_has_them(sample):
    linked = sample
    for n in range(2):
        linked = linked.edited(("stages", "band_pass", "filters", n, "ends"), "link")
    board = board_of(Analysis(linked), "band_pass", "20m")
    one = next(item for item in board.items if "with" in item.ref)
    assert one.ref == "L1 with T1"
    assert one.nodes == ("2", GROUND, "1", GROUND)
    assert misjoined(board.plan, board.items) == ()


def test_a_ladder_lies_in_a_straight_line_with_its_cans_grounded(sample):
    board = board_of(Analysis(sample), "ladder")
    crystals = [body for body in board.plan.bodies if body.item.package.can]
    assert len(crystals) == 8
    assert len({body.place.y_m for body in crystals}) == 1
    assert all(b.place.x_m > a.place.x_m for a, b in pairwise(crystals))
    for body in crystals:
        can = [lead for lead in body.leads if lead.can]
        assert len(can) == 1
        assert not any(island.box.holds(can[0].end) for island in board.plan.islands)


def test_input_and_output_lie_at_opposite_ends(rigs):
    for project in rigs.values():
        for board in every_board(project):
            if len(board.ports) < 2:
                continue
            at = {island.node: island.box.middle[0] for island in board.plan.islands}
            first, last = at[board.ports[0]], at[board.ports[-1]]
            assert first < last
            if len(board.ports) == 3:
                # What hangs on a mixer's transformers reaches out to either side.
                continue
            others = [x for node, x in at.items() if node not in (*board.ports, *board.rails)]
            assert all(first <= x <= last for x in others), board.title


def test_neighbouring_coils_lie_at_right_angles(sample):
    for stage in ("low_pass", "band_pass"):
        board = board_of(Analysis(sample), stage, "20m")
        coils = sorted((b for b in board.plan.bodies if b.item.coil), key=lambda b: b.item.key.split(":")[-1])
        assert len(coils) == 3
        for a, b in pairwise(coils):
            assert (a.place.turned - b.place.turned) % 2 == 1


def test_rails_are_a_line_of_islands_above_joined_by_wires(sample):
    board = board_of(Analysis(sample), "driver")
    rails = [i for i in board.plan.islands if i.node == "supply"]
    assert len(rails) == 2
    assert len({i.box.top for i in rails}) == 1
    others = [i for i in board.plan.islands if i.node in board.ports]
    assert all(r.box.bottom < o.box.top for r in rails for o in others)
    assert len(board.plan.wires) == 1


def test_automatic_boards_have_short_leads(rigs):
    """Against the simplest choice, every part halfway between the islands where it is joined: no lead of the
    samples' amplifiers and filters is longer than a builder would have it.
    """
    for project in rigs.values():
        for board in every_board(project):
            # Wires of the VFO go to its tuning capacitor, those of the supply carry direct current.
            if board.stage not in ("vfo", "supply"):
                assert long_leads(board.plan) == (), board.title


def test_an_island_is_as_wide_as_its_leads_need(sample):
    board = board_of(Analysis(sample), "driver")
    wide = {i.node: i.box.right - i.box.left for i in board.plan.islands}
    # Five parts meet at the base, two at the input.
    assert wide["b"] == pytest.approx(8e-3) == pytest.approx(5e-3 + 2 * 1.5e-3)
    assert wide["in"] == pytest.approx(5e-3)


def test_resistors_are_as_large_as_their_heat_wants(sample):
    """The output follower's emitter lies at some 8.2 V: 8.2² / 300 ohm is 0.22 W, which a quarter-watt
    resistor does not bear twice; 200 ohm with 15 mA make 45 mW.
    """
    items = {item.ref: item for item in board_of(Analysis(sample), "if_amplifier_1").items}
    assert items["RE3"].package.package == "resistor_half"
    assert items["RE1"].package.package == "resistor_quarter"


def test_a_transistor_stands_with_its_leads_in_their_order(sample):
    items = {item.ref: item for item in board_of(Analysis(sample), "if_amplifier_1").items}
    assert items["Q1"].electrodes == ("emitter", "base", "collector")
    assert items["Q1"].nodes == ("e", "b", "c")


@given(st.tuples(*[st.floats(-5, 5)] * 4), st.tuples(*[st.floats(-5, 5)] * 4))
def test_a_line_is_cut_by_a_box_as_a_walk_along_it_says(corners, line):
    left, right = sorted(corners[::2])
    top, bottom = sorted(corners[1::2])
    box = Box(left, top, right, bottom)
    a, b = line[:2], line[2:]
    walk = [(a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])) for t in (n / 200 for n in range(201))]
    if any(box.grown(-1e-6).holds(p) for p in walk if box.size[0] > 1e-5 and box.size[1] > 1e-5):
        assert box.cut_by(a, b)
    if not box.cut_by(a, b):
        assert not any(box.grown(-1e-9).holds(p) for p in walk if min(box.size) > 1e-6)


def test_an_island_is_named_by_a_lead_that_lands_on_it(sample):
    board = board_of(Analysis(sample), "driver")
    leads = {lead_key(item, n): node for item in board.items for n, node in enumerate(item.nodes)}
    assert isinstance(board.plan.islands[0], Island)
    for island in board.plan.islands:
        assert leads[island.key] == island.node


def test_a_transformer_of_four_leads_keeps_its_windings_apart():
    circuit = Circuit(
        (Branch(Transformer("T1", 2.0, "match_transformer", 1), ("a", GROUND, "b", GROUND)),),
        (Port("a", 50.0), Port("b", 200.0)),
    )
    items, plan = laid(circuit)
    read = nets(plan)
    assert read["match_transformer:1.1"] != read["match_transformer:1.3"]
    assert read["match_transformer:1.2"] == read["match_transformer:1.4"] == GROUND
    assert misjoined(plan, items) == ()


@pytest.mark.parametrize(
    ("length_m", "told"),
    [
        (18.2e-3, "18 mm long, 15 mm at most"),
        (15.3e-3, "15.3 mm long, 15 mm at most"),
        (15.01e-3, "longer than 15 mm"),
    ],
)
def test_a_long_lead_is_told_longer_than_its_limit(length_m, told):
    lead = LongLead(key="Q1", ref="Q1", length_m=length_m, limit_m=LONGEST_M)
    assert lead.sentence == f"A lead of Q1 is {told}; move it nearer to its island."
