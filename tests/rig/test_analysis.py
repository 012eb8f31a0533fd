"""What an analysis gathers from a rig, asked with parts of the rig left out or changed."""

import numpy as np
import pytest

from core.circuits.ladder import joined, solve
from core.model.bands import Band
from core.model.stages.amplifiers import Amplifier, Attenuator
from core.model.stages.filters import Crystal
from core.rig import tuning
from core.rig.analysis import Analysis
from core.rig.birdies import counted
from core.rig.levels.blocks import block, zones
from core.rig.levels.chain import chain
from core.rig.levels.receive import speaker_ohm
from core.rig.scattered import scatterable
from core.rig.start.new_rig import new_rig
from core.stages.kinds.kind import Place
from core.stages.outcome import Unsolved
from tests.made_up import with_power_block

TWENTY = Band(name="20m", low_hz=14.0e6, high_hz=14.35e6, sideband="upper", scheme="sum")
EIGHTY = Band(name="80m", low_hz=3.6e6, high_hz=3.8e6, sideband="lower", scheme="if_minus_vfo")


@pytest.fixture(scope="module")
def nine():
    return new_rig((TWENTY, EIGHTY), 9e6)


def test_without_a_ladder_the_usual_width_stands_in(nine):
    bare = Analysis(nine.stage_removed("ladder"))
    assert bare.if_pass_band_hz == (9e6 - 1200, 9e6 + 1200)
    assert bare.noise_bandwidth_hz("20m") == 2400.0
    assert bare.carrier_hz("20m") == 9e6
    assert bare.carriers == ()
    reason = bare.carrier("20m").reason
    assert bare.solved_pulling("20m").reason == reason


def test_the_pass_band_is_where_the_ladder_has_lost_six_decibels_more(nine):
    analysis = Analysis(nine)
    low, high = analysis.if_pass_band_hz
    network = analysis.filter_design("ladder", "20m").network
    f = np.linspace(9e6 - 4e3, 9e6 + 6e3, 20001)
    loss = solve(network, f).loss_db
    inside = f[loss <= loss.min() + 6.0]
    assert (low, high) == pytest.approx((inside[0], inside[-1]), abs=1.0)


def test_noise_and_loss_are_referred_to_a_tone_of_a_kilohertz(nine):
    # Without amplifiers and mixers beside the ladder that are not quite 50 ohm.
    beside = {each.id for each in nine.stages if each.kind == "built_amplifier"}
    rig = nine.with_stages(tuple(each for each in nine.stages if each.id not in beside))
    for mixer in ("mixer", "detector"):
        rig = rig.edited(("stages", mixer, "figures_from"), "type")
    analysis = Analysis(rig)
    network = analysis.filter_design("ladder", "20m").network
    for band in ("20m", "80m"):
        place = analysis.carrier(band)
        # The tone lies on the side of the carrier where the ladder passes.
        side = 1 if band == "20m" else -1
        tone = solve(network, np.array([place.frequency_hz + side * 1000.0])).loss_db[0]
        other = solve(network, np.array([place.frequency_hz - side * 1000.0])).loss_db[0]
        assert tone < 10.0 < other
        f = np.linspace(9e6 - 20e3, 9e6 + 20e3, 40001)
        passed = 10 ** (-solve(network, f).loss_db / 10)
        width = passed.sum() * (f[1] - f[0]) / 10 ** (-tone / 10)
        assert analysis.noise_bandwidth_hz(band) == pytest.approx(width, rel=0.01)
        (ladder,) = [b for b in analysis.blocks(band, "receive", 14e6) if b.kind == "ladder"]
        assert ladder.gain_db == pytest.approx(-float(tone))
        assert ladder.noise_figure_db == pytest.approx(float(tone))


def test_each_sideband_at_the_if_has_a_carrier_for_the_bands_that_use_it(nine):
    forty = Band(name="40m", low_hz=7.0e6, high_hz=7.2e6, sideband="lower", scheme="if_minus_vfo")
    three = Analysis(new_rig((TWENTY, EIGHTY, forty), 9e6))
    assert [(row.sideband, row.bands) for row in three.carriers] == [
        ("upper", ("20m",)),
        ("lower", ("80m", "40m")),
    ]
    for row in three.carriers:
        for band in row.bands:
            assert three.carrier(band).frequency_hz == row.place.frequency_hz
    # Below the pass-band for the upper sideband, above it for the lower.
    low, high = three.if_pass_band_hz
    assert three.carrier_hz("20m") < low
    assert three.carrier_hz("80m") > high


