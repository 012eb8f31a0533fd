"""A receiver's path as one noisy chain, against Friis, one matrix, scikit-rf and printed figures."""

from math import log10

import numpy as np
import pytest
import skrf
from hypothesis import given
from hypothesis import strategies as st

from core.circuits.active.along import along
from core.circuits.active.two_port import block, cascade, of_ladder, pad
from core.circuits.ladder import Arm, Network, Part, chain, solve
from core.circuits.units import T0_KELVIN
from core.rig.levels.blocks import SIGNAL, TONES, Block
from core.rig.levels.chain import chain as chain_of
from core.rig.levels.chain import noise_shares
from core.rig.levels.own_noise import noise_figure_db, own_noise
from tests.published.amplifiers import amplifier, ladder_of_six, solved


def made_of(name, port=None, kind="amplifier", zone="if", gain=0.0, noise=0.0, **more) -> Block:
    """A stage of a two-port, or of figures alone."""
    return Block(
        stage=name, name=name, kind=kind, zone=zone, gain_db=gain, noise_figure_db=noise, port=port, **more
    )


def at(tones_hz):
    """A grid of as many tones as a path is looked at, the given ones first."""
    return np.concatenate([tones_hz, np.full(TONES - len(tones_hz), tones_hz[-1])])


# -- Friis --------------------------------------------------------------------------------------------------


amplifiers = st.builds(
    lambda g, f: made_of("amplifier", gain=g, noise=f), st.floats(-20, 40), st.floats(0, 15)
)
pads = st.builds(lambda loss: made_of("pad", kind="attenuator", gain=-loss, noise=loss), st.floats(0, 30))


@given(st.lists(st.one_of(amplifiers, pads), min_size=1, max_size=12))
def test_matched_blocks_are_friis_and_the_sum_of_their_gains(path):
    # H. Friis, Proc. IRE 32 (1944) 419: F = F1 + (F2 − 1)/G1 + ...
    found = chain_of(tuple(path))
    assert found.noise_figure_db == pytest.approx(noise_figure_db(tuple(path)), abs=1e-9)
    assert found.passed_db[-1, SIGNAL] == pytest.approx(sum(each.gain_db for each in path), abs=1e-9)
    gains = [each.gain_db for each in found.blocks]
    assert gains == pytest.approx([each.gain_db for each in path], abs=1e-9)


@given(st.lists(st.one_of(amplifiers, pads), min_size=1, max_size=8), st.integers(0, 8))
def test_friis_holds_across_a_mixer_with_a_quiet_image(path, place):
    mixer = made_of("mixer", kind="mixer", zone="audio", gain=-6.0, noise=6.5)
    # What stands before it makes no noise on the image: pads alone.
    quiet = [each for each in path[:place] if each.passive]
    whole = (*quiet, mixer, *path[place:])
    assert chain_of(whole).noise_figure_db == pytest.approx(noise_figure_db(whole), abs=1e-9)
    assert chain_of(whole).passed_db[-1, SIGNAL] == pytest.approx(
        sum(each.gain_db for each in whole), abs=1e-9
    )


def test_the_textbook_receiver():
    # D. Pozar, Microwave Engineering, receiver front end (data from memory): 10 dB / 2 dB, 1 dB of loss, then
    # a mixer of −3 dB / 4 dB: F = 1.80, 2.555 dB; with the filter first 3.396 dB.
    one = made_of("RF", gain=10.0, noise=2.0)
    loss = made_of("filter", kind="attenuator", gain=-1.0, noise=1.0)
    last = made_of("mixer", gain=-3.0, noise=4.0)
    assert chain_of((one, loss, last)).noise_figure_db == pytest.approx(2.555, abs=0.001)
    assert chain_of((loss, one, last)).noise_figure_db == pytest.approx(3.396, abs=0.001)


# -- passive ------------------------------------------------------------------------------------------------


@given(st.floats(0, 60), st.floats(10, 500))
def test_a_pads_noise_figure_is_its_loss(loss_db, ohm):
    found = pad(loss_db, ohm, np.array([1e6]))
    assert found.noise_figure_db(ohm)[0] == pytest.approx(loss_db, abs=1e-9)
    assert found.gain_db(ohm, ohm)[0] == pytest.approx(-loss_db, abs=1e-9)
    assert found.input_ohm(ohm)[0] == pytest.approx(ohm, rel=1e-9)


