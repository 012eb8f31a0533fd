"""Findings of a power amplifier of parts: what sets them off, and that each remedy mends what it is for."""

from itertools import islice
from math import log10

import pytest

from core.circuits.units import watts
from core.model.stages.amplifiers import Attenuator
from core.model.stages.built_power_amplifier import BuiltPowerAmplifier
from core.rig.analysis import Analysis
from core.rig.findings import RULES
from core.rig.paper.build_sheet import CAUTIONS, build_sheet
from core.rig.power.exposure import GROUND, distance_m, exposure, limit_w_m2
from core.rig.power.facts import TOUCHED_C, drivers, power_amplifiers_of
from core.rig.remedies.remedy import _MOST_TRIALS, _TRIALS, may_have, remedies
from core.rig.rules import inspect
from core.rig.rules.power import amplifier, drive
from core.stages.kinds.table import kind_of
from core.stages.steps import finished


def rig_with(project, **fields):
    old = next(s for s in project.stages if kind_of(s).role == "power_amplifier")
    made = BuiltPowerAmplifier(id=old.id, name=old.name, direction="transmit", **fields)
    return project.with_stages(tuple(made if s is old else s for s in project.stages))


#: The rules of a power amplifier alone: others take their time for what does not matter here.
POWER_RULES = [each for each in RULES if each.__module__ in (amplifier.__name__, drive.__name__)]


def told(project, name):
    analysis = Analysis(project)
    return [each for rule in POWER_RULES for each in rule(analysis) if each is not None and each.rule == name]


COLD = {"device": "2n5109", "power_w": 1.0, "idle_a": 0.06, "tracking": "none", "insulator_k_w": 20.0}
#: What is wrong, which finding tells it, what it says, and the remedy.
CASES = [
    ({"sink_k_w": 15.0}, "power_hot", "Junctions of", "Take a heat sink of"),
    ({"insulator_k_w": 10.0}, "power_hot", "Junctions of", "Take an insulator of 0.7 K/W"),
    (
        {"working_class": "a", "ambient_c": 65.0},
        "power_no_sink",
        "No heat sink keeps",
        "Let it work in class AB",
    ),
    ({"sink_k_w": 7.0}, "power_mismatch_heat", "mismatch of 3 to 1", "Take a heat sink of"),
    (
        {"supply_v": 28.0, "power_w": 20.0, "sink_k_w": 1.0},
        "power_volts",
        "and bears 50 V",
        "Feed it with 24 V",
    ),
    ({"device": "2n7000", "power_w": 1.0, "idle_a": 0.03}, "power_current", "bears 200 mA", "of power"),
    ({"regulator_v": 24.0}, "power_bias_above", "can come to 24 V where the divider breaks", "from 12 V"),
    (COLD, "power_runs_away", "nothing follows the heat", "into emitter or source"),
    (
        {"device": "irf510", "tracking": "none", "idle_a": 0.05, "power_w": 5.0, "sink_k_w": 10.0},
        "power_drifts",
        "nothing follows the heat",
        "as a diode on the sink",
    ),
    (
        {"device": "irf510", "power_w": 7.0, "idle_a": 0.3, "input_turns": 1, "supply_v": 18.0},
        "power_gain_short",
        "IRF510 in Power amplifier has",
        "Build it with RD16HHF1",
    ),
    ({"core": "T30-17"}, "power_core_low", "serves from 49.7 MHz on", "smallest core"),
    ({"core": "T25-17"}, "power_core_flux", "gets 5.1 mT of flux", "smallest core"),
    ({"core": "T30-17"}, "power_drive_missing", "and the power wanted takes", ""),
    ({"input_turns": 1, "swamping_ohm": 5.0}, "power_input", "sees an SWR of", "Let the swamping be found"),
    ({"power_w": 3.0, "core": "FT37-61"}, "power_most", "too little for the", "smallest core"),
]


@pytest.mark.parametrize(("fields", "name", "words", "remedy"), CASES, ids=lambda each: str(each)[:40])
def test_what_is_wrong_is_told_and_its_remedy_mends_it(tern, fields, name, words, remedy):
    rig = rig_with(tern, **fields)
    found = told(rig, name)
    finding = found[0]
    assert words in finding.text
    assert may_have(finding)
    tried = (
        (each, each.tried_on(rig)) for each in islice(_TRIALS[name](Analysis(rig), finding), _MOST_TRIALS)
    )
    edit = next(
        each
        for each, changed in tried
        if changed is not None and all(one.band != finding.band for one in told(changed, name))
    )
    assert remedy in edit.label


