"""The bench log: readings against what is expected, why they are out, and readings taken into the design."""

from dataclasses import replace
from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.circuits.active.operating import bias
from core.model.files import dumps, loads
from core.model.notebook.bench_log import LogReading, Photograph
from core.model.stages.built_amplifier import BuiltAmplifier
from core.model.values.errors import DesignError
from core.rig.amplifier_facts import amplifier_facts, sensitivities
from core.rig.analysis import Analysis
from core.rig.log.bench_log import bench_log, reading_of
from core.rig.log.causes import causes
from core.rig.log.expected import items, value_of
from core.rig.log.item import Item, found, read_as
from core.rig.log.knobs import Cause
from core.rig.log.taken import taking
from core.rig.workshop.test_points import points_of
from core.stages.outcome import Unsolved
from core.stages.steps import finished
from core.stages.vfo import oscillator, tank_design, vfo

WHEN = "2026-11-26 18:40"


@pytest.fixture(scope="module")
def rig(sample):
    return sample


@pytest.fixture(scope="module")
def known(rig):
    return items(Analysis(rig))


def log_of(project):
    return bench_log(Analysis(project))


def with_reading(project, code, text, **more):
    item = found(items(Analysis(project)), code)
    return project.edited(("log",), (*project.log, reading_of(item, text, WHEN, **more)))


def entry(project, code):
    return next(each for each in log_of(project).entries if each.item.code == code and each.reading)


def why(project, code):
    analysis = Analysis(project)
    log = bench_log(analysis)
    line = next(each for each in log.entries if each.item.code == code and each.reading)
    return finished(causes(analysis, log, line))


# -- what is expected ---------------------------------------------------------------------------------------


def test_every_item_has_a_place_and_a_code_of_its_own(known):
    assert len(known) > 300
    assert len({each.place for each in known}) == len({each.code for each in known}) == len(known)


def test_points_are_those_of_the_sheet_with_their_limits(rig, known):
    points = points_of(Analysis(rig))
    of = [each for each in known if each.about == "point"]
    assert len(of) == len(points)
    by_code = {each.code: each for each in of}
    for point in points:
        item = by_code[point.key]
        low, high = point.limits
        assert item.value - item.plus_minus == pytest.approx(low)
        assert item.value + item.plus_minus == pytest.approx(high)


def test_an_item_of_a_changed_rig_is_the_one_of_all_items(rig):
    other = Analysis(rig.edited(("stages", "ladder", "bandwidth_hz"), 2000.0))
    for item in items(other)[::7]:
        assert value_of(other, item) == item.value


# -- verdicts -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "verdict"),
    [("2.4 kHz", "within"), ("2,45k", "within"), ("3 kHz", "out"), ("1.5k", "out")],
)
def test_a_width_is_within_or_out(rig, text, verdict):
    code = "ladder/bandwidth_6db_hz/20m"
    made = with_reading(rig, code, text)
    assert entry(made, code).verdict == verdict


@pytest.mark.parametrize("off_hz", [-1000.0, 1000.0])
def test_a_ladder_a_kilohertz_beside_its_place_is_out_and_a_front_filter_is_not(rig, off_hz):
    # Half a percent of the IF would be fifty kilohertz, many times the width of the ladder.
    for code, verdict in (("ladder/centre_hz/20m", "out"), ("band_pass/centre_hz/20m", "within")):
        item = found(items(Analysis(rig)), code)
        made = with_reading(rig, code, f"{item.value + off_hz!r} Hz")
        assert entry(made, code).verdict == verdict, code


@pytest.mark.parametrize(
    ("key", "worse_db"),
    [("balance_db", -8.0), ("oip3_dbm", -4.0), ("compression_dbm", -4.0), ("iip3_dbm", -4.0)],
)
def test_better_than_expected_is_no_fault(sample, key, worse_db):
    item = next(each for each in items(Analysis(sample)) if each.key == key and each.value is not None)
    better = with_reading(sample, item.code, f"{item.value - worse_db!r} {item.unit}")
    assert entry(better, item.code).verdict == "within"
    worse = with_reading(sample, item.code, f"{item.value + worse_db!r} {item.unit}")
    assert entry(worse, item.code).verdict == "out"


