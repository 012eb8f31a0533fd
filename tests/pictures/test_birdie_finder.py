"""The birdie finder's picture, without a window."""

from app.pictures.rig.birdie_finder import picture_of
from app.state.look import Look
from core.rig.analysis import Analysis

LOOK = Look("40m", "receive", 7.1e6)


def test_what_is_heard_is_named_with_where_it_is_expected(muddle):
    analysis = Analysis(muddle)
    spur = next(s for s in analysis.spurs("40m") if s.kind == "birdie" and s.crosses and s.moves)
    picture = picture_of(analysis, LOOK, spur.dial_hz + 300, abs(spur.moves), None)
    row = picture.table.rows[0]
    assert row[0] == spur.products
    assert row[3].endswith("0.3 kHz")
    assert picture.verdict.startswith(f"Probably {spur.products}")
    assert picture_of(analysis, LOOK, spur.dial_hz + 800, abs(spur.moves), None) != picture


def test_a_tone_that_nothing_makes_is_told_so(muddle):
    picture = picture_of(
        Analysis(muddle.edited(("vfo", "tank"), None).with_stages(())), LOOK, 7.1e6, None, None
    )
    assert picture.table.rows == ()
    assert picture.verdict.startswith("Nothing of the rig's own oscillators")
