"""The stages' pictures as values, without a window."""

import numpy as np
import pytest

from app.pictures.figures import NO_CURVE
from app.pictures.stages import block, carrier, front_filter, ladder, vfo
from app.state.look import Look
from core.circuits.ladder import solve
from core.rig.analysis import Analysis
from core.stages.outcome import Unsolved


def look(*selection, way="receive", band="20m", dial_hz=14.2e6):
    return Look(band, way, dial_hz, selection)


LADDER, BAND_PASS = look("stages", "ladder"), look("stages", "band_pass")


def of_ladder(analysis, held=None, *, delay=False, figures=False):
    return ladder.picture_of(analysis, held, LADDER, delay=delay, figures=figures)


def of_filter(analysis, held=None, *, tells="signals", at=BAND_PASS):
    return front_filter.picture_of(analysis, held, at, tells=tells)


def of_carrier(analysis, held=None):
    return carrier.picture_of(analysis, held, look("carrier"))


def of_vfo(analysis, held=None, *, beside=vfo.RATE):
    return vfo.picture_of(analysis, held, look("vfo"), beside=beside)


@pytest.mark.parametrize("picture_of", [of_ladder, of_filter, of_carrier, of_vfo])
def test_equal_designs_have_equal_pictures_and_others_have_not(tern, picture_of):
    first = picture_of(Analysis(tern))
    assert first == picture_of(Analysis(type(tern).model_validate(tern.model_dump())))
    assert first != picture_of(Analysis(tern), Analysis(tern))
    plan = Analysis(tern).band_plan("20m")
    moved = tern.edited(("if_hz",), tern.if_hz + 500)
    assert plan != Analysis(moved).band_plan("20m")
    assert first != picture_of(Analysis(moved))


def test_the_ladders_curve_is_its_circuits_loss_and_the_held_one_the_held_circuits(tern):
    six = Analysis(tern.edited(("stages", "ladder", "poles"), 6))
    picture = of_ladder(six, Analysis(tern))
    f_hz = 1e6 * picture.near.line.x
    for analysis, curve in ((six, picture.near.line), (Analysis(tern), picture.near.held)):
        network = analysis.filter_design("ladder", "20m").network
        loss = solve(network, f_hz if curve is picture.near.line else f_hz[::4]).loss_db
        np.testing.assert_allclose(curve.y, np.maximum(-loss, -140.0), atol=1e-6)


def test_what_the_ladders_choices_hide_is_not_there(tern):
    shown, other = of_ladder(Analysis(tern)), of_ladder(Analysis(tern), delay=True, figures=True)
    assert shown.delay is None
    assert shown.figures is None
    assert other.audio is None
    assert dict(other.figures.rows)["least loss"].endswith("dB")
    assert other.delay.line.x[0] == pytest.approx(150.0)


def shade_of(picture):
    """The shade of the tolerances in a picture: x, and between what, upper and lower."""
    (shape,) = (each for each in picture.shapes if each.fill == "scatter")
    outline = np.array(shape.points)
    half = len(outline) // 2
    ends = sorted((outline[:half, 1], outline[half:, 1][::-1]), key=np.mean)
    return outline[:half, 0], ends[1], ends[0]


def test_every_response_of_a_filter_is_shaded_at_every_point_that_is_drawn(tern):
    analysis = Analysis(tern)
    ladder_s, delayed, front = of_ladder(analysis), of_ladder(analysis, delay=True), of_filter(analysis)
    low_pass = of_filter(analysis, at=look("stages", "low_pass"))
    pictures = [ladder_s.near, ladder_s.wide, ladder_s.audio, delayed.delay, of_carrier(analysis).audio]
    pictures += [front.near, front.wide, low_pass.near, low_pass.wide]
    for picture in pictures:
        x, upper, lower = shade_of(picture)
        np.testing.assert_array_equal(x, picture.line.x)
        assert np.all(upper >= lower)
        inside = (picture.line.y <= upper + 0.05) & (picture.line.y >= lower - 0.05)
        assert inside.mean() > 0.8
        told = picture.labels[0].text if picture is delayed.delay else picture.notes
        assert "nine filters in ten" in told.replace("\u00a0", " ")
    still = tern
    for name in ("capacitor_tolerance", "crystal_hz", "q_spread", "lm_spread", "c0_spread"):
        still = still.edited(("scatter", name), 0.0)
    for picture in (of_ladder(Analysis(still)).audio, of_ladder(Analysis(still), delay=True).delay):
        _, upper, lower = shade_of(picture)
        np.testing.assert_allclose(upper, lower, atol=1e-6)