def test_nobody_has_read_anything_at_first(rig):
    log = log_of(rig)
    assert {each.verdict for each in log.entries} == {"not yet measured"}
    assert log.whole.missing == log.whole.whole == len(log.entries) == sum(each.whole for each in log.stages)
    assert log.whole.words == f"0 of {log.whole.whole} within"


def test_the_last_reading_counts_for_progress(rig):
    code = "supply/rail"
    one = with_reading(rig, code, "9.1 V", note="battery was flat")
    two = with_reading(one, code, "13.5")
    before, after = log_of(one), log_of(two)
    assert (before.whole.within, before.whole.out) == (0, 1)
    assert (after.whole.within, after.whole.out) == (1, 0)
    assert before.whole.words == f"0 of {before.whole.whole} within, 1 out"
    lines = [each for each in after.entries if each.item.code == code]
    assert [each.verdict for each in lines] == ["out", "within"]
    assert lines[0].reading.note == "battery was flat"
    supply = next(each for each in after.stages if each.name == "Supply")
    assert supply.words == f"1 of {supply.whole} within"


def test_what_is_better_than_expected_is_no_fault(rig):
    for code, better, worse in (
        ("low_pass/served_loss_db/20m", "0 dB", "1.5 dB"),
        ("low_pass/served_return_loss_db/20m", "80 dB", "10 dB"),
        ("rig/output_w/transmit/20m", "90 W", "0.5 W"),
        ("vfo/covers_high_hz/20m", "5.9 MHz", "5.2 MHz"),
    ):
        assert entry(with_reading(rig, code, better), code).verdict == "within", code
        assert entry(with_reading(rig, code, worse), code).verdict == "out", code


@pytest.mark.parametrize(
    ("own", "verdict"), [("5 %", "out"), ("20 %", "within"), ("2 V", "within"), ("±0.5 V", "out")]
)
def test_a_tolerance_of_ones_own_counts_instead_of_the_usual_one(rig, own, verdict):
    made = with_reading(rig, "supply/rail", "12.1 V", plus_minus=own)
    assert entry(made, "supply/rail").verdict == verdict


# -- levels in volts and watts ------------------------------------------------------------------------------


def test_a_level_may_be_read_in_any_unit_of_a_level(known):
    item = next(
        each for each in known if each.key == "output" and each.way == "transmit" and each.load_ohm == 50
    )
    for text, dbm in (
        ("0 dBm", 0.0),
        ("1 mW", 0.0),
        ("223.6 mV", 0.0),
        ("0.6325 Vpp", 0.0),
        ("632.5 mV pp", 0.0),
        ("632,5 mVp-p", 0.0),
        ("5 W", 36.9897),
        ("-20", -20.0),
    ):
        value, unit = read_as(item, text)
        assert item.in_unit(value, unit) == pytest.approx(dbm, abs=2e-3), text


_LEVEL = Item(
    about="point",
    stage="x",
    name="X",
    key="output",
    words="output",
    unit="dBm",
    value=0.0,
    plus_minus=3.0,
    load_ohm=50.0,
)


@given(st.floats(1e-6, 100))
def test_volts_and_watts_agree_by_definition(volt):
    rms = _LEVEL.in_unit(volt, "V")
    assert _LEVEL.in_unit(volt**2 / 50, "W") == pytest.approx(rms, abs=1e-9)
    assert _LEVEL.in_unit(volt * 2 * sqrt(2), "V pp") == pytest.approx(rms, abs=1e-9)


@pytest.mark.parametrize(
    ("code", "text", "reason"),
    [
        ("supply/rail", "twelve", "is not a number"),
        ("supply/rail", "12 A", "is not a value in V"),
        ("supply/rail", "", "Nothing was typed"),
        ("vfo/output", "0 V", "cannot be told in dBm"),
        ("ladder/bandwidth_6db_hz/20m", "2.4 dB", "is not a value in Hz"),
    ],
)
def test_what_is_no_reading_is_one_sentence(rig, code, text, reason):
    with pytest.raises(DesignError, match=reason):
        with_reading(rig, code, text)