@pytest.mark.parametrize("source", [50.0, 12.0 + 30.0j, 200.0 - 70.0j])
def test_a_chain_of_passive_stages_is_as_noisy_as_it_loses_at_best(source):
    # H. Nyquist, 1928: at 290 K F is the loss into a matched load, from any source.
    coil = Arm("series", (Part("L1", "inductor", 0.8e-6, 80.0),))
    gap = Arm("shunt", (Part("C1", "capacitor", 220e-12, 300.0),))
    filters = [
        of_ladder(Network(arms, 50.0, 50.0), [10e6], temperature_k=T0_KELVIN)
        for arms in ((coil, gap), (gap, coil))
    ]
    row = [filters[0], pad(3.0, 50.0, np.array([10e6])), filters[1]]
    whole = cascade(row)
    load = np.conj(whole.output_ohm(source))
    found = along(row, source, load, 50.0, 1)
    assert 1 + float((10 ** (found.excess_db / 10)).sum()) == pytest.approx(
        10 ** (-found.gain_db[-1, 0] / 10), rel=1e-9
    )
    assert found.match[0] == pytest.approx(1.0, rel=1e-9)


@given(st.floats(0.2, 5), st.floats(20, 500))
def test_a_lossless_match_adds_no_noise_and_its_mismatch_is_what_it_costs(micro_henry, pico_farad):
    arms = (
        Arm("series", (Part("L1", "inductor", micro_henry * 1e-6),)),
        Arm("shunt", (Part("C1", "capacitor", pico_farad * 1e-12),)),
    )
    network = Network(arms, 50.0, 50.0)
    found = along([of_ladder(network, [10e6])], 50.0, 50.0, 50.0, 1)
    assert 10 ** (found.excess_db[0, 0] / 10) < 1e-9
    assert -found.gain_db[-1, 0] == pytest.approx(solve(network, [10e6]).loss_db[0], abs=1e-9)
    assert found.match[0] == pytest.approx(10 ** (found.gain_db[-1, 0] / 10), rel=1e-9)


def test_a_chain_matrix_by_scikit_rf():
    arms = (
        Arm("series", (Part("L1", "inductor", 1e-6, 100.0),)),
        Arm("shunt", (Part("C1", "capacitor", 300e-12),)),
        Arm("series", (Part("L2", "inductor", 2e-6), Part("C2", "capacitor", 100e-12)), "in_parallel"),
    )
    f = np.linspace(2e6, 30e6, 15)
    w = 2j * np.pi * f
    medium = skrf.media.DefinedGammaZ0(skrf.Frequency.from_f(f, unit="Hz"), z0=50)
    trap = 1 / (1 / (w * 2e-6) + w * 100e-12)
    whole = (
        medium.resistor(w * 1e-6 * (1 - 0.01j)) ** medium.shunt_capacitor(300e-12) ** medium.resistor(trap)
    )
    np.testing.assert_allclose(np.moveaxis(chain(Network(arms, 50.0, 75.0), f), -1, 0), whole.a, rtol=1e-9)


# -- with mismatch ------------------------------------------------------------------------------------------


def test_blocks_beside_a_filter_by_scikit_rf():
    # Gain and match of pad, filter and amplifier between odd resistances, by scattering parameters.
    f = np.array([9e6, 9.5e6, 10e6])
    coil = Arm("series", (Part("L1", "inductor", 2e-6, 90.0),))
    gap = Arm("shunt", (Part("C1", "capacitor", 150e-12, 500.0),))
    row = [pad(2.0, 50.0, f), of_ladder(Network((coil, gap), 50.0, 50.0), f), solved(amplifier("a1"), f)]
    found = along(row, 75.0, 30.0, 50.0, 3)
    networks = [skrf.Network(f=f, f_unit="Hz", s=np.moveaxis(each.s(50.0), -1, 0), z0=50) for each in row]
    for count in (1, 2, 3):
        joined = networks[0]
        for each in networks[1:count]:
            joined = joined**each
        joined = joined.copy()
        joined.renormalize([75.0, 30.0 if count == 3 else 50.0])
        np.testing.assert_allclose(found.gain_db[count], 20 * np.log10(np.abs(joined.s[:, 1, 0])), atol=1e-9)
    into = (75.0 - 50.0) / (75.0 + 50.0)
    s = (networks[0] ** networks[1] ** networks[2]).s
    back = s[:, 1, 1] + s[:, 0, 1] * s[:, 1, 0] * into / (1 - s[:, 0, 0] * into)
    np.testing.assert_allclose(found.output_ohm, 50 * (1 + back) / (1 - back), rtol=1e-9)


