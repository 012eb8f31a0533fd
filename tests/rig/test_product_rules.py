"""Rules on products and harmonics, on either side of every limit."""

from types import SimpleNamespace

import pytest

from core.rig.analysis import Analysis
from core.rig.levels.harmonics import Harmonic
from core.rig.rules import emissions, spurs
from tests.made_up import analysis, project, spur


def test_what_would_read_like_the_limit_is_told_to_a_tenth_below_it(monkeypatch):
    made = [
        SimpleNamespace(products=name, down=down) for name, down in (("a", 20.0), ("b", 59.97), ("c", 41.4))
    ]
    monkeypatch.setattr(spurs, "_down_db", lambda each: each.down)
    monkeypatch.setattr(spurs, "_where", lambda each, plan: "there")
    told = spurs._responses(SimpleNamespace(band="20m"), made, "rule", "note", "", ())
    assert spurs.GOOD_REJECTION_DB == 60.0
    assert "3 other inputs are less than 60 dB down" in told.text
    assert "a 20 dB down there, b 59.9 dB down there, c 41 dB down there" in told.text


# -- products ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("made", "told"),
    [
        # The station's limit is 43 dB; what lies 70 dB under the signal is nothing to tell.
        (spur(-42.9, "transmit", "4 VFO", crosses=True), ("fault", "mixer", -42.9, -43.0, "dBc")),
        (spur(-43.0, "transmit", "4 VFO", crosses=True), ("note", "mixer", -43.0, -43.0, "dBc")),
        (spur(-70.0, "transmit", "4 VFO", crosses=True), ("note", "mixer", -70.0, -43.0, "dBc")),
        (spur(-70.1, "transmit", "4 VFO", crosses=True), None),
        (spur(-20.0, "transmit", "4 VFO"), None),
        (spur(-20.0, "receive", "4 VFO", crosses=True), None),
        # Birdies: loud from −48 dB on S9, unheard below −75.
        (spur(-47.9, "birdie", "4 VFO", crosses=True), ("caution", "vfo", -47.9, -48.0, "dB on S9")),
        (spur(-48.0, "birdie", "4 VFO", crosses=True), ("note", "vfo", -48.0, -48.0, "dB on S9")),
        (spur(-75.0, "birdie", "4 VFO", crosses=True), ("note", "vfo", -75.0, -48.0, "dB on S9")),
        (spur(-75.1, "birdie", "4 VFO", crosses=True), None),
        (
            spur(-40.0, "birdie", "2 helper", crosses=True, read_out=True),
            ("caution", "read_out", -40.0, -48.0, "dB on S9"),
        ),
    ],
)
def test_products_that_meet_the_signal(tern, made, told):
    findings = list(spurs.crossing_products(analysis(tern, made)))
    assert [(f.severity, f.stage, f.figure, f.limit, f.unit) for f in findings] == ([told] if told else [])
    for f in findings:
        assert f.rule == f"{made.kind}_crosses"
        assert (f.band, f.subject) == ("20m", made.products)
        assert f.words.startswith(
            f"{made.products} (order 3) meets the 20m signal at 14.210 MHz, about <figure>; its tone moves "
            "2 times as fast"
        )


def test_weaker_ones_behind_one_that_does_not_cross_are_not_looked_at(tern):
    crossing = spur(-30.0, "transmit", "4 VFO", crosses=True)
    weak = spur(-80.0, "transmit", "6 VFO", crosses=True)
    other = spur(-35.0, "transmit", "8 VFO", crosses=True)
    told = list(spurs.crossing_products(analysis(tern, crossing, weak, other, spur(-10.0, "transmit"))))
    assert [f.subject for f in told] == ["4 VFO", "8 VFO"]
    assert [s.products for s in spurs.sent_on_the_dial(analysis(tern, crossing, weak, other), "20m")] == [
        "4 VFO",
        "8 VFO",
    ]
    loose = [spur(-70.0, "transmit", "a", crosses=True), spur(-30.0, "birdie", "b", crosses=True)]
    loose += [spur(-30.0, "transmit", "c"), spur(-70.1, "transmit", "d", crosses=True)]
    assert [s.products for s in spurs.sent_on_the_dial(analysis(tern, *loose), "20m")] == ["a"]


@pytest.mark.parametrize(
    ("kind", "of_read_out", "helper", "measured", "begins", "place"),
    [
        ("transmit", False, None, None, "Move the IF; no filter", ("if_hz",)),
        ("birdie", False, None, None, "Move the IF, or screen the oscillators", ("if_hz",)),
        ("birdie", True, None, None, "Take another helper crystal, ", ("read_out", "helper_hz")),
        ("birdie", True, 8e6, None, "Leave the helper's crystal to be chosen, ", ("read_out", "helper_hz")),
        ("birdie", True, None, 8e6, "Leave the helper's crystal to be chosen, ", ("read_out", "helper_hz")),
    ],
)
def test_what_is_advised_against_a_product(tern, kind, of_read_out, helper, measured, begins, place):
    read_out = tern.read_out.edited(("helper_hz",), helper).edited(("helper_measured_hz",), measured)
    made = spur(-20.0, kind, "4 VFO", crosses=True, read_out=of_read_out)
    remedy, path = spurs._against(made, project(tern, read_out=read_out))
    assert remedy.startswith(begins)
    assert path == place


