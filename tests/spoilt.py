"""Rigs spoilt in every way that a rule tells of."""

from contextlib import suppress

from core.model.boards.board import Board, Fitting, Panel, Placed
from core.model.notebook.junk_box import CoreOnHand, JunkBox, TransistorOnHand, VariableOnHand
from core.model.stages.amplifiers import Amplifier
from core.model.stages.audio import AudioPower
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.model.stages.built_amplifier import BuiltAmplifier
from core.model.stages.built_power_amplifier import BuiltPowerAmplifier
from core.model.stages.mixers import Mixer
from core.model.stages.oscillators import CrystalCircuit, HelperOscillator
from core.model.supply.supply import Load
from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.stages.kinds.table import kind_of
from tests.audio_rig import SPOILT_AUDIO
from tests.bags import with_table


def broken(path, value):
    return lambda project: project.edited(path, value)


def near_zero(project):
    """A band so near under the carrier that the VFO would run from 5 kHz on."""
    carrier = Analysis(project).carrier_hz(project.bands[0].name)
    high = project.edited(("bands", 0, "high_hz"), carrier - 5e3)
    return high.edited(("bands", 0, "low_hz"), carrier - 20e3)


LADDER, BAND_PASS = ("stages", "ladder"), ("stages", "band_pass", "filters", 0)
LOW_PASS, TANK = ("stages", "low_pass", "filters", 0), ("vfo", "tank")
SUPPLY, RELAY, REGULATOR = ("supply",), ("supply", "relays", 0), ("supply", "regulators", 0)


def with_amplifier(**fields):
    """The project with an amplifier of parts before its first stage."""
    made = BuiltAmplifier(id="of_parts", name="Of parts", direction="receive", **fields)
    return lambda project: project.with_stages((made, *project.stages))


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


#: Ways to spoil a rig; together they set off every rule.
SPOILT = {
    "as it is": lambda project: project,
    "a value of a part that the supply lacks": broken((*SUPPLY, "as_built"), {"adjust_upper": 240.0}),
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
    "another trimmer on hand": lambda project: project.edited(
        ("junk_box",), JunkBox(first=True, parts=(VariableOnHand(low_f=4e-12, high_f=40e-12),))
    ),
    "another core on hand": lambda project: project.edited(
        ("stages", "mixer", "figures_from"), "circuit"
    ).edited(("junk_box",), JunkBox(first=True, parts=(CoreOnHand(core="FT50-43", count=4),))),
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
