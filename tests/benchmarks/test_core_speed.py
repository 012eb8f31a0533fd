"""Speed of the computing core: asserted as ratios within one run, seconds only noted."""

import numpy as np
import pytest

from core.circuits import nodal
from core.circuits.active.operating import bias
from core.circuits.active.two_port import two_port
from core.circuits.ladder import circuit_of, solve
from core.model.bands import Band
from core.model.readout import Counter, ReadOut
from core.model.stages.filters import LadderFilter, LowPassFilter
from core.model.stages.tank import Tank
from core.rig.analysis import Analysis
from core.rig.plan.frequency_plan import band_plan
from core.rig.read_out import plan as read_out
from core.rig.start.new_rig import new_rig
from core.rig.survey.if_survey import survey
from core.rig.survey.options import options
from core.stages.built import curve_fit
from core.stages.built.corridor import corridor
from core.stages.coils import winding
from core.stages.crystals.crystal_choice import place
from core.stages.crystals.crystal_sweep import from_sweep
from core.stages.crystals.crystals import Fixture
from core.stages.filters import ladder_filter, low_pass
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.tolerance import filters
from core.stages.tolerance.drawn import draw
from core.stages.tolerance.filters import LADDER
from core.stages.tolerance.judging import Spreads
from core.stages.vfo import tank_design
from core.stages.vfo.tank import WantedRange
from core.trade.crystals import stock
from tests.benchmarks.conftest import median_s
from tests.made_up import with_power_block
from tests.published.amplifiers import AMPLIFIERS
from tests.published.amplifiers import circuit_of as circuit_of_deck
from tests.published.reference import scattering
from tests.published.test_crystals import bag, sweep


def test_the_ladder_is_sixty_times_as_fast_as_scikit_rf(note):
    made = ladder_filter.design(AskedLadder(LadderFilter(id="ladder", name="Ladder", poles=8), 9e6))
    f = np.linspace(*made.span_hz, 1001)
    ours, theirs = solve(made.network, f), scattering(made.network, f)
    assert np.allclose(ours.s21, theirs[:, 1, 0], rtol=0, atol=1e-9)
    slow = median_s(lambda: scattering(made.network, f), 7)
    quick = median_s(lambda: solve(made.network, f), 100)
    note("8-pole ladder, 1001 points: scikit-rf over ours", slow / quick, "×", 60)
    note("8-pole ladder, 1001 points", 1e3 * quick, "ms")
    assert slow / quick >= 60


def test_the_nodal_solver_on_a_dozen_nodes(note):
    made = ladder_filter.design(AskedLadder(LadderFilter(id="ladder", name="Ladder", poles=6), 9e6))
    circuit, f = circuit_of(made.network), np.linspace(*made.span_hz, 201)
    assert len(circuit.nodes) >= 12
    quick = median_s(lambda: solve(made.network, f), 100)
    took = median_s(lambda: nodal.solve(circuit, f), 100)
    note("nodal solver, 13 nodes, 201 frequencies", 1e3 * took, "ms", 3)
    note("nodal solver over the ladder solver", took / quick, "×", 40)
    assert took / quick <= 40


def test_three_transistors_with_noise(note):
    circuit, f = circuit_of_deck(AMPLIFIERS["c22"].deck), np.linspace(1e6, 60e6, 201)
    made = ladder_filter.design(AskedLadder(LadderFilter(id="ladder", name="Ladder", poles=6), 9e6))
    dozen = circuit_of(made.network)
    yardstick = median_s(lambda: nodal.solve(dozen, np.linspace(*made.span_hz, 201)), 50)
    took = median_s(lambda: two_port(circuit, f), 50)
    note("three transistors, S, impedances and noise, 201 frequencies", 1e3 * took, "ms", 4)
    note("the same over the nodal solver of as many nodes", took / yardstick, "×", 4)
    note("bias of three transistors", 1e3 * median_s(lambda: bias.__wrapped__(circuit), 50), "ms")
    assert took / yardstick <= 4