@pytest.mark.parametrize(
    ("name", "level", "told"),
    [
        ("image", -59.9, ("image_rejection", "caution", 59.9)),
        ("image", -60.0, None),
        ("image", -40.0, ("image_rejection", "caution", 40.0)),
        ("image", -39.9, ("image_rejection", "fault", 39.9)),
        ("IF breakthrough", -20.0, ("if_breakthrough", "fault", 20.0)),
        ("IF breakthrough", 3.0, ("if_breakthrough", "fault", 0.0)),
        ("3 signal − 4 VFO", -20.0, None),
    ],
)
def test_image_and_breakthrough(tern, name, level, told):
    findings = list(spurs.image_and_if(analysis(tern, spur(level, products=name))))
    assert [(f.rule, f.severity, f.figure) for f in findings] == ([told] if told else [])
    for f in findings:
        assert (f.limit, f.at_least, f.band) == (60.0, True, "20m")
        assert f.over_db == pytest.approx(60.0 - told[2])


def test_other_responses_are_told_by_what_helps(tern):
    # 15 % of 14.4 MHz are 2.16 MHz.
    crossing = spur(-50.0, products="a", crosses=True, away=(-1e6, 1e6))
    near, far = spur(-35.0, products="b", away=(3e6, 2.15e6)), spur(-45.0, products="c", away=(-2.17e6, -3e6))
    image = spur(-10.0, products="image")
    good = spur(-60.0, products="d")
    found = list(spurs.other_responses(analysis(tern, image, good, near, crossing, far)))
    assert [(f.rule, f.severity, f.path) for f in found] == [
        ("response_crosses", "caution", ("if_hz",)),
        ("response_near", "fault", ("if_hz",)),
        ("response_far", "caution", ("stages",)),
    ]
    assert [f.text for f in found] == [
        "On 20m another input is less than 60 dB down: a 50 dB down where the dial meets it at 14.210 MHz.",
        "On 20m another input is less than 60 dB down: b 35 dB down at 16.550 to 17.000 MHz.",
        "On 20m another input is less than 60 dB down: c 45 dB down at 11.400 to 11.830 MHz.",
    ]
    assert [f.figure for f in found] == [50.0, 35.0, 45.0]
    assert not list(spurs.other_responses(analysis(tern, image, good)))


def test_three_responses_are_named_and_the_others_counted(tern):
    def told(*levels):
        made = [spur(level, products=f"p{-level:.0f}", away=(3e6, 3e6)) for level in levels]
        (found,) = spurs.other_responses(analysis(tern, *made))
        return found.text

    at = "at 17.000 to 17.400 MHz"
    assert told(-41.0, -55.0, -48.0) == (
        f"On 20m 3 other inputs are less than 60 dB down: p41 41 dB down {at}, p48 48 dB down {at}, "
        f"p55 55 dB down {at}."
    )
    assert told(-55.0, -41.0, -48.0, -57.0, -58.0).endswith(f"p55 55 dB down {at} and 2 more.")
    assert told(-55.0, -41.0, -48.0, -57.0).endswith("and 1 more.")


@pytest.mark.parametrize(
    ("levels", "told"),
    [
        ((-42.9,), "4 VFO leaves on 20m at about −42.9 dBc (1 such product); at most −43 dBc is asked."),
        ((-43.0,), None),
        (
            (-30.0, -20.4, -43.1),
            "4 VFO leaves on 20m at about −20 dBc (2 such products); at most −43 dBc is asked.",
        ),
    ],
)
def test_products_beside_the_signal(tern, levels, told):
    made = [spur(level, "transmit", "4 VFO") for level in levels]
    made += [spur(-1.0, "birdie"), spur(-1.0, "receive"), spur(-1.0, "transmit", crosses=True)]
    findings = list(emissions.transmit_products(analysis(tern, *made)))
    assert [f.text for f in findings] == ([told] if told else [])
    assert all((f.severity, f.limit, f.figure) == ("fault", -43.0, max(levels)) for f in findings)


# -- harmonics ---------------------------------------------------------------------------------------------


def harmonic(number, result, limit=-43.0):
    return Harmonic(
        band="20m",
        number=number,
        frequency_hz=14e6 * number,
        amplifier_dbc=-20.0,
        filter_db=-20.0 - result,
        result_dbc=result,
        limit_dbc=limit,
    )


