"""Rules on oscillators and read-out held against made-up figures on either side of every limit."""

from types import SimpleNamespace

import pytest

from core.rig.analysis import Analysis
from core.rig.rules import oscillators
from core.stages.outcome import Unsolved


def test_of_each_lazy_band_the_laziest_comes_first(tern):
    analysis = Analysis(tern)
    tank = analysis.tank

    def told(*margins):
        of = dict(zip(("20m", "12m"), margins, strict=True))
        asked = SimpleNamespace(tank=tank, vfo_on=lambda band: SimpleNamespace(start=of[band]), project=tern)
        return list(oscillators.vfo_starts(asked))

    assert told((2.5, 3.0), (3.0, 2.5)) == []
    (one,) = told((2.49, 3.0), (3.0, 4.0))
    assert (one.severity, one.band, one.figure, one.limit) == ("caution", "20m", 2.49, 2.5)
    assert one.over_db > 0
    (both,) = told((3.0, 2.4), (0.99, 2.0))
    assert (both.severity, both.band, both.figure) == ("fault", "", 0.99)
    assert "gives back 0.99 times what the tank loses on 12m, 2.40 times on 20m; 2.5 times" in both.text
    (just,) = told((1.0, 3.0), (3.0, 3.0))
    assert just.severity == "caution"


def test_of_fast_bands_the_fastest_comes_first(tern):
    def told(*rates):
        of = dict(zip(("20m", "12m"), rates, strict=True))
        asked = SimpleNamespace(
            project=tern,
            vfo_on=lambda band: SimpleNamespace(dial=SimpleNamespace(worst_hz_per_turn=of[band])),
        )
        return list(oscillators.vfo_tunes_fast(asked))

    assert told(50e3, 20e3) == []
    (one,) = told(51e3, 20e3)
    assert (one.band, one.figure, one.limit) == ("20m", 51e3, 50e3)
    (both,) = told(51e3, 70e3)
    assert (both.band, both.figure) == ("", 70e3)
    assert both.text == "A turn of the knob tunes up to 70 kHz on 12m, 51 kHz on 20m; 50 kHz is easy to set."


@pytest.mark.parametrize(
    ("fitted", "share", "left", "says"),
    [
        (False, None, -12.4, "Make 47 pF of the parallel capacitor N750; it leaves at most 12 Hz a degree"),
        (False, 0.98, 3.0, "Set the differential capacitor to 98 %; it leaves at most 3 Hz a degree"),
        (True, None, 3.0, "The N750 fitted is the best value already; what is left changes over the dial."),
    ],
)
def test_what_stills_a_drift_in_words(fitted, share, left, says):
    found = SimpleNamespace(
        fitted=fitted, differential_share=share, left_hz_per_k=left, type="N750", preferred_f=47e-12
    )
    assert oscillators._compensation(found).startswith(says)
    assert oscillators._compensation(Unsolved("Nothing does.")) == "Nothing does."


@pytest.mark.parametrize(("drift", "told"), [(100.0, False), (101.0, True), (-101.0, True)])
def test_the_band_that_drifts_farthest_is_told(tern, drift, told):
    analysis = Analysis(tern)
    warmth = analysis.tank.tank.warmth
    # What a hertz a degree makes in the first twenty minutes.
    first = oscillators.vfo.warm_up(1.0, warmth).first_hz
    of = {"20m": 5.0 / first, "12m": drift / first}
    asked = SimpleNamespace(
        tank=analysis.tank,
        project=tern,
        vfo_on=lambda band: SimpleNamespace(worst_drift=SimpleNamespace(hz_per_k=of[band])),
    )
    found = list(oscillators.vfo_drifts(asked))
    assert [(f.band, pytest.approx(f.figure), f.limit) for f in found] == (
        [("12m", 101.0, 100.0)] if told else []
    )
    for f in found:
        assert f"drifts {of['12m']:.0f} Hz a degree on 12m, some 101 Hz".replace("-", "−") in f.text


def test_every_band_that_drifts_far_is_told_the_farthest_first(tern):
    analysis = Analysis(tern)
    first = oscillators.vfo.warm_up(1.0, analysis.tank.tank.warmth).first_hz
    of = {"20m": 110.0 / first, "12m": -150.0 / first}
    asked = SimpleNamespace(
        tank=analysis.tank,
        project=tern,
        vfo_on=lambda band: SimpleNamespace(worst_drift=SimpleNamespace(hz_per_k=of[band])),
    )
    (found,) = oscillators.vfo_drifts(asked)
    assert (found.band, found.figure) == ("", pytest.approx(150.0))
    assert "a degree on 12m, some 150 Hz in the first twenty minutes, 110 Hz on 20m;" in found.text


@pytest.mark.parametrize(
    ("covers", "limits", "severity", "says"),
    [
        ((True, True), 1, "caution", "The coil is too large; the bands are covered, the margin is not."),
        (
            (True, False),
            1,
            "fault",
            "The coil is too large; as it is the VFO tunes 5.100 to 5.250 MHz on 12m.",
        ),
        ((True, False), 2, "fault", None),
        ((True, True), 0, None, None),
    ],
)
def test_what_a_tank_falls_short_of(tern, covers, limits, severity, says, monkeypatch):
    rows = [
        SimpleNamespace(band=band, covers=each, covers_low_hz=5.1e6, covers_high_hz=5.25e6)
        for band, each in zip(("20m", "12m"), covers, strict=True)
    ]
    limit = SimpleNamespace(what="The coil is too large", remedy="wind a smaller one", tells_range=False)
    tank = SimpleNamespace(ranges=rows, limits=[limit] * limits)
    monkeypatch.setattr(oscillators, "_tank", lambda analysis: tank)
    found = list(oscillators.vfo_covers(SimpleNamespace()))
    assert [(f.severity, f.subject) for f in found] == [(severity, f"{n + 1}") for n in range(limits)]
    if says:
        assert found[0].text == says
        assert found[0].remedy == "Wind a smaller one."
    limit.tells_range = True
    assert all(f.text == "The coil is too large." for f in oscillators.vfo_covers(SimpleNamespace()))


def test_the_display_that_is_off_farthest_is_told(tern):
    def told(*errors):
        rows = [
            SimpleNamespace(error=error, band=band)
            for error, band in zip(errors, ("20m", "12m"), strict=True)
        ]
        asked = SimpleNamespace(read_out=SimpleNamespace(bands=rows), project=tern)
        return list(oscillators.read_out_measured(asked))

    def off(hz, *names):
        return SimpleNamespace(hz=hz, measured_hz=140.4, unmeasured=names)

    assert told(off(900.0), None) == []
    (one,) = told(off(500.0, "carrier"), off(900.0, "carrier", "helper"))
    # Both bands are off, so that it is no band's own finding.
    assert (one.band, one.figure, one.path) == ("", 900.0, ("read_out", "carrier_upper_hz"))
    assert one.text == (
        "The display on 12m may be off by 900 Hz, on 20m by 500 Hz with carrier and helper as marked or "
        "computed; measured with this counter it is 140 Hz."
    )
    (two,) = told(off(500.0, "helper"), off(900.0))
    assert (two.band, two.path) == ("20m", ("read_out", "helper_measured_hz"))
    assert not list(oscillators.read_out_measured(SimpleNamespace(read_out=None)))