def test_a_coil_that_is_typed_in_is_kept_but_for_what_would_suit_best(nine):
    typed = Analysis(nine.edited(("carrier", "coil_h"), 1e-6))
    free = Analysis(nine)
    assert typed.carriers[0].pulling.coil_h == 1e-6
    assert free.carriers[0].pulling.coil_h != 1e-6
    assert typed.solved_pulling("20m").coil_h == pytest.approx(free.carriers[0].pulling.coil_h)


def test_a_crystal_of_the_carriers_own_is_the_one_that_is_pulled(nine):
    own = Crystal(motional_inductance_h=8e-3, holder_capacitance_f=5e-12, offset_hz=600.0)
    changed = Analysis(nine.edited(("carrier", "crystal"), own))
    ladders = Analysis(nine.edited(("stages", "ladder", "crystal", "offset_hz"), 0.0))
    lowest = changed.carriers[0].pulling.reachable_low_hz
    assert lowest != pytest.approx(ladders.carriers[0].pulling.reachable_low_hz, abs=10)
    # With the same coil: 600 Hz further up, and so is all that it reaches.
    wound = nine.edited(("carrier", "coil_h"), 5e-6)
    there, home = (
        Analysis(wound.edited(("carrier", "crystal"), own.edited(("offset_hz",), off_hz))).carriers
        for off_hz in (600.0, 0.0)
    )
    for one, other in zip(there, home, strict=True):
        assert one.pulling.coil_h == other.pulling.coil_h == 5e-6
        assert one.pulling.reachable_low_hz - other.pulling.reachable_low_hz == pytest.approx(600, abs=2)
    assert changed.carriers[0].place == ladders.carriers[0].place


def test_what_a_low_pass_sees_is_asked_of_those_in_the_path_alone(nine):
    analysis = Analysis(nine)
    index = analysis.member_on("low_pass", "20m").place
    assert analysis.part_stress("low_pass", index)
    assert analysis.filter_stress("low_pass", "20m") == analysis.part_stress("low_pass", index)
    assert analysis.part_stress("low_pass", None) == ()
    assert analysis.part_stress("band_pass", 0) == ()
    assert analysis.filter_stress("low_pass", "10m") == ()
    out = Analysis(nine.edited(("stages", "low_pass", "in_path"), False))
    assert out.part_stress("low_pass", index) == ()
    stressed = {part.part.ref for part in analysis.parts if part.stress is not None}
    assert stressed == {each.ref for each in analysis.part_stress("low_pass", index)}
    # Power goes with the square of the voltage.
    block = with_power_block(nine, rated_w=8.0)
    analysis = Analysis(block)
    double = Analysis(with_power_block(nine, rated_w=16.0))
    assert double.full_power_w == 2 * analysis.full_power_w == 16.0
    for one, other in zip(
        analysis.part_stress("low_pass", index), double.part_stress("low_pass", index), strict=True
    ):
        assert other.peak_v == pytest.approx(one.peak_v * np.sqrt(2))
    none = Analysis(nine.stage_removed("power_amplifier"))
    assert none.full_power_w == nine.station.power_w


def test_every_filter_is_a_row_with_its_bands(nine):
    analysis = Analysis(nine)
    rows = {(row.stage, row.index): row for row in analysis.filters}
    kinds = {stage.id: stage.kind for stage in nine.stages}
    assert [row.stage for row in analysis.filters] == [
        stage.id
        for stage in nine.stages
        if stage.kind in ("ladder", "band_pass", "low_pass")
        for _ in getattr(stage, "filters", (None,))
    ]
    assert rows["ladder", None].bands == ("20m", "80m")
    for (stage, index), row in rows.items():
        assert row.kind == kinds[stage]
        if index is not None:
            assert row.bands == nine.stage(stage).filters[index].bands
            assert analysis.filter_design(stage, row.bands[0]) is row.design
            assert analysis.filter_figures(stage, row.bands[0]) == row.figures
    assert "is not a filter" in analysis.filter_design("mixer", "20m").reason
    of_a_type = Analysis(nine.edited(("stages", "mixer", "figures_from"), "type"))
    assert "is not a filter" in of_a_type.member_on("mixer", "20m").reason
    assert "has no filter for 10 m" in analysis.member_on("band_pass", "10m").reason
    assert analysis.dials(("80m",)) == ((3.6e6, 3.8e6),)
    assert isinstance(analysis.filter_response("mixer", "20m", np.array([1e6])), Unsolved)
    assert analysis.rejections("mixer", "20m", 14e6) == ()


