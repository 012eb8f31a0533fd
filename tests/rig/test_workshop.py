"""Order of work, alignment and checks against the design that they follow from."""

from math import log10

import numpy as np
import pytest

from core.circuits.ladder import solve
from core.model.supply.supply import Load
from core.rig.analysis import Analysis
from core.rig.supply.table import switching_table as fed_by
from core.rig.workshop.alignment import alignment, carrier_tolerance_hz
from core.rig.workshop.checks import purity, switched
from core.rig.workshop.order_of_work import order_of_work
from core.rig.workshop.test_points import points_of


@pytest.fixture(scope="module", params=["tern", "muddle"])
def analysis(request):
    return Analysis(request.getfixturevalue(request.param))


def step(steps, title):
    (found,) = [each for each in steps if each.title == title]
    return found


# -- alignment --------------------------------------------------------------------------------------------


def test_the_vfo_is_set_to_what_its_parts_cover_and_must_reach_what_the_bands_want(analysis):
    steps = alignment(analysis)
    for cover, plan in zip(analysis.tank.ranges, analysis.frequency_plan, strict=True):
        found = step(steps, f"VFO on {cover.band.removesuffix('m')} m")
        meshed, opened = found.readings
        assert (meshed.value, opened.value) == (cover.covers_low_hz, cover.covers_high_hz)
        # Dial edges and carrier by the mixing arithmetic alone.
        wanted = sorted(abs(plan.carrier_hz - end) for end in (plan.dial_low_hz, plan.dial_high_hz))
        assert meshed.most == pytest.approx(wanted[0])
        assert opened.least == pytest.approx(wanted[1])
    firsts = [each.do for each in steps if each.title.startswith("VFO on")]
    assert "set CT" in firsts[0]
    assert "as it stands" in firsts[1], "nothing is set twice with one trimmer"


def test_at_a_carriers_limits_the_ladder_holds_it_within_three_decibels(analysis):
    solved = analysis.ladder_solved
    for row in analysis.carriers:
        hz = row.place.frequency_hz
        off = carrier_tolerance_hz(solved, hz)
        loss = solve(solved.design.network, np.array([hz - off, hz, hz + off])).loss_db
        assert 0 < off <= 100
        assert np.abs(np.diff(loss)).max() < 3.6
        if off < 100:
            assert np.abs(np.diff(loss)).max() > 2.4
        reading = next(
            each.readings[0]
            for each in alignment(analysis)
            if each.title.startswith("Carrier for") and each.subject == row.bands[0]
        )
        assert (reading.least, reading.value, reading.most) == pytest.approx((hz - off, hz, hz + off))


def test_a_band_pass_may_lose_a_decibel_more_than_its_circuit(analysis):
    for row in analysis.filters:
        if row.kind != "band_pass":
            continue
        found = next(
            each
            for each in alignment(analysis)
            if each.title.startswith(row.name) and each.subject == row.bands[0]
        )
        dials = analysis.dials(row.bands)
        ends = [end for dial in dials for end in dial]
        loss = solve(row.design.network, np.array([min(ends), max(ends)])).loss_db
        least, worse = found.readings
        assert worse.value == pytest.approx(loss.max(), abs=1e-6)
        assert least.value <= loss.min() + 1e-9
        assert (least.most, worse.most) == pytest.approx((least.value + 1, worse.value + 1))
        assert all(part in found.do for part in row.design.trimmed)


def test_power_drive_and_balance_are_the_analysis(analysis):
    steps = alignment(analysis)
    power = {each.what: each for each in step(steps, "Drive of the transmitter").readings}
    for band in analysis.project.bands:
        watt = analysis.transmit(band.name).output_w
        name = f"{band.name.removesuffix('m')} m"
        assert power[f"{name}, power"].value == pytest.approx(watt)
        # Power in 50 ohm by the swing of an oscilloscope.
        assert power[f"{name}, swing"].value ** 2 / 400 == pytest.approx(watt)
        wanted = min(watt, analysis.project.station.power_w)
        assert 10 * log10(wanted / power[f"{name}, power"].least) == pytest.approx(1)
    drives = step(steps, "Drive of the mixers").readings
    assert [each.value for each in drives] == [each.delivered_dbm for each in analysis.drives]
    for reading, drive in zip(drives, analysis.drives, strict=True):
        assert (reading.least, reading.most) == (drive.least_dbm, drive.most_dbm)
    balance = step(steps, "Carrier balance").readings[0]
    assert balance.value - balance.least == 3


@pytest.mark.parametrize(
    ("trimmed", "words"),
    [
        ("both", "shorted; turn RV and CV back and forth, one after the other, for the least."),
        ("resistance", "shorted; turn RV back and forth for the least."),
        ("not_at_all", "shorted; nothing balances this modulator: change its diodes about for the least."),
    ],
)
def test_the_balance_names_the_parts_that_are_turned(sample, trimmed, words):
    rig = sample.edited(("stages", "detector", "balance_trimmed"), trimmed)
    assert words in step(alignment(Analysis(rig)), "Carrier balance").do


