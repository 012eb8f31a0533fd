"""Tolerance runs of amplifiers: against every trial solved by itself, and against what parts do."""

from dataclasses import replace

import numpy as np
import pytest

from core.circuits.active.large_signal import third_order
from core.circuits.active.operating import bias
from core.circuits.active.two_port import two_port
from core.circuits.circuit import Bipolar, CoupledCoils, Transistor
from core.model.bench import Scatter
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.model.stages.built_amplifier import BuiltAmplifier
from core.model.transistors import OwnTransistor
from core.rig import scattered as rig_scattered
from core.rig.analysis import Analysis
from core.stages.amplifiers import pair, scattered
from core.stages.amplifiers.design import design
from core.stages.amplifiers.sensitivity import sensitivities, spread_db
from core.stages.outcome import Unsolved
from core.stages.tolerance.judging import Spreads
from core.stages.transistors import own_row
from core.trade.devices import devices

AS_BOUGHT = Spreads(capacitor=0.1, coil=0.2, resistor=0.05, transistor=1.0)


def made(topology="feedback", **fields):
    device = {"common_gate": "j310", "common_source": "rd16hhf1"}.get(topology, "2n3904")
    asked = {"device": device, "current_a": 13e-3, "gain_db": 14.0, "designed_at_hz": 14e6} | fields
    return design(BuiltAmplifier(id="a", name="A", topology=topology, **asked))


def run(amplifier, spreads=AS_BOUGHT, **asked):
    return scattered.run(amplifier, scattered.AMPLIFIER, (), spreads, **({"trials": 60} | asked))


def one_of(circuit, times, n):
    """The circuit with the values of trial n."""
    branches = []
    for branch in circuit.branches:
        part, own = branch.part, times.get(branch.part.ref, np.ones(n + 1))[n]
        if isinstance(part, Transistor):
            gain, threshold = (
                times.get(f"{part.ref}.{name}", np.ones(n + 1))[n] for name in ("gain", "threshold")
            )
            device = part.device
            if isinstance(device, Bipolar):
                device = replace(device, current_gain=device.current_gain * gain)
            else:
                device = replace(
                    device,
                    slope_a_v2=device.slope_a_v2 * gain,
                    threshold_v=device.threshold_v * threshold,
                )
            part = replace(part, device=device)
        elif isinstance(part, CoupledCoils):
            part = replace(part, primary_h=part.primary_h * own, secondary_h=part.secondary_h * own)
        else:
            part = replace(part, value=part.value * own)
        branches.append(replace(branch, part=part))
    return replace(circuit, branches=tuple(branches))


@pytest.mark.parametrize(
    "topology", ["feedback_transformer", "three_transistors", "common_gate", "common_source"]
)
def test_every_trial_is_what_its_own_circuit_gives(topology):
    amplifier = made(topology)
    found = run(amplifier, trials=30, points=5)
    times, drawn = scattered.draw(amplifier.circuit, amplifier.transistor, AS_BOUGHT, 30)
    assert set(drawn) == {branch.part.ref for branch in amplifier.circuit.branches}
    for n in (0, 7, 29):
        alone = one_of(amplifier.circuit, times, n)
        rest = bias(alone)
        assert not isinstance(rest, Unsolved), rest
        port = two_port(alone, [14e6])
        assert found.of("gain")[n] == pytest.approx(port.gain_db(50, 50)[0], abs=1e-6)
        s11 = port.s(50.0)[0, 0, 0]
        assert found.of("match")[n] == pytest.approx(-20 * np.log10(abs(s11)), abs=1e-5)
        assert found.of("current")[n] == pytest.approx(rest.transistors["Q1"].output_a, rel=1e-6)
        told = third_order(alone, 0.99 * 14e6, 1.01 * 14e6).output_dbm
        assert found.of("intercept")[n] == pytest.approx(told, abs=1e-5)
    nominal = {each.key: each.nominal for each in found.measured}
    assert nominal["gain"] == pytest.approx(two_port(amplifier.circuit, [14e6]).gain_db(50, 50)[0], abs=1e-9)
    assert nominal["current"] == pytest.approx(amplifier.rest.transistors["Q1"].output_a, rel=1e-9)
    over = two_port(amplifier.circuit, found.f_hz).gain_db(50, 50)
    np.testing.assert_allclose(-found.nominal_db, over, rtol=1e-9)


def test_small_scatter_is_what_the_sensitivities_say():
    """Parts within ±2 %, transistors picked: the deviation is that of the parts' shares together."""
    amplifier = made("three_transistors")
    found = run(amplifier, Spreads(resistor=0.02, capacitor=0.02), trials=1500, points=2)
    told = spread_db(sensitivities(amplifier, 14e6), 0.02)
    assert np.std(found.of("gain")) == pytest.approx(told, rel=0.06)
    # And which part scatters it follows from the same: shares of the squares.
    does = {each.ref: each.gain_db**2 for each in sensitivities(amplifier, 14e6) if not each.what}
    whole = sum(does.values())
    for ref, share in found.shares[:3]:
        assert share == pytest.approx(does[ref] / whole, abs=0.06)
    assert dict(found.shares)["Q1"] < 0.01


