"""What a finding is: a number and a sentence that agree, an identity without the number, and an order."""

import re
from contextlib import suppress
from itertools import pairwise
from math import inf

import pytest

from core.model.boards.board import Board, Fitting, Panel, Placed
from core.model.notebook.junk_box import JunkBox, TransistorOnHand
from core.model.stages.amplifiers import Amplifier
from core.model.stages.audio import AudioPower
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.model.stages.built_amplifier import BuiltAmplifier
from core.model.stages.built_power_amplifier import BuiltPowerAmplifier
from core.model.stages.mixers import Mixer
from core.model.stages.oscillators import CrystalCircuit, HelperOscillator
from core.model.supply.supply import Load
from core.model.values.errors import DesignError
from core.model.values.notation import format_value
from core.model.values.quantities import spelled
from core.rig.analysis import Analysis
from core.rig.findings import RULES, SEVERITIES, Finding, ranked
from core.rig.paper.report import report
from core.rig.rules import inspect, inspection, ladders
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.kinds.table import kind_of
from core.stages.steps import finished
from tests.audio_rig import SPOILT_AUDIO
from tests.bags import with_table


def finding(**other):
    given = {
        "severity": "caution",
        "rule": "loss",
        "path": ("stages", "ladder"),
        "words": "The ladder loses <figure>, where <limit> is much.",
        "figure": 9.04,
        "limit": 8.0,
        "unit": "dB",
        "shown": ".1f",
        "remedy": "Take fewer poles.",
        "source": "a test",
    }
    return Finding(**given | other)


@pytest.mark.parametrize(
    ("given", "text"),
    [
        ({}, "The ladder loses 9.0 dB, where 8 dB is much."),
        ({"limit": 8.25}, "The ladder loses 9.0 dB, where 8.2 dB is much."),
        (
            {"words": "From <bare figure> to 5.2 MHz.", "figure": -1.25e6, "unit": "Hz", "shown": ".3f M"},
            "From −1.250 to 5.2 MHz.",
        ),
        (
            {"words": "<figure>; at least <limit>.", "figure": -48.4, "limit": -43.0},
            "−48.4 dB; at least −43 dB.",
        ),
        (
            {"words": "It has <figure>.", "figure": 0.8412e-12, "unit": "F", "shown": ".3g p"},
            "It has 0.841 pF.",
        ),
        ({"words": "It has <figure>.", "figure": 5.7e-9, "unit": "W", "shown": "2"}, "It has 5.7 nW."),
        ({"words": "Nothing passes.", "figure": None, "limit": None}, "Nothing passes."),
    ],
)
def test_the_sentence_is_made_from_the_numbers(given, text):
    assert finding(**given).text == text


def test_the_number_is_no_part_of_the_identity():
    assert finding().key == finding(figure=12.0, limit=9.0, severity="fault").key
    for other in ({"rule": "gain"}, {"stage": "mixer"}, {"band": "20m"}, {"path": ()}, {"subject": "image"}):
        assert finding(**other).key != finding().key


@pytest.mark.parametrize(
    ("given", "over_db"),
    [
        ({}, 1.04),
        ({"at_least": True}, -1.04),
        ({"figure": -50.0, "limit": -43.0, "unit": "dBc"}, -7.0),
        ({"figure": 2.0, "limit": 20.0, "unit": "W", "at_least": True}, 10.0),
        ({"figure": 20e3, "limit": 2e3, "unit": "Hz"}, 20.0),
        ({"figure": -1e6, "limit": 0.0, "unit": "Hz", "at_least": True}, inf),
        ({"limit": None}, inf),
        ({"figure": None, "limit": None}, inf),
    ],
)
def test_how_far_a_figure_is_over_its_limit(given, over_db):
    assert finding(**given).over_db == pytest.approx(over_db)