@pytest.mark.parametrize(
    ("results", "severity", "ordinal", "leaves", "in_hand"),
    [
        ((-50.4, -60.0, -70.0, -80.0), "note", "second", "−50", ", 7 dB in hand"),
        ((-60.0, -43.0, -70.0, -80.0), "note", "third", "−43", ", 0 dB in hand"),
        ((-60.0, -50.0, -42.0, -80.0), "fault", "fourth", "−42", ""),
        ((-60.0, -50.0, -49.0, -48.0), "note", "fifth", "−48", ", 5 dB in hand"),
    ],
)
def test_the_worst_harmonic_is_told(tern, results, severity, ordinal, leaves, in_hand):
    words = f"The {ordinal} harmonic on 20m leaves at {leaves} dBc; at most −43 dBc is asked{in_hand}."
    rows = tuple(harmonic(n, r) for n, r in zip((2, 3, 4, 5), results, strict=True))
    made = SimpleNamespace(project=project(tern, path=lambda way: ()), harmonics=lambda band: rows)
    (found,) = emissions.harmonic_limit(made)
    assert (found.severity, found.text, found.figure) == (severity, words, max(results))
    assert (found.stage, found.path, found.band) == ("", ("stages",), "20m")
    assert found.remedy == (
        "Measure the power amplifier's harmonics; they are an assumption until then."
        if severity == "note"
        else "Put a low-pass behind the power amplifier."
    )
    silent = SimpleNamespace(project=project(tern, path=lambda way: ()), harmonics=lambda band: ())
    assert not list(emissions.harmonic_limit(silent))


def low_passed(tern, bands, **values):
    """The sample with one low-pass for some of its bands and a loud power amplifier."""
    one = tern.stage("low_pass").filters[0].edited(("bands",), bands)
    for field, value in values.items():
        one = one.edited((field,), value)
    rest = [
        f.edited(("bands",), tuple(b for b in f.bands if b not in bands))
        for f in tern.stage("low_pass").filters[1:]
    ]
    kept = (one, *(f for f in rest if f.bands))
    return tern.edited(("stages", "low_pass", "filters"), kept)


def test_a_shared_low_pass_is_named_and_each_way_out_of_it_works(tern):
    # 12 m's low-pass lets 20 m's second harmonic through but for its trap.
    shared = low_passed(tern, ("20m", "12m"), order=5, shape="chebyshev", cutoff_hz=None, as_built=())
    found = {f.band: f for f in emissions.harmonic_limit(Analysis(shared))}
    assert "through the low-pass shared by 20m and 12m" in found["20m"].text
    bad = found["20m"]
    assert bad.severity == "fault"
    assert (bad.stage, bad.path) == ("low_pass", ("stages", "low_pass"))
    one, own = shared.stage("low_pass").filters[0], None
    offered = {words.split()[0]: instead for words, instead in emissions._tried(one, "20m")}
    assert set(offered) == {"raise", "add", "give"}
    rest, own = offered["give"]
    assert (rest.bands, own.bands) == (("12m",), ("20m",))
    assert f"ive 20m a low-pass of its own, of order {own.order}" in bad.remedy
    mended = shared.edited(("stages", "low_pass", "filters"), (rest, own))
    after = {f.band: f.severity for f in emissions.harmonic_limit(Analysis(mended))}
    assert after == {"20m": "note", "12m": "note"}
    alone = low_passed(tern, ("20m",), order=5)
    assert all("shared" not in f.text for f in emissions.harmonic_limit(Analysis(alone)))


def test_changes_of_a_low_pass_that_are_tried(tern):
    one = tern.stage("low_pass").filters[0]

    def tried(**values):
        made = one.edited(("bands",), ("20m",)).edited(("as_built",), {}).edited(("cutoff_hz",), None)
        for field, value in values.items():
            made = made.edited((field,), value)
        return [words for words, _ in emissions._tried(made, "20m")]

    raised = [f"raise the low-pass's order to {n}" for n in (7, 9, 11)]
    traps = [
        "add its trap on the second harmonic",
        "add traps on the second and third harmonics",
        "add traps on the second harmonic of every band that it serves",
    ]
    assert tried(order=5, shape="chebyshev") == [*raised, *traps]
    assert tried(order=9, shape="butterworth") == [raised[2], "take the Chebyshev shape"]
    assert tried(order=11, shape="chebyshev_trap") == traps[1:]
    both = {"order": 11, "shape": "chebyshev_trap", "traps": "second_and_third"}
    assert tried(**both) == []
    assert tried(**both, cutoff_hz=16e6) == ["leave its cut-off to be found"]
    assert tried(**both, as_built={"shunt:1": 1e-10}) == ["clear its as-built values and wind the coils anew"]
    assert tried(**both, bands=("20m", "12m")) == [
        f"give 20m a low-pass of its own, of order {type(one)(bands=('20m',)).order}"
    ]


def test_a_band_without_a_low_pass_is_to_have_one(tern):
    loud = tern.edited(("stages", "power_amplifier", "second_harmonic_dbc"), -10.0)
    bare = loud.edited(("stages", "low_pass", "filters"), loud.stage("low_pass").filters[1:])
    missing = next(
        b.name for b in tern.bands if not any(b.name in f.bands for f in bare.stage("low_pass").filters)
    )
    told = {f.band: f for f in emissions.harmonic_limit(Analysis(bare))}
    assert told[missing].severity == "fault"
    assert told[missing].remedy == f"Give {missing} a low-pass of its own."
    none = loud.stage_removed("low_pass")
    for f in emissions.harmonic_limit(Analysis(none)):
        assert f.remedy == "Put a low-pass behind the power amplifier."