def test_a_transistor_lies_within_its_data_sheet():
    circuit = made("three_transistors").circuit
    times, _ = scattered.draw(circuit, devices()["2n3904"], AS_BOUGHT, 4000)
    beta = 150 * times["Q1.gain"]
    assert 100 <= beta.min() < 101
    assert 298 < beta.max() <= 300
    # As many below what the table says as above.
    assert np.median(beta) == pytest.approx(150, rel=0.02)
    assert abs(np.corrcoef(times["Q1.gain"], times["Q2.gain"])[0, 1]) < 0.05
    half, _ = scattered.draw(circuit, devices()["2n3904"], replace(AS_BOUGHT, transistor=0.5), 4000)
    assert np.log(150 * half["Q1.gain"].max() / 150) == pytest.approx(0.5 * np.log(2), abs=0.01)
    assert not any(
        key.startswith("Q") for key in scattered.draw(circuit, devices()["2n3904"], Spreads(), 9)[0]
    )
    # A JFET's IDSS and pinch-off lie at the same place of their ranges.
    gate = made("common_gate")
    times, _ = scattered.draw(gate.circuit, gate.transistor, AS_BOUGHT, 4000)
    pinch_off = 4.0 * times["Q1.threshold"]
    current = 35e-3 * times["Q1.gain"] * (pinch_off / 4.0) ** 2
    assert (pinch_off.min(), pinch_off.max()) == pytest.approx((2.0, 6.5), rel=0.01)
    assert (current.min(), current.max()) == pytest.approx((24e-3, 60e-3), rel=0.01)
    assert np.corrcoef(pinch_off, current)[0, 1] > 0.97


def test_a_builders_own_transistor_scatters_as_typed():
    own = OwnTransistor(name="mine", current_gain=200.0)
    assert own_row(own).spread == {"gain": (1.0, 1.0)}
    assert own_row(own.edited(("scatter",), 0.5)).spread == {"gain": (0.5, 1.5)}
    low, high = own_row(OwnTransistor(name="j", type="jfet", scatter=0.2)).spread["threshold"]
    assert (low, high) == pytest.approx((0.8, 1.2))


def test_limits_lie_about_the_gain_asked():
    amplifier = made("feedback", gain_db=16.0)
    found = run(amplifier, replace(AS_BOUGHT, resistor=0.2), trials=100, points=2)
    judged = rig_scattered.limits(found, scattered.AMPLIFIER, Scatter())
    assert judged["gain"] == pytest.approx((15.0, 17.0))
    good = (found.of("gain") >= 15) & (found.of("gain") <= 17)
    nominal = next(each.nominal for each in found.measured if each.key == "current")
    assert judged["current"] == pytest.approx((0.8 * nominal, 1.2 * nominal))
    for key in ("match", "current", "intercept"):
        low, high = judged[key]
        good &= (found.of(key) >= low) & (True if high is None else found.of(key) <= high)
    assert 0 < np.mean(good) < 1
    assert found.good(judged) == np.mean(good)
    typed = Scatter(gain_within_db=0.2, return_loss_db=12.0, current_within=0.05, intercept_less_db=0.5)
    strict = rig_scattered.limits(found, scattered.AMPLIFIER, typed)
    assert strict["gain"] == pytest.approx((15.8, 16.2))
    assert strict["match"] == (12.0, None)
    assert strict["current"] == pytest.approx((0.95 * nominal, 1.05 * nominal))
    assert found.good(strict) < found.good(judged)
    # A follower is asked for no gain: its own counts.
    follower = run(made("emitter_follower", current_a=5e-3), trials=20, points=2)
    gain = follower.measured[0]
    assert gain.usual_limits == pytest.approx((gain.nominal - 1, gain.nominal + 1))


def test_closer_parts_make_more_good_ones():
    amplifier = made("three_transistors")
    limits = rig_scattered.limits(run(amplifier), scattered.AMPLIFIER, Scatter(gain_within_db=0.3))
    wide, close = (
        run(amplifier, replace(AS_BOUGHT, resistor=share), trials=200, points=2) for share in (0.1, 0.01)
    )
    assert close.good(limits) > wide.good(limits) + 0.2


def test_what_has_no_state_at_rest_is_no_good_one(monkeypatch):
    amplifier = made()
    real = scattered.at_rest

    def first_lost(circuit, rest, times):
        spoilt = {key: each.copy() for key, each in times.items()}
        spoilt["RB1"][0] = np.nan
        return real(circuit, rest, spoilt)

    monkeypatch.setattr(scattered, "at_rest", first_lost)
    found = run(amplifier, trials=30, points=3)
    assert np.isnan(found.of("gain")).nonzero()[0].tolist() == [0, 25]
    assert found.good({each.key: (None, None) for each in found.measured}) == pytest.approx(28 / 30)
    assert np.isfinite(found.low_db).all()


def test_nothing_that_scatters_is_a_sentence():
    assert "No part of the amplifier scatters" in run(made(), Spreads(capacitor=0.0)).reason


def test_a_run_is_given_up():
    assert run(made(), watch=lambda done: done < 0.5) is None


def test_the_rig_offers_its_amplifiers_and_both_halves_of_a_pair(tern):
    made_pair = BilateralAmplifier(id="pair", name="Pair", current_a=13e-3, designed_at_hz=9e6)
    offered = rig_scattered.scatterable(Analysis(tern.with_stages((*tern.stages, made_pair))))
    names = [each.name for each in offered if each.judging.of == "amplifier"]
    assert names[-2:] == ["Pair in receive", "Pair in transmit"]
    assert {"RF stage", "IF amplifier 1"} <= set(names)
    found = rig_scattered.run(offered[-1], Scatter(trials=50))
    # Of the transmit half, in whose direction the receive half is not fed.
    assert found.measured[2].title == "current of Q4"
    both = pair.design(made_pair)
    assert found.measured[2].nominal == pytest.approx(both.transmit.rest.transistors["Q4"].output_a, rel=1e-9)