def test_each_loss_is_counted_for_the_signal_and_at_the_image(nine):
    analysis = Analysis(nine)
    dial = 14.2e6
    made = analysis.blocks("20m", "receive", dial)
    path = analysis.project.path("receive")
    plan = analysis.band_plan("20m")
    for stage, each in zip(path, made, strict=True):
        if stage.kind in ("band_pass", "low_pass"):
            network = analysis.filter_design(stage.id, "20m").network
            # 9 MHz and the VFO at 5.2 MHz: the image lies at 3.8 MHz.
            image = plan.carrier_hz - (dial - plan.carrier_hz)
            lost = solve(network, np.array([dial, image])).loss_db
            assert each.gain_db == pytest.approx(-lost[0])
            assert each.image_gain_db == pytest.approx(-lost[1])
        elif stage.kind == "ladder":
            network = analysis.filter_design("ladder", "20m").network
            beside = solve(network, np.array([plan.carrier_hz - 1000.0])).loss_db[0]
            assert each.image_gain_db == pytest.approx(-float(beside))


@pytest.mark.parametrize("way", ["receive", "transmit"])
def test_filters_in_a_row_are_joined_from_the_antenna_on(nine, way):
    # Lopsided, so that another order is another circuit.
    rig = nine.edited(("stages", "low_pass", "filters", 0, "as_built"), {"shunt:1": 2e-10})
    only = tuple(stage for stage in rig.stages if stage.id in ("low_pass", "band_pass", "mixer"))
    analysis = Analysis(rig.with_stages(only))
    networks = [analysis.filter_design(stage, "20m").network for stage in ("low_pass", "band_pass")]
    f = np.linspace(12e6, 30e6, 31)
    lost, other = (solve(joined(each), f).loss_db for each in (networks, networks[::-1]))
    assert np.abs(lost - other).max() > 0.5
    np.testing.assert_allclose(analysis.front_losses("20m", way, f), lost, atol=1e-9)


def test_a_filter_that_cannot_be_made_loses_nothing(nine):
    bare = Analysis(nine.edited(("stages", "ladder", "crystal"), None))
    assert isinstance(bare.filter_design("ladder", "20m"), Unsolved)
    (ladder,) = [b for b in bare.blocks("20m", "receive", 14.2e6) if b.kind == "ladder"]
    assert (ladder.gain_db, ladder.noise_figure_db, ladder.image_gain_db) == (0.0, 0.0, None)


def test_levels_are_those_of_the_middle_of_the_band_unless_said(nine):
    analysis = Analysis(nine)
    assert analysis.receive("80m").dial_hz == analysis.transmit("80m").dial_hz == 3.7e6
    assert analysis.receive("80m", 3.61e6).dial_hz == analysis.transmit("80m", 3.61e6).dial_hz == 3.61e6
    blocks = analysis.blocks("80m", "receive", 3.61e6)
    load_ohm = speaker_ohm(blocks, nine.speaker)
    assert analysis.receive("80m", 3.61e6).chain is chain(blocks, load_ohm=load_ohm)


def test_gain_ahead_of_the_mixer_is_that_of_amplifiers(nine):
    ahead = Amplifier(id="ahead", name="Ahead", gain_db=13.0)
    behind = Amplifier(id="behind", name="Behind", gain_db=7.0)
    at = next(n for n, stage in enumerate(nine.stages) if stage.id == "mixer")
    plain = Analysis(nine)._gain_ahead_db("20m")
    # What filters lose counts by frequency, and so not here.
    path = nine.path("receive")
    mixer = next(n for n, stage in enumerate(path) if stage.id == "mixer")
    assert plain == sum(getattr(stage, "gain_db", 0.0) for stage in path[:mixer])
    more = nine.with_stages((*nine.stages[:at], ahead, nine.stages[at], behind, *nine.stages[at + 1 :]))
    assert Analysis(more)._gain_ahead_db("20m") == pytest.approx(plain + 13.0)


