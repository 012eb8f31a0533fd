"""What is allowed one by one and impossible together becomes a reason, and no figure is ever no number."""

import json
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import pytest

from core.circuits.ladder import Arm, Network, Part, solve
from core.circuits.units import added_db, excess_db
from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.report import as_text, report
from core.rig.rules import inspect
from core.stages.gate import gate, is_sound
from core.stages.outcome import Unsolved
from core.stages.vfo.tank import TankDesign

REASON = (
    " cannot be computed from these values, which do not go together; bring the one changed last nearer to "
    "what is usual."
)


@dataclass(frozen=True)
class Result:
    one: float
    more: tuple[object, ...] = ()


@pytest.mark.parametrize(
    "found",
    [
        float("nan"),
        float("inf"),
        np.float64("nan"),
        np.array([1.0, np.nan]),
        np.array([1j, complex(0, np.nan)]),
        Result(float("nan")),
        Result(1.0, (Result(float("-inf")),)),
        MappingProxyType({"L1": float("nan")}),
        # One bad part among good ones is enough.
        Network((Arm("series", (Part("L1", "inductor", 1e-6), Part("L2", "inductor", -1e-6))),), 50, 50),
        Network((Arm("series", (Part("L1", "inductor", -1e-6),)),), 50, 50),
        Network((Arm("series", (Part("L1", "inductor", float("inf")),)),), 50, 50),
    ],
)
def test_what_holds_no_number_does_not_pass(found):
    assert not is_sound(found)
    reason = gate("The thing")(lambda: found)()
    assert reason == Unsolved("The thing" + REASON)


def test_numbers_and_reasons_pass_as_they_are():
    for found in (1.5, 3, None, "word", Unsolved("Because."), Result(1.0, (np.array([np.inf, 1.0]),))):
        assert gate("The thing")(lambda found=found: found)() is found


@pytest.mark.parametrize(
    "fails", [lambda: 1 / 0, lambda: 10.0**400, lambda: np.linalg.inv(np.zeros((2, 2))), lambda: np.log(-1.0)]
)
def test_failing_arithmetic_is_a_reason_without_a_warning(fails):
    assert isinstance(gate("The thing")(fails)(), Unsolved)


def test_other_errors_are_not_hidden():
    with pytest.raises(KeyError):
        gate("The thing")(lambda: {}["x"])()


TANK = ("vfo", "tank")
LADDER = ("stages", "ladder")
CRYSTAL = (*LADDER, "crystal")
LOW_PASS = ("stages", "low_pass", "filters", 0)
BAND_PASS = ("stages", "band_pass", "filters", 0)


@pytest.mark.parametrize(
    "edits",
    [
        {(*TANK, "coil_self_f"): 1.0, (*TANK, "coil_h"): 237.0},
        {("if_hz",): 1e9, (*TANK, "coil_self_f"): 1.0},
        {(*TANK, "as_built"): {"coil": 1e4, "feedback_upper": 1e-18, "feedback_lower": 1.0}},
        {(*TANK, "stray_f"): 1.0, (*TANK, "feedback", "input_f"): 1e-18},
        {(*TANK, "variable", "reduction"): 1e-3, (*TANK, "variable", "travel_turns"): 1e-3},
        {(*LADDER, "as_built"): {"crystal:1": 3.0}},
        {(*LADDER, "as_built"): {"coupling:1": 1.0, "coupling:2": 1e-18}},
        {(*LADDER, "crystal", "motional_inductance_h"): 1e-12},
        {
            (*LADDER, "crystal", "motional_inductance_h"): 1e4,
            (*LADDER, "crystal", "holder_capacitance_f"): 1.0,
        },
        {(*LADDER, "crystal", "quality_factor"): 1.0, (*LADDER, "poles"): 12},
        {(*LOW_PASS, "coil_q"): 1.0, (*LOW_PASS, "capacitor_q"): 1.0},
        {(*LOW_PASS, "as_built"): {"coil:1": 1e4, "shunt:1": 1.0, "shunt:2": 1e-18}},
        {(*BAND_PASS, "as_built"): {"coil:1": 1e4, "resonator:1": 1.0, "coupling:1": 1e-18}},
        {(*BAND_PASS, "inductance_h"): 1e-12},
        {("if_hz",): 1e4},
        {("read_out", "counter", "gate_s"): 1e-6},
        {("stages", "power_amplifier", "gain_db"): -200.0, ("stages", "audio", "gain_db"): 0.0},
    ],
    ids=lambda edits: ", ".join(".".join(map(str, path[-2:])) for path in edits),
)
def test_what_is_allowed_is_answered_with_numbers_or_reasons(tern, edits):
    rig = tern
    for path, value in edits.items():
        rig = rig.edited(path, value)
    analysis = Analysis(rig)
    data = report(analysis)
    json.dumps(data, allow_nan=False)
    assert "nan" not in as_text(data)
    assert build_sheet(analysis).name == rig.name
    assert isinstance(analysis.tank, TankDesign | Unsolved)


def test_a_tank_beyond_all_proportion_says_so(tern):
    rig = tern.edited((*TANK, "coil_self_f"), 1.0).edited((*TANK, "coil_h"), 237.0)
    assert Analysis(rig).tank == Unsolved("The VFO's tank" + REASON)
    assert [f.text for f in inspect(Analysis(rig)) if f.rule == "vfo_unsolved"] == [Analysis(rig).tank.reason]


def test_a_ladder_that_outgrows_a_float_is_still_solved():
    # Eighty cells, each of which divides by some 1e9: 1e-720 altogether, though two of them are 1e-18.
    cell = (
        Arm("series", (Part("L", "inductor", 1e4),)),
        Arm("shunt", (Part("C", "capacitor", 1e-3),)),
    )
    two, many = (solve(Network(cell * n, 50, 50), [1e6]) for n in (2, 80))
    each_db = 20 * np.log10((2 * np.pi * 1e6) ** 2 * 1e4 * 1e-3)
    assert two.loss_db[0] == pytest.approx(solve(Network(cell, 50, 50), [1e6]).loss_db[0] + each_db, abs=0.01)
    assert many.loss_db[0] == np.inf  # more than 6000 dB: nothing
    assert abs(many.s11[0]) == pytest.approx(1.0)


def test_levels_add_without_forming_powers():
    assert added_db(3.0, 3.0) == pytest.approx(6.0103)
    assert added_db(-5000.0, 9000.0) == 9000.0
    assert added_db(-np.inf, -np.inf) == -np.inf
    assert excess_db(3.0103) == pytest.approx(0.0, abs=1e-4)
    assert excess_db(0.0) == -np.inf
    assert excess_db(5000.0) == 5000.0


def test_gains_of_a_rig_have_an_end(muddle):
    rig = muddle
    for name in ("driver", "pre_driver", "if_amplifier_1", "if_amplifier_2"):
        rig = rig.edited(("stages", name, "gain_db"), 200.0)
    with pytest.raises(DesignError, match=r"the stages amplify by 1[0-9]{3} dB together"):
        rig.edited(("stages", "rf_stage", "gain_db"), 200.0)


def test_an_audio_stage_of_one_milliwatt_limits_the_speaker_as_any_other(muddle):
    """0 dBm is a level like others: 86 dB SPL at 1 W and 1 m is 62 dB SPL for 1 mW at half a metre."""
    rig = muddle.edited(("stages", "audio", "largest_output_w"), 1e-3).edited(
        ("stages", "audio", "gain_db"), 130.0
    )
    assert Analysis(rig).receive("20m").speaker_noise_db_spl == pytest.approx(86 - 30 + 6.0206, abs=1e-3)
