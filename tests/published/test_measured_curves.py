"""Fits recover parts from curves that scikit-rf makes of other parts, with an instrument's noise; what is
advised is done to the circuit there, and the curve comes back.
"""

from dataclasses import replace

import numpy as np
import pytest

from core.circuits.ladder import Arm
from core.model.files import load
from core.model.samples import sample_path
from core.rig.analysis import Analysis
from core.rig.scattered import spreads
from core.stages.built.curve_fit import fit
from core.stages.built.curve_words import remedy, verdict
from core.stages.coils.winding import known, on_core
from core.stages.outcome import Unsolved
from tests.published.reference import scattering


@pytest.fixture(scope="module")
def tern():
    return Analysis(load(sample_path()))


def otherwise(network, values, q=None):
    """The network with other values of some parts, and another Q of its coils."""

    def part(one):
        value = values.get(one.ref, one.value)
        return replace(one, value=value, q=q if q and one.kind == "inductor" else one.q)

    arms = tuple(
        replace(arm, parts=tuple(map(part, arm.parts))) if isinstance(arm, Arm) else arm
        for arm in network.arms
    )
    return replace(network, arms=arms)


def value_of(design, ref):
    return next(part.value for part in design.network.parts if part.ref == ref)


SPANS = {"low_pass": (2e6, 45e6), "band_pass": (12.7e6, 15.8e6), "ladder": (19.6585e6, 19.6665e6)}


def measured(design, stage, shares, *, phase, q=None, ends=(50.0, 50.0), seed=1):
    """Frequencies, S21 [dB], and S11 or None, of a filter with parts off by shares [-] or hertz."""
    values = {
        ref: value_of(design, ref) + off if ref[0] == "X" else value_of(design, ref) * (1 + off)
        for ref, off in shares.items()
    }
    network = otherwise(replace(design.network, source_ohm=ends[0], load_ohm=ends[1]), values, q)
    f = np.linspace(*SPANS[stage], 201)
    s = scattering(network, f)
    noise = np.random.default_rng(seed)

    def noisy(z, size):
        return z + size * (noise.normal(size=f.size) + 1j * noise.normal(size=f.size))

    s21_db = 20 * np.log10(np.abs(noisy(s[:, 1, 0], 3e-5))) + 0.05 * noise.normal(size=f.size)
    return f, s21_db, noisy(s[:, 0, 0], 0.005) if phase else None


def told(tern, stage, shares, *, phase=False, **how):
    design = tern.filter_design(stage, "20m")
    f, s21_db, s11 = measured(design, stage, shares, phase=phase, **how)
    found = fit(design, f, s21_db, spreads(tern.project.scatter), s11=s11)
    assert not isinstance(found, Unsolved), found.reason
    return found, verdict(found, dict(design.wound))


@pytest.mark.parametrize(
    ("stage", "shares"),
    [
        ("low_pass", {"L2": -0.06}),
        ("low_pass", {"L2": 0.05}),
        ("band_pass", {"L2": -0.06}),
        ("band_pass", {"L1": -0.08}),
        ("low_pass", {"L1": 0.1}),
        ("low_pass", {"C3": -0.07}),
        ("ladder", {"C3": 0.1}),
        ("ladder", {"X4": 150.0}),
    ],
)
def test_the_one_part_that_is_off_is_named_with_how_much(tern, stage, shares):
    (ref,), (off,) = shares, shares.values()
    phase = ref not in ("L2",)
    found, words = told(tern, stage, shares, phase=phase)
    assert [each.row.ref for each in found.off] == [ref]
    assert found.off[0].off == pytest.approx(off, rel=0.06)
    way = "low" if off < 0 else "high"
    amount = f"{abs(off):.0f} Hz" if ref[0] == "X" else f"{100 * abs(off):.0f} %"
    assert words.startswith(f"{ref} is about {amount} {way}; "), words
    assert found.miss_db < 0.1 < found.miss_before_db


@pytest.mark.parametrize(
    ("stage", "shares", "either"),
    [
        ("low_pass", {"L1": -0.1}, "L1 or L3 is about 10 % low"),
        ("band_pass", {"L3": -0.08}, "L1 or L3 is about 8 % low"),
        ("ladder", {"X5": 150.0}, "X4 or X5 is about 150 Hz high"),
    ],
)
def test_a_part_and_its_mirror_image_are_told_apart_only_by_the_phase_of_s11(tern, stage, shares, either):
    found, words = told(tern, stage, shares)
    assert words.startswith(f"{either}, and this curve does not determine which; sweep S11 with its phase")
    for each in shares:
        assert not found.of(each).determined
    found, words = told(tern, stage, shares, phase=True)
    assert [each.row.ref for each in found.off] == list(shares)


def test_two_parts_that_are_off_are_both_named(tern):
    found, words = told(tern, "low_pass", {"L2": -0.1, "C3": 0.05}, phase=True)
    assert {each.row.ref: round(each.off, 2) for each in found.off} == {"L2": -0.1, "C3": 0.05}
    assert "L2 is about 10 % low" in words
    assert "C3 is about 5 % high; exchange it" in words


