"""Rules on frequencies and on what a rig must consist of, with made-up plans."""

from types import SimpleNamespace

import pytest

from core.model.bands import Band
from core.model.readings import readings_of
from core.rig.plan.frequency_plan import band_plan
from core.rig.rules import frequencies, oscillators, structure
from core.stages.filters.carrier_oscillator import CarrierPlace
from core.stages.outcome import Unsolved
from tests.made_up import TWENTY, project, spur

# -- frequencies -------------------------------------------------------------------------------------------


def planned(scheme, carrier_mhz, low=14.0, high=14.4):
    band = Band(name="20m", low_hz=1e6 * low, high_hz=1e6 * high, sideband="upper", scheme=scheme)
    return band_plan(band, 1e6 * carrier_mhz)


ANOTHER_SCHEME = "Choose another mixing scheme for this band, or another IF."


@pytest.mark.parametrize(
    ("plan", "told"),
    [
        (planned("sum", 9.0), None),
        (planned("sum", 6.4), None),
        (planned("sum", 6.3), ("vfo_high", "caution", 8.1e6, 8e6, "Choose an IF nearer to the band.")),
        (
            planned("vfo_minus_if", 4.0),
            (
                *("vfo_high", "caution", 18.4e6, 8e6),
                "Choose a lower IF, or another mixing scheme for this band.",
            ),
        ),
        (planned("sum", 14.1), ("vfo_crosses_zero", "fault", -0.1e6, 0.0, ANOTHER_SCHEME)),
        (planned("sum", 14.0), ("vfo_crosses_zero", "fault", 0.0, 0.0, ANOTHER_SCHEME)),
    ],
)
def test_where_the_vfo_runs(plan, told):
    found = list(frequencies.vfo_range(SimpleNamespace(frequency_plan=(plan,))))
    assert [(f.rule, f.severity, pytest.approx(f.figure), f.limit, f.remedy) for f in found] == (
        [told] if told else []
    )
    for f in found:
        assert f.over_db > 0
        if f.rule == "vfo_crosses_zero":
            assert f"to {plan.vfo_high_hz / 1e6:.3f} MHz, which passes zero" in f.text


@pytest.mark.parametrize(
    ("low_khz", "margin", "told"),
    [(100.0, 5e3, False), (99.9, 5e3, True), (110.0, 120e3, True), (0.0, 5e3, False)],
)
def test_a_vfo_too_low_to_be_built(tern, low_khz, margin, told):
    plan = planned("sum", 14.0 - low_khz / 1e3, high=14.35)
    vfo = tern.vfo.edited(("tank", "margin_hz"), margin)
    found = list(
        oscillators.vfo_too_low(SimpleNamespace(frequency_plan=(plan,), project=project(tern, vfo=vfo)))
    )
    assert len(found) == told
    for f in found:
        assert f.figure == pytest.approx(1e3 * low_khz, abs=1)
        assert f"to {low_khz + 350:.0f} kHz; none is built below 100 kHz" in f.text


@pytest.mark.parametrize(
    ("vfo_mhz", "told_already", "subjects"),
    [
        # Twice 7.05 to 7.15 and three times 4.7 to 4.75 MHz lie on 14.0 to 14.4 MHz.
        ((7.05, 7.15), (), ["second"]),
        ((7.05, 7.15), ("2 VFO",), []),
        ((7.05, 7.15), ("3 VFO",), ["second"]),
        ((4.7, 4.75), (), ["third"]),
        ((6.5, 7.0), (), ["second"]),
        ((6.5, 6.99), (), []),
        ((7.2, 7.5), (), ["second"]),
        ((7.21, 7.5), (), []),
        ((4.7, 7.1), (), ["second", "third"]),
        ((-1.0, 5.0), (), []),
    ],
)
def test_harmonics_of_the_vfo_in_the_band(tern, vfo_mhz, told_already, subjects):
    plan = SimpleNamespace(
        band="20m",
        vfo_low_hz=1e6 * vfo_mhz[0],
        vfo_high_hz=1e6 * vfo_mhz[1],
        dial_low_hz=14.0e6,
        dial_high_hz=14.4e6,
    )
    sent = tuple(spur(-50.0, "transmit", name, crosses=True) for name in told_already)
    made = SimpleNamespace(frequency_plan=(plan,), spurs=lambda band, way: sent)
    found = list(frequencies.vfo_harmonic_in_band(made))
    assert [f.subject for f in found] == subjects
    for f in found:
        number = 2 if f.subject == "second" else 3
        assert f.figure == pytest.approx(number * plan.vfo_low_hz)
        ends = " to ".join(f"{number * each:.3f}" for each in vfo_mhz)
        assert f.text == f"The VFO's {f.subject} harmonic, {ends} MHz, falls into 20m."