#: Two stages of a printed cascade about a ladder: offset from 9 MHz in kHz, gain and noise figure, dB.
PRINTED = [
    (0.1525, 27.98, 3.06),
    (0.695, 32.62, 2.91),
    (1.53, 33.29, 2.89),
    (2.03, 32.43, 2.90),
    (2.4075, 32.22, 2.91),
    (2.905, 26.95, 3.07),
]


@pytest.mark.parametrize(("khz", "gain_db", "noise_db"), PRINTED)
def test_amplifier_ladder_amplifier_in_a_path(khz, gain_db, noise_db):
    """Against the 47 nodes solved as one matrix and a circuit simulator's joined netlist."""
    f = at([9e6 + 1e3 * khz])
    path = tuple(
        made_of(name, port)
        for name, port in (
            ("c22", solved(amplifier("c22"), f)),
            ("ladder", solved(ladder_of_six(), f)),
            ("c12", solved(amplifier("c12"), f)),
        )
    )
    found = chain_of(path)
    # Printed to 0.01 dB; offsets are printed to 2.5 Hz on skirts of 0.01 dB a hertz.
    assert found.passed_db[-1, SIGNAL] == pytest.approx(gain_db, abs=0.03)
    assert found.noise_figure_db == pytest.approx(noise_db, abs=0.006)
    whole = cascade([each.port for each in path])
    assert found.noise_figure_db == pytest.approx(whole.noise_figure_db(50.0)[0], abs=1e-9)
    assert found.passed_db[-1, SIGNAL] == pytest.approx(whole.gain_db(50.0, 50.0)[0], abs=1e-9)


@pytest.mark.parametrize(
    ("name", "beyond"),
    [
        ("c22", "+0.27 +0.15 -0.21 0.00 -0.18 -0.25 +0.08"),
        ("c12", "+0.40 +0.18 -0.26 -0.02 -0.14 -0.29 +0.12"),
        ("a1", "-0.23 -0.04 +0.13 +0.04 -0.04 +0.11 -0.07"),
        ("b", "-0.12 0.00 +0.05 +0.03 -0.07 +0.03 -0.03"),
        ("d", "+0.66 +0.28 -0.54 -0.04 -0.12 -0.49 +0.28"),
    ],
)
def test_a_ladder_first_turns_the_amplifiers_noise_match(name, beyond):
    # Exact noise figure less Friis' at seven places of the pass-band, as printed.
    for khz, printed in zip((0.695, 0.80, 1.03, 1.53, 2.03, 2.31, 2.4075), beyond.split(), strict=True):
        f = at([9e6 + 1e3 * khz])
        ladder, stage = solved(ladder_of_six(), f), solved(amplifier(name), f)
        found = chain_of((made_of("ladder", ladder), made_of(name, stage)))
        friis = stage.noise_figure_db(50.0)[0] - ladder.gain_db(50.0, 50.0)[0]
        assert found.noise_figure_db - friis == pytest.approx(float(printed), abs=0.011)


# -- contributions ------------------------------------------------------------------------------------------