def test_an_amplifier_too_weak_is_held_against_what_its_output_should_be(tern):
    rig = rig_with(tern)
    place = next(n for n, s in enumerate(rig.stages) if kind_of(s).role == "power_amplifier")
    pad = Attenuator(id="lossy", name="Lossy", direction="transmit", loss_db=12.0)
    # Stages stand in the order of the receive path.
    rig = rig.with_stages((*rig.stages[:place], pad, *rig.stages[place:]))
    (finding, *_) = told(rig, "power_most")
    facts = power_amplifiers_of(Analysis(rig))[0]
    most_w = next(each.most_w for each in facts.bands if each.band == finding.band)
    # Twelve decibels are a factor of sixteen, and the low-pass takes a little too.
    assert finding.limit == pytest.approx(16 * rig.station.power_w, rel=0.1)
    assert finding.figure == most_w > rig.station.power_w
    # One that could not be driven so far by what stands behind it is not told of itself.
    weak = rig.stages[place + 1].edited(("power_w",), 0.1).edited(("id",), "last").edited(("name",), "Last")
    behind = rig.with_stages(tuple(weak if s is pad else s for s in rig.stages))
    assert {each.stage for each in told(behind, "power_most")} == {"last"}


@pytest.mark.parametrize(
    ("fields", "name", "remedy"),
    [
        ({"sink_k_w": 15.0}, "power_hot", "Take a heat sink of 7 K/W"),
        ({"core": "T25-17"}, "power_core_flux", "Let the smallest core that will do be found"),
    ],
)
def test_a_remedy_is_the_least_that_brings_nothing_else(tern, fields, name, remedy):
    rig = rig_with(tern, **fields)
    (finding,) = told(rig, name)
    (edit,) = finished(remedies(Analysis(rig), finding))
    assert edit.label == remedy
    assert not told(edit.on(rig), name)


def test_the_sample_with_a_power_amplifier_of_parts_is_cool_and_driven(tern):
    rig = rig_with(tern)
    found = {each.rule for rule in POWER_RULES for each in rule(Analysis(rig)) if each is not None}
    assert found == {"rf_exposure"}


def test_a_hot_sink_is_told_of(tern):
    (finding,) = told(rig_with(tern, sink_k_w=8.0), "power_sink_burns")
    assert "from 70 °C on a touch burns" in finding.text
    assert finding.figure > TOUCHED_C
    assert not told(rig_with(tern, sink_k_w=2.0), "power_sink_burns")


def test_an_rf_type_has_the_gain_that_a_switching_type_lacks(tern):
    cheap = rig_with(tern, device="irf510", power_w=7.0, idle_a=0.3, supply_v=18.0)
    (finding,) = told(cheap, "power_gain_short")
    assert finding.band == "12m"
    assert not told(rig_with(tern, device="rd16hhf1", power_w=7.0, supply_v=18.0), "power_gain_short")


def test_drive_from_the_mixer_to_the_antenna(tern):
    """Needs and has differ by what the chain lacks, whatever the place, as long as nothing compresses."""
    rig = rig_with(tern, power_w=20.0, supply_v=20.0, idle_a=0.8, sink_k_w=1.0)
    analysis = Analysis(rig)
    chain = drivers(analysis, "20m")
    assert [each.name for each in chain] == [
        "Band-pass",
        "Pre-driver",
        "Driver",
        "Power amplifier",
        "Low-pass",
    ]
    # At the low-pass's input: the power wanted, and the loss of the filter.
    last = chain[-1]
    assert watts(last.needs_dbm + last.gain_db) == pytest.approx(rig.station.power_w, rel=1e-6)
    pa = chain[-2]
    gain = float(power_amplifiers_of(analysis)[0].bands[0].gain_db)
    assert pa.gain_db == pytest.approx(gain)
    # Backwards through the stage: a little more than its gain less, as it compresses.
    assert 0 <= pa.needs_dbm - (last.needs_dbm - gain) < 1.5
    levels = analysis.transmit("20m")
    assert pa.has_dbm == pytest.approx(float(levels.level_dbm[-3]))