@pytest.fixture(scope="module")
def one_ladder_s():
    """What solving an 8-pole ladder at 1001 points takes here [s]: the yardstick of all other work."""
    made = ladder_filter.design(AskedLadder(LadderFilter(id="ladder", name="Ladder", poles=8), 9e6))
    f = np.linspace(*made.span_hz, 1001)
    return median_s(lambda: solve(made.network, f), 100)


def test_the_survey_of_sixty_crystals_and_two_bands(note, one_ladder_s):
    crystals = [each.frequency_hz for each in stock()][:60]
    bands = [Band(name="20m"), Band(name="12m", low_hz=24.94e6, high_hz=24.99e6)]

    def anew() -> None:
        options.cache_clear()
        survey(bands, crystals, order=11)

    took = median_s(anew, 5)
    note("IF survey, 60 crystals, two bands, order 11", took, "s", 0.3)
    note("survey over one ladder solved", took / one_ladder_s, "×", 1000)
    assert took / one_ladder_s <= 1000


def test_designing_and_measuring_a_ladder(note, one_ladder_s):
    steps = iter(range(10**9))

    def turn() -> None:
        ladder = LadderFilter(id="ladder", name="Ladder", poles=12)
        ladder_filter.figures(AskedLadder(ladder, 9e6 + next(steps)))

    took = median_s(turn, 20)
    note("designing and measuring a 12-pole ladder", 1e3 * took, "ms", 40)
    note("12 poles designed over one ladder solved", took / one_ladder_s, "×", 40)
    assert took / one_ladder_s <= 40


def test_a_thousand_trials_of_eight_poles(note, one_ladder_s):
    ladder = LadderFilter(id="ladder", name="Ladder", poles=8)
    made = ladder_filter.design(AskedLadder(ladder, 9e6))
    spreads = Spreads()
    took = median_s(lambda: filters.run(made, LADDER, (), spreads, trials=1000, points=501), 3)
    note("tolerance run, 8 poles, 1000 trials, 501 points", took, "s", 0.6)
    note("tolerance run over a thousand ladders solved", took / one_ladder_s / 1000, "×", 2)
    assert took / one_ladder_s / 1000 <= 2


def test_fitting_a_sweep_and_choosing_crystals(note, one_ladder_s):
    f, s21 = sweep(noise_db=40)
    fit = median_s(lambda: from_sweep("X", f, s21, Fixture()), 10)
    wanted = np.array(
        ladder_filter.mesh_reactances(AskedLadder(LadderFilter(id="l", name="L", poles=10), 9e6))
    )
    batch = bag(40)
    choose = median_s(lambda: place(batch, wanted), 5)
    note("fit of a 401-point sweep", 1e3 * fit, "ms", 50)
    note("choosing 10 crystals of 40", 1e3 * choose, "ms", 200)
    note("fit over one ladder solved", fit / one_ladder_s, "×", 20)
    note("choice over one ladder solved", choose / one_ladder_s, "×", 100)
    assert fit / one_ladder_s <= 20
    assert choose / one_ladder_s <= 100


def test_a_measured_low_pass_its_cores_and_its_tolerances(note, one_ladder_s):
    dials = ((14.0e6, 14.35e6),)
    made = low_pass.design(LowPassFilter(order=7), dials)
    f = np.linspace(1e6, 45e6, 201)
    swept = solve(made.network, f, values={"L2": 0.94 * made.network.arms[3].parts[0].value}).s21
    measured = 20 * np.log10(np.abs(swept)) + np.random.default_rng(1).normal(scale=0.02, size=f.size)
    spreads = Spreads(capacitor=0.05, coil=0.05)
    fitted = curve_fit.fit(made, f, measured, spreads)
    assert [each.row.ref for each in fitted.off] == ["L2"]
    took = median_s(lambda: curve_fit.fit(made, f, measured, spreads), 7)
    note("fit of a 201-point curve of a 7-pole low-pass", took, "s", 0.3)
    note("the fit over one ladder solved", took / one_ladder_s, "×", 1000)
    assert took / one_ladder_s <= 1000
    chosen = median_s(lambda: winding.choose(0.7e-6, 14.2e6, volt_rms=30.0), 20)
    note("choosing cores over the whole table", 1e3 * chosen, "ms", 10)
    note("cores chosen over one ladder solved", chosen / one_ladder_s, "×", 20)
    assert chosen / one_ladder_s <= 20
    shaded = ladder_filter.design(AskedLadder(LadderFilter(id="ladder", name="Ladder", poles=8), 9e6))
    grid, parts = np.linspace(*shaded.span_hz, 601), Spreads(lm=0.02, c0=0.03)
    corridor(shaded, grid, parts, ())
    shade = median_s(lambda: corridor(shaded, grid, parts, ()), 15)
    note("shade of an 8-pole ladder: 64 trials, 601 points", 1e3 * shade, "ms")
    values = draw(shaded.circuit, parts, 64)

    def all_of_them() -> None:
        for first in range(0, 64, 16):
            shaded.response(grid, {ref: each[first : first + 16] for ref, each in values.items()})

    exact = median_s(all_of_them, 7)
    note("the shade over its trials solved at every point", shade / exact, "×", 0.7)
    assert shade / exact <= 0.7