def test_how_the_transmit_mixer_is_worked(nine):
    analysis = Analysis(nine)
    path = nine.path("transmit")
    at = next(n for n, s in enumerate(path) if s.kind == "mixer" and s.oscillator == "vfo")
    figures = analysis.mixer_figures("transmit")
    levels = analysis.transmit("20m").level_dbm
    worked = analysis.worked("20m", figures)
    assert worked.vfo_dbm == nine.vfo.output_dbm
    assert worked.wanted_dbm == levels[at + 1]
    assert worked.backoff_db == pytest.approx(figures.p1db_in_dbm - levels[at])
    assert Analysis(nine.stage_removed("mixer")).mixer_figures("receive") is None


def test_sources_of_the_read_out_are_those_that_are_on(tern):
    analysis = Analysis(tern)
    with_helper, without = (analysis._read_out_sources(band) for band in ("20m", "12m"))
    assert with_helper.helper_hz == analysis.read_out.helper_hz
    assert without.helper_hz is None
    assert with_helper.clock_hz == tern.read_out.counter.clock_hz
    assert with_helper.helper_dbm == tern.read_out.helper_dbm
    for band, sources in (("20m", with_helper), ("12m", without)):
        assert sources.counted == counted(analysis.read_out.of(band).reading)
    assert [c.name for c in without.counted] == ["{}VFO in the counter"]
    (product,) = with_helper.counted
    assert (product.vfo, product.helper, product.carrier) == (-1, 1, 0)
    dumb = Analysis(tern.edited(("read_out", "helper_hz"), 9.8304e6))
    assert isinstance(dumb.read_out.of("20m").reading, Unsolved)
    assert dumb._read_out_sources("20m").counted == ()
    two = Analysis(tern.edited(("read_out", "counter", "inputs"), 2))
    assert [(c.vfo, c.carrier) for c in two._read_out_sources("20m").counted] == [(1, 0), (0, 1)]


def test_at_which_frequency_each_stage_works(nine):
    for way, order in (("receive", ("rf", "if", "audio")), ("transmit", ("audio", "if", "rf"))):
        path = nine.path(way)
        found = zones(path, way)
        first = "vfo" if way == "receive" else "carrier"
        turns = [n for n, s in enumerate(path) if s.kind == "mixer"]
        assert len(turns) == 2
        assert path[turns[0]].oscillator == first
        wanted = [order[sum(n > turn for turn in turns)] for n in range(len(path))]
        assert list(found) == wanted
        # A third mixer changes nothing any more.
        assert zones((*path, path[turns[1]], path[-1]), way)[-1] == order[2]


def test_an_attenuator_loses_at_the_image_too():
    made = block(Attenuator(id="a", name="A", loss_db=6.0), Place(zone="rf"))
    assert (made.gain_db, made.noise_figure_db, made.image_gain_db) == (-6.0, 6.0, -6.0)
    amplifier = block(
        Amplifier(id="b", name="B", gain_db=20.0, oip3_dbm=30.0, p1db_dbm=17.0), Place(zone="rf")
    )
    assert (amplifier.iip3_dbm, amplifier.p1db_out_dbm, amplifier.p1db_in_dbm) == (10.0, 17.0, -2.0)


def test_what_is_told_of_a_tank_is_the_vfos_or_the_reason(tern):
    analysis, block = Analysis(tern), Analysis(tern.edited(("vfo", "tank"), None))
    assert tuning.tank_of(analysis) is analysis.tank
    told, own = tuning.dial_on(analysis, "20m"), analysis.vfo_on("20m").dial
    assert told.turns_used == own.turns_used
    np.testing.assert_array_equal(told.f_hz, own.f_hz)
    for found in (tuning.tank_of(block), tuning.dial_on(block, "20m")):
        assert found.reason == "The VFO is a block without a tank."
    assert "block without a tank" in block.vfo_on("20m").reason


def test_a_run_can_be_made_of_every_filter_and_amplifier_of_parts(tern):
    analysis = Analysis(tern)
    made = [row for row in analysis.circuits if row.kind == "built_amplifier"]
    assert len(made) > 4
    rows = {(row.stage, row.index): row for row in (*analysis.filters, *made)}
    found = {(each.stage, each.index): each for each in scatterable(analysis)}
    assert found.keys() == rows.keys()
    for place, each in found.items():
        row = rows[place]
        assert (each.name, each.design) == (row.name, row.design)
        assert each.bands == (() if each.index is None else row.bands)
        assert each.dials == analysis.dials(row.bands)
