"""Why a reading is out: the parts, devices and stages that would explain it."""

from dataclasses import replace

import pytest

from core.circuits.active.operating import bias
from core.rig.amplifier_facts import amplifier_facts, sensitivities
from core.rig.analysis import Analysis
from core.rig.log.expected import items, value_of
from core.rig.log.item import found
from core.rig.log.knobs import Cause
from core.stages.outcome import Unsolved
from core.stages.vfo import oscillator, tank_design, vfo
from tests.log_entries import entry, log_of, spoilt, why, with_reading


@pytest.mark.parametrize(
    ("stage", "key", "factor", "code"),
    [
        ("ladder", "coupling:3", 1.15, "ladder/bandwidth_6db_hz/20m"),
        ("band_pass", "coil:2", 1.06, "band_pass/centre_hz/20m"),
        ("low_pass", "shunt:2", 1.4, "low_pass/served_return_loss_db/20m"),
        ("if_amplifier_1", "emitter:1", 1.3, "if_amplifier_1/gain_db"),
    ],
)
def test_the_part_that_is_off_is_among_the_causes_with_what_it_is(sample, stage, key, factor, code):
    if stage == "if_amplifier_1":
        row = next(each for each in Analysis(sample).circuits if each.stage == stage)
        key = max(
            (p for p in row.design.parts if p.kind == "resistor"),
            key=lambda p: abs(_gain(spoilt(sample, stage, p.key, 1.3), stage) - _gain(sample, stage)),
        ).key
    other = spoilt(sample, stage, key, factor)
    plain = next(each for each in items(Analysis(sample)) if each.code == code)
    value = value_of(Analysis(other), plain)
    made = with_reading(sample, code, f"{value!r}", plus_minus="0.001 %")
    told = why(made, code)
    ref = next(
        p.ref
        for row in Analysis(sample).circuits
        if row.stage == stage
        for p in row.design.parts
        if p.key == key
    )
    cause = next((each for each in told.causes if each.ref == ref), None)
    assert told.words == "One of these alone would explain it:"
    assert [each.times for each in told.causes] == sorted(each.times for each in told.causes)
    if stage != "ladder":
        assert cause is not None, told
        assert 1 + cause.off == pytest.approx(factor, rel=0.03)
    # Each of them does explain it: with that part off, this is what would be read.
    keys = {p.ref: p.key for row in Analysis(sample).circuits if row.stage == stage for p in row.design.parts}
    for each in told.causes:
        if each.unit:
            again = value_of(Analysis(spoilt(sample, stage, keys[each.ref], 1 + each.off)), plain)
            assert again == pytest.approx(value, abs=0.04 * abs(value - plain.value)), each


def _gain(sample, stage):
    return amplifier_facts(Analysis(sample), sample.stage(stage), "20m").figures.gain_db


def test_a_tanks_causes_are_its_shares_of_the_energy(sample):
    """df/f = -½ share dC/C, for a small change; so the coil's share is one."""
    analysis = Analysis(sample)
    tank = analysis.tank
    f_hz = next(each for each in tank.ranges if each.band == "20m").covers_high_hz
    code = "vfo/covers_high_hz/20m"
    told = why(with_reading(sample, code, f"{0.998 * f_hz!r} Hz", plus_minus="1 Hz"), code)
    assert told.causes
    kept = Analysis(sample.edited(("vfo", "tank"), tank_design.kept(tank)))
    shares = vfo.figures(kept.tank, "20m")
    assert not isinstance(shares, Unsolved)
    from core.stages.vfo.tank import resonance

    mode = resonance(kept.tank, "20m", 1.0)
    for cause in told.causes:
        share = 1.0 if cause.ref.startswith("L") else float(mode.shares[cause.ref])
        assert cause.off == pytest.approx(2 * 0.002 / share, rel=0.15), cause


def test_an_amplifiers_causes_agree_with_its_sensitivity(sample):
    stage = "if_amplifier_1"
    facts = amplifier_facts(Analysis(sample), sample.stage(stage), "20m")
    known = {each.ref: each for each in sensitivities(facts)}
    code = f"{stage}/gain_db"
    made = with_reading(sample, code, f"{facts.figures.gain_db + 0.1!r} dB", plus_minus="0.01 dB")
    told = why(made, code)
    assert told.causes
    for cause in told.causes:
        if cause.unit and abs(cause.off) < 0.1:
            assert cause.off == pytest.approx(0.1 * 0.1 / known[cause.ref].gain_db, rel=0.15)
    # It takes a larger part of those that do less.
    beta = next((each for each in told.causes if "current gain" in each.ref), None)
    if beta is not None:
        assert beta.times > told.causes[0].times


def test_a_level_is_held_against_what_came_in(sample):
    along = log_of(sample).along("receive", "20m")
    before, here = along[4], along[5]
    made = with_reading(sample, here.code, f"{here.value - 6!r} dBm")
    alone = why(made, here.code)
    both = with_reading(made, before.code, f"{before.value - 5!r} dBm")
    told = why(both, here.code)
    assert told.words.startswith(
        f"{here.name} does what it should: what comes in is 5.0 dB too little already"
    )
    assert alone.words != told.words