def test_every_solve_of_the_vfo(note, one_ladder_s):
    wanted = (
        WantedRange("40m", 3.5e6, 3.7e6),
        WantedRange("80m", 3.0e6, 3.2e6, "parallel"),
        WantedRange("30m", 3.72e6, 3.74e6, "series"),
    )
    tanks = [
        Tank(tuned=tuned, find=find, coil_h=6e-6 if tuned == "parallel" else 20e-6)
        for tuned in ("parallel", "series")
        for find in ("padder_and_parallel", "coil_and_parallel", "coil_and_padder")
    ]

    def solved(tank):
        tank_design.design.cache_clear()
        return tank_design.design(tank, wanted)

    slowest = max(median_s(lambda tank=tank: solved(tank), 15) for tank in tanks)
    note("solving the VFO's parts, the slowest of six ways", 1e3 * slowest, "ms", 20)
    note("VFO solved over one ladder solved", slowest / one_ladder_s, "×", 50)
    assert slowest / one_ladder_s <= 50


def test_all_levels_of_four_bands_after_an_edit(note, one_ladder_s):
    bands = tuple(
        Band(name=name, low_hz=low, high_hz=high)
        for name, low, high in (
            ("80m", 3.6e6, 3.8e6),
            ("40m", 7.06e6, 7.2e6),
            ("20m", 14.125e6, 14.3e6),
            ("15m", 21.15e6, 21.4e6),
        )
    )
    rig = with_power_block(new_rig(bands, 9e6))
    edits = iter(
        rig.edited(("stages", "power_amplifier", "gain_db"), 15 + 0.01 * step) for step in range(100)
    )

    def levels() -> None:
        analysis = Analysis(next(edits))
        for band in bands:
            analysis.receive(band.name)
            analysis.transmit(band.name)

    levels()
    took = median_s(levels, 40)
    note("all levels, both directions, four bands, after a block edit", 1e3 * took, "ms", 5)
    note("the same over one ladder solved", took / one_ladder_s, "×", 28)
    assert took / one_ladder_s <= 28


def test_a_read_out_plan_of_eighty_helpers_and_four_bands(note, one_ladder_s):
    carrier = 9.0e6
    bands = tuple(
        band_plan(Band(name=name, low_hz=low, high_hz=low + 200e3, scheme=scheme), carrier)
        for name, low, scheme in (
            ("80m", 3.6e6, "if_minus_vfo"),
            ("40m", 7.0e6, "if_minus_vfo"),
            ("20m", 14.1e6, "sum"),
            ("15m", 21.1e6, "vfo_minus_if"),
        )
    )
    helpers = tuple(np.linspace(3e6, 27e6, 80))
    asked = ReadOut(counter=Counter(programmes=4, digits=8))

    def planned():
        for cached in (read_out.plan, read_out.options, read_out._helped):
            cached.cache_clear()
        args = (bands, asked, (carrier, carrier + 2600), helpers)
        return read_out.plan(*args), read_out.options(*args)

    took = median_s(planned, 9)
    note("read-out plan, 80 helper crystals, four bands", 1e3 * took, "ms", 200)
    note("read-out plan over one ladder solved", took / one_ladder_s, "×", 150)
    assert len(planned()[0].bands) == 4
    assert took / one_ladder_s <= 150