def test_what_each_stage_brings_is_what_is_heard_with_all_others_quiet():
    f = at([9e6 + 1.53e3])
    ports = [solved(amplifier("c22"), f), solved(ladder_of_six(), f), solved(amplifier("c12"), f)]
    path = tuple(made_of(str(n), port) for n, port in enumerate(ports))
    shares = [each.share for each in noise_shares(chain_of(path))]
    assert sum(shares) == pytest.approx(1.0, abs=1e-12)
    whole = 10 ** (chain_of(path).noise_figure_db / 10) - 1
    for n in range(3):
        quiet = [
            port if n == m else type(port)(port.f_hz, port.chain, 0 * port.noise)
            for m, port in enumerate(ports)
        ]
        alone = 10 ** (cascade(quiet).noise_figure_db(50.0)[0] / 10) - 1
        assert shares[n] == pytest.approx(alone / whole, rel=1e-9)


def test_what_a_mixer_folds_in_stands_by_itself():
    # 2 dB filter, 10 dB / 3 dB amplifier, ring with 6.5 dB, by hand: 19 k T0 B too much on the image.
    path = (
        made_of("filter", kind="attenuator", zone="rf", gain=-2.0, noise=2.0),
        made_of("RF", zone="rf", gain=10.0, noise=10 * log10(2)),
        made_of("ring", kind="mixer", zone="rf", gain=-6.0, noise=6.5),
    )
    loss, ring = 10**0.2, 10**0.65
    parts = [loss - 1, loss, loss * (ring - 1) / 10, loss * 19 / 10]
    found = chain_of(path)
    assert found.noise_figure_db == pytest.approx(10 * log10(1 + sum(parts)), abs=1e-9)
    assert found.image_db("rf") == pytest.approx(10 * log10(1 + sum(parts)) - 10 * log10(1 + sum(parts[:3])))
    shares = noise_shares(found)
    assert [each.image for each in shares] == [False, False, True, False]
    one, two, image, three = (each.share for each in shares)
    assert [one, two, three, image] == pytest.approx([each / sum(parts) for each in parts], rel=1e-9)
    assert shares[0].alone_db == pytest.approx(2.0, abs=1e-9)


@pytest.mark.parametrize("port_ohm", [50.0, 200.0, 1500.0, 30.0 - 40.0j])
def test_a_mixers_figures_hold_between_nominal_resistances_whatever_its_ports(port_ohm):
    mixer = made_of(
        "mixer", kind="mixer", zone="rf", gain=12.0, noise=8.0, input_ohm=port_ohm, output_ohm=port_ohm
    )
    found = chain_of((mixer, made_of("pad", kind="attenuator", gain=0.0)))
    assert found.passed_db[-1, SIGNAL] == pytest.approx(12.0, abs=1e-9)
    assert found.noise_figure_db == pytest.approx(8.0, abs=1e-9)
    # Matched to its port by a lossless transformer, it gains what 50 ohm had lost there.
    turns = np.sqrt(port_ohm.real / 50.0)
    wound = np.zeros((2, 2, TONES), dtype=complex)
    wound[0, 0], wound[1, 1] = 1 / turns, turns
    port = type(pad(0, 50, np.ones(TONES)))(np.ones(TONES), wound, 0 * wound)
    better = chain_of((made_of("transformer", port, zone="rf"), mixer))
    lost = 4 * 50 * port_ohm.real / abs(50 + port_ohm) ** 2
    taken = 4 * port_ohm.real**2 / abs(port_ohm.real + port_ohm) ** 2
    assert better.passed_db[1, SIGNAL] == pytest.approx(10 * log10(taken), abs=1e-9)
    gains = [each.gain_db for each in better.blocks]
    assert sum(gains) == pytest.approx(found.passed_db[1, SIGNAL] + 10 * log10(taken / lost), abs=1e-9)


def test_a_block_delivers_its_noise_whatever_stands_before_it():
    # A short or an open before a matched stage: its noise at the output stays G F k T0.
    one = block(20.0, 6.0, 50.0, np.array([1e6]))
    for source in (50.0, 5.0, 5e3, 20.0 + 90.0j):
        found = along([one], source, 50.0, 50.0, 1)
        delivered = 10 ** (found.gain_db[-1, 0] / 10) * (1 + 10 ** (found.excess_db[0, 0] / 10))
        assert delivered == pytest.approx(10 ** (2.0 + 0.6), rel=1e-9)


# -- noise along a path with mixers --------------------------------------------------------------------------