@pytest.mark.parametrize(
    ("figure", "limit", "over_db"), [(4.0, 2.0, 3.0103), (1.0, 2.0, -3.0103), (20.0, 0.2, 20.0)]
)
def test_watts_are_compared_as_powers(figure, limit, over_db):
    assert finding(figure=figure, limit=limit, unit="W").over_db == pytest.approx(over_db, abs=1e-4)
    assert finding(figure=figure, limit=limit, unit="V").over_db == pytest.approx(2 * over_db, abs=1e-4)


def test_the_worst_comes_first():
    slight, bad = finding(figure=8.1), finding(figure=20.0)
    missing, fault = finding(figure=None), finding(severity="fault", figure=8.2)
    kept = finding(severity="note", figure=50.0)
    assert ranked([kept, slight, bad, fault, missing]) == (fault, missing, bad, slight, kept)


def broken(path, value):
    return lambda project: project.edited(path, value)


def near_zero(project):
    """A band so near under the carrier that the VFO would run from 5 kHz on."""
    carrier = Analysis(project).carrier_hz(project.bands[0].name)
    high = project.edited(("bands", 0, "high_hz"), carrier - 5e3)
    return high.edited(("bands", 0, "low_hz"), carrier - 20e3)


LADDER, BAND_PASS = ("stages", "ladder"), ("stages", "band_pass", "filters", 0)
LOW_PASS, TANK = ("stages", "low_pass", "filters", 0), ("vfo", "tank")
#: Ways to spoil a rig; together they set off every rule.


def with_amplifier(**fields):
    """The project with an amplifier of parts before its first stage."""
    made = BuiltAmplifier(id="of_parts", name="Of parts", direction="receive", **fields)
    return lambda project: project.with_stages((made, *project.stages))


SUPPLY, RELAY, REGULATOR = ("supply",), ("supply", "relays", 0), ("supply", "regulators", 0)


def load_of(key, **fields):
    """The supply with something else typed of one who is fed, or typed at all."""

    def spoil(project):
        others = tuple(each for each in project.supply.loads if each.of != key)
        made = Load(name=f"{key} as typed", of=key, **fields)
        return project.edited((*SUPPLY, "loads"), (*others, made))

    return spoil


def with_power_amplifier(**fields):
    """The project with a power amplifier of parts in the place of the one it has."""

    def spoil(project):
        old = next(s for s in project.stages if kind_of(s).role == "power_amplifier")
        made = BuiltPowerAmplifier(id=old.id, name=old.name, direction="transmit", **fields)
        return project.with_stages(tuple(made if s is old else s for s in project.stages))

    return spoil


def put_on_board(stage, **places):
    """What puts parts of a stage's board somewhere, by their roles."""
    put = tuple(Placed(key=role, x_m=x, y_m=y) for role, (x, y) in places.items())
    return lambda project: project.edited(("boards",), (Board(stage=stage, places=put),))


def with_buffer(project, current_a):
    """The rig with an amplifier of parts behind its VFO."""
    buffer = BuiltAmplifier(
        id="buffer", name="Buffer", direction="vfo", topology="feedback", gain_db=10.5, current_a=current_a
    )
    return project.with_stages((*project.stages, buffer))


def with_carrier_circuit(circuit=None, **fields):
    """The project with a carrier oscillator of parts, and with other fields of it."""

    def spoil(project):
        made = project.edited(("carrier", "circuit"), CrystalCircuit(**circuit or {}))
        for name, value in fields.items():
            made = made.edited(("carrier", name), value)
        return made

    return spoil