def test_a_dial_outside_every_allocation(tern):
    inside, outside = (
        Band(name="x", low_hz=low, high_hz=high) for low, high in ((14.0e6, 14.35e6), (14.3e6, 14.4e6))
    )
    made = SimpleNamespace(project=project(tern, bands=(inside, outside)))
    (found,) = frequencies.outside_allocation(made)
    assert found.text == ("The dial of x, 14.300 to 14.400 MHz, is not inside an amateur band of any region.")
    assert found.path == ("bands", "x", "low_hz")


def place(hz):
    values = dict.fromkeys(CarrierPlace.__dataclass_fields__)
    return CarrierPlace(**values | {"frequency_hz": hz})


@pytest.mark.parametrize(("apart", "told"), [(50.0, False), (51.0, True)])
def test_carriers_apart_are_two(tern, apart, told):
    bands = (TWENTY, TWENTY.edited(("name",), "17m"))
    places = {"20m": place(9.0e6), "17m": place(9.0e6 + apart)}
    made = SimpleNamespace(
        project=project(tern, bands=bands), carrier=places.__getitem__, ladder=tern.stage("ladder")
    )
    found = list(frequencies.carrier_place(made))
    assert [f.rule for f in found] == (["two_carriers"] if told else [])
    if told:
        assert "20m 9.000000 MHz, 17m 9.000051 MHz" in found[0].words
    places["17m"] = Unsolved("The ladder has no pass-band.")
    (lost,) = frequencies.carrier_place(made)
    assert (lost.rule, lost.severity, lost.band) == ("carrier_without_place", "fault", "17m")
    made.ladder = None
    assert not list(frequencies.carrier_place(made))


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (8.9985e6, 9.0015e6, "trimmer and coil reach 8.998500 to 9.001500 MHz"),
        (
            0.0,
            9.0015e6,
            "trimmer and coil reach 9.001500 MHz at most, and with the trimmer further in the crystal no "
            "longer rules the frequency",
        ),
        (0.0, 0.0, "with a coil that large the crystal no longer rules the frequency"),
    ],
)
def test_how_far_the_carrier_reaches(low, high, words):
    pulling = SimpleNamespace(reachable_low_hz=low, reachable_high_hz=high, reaches=False, wanted_hz=9.003e6)
    assert frequencies._reach(pulling) == words
    row = SimpleNamespace(bands=("20m", "17m"), pulling=pulling)
    (found,) = frequencies.carrier_in_reach(SimpleNamespace(carriers=(row,)))
    assert found.text == f"The carrier for 20m and 17m must lie at 9.003000 MHz; {words}."
    pulling.reaches = True
    assert not list(frequencies.carrier_in_reach(SimpleNamespace(carriers=(row,))))
    row.pulling = None
    assert not list(frequencies.carrier_in_reach(SimpleNamespace(carriers=(row,))))


# -- structure ---------------------------------------------------------------------------------------------


def told(tern, rule, **others):
    return list(rule(SimpleNamespace(project=project(tern, **others), ladder=tern.stage("ladder"))))