def test_why_there_is_no_speech_stands_in_the_audio_picture(tern):
    out = Analysis(tern.edited(("stages", "ladder", "in_path"), False))
    assert of_ladder(out).audio == out.carrier("20m").reason
    assert of_ladder(out, delay=True).delay == out.carrier("20m").reason


def test_a_rejection_follows_the_dial(tern):
    low, high = (
        of_filter(Analysis(tern), at=look("stages", "band_pass", dial_hz=hz)) for hz in (14.05e6, 14.3e6)
    )
    assert low.near == high.near
    assert low.table != high.table


def test_the_trimmer_reaches_what_the_carriers_picture_draws(tern):
    picture, row = of_carrier(Analysis(tern)), Analysis(tern).carriers[0]
    above = [(hz - tern.if_hz) / 1e3 for hz in (row.pulling.reachable_low_hz, row.pulling.reachable_high_hz)]
    drawn = picture.pull.curves[0].y
    assert sorted((float(drawn.min()), float(drawn.max()))) == pytest.approx(sorted(above), abs=1e-3)
    assert picture.pull.wanted[0].y[0] == pytest.approx((row.pulling.wanted_hz - tern.if_hz) / 1e3)


def test_the_vfos_dial_stands_where_the_plan_says(tern):
    analysis = Analysis(tern)
    picture = of_vfo(analysis)
    assert set(picture.dial.here.y) == {analysis.band_plan("20m").vfo_at(14.2e6) / 1e6}
    assert len(picture.dial.ranges) == len(tern.bands)
    assert picture.dial.held == NO_CURVE


@pytest.mark.parametrize("beside", [vfo.RATE, vfo.SCALE, vfo.WARMING])
def test_the_held_vfo_is_its_own_picture(tern, beside):
    analysis = Analysis(tern)
    picture = of_vfo(analysis, analysis, beside=beside)
    assert sorted(picture.beside.held.y) == pytest.approx(sorted(picture.beside.line.y))
    assert of_vfo(analysis, beside=beside).beside.held == NO_CURVE


def test_a_block_shows_the_levels_of_its_direction(tern):
    analysis = Analysis(tern)
    heard = block.picture_of(analysis, look("stages", "mixer"))
    sent = block.picture_of(analysis, look("stages", "mixer", way="transmit"))
    assert heard.title != sent.title
    assert "S9 at its output" in dict(heard.table.rows)
    assert "level at its input, speech peaks" in dict(sent.table.rows)
    # A strong signal is far too much for any audio stage whose volume nobody turns down; with a control it is
    # turned down to the 50 mW held: 13.1 dB below the 1.02 W of the chip on 9 V, and 1 dB at compression.
    assert dict(block.picture_of(analysis, look("stages", "audio")).table.rows)[
        "headroom at the strongest station"
    ] == ("14.1 dB")
    bare = Analysis(tern.edited(("stages", "gain_control", "in_path"), False))
    loud = block.picture_of(bare, look("stages", "audio"))
    assert loud.title == "Audio power stage on 20\u00a0m, receive; headroom with the volume fully up"
    assert (
        float(dict(loud.table.rows)["headroom at the strongest station"].replace("−", "-").split()[0]) < -20
    )
    assert "volume" not in heard.title
    out = Analysis(tern.edited(("stages", "mixer", "in_path"), False))
    assert isinstance(block.picture_of(out, look("stages", "mixer")), Unsolved)