SPOILT = {
    "as it is": lambda project: project,
    "a carrier's crystal that loses too much": with_carrier_circuit({"worst_ohm": 2000.0}),
    "a carrier's crystal driven too hard": with_carrier_circuit({"device": "j310"}),
    "a carrier's coil that rules": with_carrier_circuit(
        {"as_built": {"damping_resistor": 1e8, "degeneration": 5.0}}, coil_h=8e-6
    ),
    "a carrier oscillator too weak": with_carrier_circuit({"as_built": {"degeneration": 300.0}}),
    "a helper out of reach": broken(
        ("read_out", "helper"), HelperOscillator(trimmer_low_f=150e-12, trimmer_high_f=300e-12)
    ),
    "contacts too small": lambda project: project.edited(
        (*SUPPLY, "loads"), (*project.supply.loads, Load(name="Heater", receive_a=8.0))
    ).edited((*SUPPLY, "connector"), "coaxial"),
    "no fuse": broken((*SUPPLY, "fuse"), None),
    "small fuse": broken((*SUPPLY, "fuse", "rated_a"), 1.0),
    "large fuse": broken((*SUPPLY, "fuse", "rated_a"), 30.0),
    "a fuse that nobody makes": broken((*SUPPLY, "fuse", "rated_a"), 3.7),
    "a supply that limits": lambda project: project.edited((*SUPPLY, "source", "type"), "regulated").edited(
        (*SUPPLY, "source", "limit_a"), 1.0
    ),
    "a mains supply": broken((*SUPPLY, "source", "type"), "mains"),
    "backwards": broken((*SUPPLY, "polarity", "scheme"), "none"),
    "a small diode across": broken((*SUPPLY, "polarity", "diode"), "1n4001"),
    "a long thin lead": lambda project: project.edited((*SUPPLY, "lead", "gauge"), 22).edited(
        (*SUPPLY, "lead", "length_m"), 10.0
    ),
    "a battery that gives way": broken((*SUPPLY, "source", "internal_ohm"), 1.5),
    "a chip for 12 V": lambda project: project.with_stages(
        (*project.stages, AudioPower(id="speaker_chip", name="Chip", direction="receive", chip="lm386"))
    ),
    "nominal above full": broken(("station", "supply_v"), 16.0),
    "a regulator without room": broken((*REGULATOR, "output_v"), 10.0),
    "a hot regulator": lambda project: load_of("read_out", receive_a=90e-3)(project).edited(
        (*REGULATOR, "feeds"), ("vfo", "read_out")
    ),
    "a regulator of another voltage": broken((*REGULATOR, "output_v"), 7.3),
    "a relay for 24 V": broken((*RELAY, "coil_v"), 24.0),
    "a bare coil": broken((*RELAY, "suppressor"), "none"),
    "a stage fed in receive": load_of("driver", transmit_a=50e-3, powered="receive"),
    "a stage fed in both": load_of("if_amplifier_1", receive_a=20e-3, powered="both"),
    "a regulator off in transmit": broken((*REGULATOR, "powered"), "receive"),
    "a current that nobody knows": broken((*SUPPLY, "loads"), ()),
    "a VFO for 5 V on 8 V": broken(("vfo", "tank", "feedback", "supply_v"), 5.0),
    "a regulator for a stage that is gone": broken((*REGULATOR, "feeds"), ("vfo", "nobody")),
    "power at once": broken((*SUPPLY, "sequence", "transmit_s"), 0.0),
    "relay let go at once": broken((*SUPPLY, "sequence", "antenna_back_s"), 0.0),
    "heard too soon": broken((*SUPPLY, "sequence", "unmute_s"), 0.0),
    "no antenna relay": broken((*SUPPLY, "relays"), ()),
    "a power amplifier too hot, overvoltaged and badly driven": with_power_amplifier(
        sink_k_w=15.0, regulator_v=24.0, input_turns=1, swamping_ohm=5.0
    ),
    "a power amplifier that runs away": with_power_amplifier(
        device="2n5109", power_w=1.0, idle_a=0.06, tracking="none", insulator_k_w=20.0
    ),
    "a core that saturates": with_power_amplifier(core="T25-17"),
    "a power amplifier that feeds back": with_power_amplifier(
        match="pi",
        designed_at_hz=30e6,
        swamping_ohm=1e4,
        feedback_ohm=10.0,
        supply_v=28.0,
        power_w=0.3,
        working_class="b",
    ),
    "a bilateral pair": lambda project: project.with_stages(
        (BilateralAmplifier(id="pair", name="Pair"), *project.stages)
    ),
    "another transistor on hand": lambda project: project.with_stages(
        (BuiltAmplifier(id="built", name="Built", device="2n5109"), *project.stages)
    ).edited(("junk_box",), JunkBox(first=True, parts=(TransistorOnHand(device="2N3904", count=10),))),
    "the ladder right behind the mixer": lambda project: project.stage_removed("if_amplifier_1"),
    "loud microphone": broken(("microphone", "peak_dbm"), -40.0),
    "crystal microphone": broken(("microphone", "type"), "crystal"),
    **{f"audio of parts, {name}": spoil for name, spoil in SPOILT_AUDIO.items()},
    "a small core behind the power amplifier": broken(("stages", "low_pass", "filters", 0, "core"), "T25-6"),
    "a low-pass in transmit alone": broken(("stages", "low_pass", "direction"), "transmit"),
    "a core far below its range": lambda project: project.edited((*BAND_PASS, "core"), "T68-3").edited(
        (*BAND_PASS, "inductance_h"), 3e-6
    ),
    "a core that nobody makes": broken(("carrier", "coil_core"), "T1-1"),
    "a buffer that is asked too much": lambda project: with_buffer(project, 6e-3).edited(
        ("vfo", "output_dbm"), 4.0
    ),
    "a buffer beyond its ratings": lambda project: with_buffer(project, 0.15).edited(
        ("vfo", "output_dbm"), 14.0
    ),
    "hot transistor": with_amplifier(topology="feedback", gain_db=12.0, current_a=60e-3),
    "a gain that is missed": with_amplifier(
        topology="common_gate", device="j310", gain_db=16.0, current_a=10e-3
    ),
    "a transistor on too many volts": with_amplifier(
        topology="feedback_transformer", device="2n5109", current_a=40e-3, supply_v=18.0
    ),
    "a transistor with too much current": with_amplifier(
        topology="feedback", device="bc547", current_a=60e-3, supply_v=6.0
    ),
    "a slow transistor": with_amplifier(
        topology="feedback", device="2n2222a", current_a=4e-3, designed_at_hz=50e6, gain_db=8.0
    ),
    "a gain that cannot be had": with_amplifier(topology="feedback", gain_db=38.0, current_a=10e-3),
    "a transistor of another kind": with_amplifier(topology="common_gate", device="2n3904"),
    "a stage that lets back more than it has": lambda project: project.with_stages(
        (
            Amplifier(id="typed", name="Typed", direction="receive", gain_db=22.0, reverse_isolation_db=20.0),
            *project.stages,
        )
    ),
    "a follower": with_amplifier(topology="emitter_follower", current_a=5e-3),
    "a part on another": put_on_board("driver", bias_upper=(0.0235, 0.006), bias_lower=(0.0235, 0.006)),
    "a part far away": put_on_board("driver", bypass=(0.06, 0.06)),
    "knobs in each other's way": lambda project: project.edited(
        ("panels",), (Panel(fittings=(Fitting(kind="bnc", x_m=0.02, y_m=0.03),) * 2),)
    ),
    "empty": lambda project: project.with_stages(()),
    "no ladder": lambda project: project.stage_removed("ladder"),
    "no mixer": lambda project: project.stage_removed("mixer"),
    "no low-pass": lambda project: project.stage_removed("low_pass"),
    "no crystals": broken((*LADDER, "crystal"), None),
    "unmatched ladder": broken((*LADDER, "end_match"), "none"),
    "other crystals": broken(
        (*LADDER, "as_built"), dict.fromkeys(("crystal:1", "crystal:2", "crystal:3"), 19.6e6)
    ),
    "narrow ladder": broken((*LADDER, "bandwidth_hz"), 500.0),
    "wide ladder": broken((*LADDER, "bandwidth_hz"), 3800.0),
    "two poles": lambda project: project.edited((*LADDER, "poles"), 2).edited(
        ("carrier", "edge_suppression_db"), 60.0
    ),
    "coarse capacitors": lambda project: project.edited((*LADDER, "flatness"), "for_the_crystals").edited(
        (*LADDER, "capacitors"), "E6"
    ),
    "large ends": broken((*LADDER, "crystal", "motional_inductance_h"), 60e-3),
    "forgotten part": broken((*LADDER, "as_built"), {"coupling:99": 1e-10}),
    "wrong capacitors": broken((*LADDER, "as_built"), {"coupling:12": 1e-9, "coupling:23": 10e-12}),
    "one band-pass": lambda project: project.edited(
        ("stages", "band_pass", "filters"), project.stage("band_pass").filters[:1]
    ),
    "narrow band-pass": broken((*BAND_PASS, "bandwidth_hz"), 30e3),
    "wide band-pass": broken((*BAND_PASS, "bandwidth_hz"), 5e6),
    "cut-off too low": broken((*LOW_PASS, "cutoff_hz"), 8e6),
    "weak low-pass": lambda project: project.edited((*LOW_PASS, "order"), 3).edited(
        ("stages", "power_amplifier", "second_harmonic_dbc"), -10.0
    ),
    "IF 14 MHz": broken(("if_hz",), 14e6),
    "IF 30 MHz": broken(("if_hz",), 30e6),
    "IF 4 MHz": broken(("if_hz",), 4e6),
    "dial as IF": lambda project: project.edited(("if_hz",), project.bands[0].low_hz - 30e3),
    "low IF": broken(("if_hz",), 4.9152e6),
    "VFO near zero": near_zero,
    "turned over": broken(("bands", 0, "scheme"), "vfo_minus_if"),
    "through zero": broken(("bands", 0, "scheme"), "sum"),
    "outside": lambda project: project.edited(("bands", 0, "high_hz"), project.bands[0].high_hz + 1e6),
    "small coil": broken(("carrier", "coil_h"), 1e-7),
    "no balance": broken(("carrier", "balance_db"), 5.0),
    "behind the VFO": lambda project: project.with_stages(
        (*project.stages, Mixer(id="lost", name="Lost", direction="vfo"))
    ),
    "starved mixer": broken(("vfo", "output_dbm"), -8.0),
    "driven mixer": broken(("vfo", "output_dbm"), 17.0),
    "much wanted": broken(("station", "noise_margin_db"), 40.0),
    "quiet": broken(("stages", "audio", "gain_db"), 20.0),
    "loud": broken(("stages", "audio", "gain_db"), 99.0),
    "hot IF": broken(("stages", "if_amplifier_1", "gain_db"), 80.0),
    "hot driver": broken(("stages", "pre_driver", "gain_db"), 40.0),
    "cold driver": broken(("stages", "driver", "gain_db"), 0.0),
    "noisy VFO": broken(("vfo", "noise_dbc_hz"), -90.0),
    "no volume": lambda project: project.edited(("stages", "gain_control", "in_path"), False),
    "fast knob": broken((*TANK, "variable", "reduction"), 1.0),
    "hot box": broken((*TANK, "warmth", "rise_k"), 60.0),
    "loose coupling": broken((*TANK, "feedback", "coupling_f"), 10e-12),
    "small swing": broken((*TANK, "variable", "high_f"), 30e-12),
    "helper": broken(("read_out", "helper_hz"), 8.192e6),
    "one programme": broken(("read_out", "counter", "programmes"), 1),
    "sweeps": lambda project: with_table(project, "label;file\nA;x1.csv\n").edited(
        ("crystal_batch", "method"), "sweep"
    ),
}