@pytest.mark.parametrize(
    ("mhz", "limit"), [(3.6, 138.89), (7.1, 35.71), (14.2, 8.93), (21.2, 4.005), (28.5, 2.216)]
)
def test_limits_of_the_power_flux(mhz, limit):
    # 47 CFR 1.1310 Table 1, general population: mW/cm² times ten.
    assert limit_w_m2(1e6 * mhz) == pytest.approx(limit, rel=6e-4)
    assert limit_w_m2(1e6) == 1000.0
    assert limit_w_m2(50e6) == 2.0
    assert limit_w_m2(400e6) is None


@pytest.mark.parametrize(
    ("mhz", "free", "ground", "worst"), [(28.5, 1.085, 1.737, 2.171), (14.2, 0.541, 0.865, 1.082)]
)
def test_distances_by_hand(mhz, free, ground, worst):
    # 100 W PEP, a fifth on average, 2.15 dBi: S = P G k/(4 π R²).
    limit = limit_w_m2(1e6 * mhz)
    for k, metres in ((1.0, free), (GROUND, ground), (4.0, worst)):
        assert distance_m(20.0, 2.15, limit, k) == pytest.approx(metres, abs=6e-4)
    found = exposure("x", 1e6 * mhz, 100.0)
    assert found.distance_m == pytest.approx(ground, abs=6e-4)
    assert found.near_m == pytest.approx(299.792 / mhz / 6.28319, rel=1e-5)
    assert found.holds == (mhz > 20)


def test_exposure_is_told_as_arithmetic(tern):
    (finding,) = told(rig_with(tern), "rf_exposure")
    assert "arithmetic, no advice" in finding.text
    assert "local rules" in finding.remedy


def test_the_harmonics_of_the_table_are_those_of_the_load_line(tern):
    analysis = Analysis(rig_with(tern))
    (facts,) = power_amplifiers_of(analysis)
    rows = {row.number: row for row in analysis.harmonics("20m")}
    for number, dbc in enumerate(facts.working.output.harmonics_dbc, 2):
        assert rows[number].amplifier_dbc == pytest.approx(dbc)
    assert "load line" in analysis.sending.source
    # What is full power there is the largest output.
    assert analysis.full_power_w == pytest.approx(facts.design.most_w)


def test_without_an_answer_the_signal_goes_round_it(tern):
    broken = rig_with(tern, device="2n3904")
    analysis = Analysis(broken)
    assert analysis.sending is None
    assert analysis.harmonics("20m") == ()
    block = next(b for b in analysis.transmit("20m").blocks if b.role == "power_amplifier")
    # The difference of two levels.
    assert block.gain_db == pytest.approx(0.0, abs=1e-12)
    assert any("as a power transistor is not in the table" in each.text for each in inspect(analysis))
    assert log10(analysis.transmit("20m").output_w) < 0


def test_one_that_feeds_back_has_no_largest_output(tern):
    wild = {"match": "pi", "designed_at_hz": 30e6, "swamping_ohm": 1e4, "feedback_ohm": 10.0}
    rig = rig_with(tern, supply_v=28.0, power_w=0.3, working_class="b", **wild)
    (finding,) = told(rig, "power_unsolved")
    assert "At 14.2 MHz more comes back through the device than goes out" in finding.text
    assert not told(rig.edited(("stages", "power_amplifier", "feedback_ohm"), None), "power_unsolved")


def test_the_sheet_tells_what_a_power_amplifier_is_and_how_far_people_keep(tern):
    sheet = build_sheet(Analysis(rig_with(tern)))
    section = next(each for each in sheet.filters if each.stage == "power_amplifier")
    told_there = dict(section.figures)
    assert told_there["idle current"] == "250 mA"
    assert told_there["trimmer gives"].startswith("2.96 to 5.06")
    assert told_there["20 m: gain"] == "18.1 dB"
    assert told_there["12 m, exposure: from"].endswith(" m")
    assert any("Heat sinks and power transistors" in each for each in CAUTIONS)
    assert any("(power amplifier's is an estimate)" in line for line in sheet.paths[1].summary)
