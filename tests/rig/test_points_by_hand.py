"""Test points against the analysis and the definitions of what is read there."""

from math import log10, sqrt

import pytest

from core.rig.analysis import Analysis
from core.rig.figures.figure import keyed, plain_row
from core.rig.figures.levels import LEVEL
from core.rig.paper.report import report
from core.rig.workshop.point_figures import POINTS
from core.rig.workshop.test_points import at_stage, points_of, signal_over_s9_db
from core.stages.amplifiers.design import AmplifierDesign
from tests.pictures.declared import declared


@pytest.fixture(scope="module", params=["tern", "muddle"])
def analysis(request):
    return Analysis(request.getfixturevalue(request.param))


def test_keys_are_unique_and_do_not_change_with_values(analysis):
    points = points_of(analysis)
    keys = [each.key for each in points]
    assert len(set(keys)) == len(keys)
    other = analysis.project.edited(("station", "supply_v"), 12.1)
    louder = other.edited(("microphone", "peak_dbm"), analysis.project.microphone.peak_dbm + 1)
    assert [each.key for each in points_of(Analysis(louder))] == keys


def test_levels_are_the_analysis_own_in_their_places(analysis):
    points = {each.key: each for each in points_of(analysis)}
    for band in analysis.project.bands:
        levels = analysis.transmit(band.name)
        assert points[f"microphone/socket/transmit/{band.name}"].level_dbm == levels.level_dbm[0]
        for n, block in enumerate(levels.blocks):
            point = points[f"{block.stage}/output/transmit/{band.name}"]
            assert LEVEL.written(point.level_dbm) == LEVEL.written(float(levels.level_dbm[n + 1]))
        received = analysis.receive(band.name)
        over = signal_over_s9_db(analysis)
        before = [c.place for c in received.controls]
        for n, block in enumerate(received.blocks):
            point = points[f"{block.stage}/output/receive/{band.name}"]
            if n < min(before, default=99):
                assert point.level_dbm == pytest.approx(float(received.s9_dbm[n + 1]) + over)


def test_voltages_are_those_of_the_level_in_the_load_by_definition(analysis):
    seen = 0
    for each in points_of(analysis):
        if each.level_dbm is None:
            continue
        watt = 10 ** (each.level_dbm / 10) / 1000
        assert each.power_w == pytest.approx(watt)
        # 1 mW in 50 ohm is 223.6 mV rms.
        assert each.rms_v**2 / each.load_ohm == pytest.approx(watt)
        assert each.peak_to_peak_v == pytest.approx(each.rms_v * 2.8284271)
        assert 20 * log10(each.rms_v / 0.2236068) - 10 * log10(each.load_ohm / 50) == pytest.approx(
            each.level_dbm, abs=1e-4
        )
        seen += 1
    assert seen > 20


def test_direct_voltages_obey_ohm_at_every_transistor(tern):
    """Across each resistor at an emitter flows the emitter's current."""
    analysis = Analysis(tern)
    points = points_of(analysis)
    for row in analysis.circuits:
        design = row.design
        if not isinstance(design, AmplifierDesign):
            continue
        mine = {each.place: each for each in at_stage(points, row.stage)}
        taken = mine["current"].dc_a
        assert taken == pytest.approx(design.supply_a)
        values = {(part.role, part.which): part.fitted for part in design.parts}
        rest = design.rest.transistors["Q1"]
        emitter = mine["transistor:1.emitter"].dc_v
        through = values["emitter", 1] + values.get(("degeneration", None), 0.0)
        assert emitter == pytest.approx((rest.output_a + rest.control_a) * through, rel=1e-6)
        base = mine["transistor:1.base"].dc_v
        assert 0.6 < base - emitter < 0.85
        low, high = mine["transistor:1.base"].limits
        assert (low, high) == pytest.approx((0.9 * base, 1.1 * base))


@pytest.mark.parametrize("device", ["j310", "2n3904"])
def test_the_vfos_voltages_are_its_resistors_times_its_currents(tern, device):
    rig = tern.edited(("vfo", "tank", "feedback", "device"), device)
    points = {each.place: each for each in at_stage(points_of(Analysis(rig)), "vfo")}
    feedback = rig.vfo.tank.feedback
    ampere = points["current"].dc_a
    if device == "j310":
        # Id = IDSS (1 - Vgs/Vp)^2 with the gate at ground.
        volt = points["device.source"].dc_v
        assert volt == pytest.approx(ampere * feedback.bias_ohm)
        assert points["device.drain"].dc_v == feedback.supply_v
    else:
        base, emitter = points["device.base"].dc_v, points["device.emitter"].dc_v
        into = (feedback.supply_v - base) / feedback.base_upper_ohm - base / feedback.base_lower_ohm
        # What the divider does not carry away goes into the base, and out of the emitter.
        assert emitter == pytest.approx((ampere + into) * feedback.bias_ohm)
        assert 20 < ampere / into < 500
        assert 0.55 < base - emitter < 0.8


def test_the_signal_at_the_antenna_overloads_nothing_and_the_next_one_would(tern):
    base = tern.edited(("stages", "if_amplifier_1", "measured_gain_db"), 45.0)
    for rig in (tern, base):
        analysis = Analysis(rig)
        over = signal_over_s9_db(analysis)
        received = [analysis.receive(band.name) for band in rig.bands]

        def worst(signal, received=received):
            along = [each.station(signal)[0] for each in received]
            return min(
                block.p1db_in_dbm - levels[n]
                for levels, each in zip(along, received, strict=True)
                for n, block in enumerate(each.blocks)
                if block.p1db_in_dbm is not None
            )

        assert worst(over) >= 0
        assert over == 40 or worst(over + 10) < 0
    assert signal_over_s9_db(Analysis(base)) < signal_over_s9_db(Analysis(tern))


def test_a_rig_that_only_sends_has_points_of_that_way_alone(tern):
    stages = tuple(each for each in tern.stages if each.direction != "receive")
    sending = tern.with_stages(
        tuple(
            each.edited(("direction",), "transmit") if each.direction == "both" else each for each in stages
        )
    )
    ways = {each.way for each in points_of(Analysis(sending))}
    assert "receive" not in ways
    assert "transmit" in ways


def test_the_report_tells_each_point(tern):
    analysis = Analysis(tern)
    point = next(each for each in points_of(analysis) if each.key == "driver/output/transmit/20m")
    figures = keyed(POINTS)
    row, watt = plain_row(POINTS, point), 10 ** (point.level_dbm / 10) / 1000
    assert row["least_dbm"] == pytest.approx(point.level_dbm - 3)
    assert row["most_dbm"] == pytest.approx(point.level_dbm + 3)
    assert figures["load_ohm"].text(point) == "50 Ω"
    assert figures["level_dbm"].text(point) == f"+{point.level_dbm:.1f} dBm"
    # A sine's peak is half of what the oscilloscope shows, and its power is half the peak squared over R.
    assert figures["peak_to_peak_v"].text(point) == f"{2 * sqrt(2 * 50 * watt):.3g} V"
    assert row["least_v"] is None


def test_each_figure_of_a_point_is_declared_as_every_figure_is_and_read_back_from_json(tern):
    for figure in POINTS:
        declared(figure)
    for point in points_of(Analysis(tern)):
        row = plain_row(POINTS, point)
        assert [figure.read(row) for figure in POINTS] == [figure.text(point) for figure in POINTS]
    data = report(Analysis(tern))["test_points"]
    assert [row["key"] for row in data] == [point.key for point in points_of(Analysis(tern))]