def spoilt(*projects):
    """The samples spoilt in every way; one of them may lack what is spoilt, not both."""
    for name, spoil in SPOILT.items():
        made = {}
        for project in projects:
            with suppress(DesignError):
                made[f"{project.name}, {name}"] = spoil(project)
        assert made, name
        yield from made.items()


@pytest.fixture(scope="module")
def every(tern, muddle):
    """The findings of all spoilt rigs, by what was done."""
    return {name: inspect(Analysis(project)) for name, project in spoilt(tern, muddle)}


def test_number_and_sentence_agree_in_every_finding(every):
    for name, findings in every.items():
        for each in findings:
            assert "<" not in each.text, f"{name}: {each.text}"
            assert each.text[0].isupper() or each.text[0].isdigit(), f"{name}: {each.text}"
            if each.figure is None:
                assert each.limit is None
                continue
            assert "<figure>" in each.words or "<bare figure>" in each.words, f"{name}: {each.text}"
            spec, _, prefix = each.shown.partition(" ")
            place = next(n for n, sign in enumerate(spec) if sign.isdigit())
            scale = {"": 1.0, "k": 1e3, "M": 1e6, "p": 1e-12}[prefix]
            # A figure that would read like its limit is told with one or two digits more.
            told = [
                format_value(each.figure, each.unit, int(spec) + more)
                if spec.isdigit()
                else format(
                    each.figure / scale, f"{spec[:place]}{int(spec[place]) + more}{spec[place + 1 :]}"
                ).replace("-", "−")
                for more in range(3)
            ]
            assert any(
                re.search(rf"(?<![\d.]){re.escape(digits)}(?![\d.]\d)", each.text) for digits in told
            ), f"{name}: {each.text}"