@pytest.mark.parametrize("stage", ["low_pass", "ladder"])
def test_a_filter_as_designed_has_no_part_off_and_what_stays_open_is_told(tern, stage):
    found, words = told(tern, stage, {})
    assert words.startswith("No part is off as far as this curve tells. It does not determine "), words
    assert f"of its {len(found.parts)} parts within half their tolerance" in words


@pytest.mark.parametrize("seed", range(5))
def test_intervals_hold_what_is_true(tern, seed):
    truth = {"C1": 0.02, "L1": -0.03, "C2": 0.01, "L2": 0.04, "C3": -0.02, "L3": 0.02, "C4": -0.01}
    found, _ = told(tern, "low_pass", truth, phase=True, seed=seed)
    for each in found.parts:
        wrong = abs(each.value / each.taken - 1 - truth[each.row.ref])
        # Twice the interval of 95 % is missed by one in ten thousand.
        assert wrong < 2 * each.plus_minus / each.value, each
        assert each.determined


def test_coils_of_other_q_are_told(tern):
    design = tern.filter_design("low_pass", "20m")
    taken = next(part.q for part in design.network.parts if part.kind == "inductor")
    found, words = told(tern, "low_pass", {}, q=0.5 * taken, phase=True)
    assert found.q_factor == pytest.approx(0.5, abs=0.1)
    assert "The coils' Q is about 0.5" in words


def test_the_fixtures_resistances_count(tern):
    design = tern.filter_design("band_pass", "20m")
    f, s21_db, s11 = measured(design, "band_pass", {"L2": -0.06}, phase=True, ends=(75.0, 200.0))
    how = {"s11": s11, "source_ohm": 75.0, "load_ohm": 200.0}
    found = fit(design, f, s21_db, spreads(tern.project.scatter), **how)
    assert [(each.row.ref, round(each.off, 2)) for each in found.off] == [("L2", -0.06)]
    wrong = fit(design, f, s21_db, spreads(tern.project.scatter), s11=s11)
    assert isinstance(wrong, Unsolved) or wrong.miss_db > 5 * found.miss_db


def test_a_capacitor_put_across_one_that_is_low_brings_the_curve_back(tern):
    found, words = told(tern, "low_pass", {"C3": -0.07}, phase=True)
    part = found.off[0]
    assert remedy(part) == f"put {1e12 * (part.taken - part.value):.2g} pF across it"
    design = tern.filter_design("low_pass", "20m")
    picofarads = float(words.split("put ")[1].split(" pF")[0])
    mended = 0.93 * value_of(design, "C3") + picofarads * 1e-12
    f = np.linspace(*SPANS["low_pass"], 201)

    def off(value):
        s = scattering(otherwise(design.network, {"C3": value}), f)[:, 1, 0]
        return np.abs(20 * np.log10(np.abs(s)) + design.response(f).loss_db).max()

    assert off(mended) < 0.15 * off(0.93 * value_of(design, "C3"))


@pytest.mark.parametrize(
    ("off", "does"), [(-0.05, "squeeze"), (-0.2, "wind"), (0.02, "spread"), (0.2, "take")]
)
def test_what_is_done_to_a_winding_brings_its_inductance_back(tern, off, does):
    core = known("T50-6")
    wound = on_core(core, 1.1e-6, 14e6)
    found, _ = told(tern, "low_pass", {"L2": 0.06}, phase=True)
    part = replace(found.of("L2"), taken=1.0, value=1 + off, off=off)
    words = remedy(part, wound)
    assert words.startswith(does)
    if does in ("wind", "take"):
        count = 1 if "one turn" in words else int(words.split()[1])
        turns = wound.turns + (count if does == "wind" else -count)
        left = (1 + off) * (turns / wound.turns) ** 2
        # Half a turn is left to squeezing and spreading.
        assert abs(left - 1) < 1.2 / wound.turns
    else:
        low, high = (each / wound.inductance_h for each in wound.range_h)
        assert low <= 1 / (1 + off) <= high


def test_a_curve_of_another_filter_is_told_with_the_numbers(tern):
    design, other = tern.filter_design("low_pass", "12m"), tern.filter_design("low_pass", "20m")
    f, s21_db, _ = measured(other, "low_pass", {}, phase=False)
    found = fit(design, f, s21_db, spreads(tern.project.scatter))
    assert isinstance(found, Unsolved)
    falls = f[np.flatnonzero(s21_db >= s21_db.max() - 3)[-1]] / 1e6
    assert f"lost 3 dB at {falls:.6g} MHz, where this filter has at" in found.reason
    band_pass = tern.filter_design("band_pass", "20m")
    few = fit(band_pass, np.linspace(6e6, 8e6, 201), np.full(201, -3.0), spreads(tern.project.scatter))
    assert isinstance(few, Unsolved)
    assert few.reason.startswith("This curve has 0 points between 12.625 and 15.825 MHz")
    assert "from 6 to 8 MHz" in few.reason