def test_every_current_is_in_the_bias_step_within_a_fifth(tern):
    analysis = Analysis(tern)
    (bias,) = [each for each in alignment(analysis) if each.title == "Bias"]
    points = [each for each in points_of(analysis) if each.dc_a is not None]
    assert [each.value for each in bias.readings] == [each.dc_a for each in points]
    for each in bias.readings:
        assert (each.least, each.most) == pytest.approx((0.8 * each.value, 1.2 * each.value))
    assert any("at 12 V" in each.what for each in bias.readings)


def test_a_rig_without_tank_ladder_or_transmitter_is_aligned_as_far_as_it_goes(tern):
    plain = tern.edited(("vfo", "tank"), None).with_stages(
        tuple(stage for stage in tern.stages if stage.kind not in ("ladder", "band_pass"))
    )
    titles = [each.title for each in alignment(Analysis(plain))]
    assert "VFO" in titles
    assert not any(title.startswith(("Carrier for", "Band-pass")) for title in titles)
    assert alignment(Analysis(tern.with_stages(())))


# -- order of work ----------------------------------------------------------------------------------------


def test_every_stage_in_the_path_is_built_once_and_the_supply_first(analysis):
    steps = order_of_work(analysis)
    built = [each.subject for each in steps]
    project = analysis.project
    wanted = {stage.id for way in ("receive", "transmit") for stage in project.path(way)}
    assert (built[0], built[-1]) == ("supply", "whole")
    assert len(built) == len(set(built))
    assert wanted | {"vfo", "carrier"} <= set(built)


def test_an_oscillator_stands_before_its_mixer_and_the_power_amplifier_comes_last(analysis):
    *steps, whole = order_of_work(analysis)
    assert whole.title == "All together"
    place = {each.subject: n for n, each in enumerate(steps)}
    for drive in analysis.drives:
        assert place[drive.oscillator] < place[drive.stage]
    powers = [s.id for s in analysis.project.path("transmit") if s.kind.endswith("power_amplifier")]
    assert powers
    assert place[powers[0]] == max(place.values())
    assert "dummy load" in steps[place[powers[0]]].do
    # From the speaker to the antenna.
    receive = [stage.id for stage in analysis.project.path("receive")]
    assert [place[each] for each in receive] == sorted((place[each] for each in receive), reverse=True)


def test_what_is_put_in_and_read_at_a_stage_are_the_levels_beside_it(analysis):
    band = analysis.project.bands[0].name
    levels, path = analysis.transmit(band), analysis.project.path("transmit")
    steps = {each.subject: each for each in order_of_work(analysis)}
    sending = [n for n, s in enumerate(path) if not s.works_in("receive")]
    assert sending
    for n in sending:
        found = steps[path[n].id]
        output = found.readings[-1]
        assert output.value == float(levels.level_dbm[n + 1])
        assert (output.least, output.most) == pytest.approx((output.value - 3, output.value + 3))
        assert f"{levels.level_dbm[n]:+.1f} dBm".replace("-", "−") in found.do


# -- checks -----------------------------------------------------------------------------------------------


def test_what_is_looked_for_before_the_antenna_is_what_the_analysis_tells(analysis):
    found = purity(analysis)
    assert [each.band for each in found] == [band.name for band in analysis.project.bands]
    for each in found:
        assert each.output_dbm == float(analysis.transmit(each.band).level_dbm[-1])
        assert [h.number for h in each.harmonics] == [2, 3, 4, 5]
        products = sorted((s.level_dbc for s in analysis.spurs(each.band, "transmit")), reverse=True)
        assert [s.level_dbc for s in each.products] == products[:3]
    assert purity(Analysis(analysis.project.with_stages(()))) == ()


def test_the_switching_table_tells_each_band_and_way(tern):
    analysis = Analysis(tern)
    rows = {each.name: each for each in switched(analysis)}
    assert (rows["RF stage"].receive, rows["RF stage"].transmit) == ("fed", "not fed")
    assert (rows["Driver"].receive, rows["Driver"].transmit) == ("not fed", "fed")
    assert "Ladder filter" not in rows, "the same always"
    assert rows["Read-out"].bands[0].startswith("programme 1")
    shifted = tern.edited(("bands", 1, "vfo_shift"), "parallel")
    assert {r.name: r.bands for r in switched(Analysis(shifted))}["VFO"] == (
        "not shifted",
        "capacitor across",
    )


def test_who_is_fed_is_told_alike_by_both_tables(sample):
    """The sheet's table by bands, and the supply's by who draws what; with somebody fed always who only
    sends, and somebody who is fed only in receive.
    """
    loads = (
        *sample.supply.loads,
        Load(name="Driver", of="driver", powered="both"),
        Load(name="VFO buffer", of="vfo_buffer", powered="receive"),
    )
    analysis = Analysis(sample.edited(("supply", "loads"), loads))
    fed = {row.name: (row.in_receive, row.in_transmit) for row in fed_by(analysis)}
    told = {row.name: (row.receive, row.transmit) for row in switched(analysis)}
    both = [name for name in told if name in fed]
    assert len(both) > 6
    for name in both:
        assert told[name] == tuple("fed" if on else "not fed" for on in fed[name]), name
    assert told["VFO buffer"] == ("fed", "not fed")
    # Who is fed always is not among those that are switched.
    assert "Driver" not in told
    assert fed["Driver"] == (True, True)
    alone = Analysis(sample.edited(("supply",), None))
    told = {row.name: (row.receive, row.transmit) for row in switched(alone)}
    assert told["Driver"] == ("not fed", "fed")