def test_what_is_more_than_a_note_is_over_its_limit(every):
    for name, findings in every.items():
        for each in findings:
            if each.severity != "note" and each.limit is not None:
                assert each.over_db > 0, f"{name}: {each.text}"


def test_no_two_findings_of_a_rig_are_the_same_one(every):
    for name, findings in every.items():
        keys = [each.key for each in findings]
        assert len(set(keys)) == len(keys), name


def test_findings_come_worst_first(every):
    for findings in every.values():
        # To a millionth of a decibel: beyond that bands that lie alike stay in their order.
        places = [(SEVERITIES.index(each.severity), -round(each.over_db, 6)) for each in findings]
    assert all(a <= b for a, b in pairwise(places))


def test_the_spoilt_rigs_set_off_every_rule(tern, muddle):
    silent = {rule.__name__ for rule in RULES}
    for _, project in spoilt(tern, muddle):
        analysis = Analysis(project)
        silent -= {
            name
            for name in silent
            if any(True for r in RULES if r.__name__ == name for f in r(analysis) if f)
        }
    assert silent == set()


def test_json_prints_figure_and_limit(muddle):
    rows = {(r["rule"], r["band"]): r for r in report(Analysis(muddle))["findings"]}
    row = rows["vfo_start", ""]
    assert row["text"].count(f"{row['figure']:.2f} {row['unit']}") == 1
    assert (row["limit"], row["unit"]) == (2.5, "times")
    assert row["path"] == ["vfo", "tank", "feedback", "bias_ohm"]
    assert rows["dummy_load_first", ""]["figure"] is None