def test_what_a_rig_must_consist_of(tern):
    def path_without(*gone, way=None):
        return lambda w: tuple(
            s for s in tern.path(w) if (s.id not in gone and s.kind not in gone) or (way and w != way)
        )

    assert not told(tern, structure.mixers_missing)
    found = told(tern, structure.mixers_missing, path=path_without("mixer"))
    assert [f.subject for f in found] == [
        "vfo, receive",
        "carrier, receive",
        "vfo, transmit",
        "carrier, transmit",
    ]
    assert found[0].text == "The receive path has no mixer driven by the VFO."
    assert (
        found[3].remedy
        == "Insert a mixer driven by the carrier oscillator where the signal changes frequency."
    )
    assert not told(tern, structure.mixers_missing, path=lambda way: ())
    assert not told(tern, structure.front_filter_missing)
    found = told(tern, structure.front_filter_missing, path=path_without("band_pass", way="receive"))
    assert [(f.subject, f.text) for f in found] == [
        ("band-pass, receive", "The receive path has no band-pass stage on 20m.")
    ]
    found = told(tern, structure.front_filter_missing, path=path_without("low_pass"))
    assert [f.subject for f in found] == ["low-pass, transmit"]
    assert not told(tern, structure.front_filter_missing, path=path_without("low_pass", "power_amplifier"))
    assert not told(tern, structure.front_filter_missing, path=lambda way: ())
    assert len(told(tern, structure.safety)) == 1
    assert not told(tern, structure.safety, path=path_without("power_amplifier"))


def test_each_band_has_one_filter_in_each_stage(tern):
    def of(*served):
        """What is told of a band-pass whose filters serve these bands, of two that the rig has."""
        bands = (TWENTY, TWENTY.edited(("name",), "17m"))
        ones = tuple(tern.stage("band_pass").filters[0].edited(("bands",), each) for each in served)
        stage = tern.edited(("stages", "band_pass", "filters"), ones).stage("band_pass")
        return told(tern, structure.band_not_served, bands=bands, stages=(stage,))

    assert not of(("20m",), ("17m",))
    assert not of(("20m", "17m"))
    (missing,) = of(("20m",))
    assert (missing.rule, missing.severity, missing.band) == ("band_without_filter", "fault", "17m")
    assert missing.text == "Band-pass has no filter for 17m; the signal is taken to pass without loss."
    assert missing.remedy == "Add a filter for 17m or tick the band on one that fits."
    (double,) = of(("20m", "17m"), ("20m",))
    assert (double.rule, double.severity, double.band) == ("band_with_two_filters", "caution", "20m")
    assert double.text == "Band-pass has 2 filters for 20m; the first is used."
    assert double.remedy == "Untick 20m on all but one."
    assert [f.band for f in of()] == ["20m", "17m"]
    out = tern.edited(("stages", "band_pass", "in_path"), False).edited(
        ("stages", "band_pass", "filters"), ()
    )
    assert not told(tern, structure.band_not_served, stages=(out.stage("band_pass"),))


@pytest.mark.parametrize(
    ("names", "sentence"),
    [
        (("a",), "The readings' sweep is not in this project: a."),
        (("a", "b", "c"), "The readings' sweeps are not in this project: a, b, c."),
        (("a", "b", "c", "d"), "The readings' sweeps are not in this project: a, b, c and 1 more."),
        (("a", "b", "c", "d", "e"), "The readings' sweeps are not in this project: a, b, c and 2 more."),
    ],
)
def test_sweeps_that_are_missing(tern, names, sentence):
    table = "label;file\n" + "".join(f"X{n};{n}.csv\n" for n in names)
    batch = tern.crystal_batch.edited(("readings",), readings_of(table)).edited(("method",), "sweep")
    (found,) = told(tern, structure.sweeps_not_imported, crystal_batch=batch)
    assert found.text.replace(".csv", "") == sentence
    other = batch.edited(("method",), "bandwidth")
    assert not told(tern, structure.sweeps_not_imported, crystal_batch=other)