def test_an_unknown_code_tells_what_comes_near(known):
    with pytest.raises(DesignError, match="did you mean ladder/bandwidth_6db_hz/20m"):
        found(known, "ladder/bandwidth_6db/20m")


# -- causes -------------------------------------------------------------------------------------------------


def spoilt(rig, stage, key, factor):
    """The rig, and what it would be with one part of a stage off while all others are as they are."""
    analysis = Analysis(rig)
    row = next(each for each in analysis.circuits if each.stage == stage)
    values = {
        p.key: p.fitted
        for p in row.design.parts
        if p.kind in ("capacitor", "inductor", "resistor", "crystal")
    }
    return rig.edited((*row.path, "as_built"), {**values, key: values[key] * factor})


@pytest.mark.parametrize(
    ("stage", "key", "factor", "code"),
    [
        ("ladder", "coupling:3", 1.15, "ladder/bandwidth_6db_hz/20m"),
        ("band_pass", "coil:2", 1.06, "band_pass/centre_hz/20m"),
        ("low_pass", "shunt:2", 1.4, "low_pass/served_return_loss_db/20m"),
        ("if_amplifier_1", "emitter:1", 1.3, "if_amplifier_1/gain_db"),
    ],
)
def test_the_part_that_is_off_is_among_the_causes_with_what_it_is(rig, stage, key, factor, code):
    if stage == "if_amplifier_1":
        row = next(each for each in Analysis(rig).circuits if each.stage == stage)
        key = max(
            (p for p in row.design.parts if p.kind == "resistor"),
            key=lambda p: abs(_gain(spoilt(rig, stage, p.key, 1.3), stage) - _gain(rig, stage)),
        ).key
    other = spoilt(rig, stage, key, factor)
    plain = next(each for each in items(Analysis(rig)) if each.code == code)
    value = value_of(Analysis(other), plain)
    made = with_reading(rig, code, f"{value!r}", plus_minus="0.001 %")
    told = why(made, code)
    ref = next(
        p.ref
        for row in Analysis(rig).circuits
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
    keys = {p.ref: p.key for row in Analysis(rig).circuits if row.stage == stage for p in row.design.parts}
    for each in told.causes:
        if each.unit:
            again = value_of(Analysis(spoilt(rig, stage, keys[each.ref], 1 + each.off)), plain)
            assert again == pytest.approx(value, abs=0.04 * abs(value - plain.value)), each


def _gain(rig, stage):
    return amplifier_facts(Analysis(rig), rig.stage(stage), "20m").figures.gain_db


def test_a_tanks_causes_are_its_shares_of_the_energy(rig):
    """df/f = -½ share dC/C, for a small change; so the coil's share is one."""
    analysis = Analysis(rig)
    tank = analysis.tank
    f_hz = next(each for each in tank.ranges if each.band == "20m").covers_high_hz
    code = "vfo/covers_high_hz/20m"
    told = why(with_reading(rig, code, f"{0.998 * f_hz!r} Hz", plus_minus="1 Hz"), code)
    assert told.causes
    kept = Analysis(rig.edited(("vfo", "tank"), tank_design.kept(tank)))
    shares = vfo.figures(kept.tank, "20m")
    assert not isinstance(shares, Unsolved)
    from core.stages.vfo.tank import resonance

    mode = resonance(kept.tank, "20m", 1.0)
    for cause in told.causes:
        share = 1.0 if cause.ref.startswith("L") else float(mode.shares[cause.ref])
        assert cause.off == pytest.approx(2 * 0.002 / share, rel=0.15), cause


def test_an_amplifiers_causes_agree_with_its_sensitivity(rig):
    stage = "if_amplifier_1"
    facts = amplifier_facts(Analysis(rig), rig.stage(stage), "20m")
    known = {each.ref: each for each in sensitivities(facts)}
    code = f"{stage}/gain_db"
    made = with_reading(rig, code, f"{facts.figures.gain_db + 0.1!r} dB", plus_minus="0.01 dB")
    told = why(made, code)
    assert told.causes
    for cause in told.causes:
        if cause.unit and abs(cause.off) < 0.1:
            assert cause.off == pytest.approx(0.1 * 0.1 / known[cause.ref].gain_db, rel=0.15)
    # It takes a larger part of those that do less.
    beta = next((each for each in told.causes if "current gain" in each.ref), None)
    if beta is not None:
        assert beta.times > told.causes[0].times


def test_a_level_is_held_against_what_came_in(rig):
    along = log_of(rig).along("receive", "20m")
    before, here = along[4], along[5]
    made = with_reading(rig, here.code, f"{here.value - 6!r} dBm")
    alone = why(made, here.code)
    both = with_reading(made, before.code, f"{before.value - 5!r} dBm")
    told = why(both, here.code)
    assert told.words.startswith(
        f"{here.name} does what it should: what comes in is 5.0 dB too little already"
    )
    assert alone.words != told.words


def test_a_direct_voltage_has_causes_too(rig):
    stages = {stage.id for stage in rig.stages}
    code = next(
        each.code
        for each in items(Analysis(rig))
        if each.about == "point" and each.key.endswith(".emitter") and each.stage in stages
    )
    stage = code.split("/")[0]
    row = next(each for each in Analysis(rig).circuits if each.stage == stage)
    plain = found(items(Analysis(rig)), code)
    shifts = {}
    for part in row.design.parts:
        if part.kind == "resistor":
            other = spoilt(rig, stage, part.key, 1.4)
            shifts[part.ref] = (value_of(Analysis(other), plain), part.key)
    ref, (volt, _) = max(shifts.items(), key=lambda pair: abs(pair[1][0] - plain.value))
    made = with_reading(rig, code, f"{volt!r} V", plus_minus="10 mV")
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
def test_a_transistors_gain_is_a_cause_of_a_direct_voltage(rig, times):
    design = Analysis(rig).design("if_amplifier_1", "20m")
    part, nodes = design.circuit.transistors[0]
    volt = bias(changed_device(design, part.ref, times)).volts[nodes[1]]
    code = f"if_amplifier_1/transistor:{part.which}.base"
    found_ = why(with_reading(rig, code, f"{volt:.6f} V", plus_minus="1 mV"), code)
    told = next(each for each in found_.causes if each.ref.startswith(f"{part.ref}, its current gain"))
    assert told.wanted == pytest.approx(times, rel=0.03)
    assert told.words == f"{part.ref}, its current gain, at {told.wanted:.2g} times what it is taken for"
    assert told.edit is None


def test_the_oscillators_device_and_what_feeds_it_are_causes(rig):
    """A JFET on its source resistor: with what was found taken in, the current is the one that was read."""
    feedback = rig.vfo.tank.feedback
    ampere = 1.3 * oscillator.operating(feedback).current_a
    found_ = why(with_reading(rig, "vfo/current", f"{1e3 * ampere:.5f} mA"), "vfo/current")
    fields = {each.ref: each for each in found_.causes}
    assert {"Q1, its pinch-off,", "RS"} <= set(fields)
    for each in found_.causes:
        changed = each.edit.on(rig).vfo.tank.feedback
        assert oscillator.operating(changed).current_a == pytest.approx(ampere, rel=0.01)
    drain = why(with_reading(rig, "vfo/device.drain", "9.6 V"), "vfo/device.drain")
    (fed,) = drain.causes
    assert fed.words == "its supply at 9.6 V instead of 8 V (+20 %)"


def test_the_power_amplifiers_idle_current_is_explained_and_a_cause_is_taken(rig):
    code = "power_amplifier/current"
    item = found(items(Analysis(rig)), code)
    project = with_reading(rig, code, f"{1.3 * item.value:.6f} A")
    found_ = why(project, code)
    assert any("its current" in each.ref for each in found_.causes)
    resistor = next(each for each in found_.causes if each.unit == "Ω")
    built = Analysis(resistor.edit.on(project))
    assert value_of(built, item) == pytest.approx(1.3 * item.value, rel=0.03)
    assert entry(built.project, code).verdict == "within"


def test_a_voltage_of_the_supply_is_followed_to_what_feeds_it(rig):
    def told(**readings):
        project = rig
        for code, text in readings.items():
            project = with_reading(project, code, text)
        return why(project, "supply/rail:2/transmit").words

    low = {"supply/rail:2/transmit": "9 V"}
    assert told(**low).startswith("Read Supply: rig's supply (transmit) first")
    fed = told(**low, **{"supply/rig/transmit": "13.7 V"})
    assert fed.startswith("What feeds it is as it should be (Supply: rig's supply (transmit), 13.7 V)")
    before = told(**low, **{"supply/rig/transmit": "9.2 V"})
    assert before.startswith("What feeds it is too low already (Supply: rig's supply (transmit), 9.2 V)")
    itself = why(with_reading(rig, "supply/rail", "9 V"), "supply/rail")
    assert itself.words.startswith("It is the supply itself: set it")


def test_an_audio_chips_own_current_is_a_cause(rig):
    item = found(items(Analysis(rig)), "audio/current")
    found_ = why(with_reading(rig, item.code, f"{1.5 * item.value:.8f} A"), item.code)
    (cause,) = found_.causes
    assert cause.words == "the chip, its own current, at 1.5 times what it is taken for"


def test_one_point_is_found_without_all_others(rig):
    analysis = Analysis(rig)
    for item in [each for each in items(analysis) if each.about == "point"][::9]:
        assert value_of(analysis, item) == item.value


def test_a_small_share_is_told_with_a_decimal():
    cause = Cause(stage="x", ref="L1", taken=682e-9, wanted=680e-9, unit="H", off=-2 / 682, times=0.03)
    assert cause.words == "L1 at 680 nH instead of 682 nH (−0.3 %)"


def test_what_no_part_explains_is_told(rig):
    code = "ladder/insertion_loss_db/20m"
    told = why(with_reading(rig, code, "60 dB"), code)
    assert told.causes == ()
    assert "No single part of Ladder filter explains this" in told.words
    code = "rig/output_w/transmit/20m"
    assert "read the levels along the path" in why(with_reading(rig, code, "0.1 W"), code).words
    code = "microphone/socket/transmit/20m"
    assert "no parts in the design" in why(with_reading(rig, code, "10 dBm"), code).words


# -- taken into the design ----------------------------------------------------------------------------------


def take(project, code):
    analysis = Analysis(project)
    log = bench_log(analysis)
    return taking(
        analysis, log, next(each for each in log.entries if each.item.code == code and each.reading)
    )


IF_1 = ("stages", "if_amplifier_1")


@pytest.mark.parametrize(
    ("code", "text", "path"),
    [
        ("supply/rail", "12.6 V", ("station", "supply_v")),
        ("vfo/output", "3 dBm", ("vfo", "output_dbm")),
        ("if_amplifier_1/gain_db", "13.5 dB", ("stages", "if_amplifier_1", "measured_gain_db")),
        (
            "if_amplifier_1/noise_figure_db",
            "5.5 dB",
            (*IF_1, "measured_noise_figure_db"),
        ),
        ("if_amplifier_1/oip3_dbm", "24 dBm", (*IF_1, "measured_oip3_dbm")),
        ("if_amplifier_1/compression_dbm", "9 dBm", (*IF_1, "measured_compression_dbm")),
        ("mixer/gain_db", "-7.1 dB", ("stages", "mixer", "gain_db")),
    ],
)
def test_a_reading_takes_the_place_of_a_figure(rig, code, text, path):
    made = with_reading(rig, code, text)
    edit = take(made, code)
    after = edit.on(made)
    value = after.log[-1].value
    assert after.at(path) == pytest.approx(value)
    # What is expected is now what was read, and the levels behind it move.
    assert entry(after, code).verdict == "within"
    assert Analysis(after).receive("20m") != Analysis(made).receive("20m") or path[0] == "station"


def test_a_part_becomes_as_built(rig):
    part = next(
        each
        for each in items(Analysis(rig))
        if each.about == "part" and each.stage == "band_pass" and each.words == "C1"
    )
    made = with_reading(rig, part.code, "51 pF")
    after = take(made, part.code).on(made)
    row = next(each for each in Analysis(after).circuits if each.stage == "band_pass")
    assert dict(after.at((*row.path, "as_built")))[part.key] == pytest.approx(51e-12)
    tuned = next(each for each in items(Analysis(rig)) if each.stage == "vfo" and each.words.startswith("C"))
    made = with_reading(rig, tuned.code, f"{1.02 * tuned.value!r} F")
    found_edit = take(made, tuned.code)
    assert not isinstance(found_edit, Unsolved)
    assert Analysis(found_edit.on(made)).tank is not Analysis(made).tank


def test_a_stages_gain_follows_from_two_levels(rig):
    log = log_of(rig)
    here = next(each for each in log.along("receive", "20m") if each.stage == "if_amplifier_1")
    before = log.along("receive", "20m")[log.along("receive", "20m").index(here) - 1]
    made = with_reading(rig, here.code, "-50 dBm")
    lacking = take(made, here.code)
    assert isinstance(lacking, Unsolved)
    assert before.title in lacking.reason
    both = with_reading(made, before.code, "-64 dBm")
    after = take(both, here.code).on(both)
    assert after.stage("if_amplifier_1").measured_gain_db == pytest.approx(14.0)


def test_what_nothing_is_stated_of_stays_a_reading(rig):
    code = "ladder/bandwidth_6db_hz/20m"
    refused = take(with_reading(rig, code, "2 kHz"), code)
    assert isinstance(refused, Unsolved)
    assert "it follows from parts" in refused.reason


# -- files, renames -----------------------------------------------------------------------------------------


def test_readings_and_photographs_are_kept_in_the_file(rig):
    made = with_reading(rig, "supply/rail", "13.5 V", plus_minus="5 %", note="lab supply")
    photograph = Photograph(name="board.jpg", digest="0" * 64, stage="ladder", caption="as soldered")
    made = made.edited(("photographs",), (photograph,))
    assert loads(dumps(made)) == made


def test_readings_go_with_their_band_and_their_stage(rig):
    made = with_reading(rig, "ladder/bandwidth_6db_hz/20m", "2.4 kHz")
    made = with_reading(made, "vfo/covers_low_hz/12m", "5.2 MHz")
    made = with_reading(made, "supply/rail", "13 V")
    photograph = Photograph(name="board.jpg", digest="0" * 64, stage="ladder")
    made = made.edited(("photographs",), (photograph,))
    renamed = made.edited(("bands", "20m", "name"), "home")
    assert [each.band for each in renamed.log] == ["home", "12m", ""]
    assert log_of(renamed).whole.within + log_of(renamed).whole.out == 3
    gone = renamed.band_removed("12m")
    assert [each.key for each in gone.log] == ["bandwidth_6db_hz", "rail"]
    without = gone.stage_removed("ladder")
    assert [each.key for each in without.log] == ["rail"]
    assert without.photographs[0].stage == ""


def test_a_switched_parts_reading_goes_with_its_band():
    reading = LogReading(about="part", stage="vfo", key="shift:20m", value=1e-11, unit="F")
    assert reading.with_bands_named({"20m": "40m"}).key == "shift:40m"
    assert reading.with_bands_named({"20m": ""}) is None
    assert reading.with_bands_named({"12m": "10m"}) is reading


def test_a_reading_of_what_is_gone_is_kept_and_told(rig):
    amplifier = BuiltAmplifier(id="extra", name="Extra")
    with_extra = rig.with_stages((amplifier, *rig.stages))
    made = with_reading(with_extra, "extra/gain_db", "14 dB")
    other = made.edited(("stages", "extra", "in_path"), True).edited(("log", 0, "key"), "no_such_figure")
    line = next(each for each in log_of(other).entries if each.reading)
    assert line.verdict == "no longer expected"
    assert line.item.name == "Extra"
    assert line.read == "14.0 dB"