@pytest.mark.parametrize(
    ("figure", "shown", "sentence"),
    [
        (-42.6, ".0f", "leaves at \u221242.6 dBc, at most \u221243 dBc"),
        (-42.96, ".0f", "leaves at \u221242.96 dBc, at most \u221243 dBc"),
        (-38.2, ".0f", "leaves at \u221238 dBc, at most \u221243 dBc"),
        (-43.0, ".0f", "leaves at \u221243 dBc, at most \u221243 dBc"),
    ],
)
def test_a_figure_just_over_its_limit_is_told_apart_from_it(figure, shown, sentence):
    found = Finding(
        severity="fault",
        rule="x",
        path=(),
        words="leaves at <figure>, at most <limit>",
        figure=figure,
        limit=-43.0,
        unit="dBc",
        shown=shown,
        remedy="",
        source="",
    )
    assert found.text == sentence


@pytest.mark.parametrize(
    ("figure", "sentence"),
    [(9.96, "10 W"), (10.04, "10.04 W"), (10.4, "10.4 W"), (10.0, "10 W"), (12.34, "12 W")],
)
def test_digits_of_a_figure_beside_its_limit(figure, sentence):
    told = finding(words="<figure>, <limit>.", figure=figure, limit=10.0, unit="W", shown="2").text
    assert told in (f"{sentence}, 10 W.", "9.96 W, 10 W.")
    assert figure == 10.0 or not told.startswith("10 W")