def test_a_direct_voltage_has_causes_too(sample):
    stages = {stage.id for stage in sample.stages}
    code = next(
        each.code
        for each in items(Analysis(sample))
        if each.about == "point" and each.key.endswith(".emitter") and each.stage in stages
    )
    stage = code.split("/")[0]
    row = next(each for each in Analysis(sample).circuits if each.stage == stage)
    plain = found(items(Analysis(sample)), code)
    shifts = {}
    for part in row.design.parts:
        if part.kind == "resistor":
            other = spoilt(sample, stage, part.key, 1.4)
            shifts[part.ref] = (value_of(Analysis(other), plain), part.key)
    ref, (volt, _) = max(shifts.items(), key=lambda pair: abs(pair[1][0] - plain.value))
    made = with_reading(sample, code, f"{volt!r} V", plus_minus="10 mV")
    told = why(made, code)
    cause = next(each for each in told.causes if each.ref == ref)
    assert cause.off == pytest.approx(0.4, abs=0.03)


def changed_device(design, ref, times):
    """The circuit with a transistor of so many times the gain, by its own model."""

    def branch(each):
        if each.part.ref != ref:
            return each
        device = each.part.device
        stronger = replace(device, current_gain=times * device.current_gain)
        return replace(each, part=replace(each.part, device=stronger))

    return replace(design.circuit, branches=tuple(map(branch, design.circuit.branches)))


@pytest.mark.parametrize("times", [0.4, 2.0])
def test_a_transistors_gain_is_a_cause_of_a_direct_voltage(sample, times):
    design = Analysis(sample).design("if_amplifier_1", "20m")
    part, nodes = design.circuit.transistors[0]
    volt = bias(changed_device(design, part.ref, times)).volts[nodes[1]]
    code = f"if_amplifier_1/transistor:{part.which}.base"
    found_ = why(with_reading(sample, code, f"{volt:.6f} V", plus_minus="1 mV"), code)
    told = next(each for each in found_.causes if each.ref.startswith(f"{part.ref}, its current gain"))
    assert told.wanted == pytest.approx(times, rel=0.03)
    assert told.words == f"{part.ref}, its current gain, at {told.wanted:.2g} times what it is taken for"
    assert told.edit is None


def test_the_oscillators_device_and_what_feeds_it_are_causes(sample):
    """A JFET on its source resistor: with what was found taken in, the current is the one that was read."""
    feedback = sample.vfo.tank.feedback
    ampere = 1.3 * oscillator.operating(feedback).current_a
    found_ = why(with_reading(sample, "vfo/current", f"{1e3 * ampere:.5f} mA"), "vfo/current")
    fields = {each.ref: each for each in found_.causes}
    assert {"Q1, its pinch-off,", "RS"} <= set(fields)
    for each in found_.causes:
        changed = each.edit.on(sample).vfo.tank.feedback
        assert oscillator.operating(changed).current_a == pytest.approx(ampere, rel=0.01)
    drain = why(with_reading(sample, "vfo/device.drain", "9.6 V"), "vfo/device.drain")
    (fed,) = drain.causes
    assert fed.words == "its supply at 9.6 V instead of 8 V (+20 %)"


def test_the_power_amplifiers_idle_current_is_explained_and_a_cause_is_taken(sample):
    code = "power_amplifier/current"
    item = found(items(Analysis(sample)), code)
    project = with_reading(sample, code, f"{1.3 * item.value:.6f} A")
    found_ = why(project, code)
    assert any("its current" in each.ref for each in found_.causes)
    resistor = next(each for each in found_.causes if each.unit == "Ω")
    built = Analysis(resistor.edit.on(project))
    assert value_of(built, item) == pytest.approx(1.3 * item.value, rel=0.03)
    assert entry(built.project, code).verdict == "within"


def test_a_voltage_of_the_supply_is_followed_to_what_feeds_it(sample):
    def told(**readings):
        project = sample
        for code, text in readings.items():
            project = with_reading(project, code, text)
        return why(project, "supply/rail:2/transmit").words

    low = {"supply/rail:2/transmit": "9 V"}
    assert told(**low).startswith("Read Supply: rig's supply (transmit) first")
    fed = told(**low, **{"supply/rig/transmit": "13.7 V"})
    assert fed.startswith("What feeds it is as it should be (Supply: rig's supply (transmit), 13.7 V)")
    before = told(**low, **{"supply/rig/transmit": "9.2 V"})
    assert before.startswith("What feeds it is too low already (Supply: rig's supply (transmit), 9.2 V)")
    itself = why(with_reading(sample, "supply/rail", "9 V"), "supply/rail")
    assert itself.words.startswith("It is the supply itself: set it")


def test_an_audio_chips_own_current_is_a_cause(sample):
    item = found(items(Analysis(sample)), "audio/current")
    found_ = why(with_reading(sample, item.code, f"{1.5 * item.value:.8f} A"), item.code)
    (cause,) = found_.causes
    assert cause.words == "the chip, its own current, at 1.5 times what it is taken for"


def test_one_point_is_found_without_all_others(sample):
    analysis = Analysis(sample)
    for item in [each for each in items(analysis) if each.about == "point"][::9]:
        assert value_of(analysis, item) == item.value


def test_a_small_share_is_told_with_a_decimal():
    cause = Cause(stage="x", ref="L1", taken=682e-9, wanted=680e-9, unit="H", off=-2 / 682, times=0.03)
    assert cause.words == "L1 at 680 nH instead of 682 nH (−0.3 %)"


def test_what_no_part_explains_is_told(sample):
    code = "ladder/insertion_loss_db/20m"
    told = why(with_reading(sample, code, "60 dB"), code)
    assert told.causes == ()
    assert "No single part of Ladder filter explains this" in told.words
    code = "rig/output_w/transmit/20m"
    assert "read the levels along the path" in why(with_reading(sample, code, "0.1 W"), code).words
    code = "microphone/socket/transmit/20m"
    assert "no parts in the design" in why(with_reading(sample, code, "10 dBm"), code).words
