"""Bilateral pairs: both gains asked are had with the other half off, and what is fed is what amplifies."""

import numpy as np
import pytest

from core.circuits.active.linear import linear
from core.circuits.active.two_port import TwoPort, parallel, two_port
from core.circuits.circuit import Circuit, Port, Rail
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.model.stages.built_amplifier import BuiltAmplifier
from core.stages.amplifiers import design as single
from core.stages.amplifiers.figures import figures, stability
from core.stages.amplifiers.pair import OTHER, PairDesign, amplifiers_in, design, ring
from core.stages.outcome import Unsolved


def asked(receive_db=16.0, transmit_db=16.0, **fields):
    given = {"current_a": 13e-3, "designed_at_hz": 9e6} | fields
    return BilateralAmplifier(
        id="pair", name="Pair", receive_gain_db=receive_db, transmit_gain_db=transmit_db, **given
    )


def made(*gains, **fields):
    found = design(asked(*gains, **fields))
    assert isinstance(found, PairDesign), found
    return found


@pytest.mark.parametrize(
    ("receive_db", "transmit_db"),
    # What a builder wants: some 10 dB at RF, 21 to 24 dB at the IF; common practice, no source.
    [(10, 10), (21, 21), (24, 21), (21, 24), (24, 10), (10, 16)],
)
def test_either_gain_and_impedance_asked_are_had(receive_db, transmit_db):
    found = made(receive_db, transmit_db)
    for amplifier, gain_db in zip(amplifiers_in(found), (receive_db, transmit_db), strict=True):
        got = figures(amplifier, 9e6)
        assert got.gain_db == pytest.approx(gain_db, abs=0.35)
        assert got.input_return_loss_db > 15
        assert got.output_return_loss_db > 15
        assert stability(amplifier).least_mu > 1
        assert [each.output_a > 1e-3 for each in got.transistors] == (
            [True] * 3 + [False] * 3 if amplifier.way == "receive" else [False] * 3 + [True] * 3
        )


def test_the_unfed_half_is_counted_with_and_made_up_for():
    """43 and 330 ohm behind the antenna's terminal take half a decibel and more of one made for itself."""
    alone = single.design(BuiltAmplifier(id="a", name="A", gain_db=21.0, current_a=13e-3, designed_at_hz=9e6))
    found = made(21.0, 21.0)
    values = {row.key: row.fitted for row in alone.parts if row.kind == "resistor"}

    def numbered(key, n):
        role, _, which = key.partition(":")
        return f"{role}:{int(which) + 3 * n if which else n + 1}"

    plain = {numbered(key, n): value for key, value in values.items() for n in (0, 1)}
    as_alone = made(21.0, 21.0, as_built=tuple(plain.items()))
    missed = 21.0 - figures(as_alone.receive, 9e6).gain_db
    assert missed > 0.5
    assert abs(21.0 - figures(found.receive, 9e6).gain_db) < 0.3
    # The terminals of an unfed half by hand: RO + RE3 at the output, at low frequency.
    half = Circuit(
        found.halves["transmit"],
        (Port("audio_side", 50.0), Port("antenna_side", 50.0)),
        (Rail("transmit_supply", 0.0),),
    )
    off = two_port(half, [1e6])
    rows = found.rows("transmit")
    told = rows["output_resistor", None].fitted + rows["emitter", 3].fitted
    assert off.output_ohm(50.0)[0].real == pytest.approx(told, rel=0.02)


def test_two_halves_in_parallel_are_the_whole_circuit():
    """Admittances and noise currents of the halves add up to what the circuit of both gives in one matrix."""
    found, f = made(21.0, 12.0), np.geomspace(1e6, 60e6, 7)
    for way in OTHER:
        ends = tuple(found.on(way).circuit.ports)
        halves = [
            two_port(Circuit(found.halves[half], ends, (Rail(f"{half}_supply", 12.0 * (half == way)),)), f)
            for half in OTHER
        ]
        whole, joined = two_port(found.on(way).circuit, f), parallel(*halves)
        assert isinstance(whole, TwoPort)
        np.testing.assert_allclose(joined.s(50.0), whole.s(50.0), rtol=1e-9)
        np.testing.assert_allclose(joined.noise_figure_db(50.0), whole.noise_figure_db(50.0), rtol=1e-9)