def test_advice_on_a_far_too_wide_ladder_tries_few(tern, monkeypatch):
    # Ten thousand widths would be ten thousand designs.
    tried = []
    design = ladders.ladder_filter.design
    monkeypatch.setattr(ladders.ladder_filter, "design", lambda *args: tried.append(args) or design(*args))
    finished(ladders._narrower(AskedLadder(tern.stage("ladder"), tern.if_hz).edited(("bandwidth_hz",), 1e6)))
    assert 1 < len(tried) <= 40


@pytest.mark.parametrize("flatness", ["as_designed", "for_the_crystals"])
def test_no_step_of_an_inspection_measures_more_than_two_ladders(tern, monkeypatch, flatness):
    # The window waits for one step: with ten poles and the crystals' Q counted, a ladder takes 50 to 150 ms.
    ladder = ("stages", "ladder")
    rig = tern.edited((*ladder, "poles"), 10).edited((*ladder, "crystal", "quality_factor"), 40e3)
    analysis = Analysis(rig.edited((*ladder, "flatness"), flatness).edited(("if_hz",), 9.239726e6))
    measured = 0

    def counted(*args, **kwargs):
        nonlocal measured
        measured += 1
        return pass_band(*args, **kwargs)

    pass_band = ladders.ladder_filter.pass_band
    assert analysis.filters
    monkeypatch.setattr(ladders.ladder_filter, "pass_band", counted)
    in_step = []
    for _ in inspection(analysis):
        in_step.append(measured)
        measured = 0
    assert sum(in_step) > 20
    # Its own and the one without loss that it is held against.
    assert max(in_step) <= 2
    assert any(finding.rule == "ladder_ripple" for finding in inspect(analysis))


# -- two bands alike -----------------------------------------------------------------------------------


def twinned(project):
    """The project with a second band exactly like its first, on the same filters."""
    first = project.bands[0].name
    for stage in project.stages:
        for place, one in enumerate(getattr(stage, "filters", ())):
            if first in one.bands:
                project = project.edited(
                    ("stages", stage.id, "filters", place, "bands"), (*one.bands, "twin")
                )
    twin = project.bands[0].edited(("name",), "twin")
    return project.edited(("bands",), (project.bands[0], twin, *project.bands[1:]))


def test_no_band_hides_another_that_is_as_bad(tern, muddle):
    seen = set()
    for name, project in spoilt(tern, muddle):
        if project.bands[0].name != project.bands[1].name and len(project.bands) < 3:
            try:
                both = twinned(project)
            except DesignError:
                continue
            first = both.bands[0].name
            told = inspect(Analysis(both))
            for each in told:
                if each.band not in (first, "twin"):
                    continue
                other = "twin" if each.band == first else first
                alike = [f for f in told if f.rule == each.rule and f.stage == each.stage and f.band == other]
                # A filter without a solution is one, however many bands it serves.
                if each.rule != "filter_unsolved":
                    assert alike or spelled(other) in each.text, f"{name}: {each.rule}, {each.text}"
                    seen.add(each.rule)
    assert len(seen) > 25, seen