mixers = st.builds(
    lambda zone, g, f: made_of("mixer", kind="mixer", zone=zone, gain=g, noise=f),
    st.sampled_from(["rf", "if"]),
    st.floats(-10, 20),
    st.floats(1, 15),
)
lossy = st.builds(
    lambda loss: made_of("pad", kind="attenuator", gain=-loss, noise=loss, image_gain_db=-loss),
    st.floats(0, 30),
)


@given(st.lists(st.one_of(amplifiers, lossy, mixers), min_size=1, max_size=10))
def test_blocks_with_mixers_fold_as_powers_added_stage_by_stage(path):
    # What is added up without two-ports (`own_noise.py`): at every place, with every image.
    found, added = chain_of(tuple(path)), own_noise(tuple(path))
    assert found.own_db == pytest.approx(list(added.levels_db), abs=1e-9)
    assert found.noise_figure_db == pytest.approx(added.noise_figure_db, abs=1e-9)


@given(st.floats(0.2, 5), st.floats(20, 500), st.floats(1, 15))
def test_a_mixer_behind_a_lossless_mismatch_is_noisier_by_what_is_reflected(micro, pico, noise_db):
    # Its port gets back of its own 290 K what it does not take: F / M, and nothing more through the image.
    arms = (
        Arm("series", (Part("L1", "inductor", micro * 1e-6),)),
        Arm("shunt", (Part("C1", "capacitor", pico * 1e-12),)),
    )
    network = Network(arms, 50.0, 50.0)
    port = of_ladder(network, np.full(TONES, 10e6), temperature_k=T0_KELVIN)
    mixer = made_of("mixer", kind="mixer", zone="rf", gain=-6.0, noise=noise_db)
    found = chain_of((made_of("match", port, kind="band_pass", zone="rf"), mixer))
    lost = float(solve(network, [10e6]).loss_db[0])
    assert found.noise_figure_db == pytest.approx(noise_db + lost, abs=1e-6)
    assert found.image_db("rf") < 1e-6


def test_an_amplifiers_image_noise_is_what_it_delivers_beyond_a_resistors():
    # Into a mixer's port of 200 ohm, by the amplifier's own two-port: G (1 + excess) less the match.
    f = at([14e6, 5e6])
    stage = solved(amplifier("a1"), f)
    port_ohm = 200.0
    mixer = made_of(
        "mixer", kind="mixer", zone="rf", gain=-6.0, noise=6.5, input_ohm=port_ohm, output_ohm=50.0
    )
    found = chain_of((made_of("a1", stage, zone="rf"), mixer))
    gain = 10 ** (stage.gain_db(50.0, port_ohm)[:2] / 10)
    factor = 10 ** (stage.noise_figure_db(50.0)[:2] / 10)
    behind = stage.output_ohm(50.0)[:2]
    match = 4 * behind.real * port_ohm / np.abs(behind + port_ohm) ** 2
    delivered = gain * factor
    assert match[1] < 0.95
    shares = {(each.name, each.image): each for each in noise_shares(found)}
    assert shares["mixer", True].alone_db == pytest.approx(
        10 * log10(1 + (delivered[1] - match[1]) / gain[0]), abs=1e-9
    )
    nominal = 4 * 50 * port_ohm / (50 + port_ohm) ** 2
    own = (10**0.65 - 1) * nominal + max(nominal - match[0], 0.0)
    assert shares["mixer", False].alone_db == pytest.approx(10 * log10(1 + own / gain[0]), abs=1e-9)


def test_what_limits_a_stage_is_its_output_whatever_gain_its_place_gives_it():
    f = at([14e6])
    stage = solved(amplifier("a1"), f)
    source = solved(ladder_of_six(), at([9e6 + 2.4e3]))
    one = made_of("a1", stage, gain=11.7, noise=5.0, iip3_dbm=20.0, p1db_out_dbm=15.0)
    _, placed = chain_of((made_of("ladder", source), one)).blocks
    assert abs(placed.gain_db - one.gain_db) > 0.1
    assert placed.iip3_dbm + placed.gain_db == pytest.approx(31.7, abs=1e-9)
    assert placed.p1db_out_dbm == 15.0