def test_references_are_not_repeated_and_values_as_built_are_of_one_half():
    found = made(21.0, 10.0)
    refs = [row.ref for row in found.parts]
    assert len(set(refs)) == len(refs) == 32
    assert {branch.part.ref for branch in found.circuit.branches} == set(refs)
    other = made(21.0, 10.0, as_built=(("degeneration:2", 100.0),))
    assert figures(other.receive, 9e6).gain_db == pytest.approx(figures(found.receive, 9e6).gain_db, abs=0.05)
    assert figures(other.transmit, 9e6).gain_db < figures(found.transmit, 9e6).gain_db - 5


def test_what_it_draws_is_that_of_the_half_that_is_fed():
    found = made(21.0, 10.0)
    for way in OTHER:
        rails = found.on(way).rest.rails_a
        assert rails[f"{way}_supply"] == pytest.approx(47.6e-3, abs=1e-3)
        assert abs(rails[f"{OTHER[way]}_supply"]) < 1e-9
        assert found.on(way).supply_a == pytest.approx(rails[f"{way}_supply"])


def test_the_ring_is_the_product_of_both_ways():
    """Between matched ends once round is S21 of one half times S21 of the other; and what Y12 makes of it."""
    found = made(10.0, 16.0)
    got = ring(found)
    # Each half is loaded by the other's input and output too, which take some 6 dB each of 26.
    assert got.both_db == pytest.approx(26.0 - 12.0, abs=9.0)
    assert got.both_db > 0
    for way in OTHER:
        level, at_hz = got.on(way)
        assert level < -25
        port = two_port(found.on(way).circuit, [at_hz])
        s = port.s(50.0)[..., 0]
        # Y12 Y21 / (Ya Yb) of the whole and S12 S21 / ((1 + S11)(1 + S22) − S12 S21) are the same.
        told = s[0, 1] * s[1, 0] / ((1 + s[0, 0]) * (1 + s[1, 1]))
        assert level == pytest.approx(20 * np.log10(told.real), abs=0.05)


@pytest.mark.parametrize(("gain_db", "howls"), [(24.0, True), (10.0, True), (3.0, True), (2.0, False)])
def test_both_fed_have_a_pole_to_the_right_where_the_loop_gain_says_so(gain_db, howls):
    """Roots of det(G + sC) of the whole circuit: an eigenvalue problem without any frequency."""
    found = made(gain_db, gain_db)
    assert (ring(found).both_db >= 0) == howls
    branches = found.halves["receive"] + found.halves["transmit"]
    rails = tuple(Rail(f"{way}_supply", 12.0) for way in OTHER)
    both = linear(Circuit(branches, found.circuit.ports, rails))
    assert growing(both) == howls
    # With one half fed every pole decays.
    for way in OTHER:
        assert not growing(linear(found.on(way).circuit))
        assert ring(found).on(way)[0] < 0


def growing(around):
    g = (around.passive[0] + around.active[0]).real.copy()
    c = (around.passive[1] + around.active[1]).real
    for port, ohm in zip(around.ports, around.port_ohm, strict=True):
        g[port, port] += 1 / ohm
    # C is singular where a node has no capacitance: of 1/s the finite ones stay.
    inverse = -np.linalg.eigvals(np.linalg.solve(g, c))
    poles = 1 / inverse[np.abs(inverse) > 1e-16]
    return bool((poles.real > 1.0).any())


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"device": "j310"}, "bipolar"),
        ({"supply_v": 3.0}, "too little"),
        ({"receive_db": 40.0}, "In receive"),
        ({"transmit_db": 40.0}, "In transmit"),
    ],
)
def test_one_that_cannot_be_made_says_why(fields, words):
    found = design(asked(**fields))
    assert isinstance(found, Unsolved)
    assert words in found.reason
    assert found.reason.endswith(".")


def test_where_the_unfed_half_begins_to_conduct():
    """0.6 V at a base behind the terminal: some +5.6 dBm in 50 ohm (0.6²/2/50 = 3.6 mW)."""
    got = figures(made(16.0, 16.0).receive, 9e6)
    assert got.unfed_dbm == pytest.approx(10 * np.log10(0.6**2 / 2 / 50 / 1e-3), abs=0.3)
    assert figures(single.design(BuiltAmplifier(id="a", name="A", current_a=13e-3)), 9e6).unfed_dbm is None
    # What ends class A is a transistor that is fed.
    assert got.first_limit.startswith("Q3")
