"""Which filters count against the transmitter's harmonics, and what their parts see at full power."""

from types import SimpleNamespace

import numpy as np
import pytest

from core.circuits.ladder import Network, solve
from core.model.stages.filters import LowPass, LowPassFilter
from core.rig.analysis import Analysis
from core.rig.figures.filters import stress_title
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.report import as_text, report
from core.rig.rules import emissions, inspect

#: As assumed, and above the fifth 6 dB less for each further even or odd one.
AMPLIFIER_DBC = (-20.0, -15.0, -35.0, -30.0, -41.0, -36.0, -47.0, -42.0)


def second_low_pass(order: int) -> LowPass:
    filters = tuple(LowPassFilter(bands=(name,), order=order) for name in ("20m", "12m"))
    return LowPass(id="at_antenna", name="At the antenna", filters=filters)


def levels_dbc(project, band="20m"):
    return [row.result_dbc for row in Analysis(project).harmonics(band)]


def test_every_low_pass_behind_the_amplifier_counts_as_one_circuit(tern):
    # The path runs from the antenna, so the first of the stages is the last that the signal leaves.
    both = tern.with_stages((second_low_pass(3), *tern.stages))
    inner, outer = (
        Analysis(both).filter_design(stage, "20m").network for stage in ("low_pass", "at_antenna")
    )
    chain = Network((*inner.arms, *outer.arms), 50.0, 50.0)
    band = both.band("20m")
    ends = []
    for dial in (band.low_hz, band.high_hz):
        loss = solve(chain, dial * np.arange(1, 10)).loss_db
        ends.append([before - (loss[n + 1] - loss[0]) for n, before in enumerate(AMPLIFIER_DBC)])
    assert levels_dbc(both) == pytest.approx(np.max(ends, axis=0), abs=1e-6)
    # A weak filter at the antenna once hid the good one at the amplifier.
    assert max(levels_dbc(both)) < max(levels_dbc(tern)) - 10


def test_no_filter_before_the_amplifier_counts(tern):
    index = next(n for n, stage in enumerate(tern.stages) if stage.kind == "power_amplifier")
    stages = list(tern.stages)
    stages.insert(index + 1, second_low_pass(7))
    assert levels_dbc(tern.with_stages(tuple(stages))) == pytest.approx(levels_dbc(tern))


def test_report_and_sheet_tell_volts_amperes_and_watts_of_each_low_pass_part(tern):
    # Full power into a matched 50 ohm: the last capacitor stands across the antenna.
    rated = tern.stage("power_amplifier").rated_w
    data = report(Analysis(tern))
    rows = {
        (row["stage"], tuple(row["bands"]), row["ref"]): row for row in data["parts"] if row["peak_voltage_v"]
    }
    last = rows["low_pass", ("20m",), "C4"]
    assert last["peak_voltage_v"] == pytest.approx(np.sqrt(2 * 50 * rated), rel=0.06)
    design = Analysis(tern).filter_design("low_pass", "20m")
    band = tern.band("20m")
    s = solve(design.network, np.linspace(band.low_hz, band.high_hz, 5))
    lost = rated * (1 - np.abs(s.s21) ** 2 - np.abs(s.s11) ** 2)
    told = sum(row["lost_w"] for key, row in rows.items() if key[1] == ("20m",))
    assert told == pytest.approx(lost.max(), rel=0.02)
    assert {key[0] for key in rows} == {"low_pass"}
    assert "peak volts" in as_text(data)
    section = next(s for s in build_sheet(Analysis(tern)).filters if s.title == "Low-pass, 20 m")
    assert section.stress_of("C4").peak_v == last["peak_voltage_v"]
    # A rig of 5 W has an amplifier for 8 W: that is what they are made for.
    assert (tern.station.power_w, rated) == (5.0, 8.0)
    assert section.stress_title == (
        "What the parts see with 8 W, the power amplifier's largest output, into a matched antenna "
        "and a mismatch"
    )
    without = tern.with_stages(tuple(s for s in tern.stages if s.kind != "power_amplifier"))
    assert stress_title(Analysis(without)) == (
        "What the parts see with 5 W, the power wanted, into a matched antenna and a mismatch"
    )


def against(project, band):
    (finding,) = (f for f in inspect(Analysis(project)) if f.rule == "harmonic_limit" and f.band == band)
    return finding


def test_a_shared_low_pass_is_not_told_to_be_steeper_where_that_cannot_help(muddle):
    # The second harmonic of 40 m lies in 20 m, which shares the filter: no order and no trap takes it away.
    finding = against(muddle, "40m")
    assert finding.severity == "fault"
    assert finding.remedy == "Give 40 m a low-pass of its own, of order 7."
    place = ("stages", "low_pass", "filters")
    (shared,) = muddle.at(place)
    for order in (7, 9, 11):
        assert against(muddle.edited((*place, 0, "order"), order), "40m").severity == "fault"
    own = (shared.edited(("bands",), ("20m",)), LowPassFilter(bands=("40m",), order=7))
    assert against(muddle.edited(place, own), "40m").severity == "note"


@pytest.mark.parametrize(
    ("change", "remedies"),
    [
        ({"order": 3}, {"raise the low-pass's order to 5": {"order": 5}}),
        (
            {"order": 5, "shape": "butterworth"},
            {
                "raise the low-pass's order to 9": {"order": 9},
                "take the Chebyshev shape": {"shape": "chebyshev"},
            },
        ),
        (
            {"as_built": {"coil:1": 250e-9}},
            {
                "add its trap on the second harmonic": {"shape": "chebyshev_trap"},
                "clear its as-built values and wind the coils anew": {"as_built": ()},
            },
        ),
        ({"cutoff_hz": 40e6}, {"leave its cut-off to be found": {"cutoff_hz": None}}),
    ],
)
def test_what_is_told_against_harmonics_takes_them_away(tern, change, remedies):
    place = ("stages", "low_pass", "filters", 0)

    def with_(project, fields):
        for field, value in fields.items():
            project = project.edited((*place, field), value)
        return project

    loud = with_(tern, change)
    finding = against(loud, "20m")
    assert finding.severity == "fault"
    for words, fields in remedies.items():
        assert words in finding.remedy[0].lower() + finding.remedy[1:]
        assert against(with_(loud, fields), "20m").severity == "note"
    assert finding.remedy.count(", or ") >= len(remedies) - 1


def test_what_leaves_one_harmonic_is_not_advised(tern, monkeypatch):
    def advised(*margins):
        rows = [SimpleNamespace(margin_db=each) for each in margins]
        monkeypatch.setattr(emissions, "Analysis", lambda rig: SimpleNamespace(harmonics=lambda band: rows))
        return emissions._against_harmonics(Analysis(tern), "20m")

    words, edits = advised(3.0, 0.0, 20.0)
    assert words.startswith("Raise the low-pass's order")
    assert edits[0].label.startswith("Raise the low-pass's order")
    words, edits = advised(3.0, -0.1, 20.0)
    assert words.startswith("No single change of the low-pass suffices")
    assert edits == ()
