"""Every number of the build sheet and the report against the rig's own arithmetic, spelled out here."""

import re
from math import log10

import numpy as np
import pytest

from core.circuits.ladder import solve
from core.rig.analysis import Analysis
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.report import report
from core.stages.vfo import vfo


@pytest.fixture(scope="module")
def sheet(tern):
    return build_sheet(Analysis(tern))


def test_the_facts_name_bands_if_power_and_supply(sheet):
    facts = dict(sheet.facts)
    assert facts["bands"].replace("\u00a0", " ") == (
        "20 m 14.100 to 14.350 MHz upper sideband, 12 m 24.930 to 24.990 MHz upper sideband"
    )
    assert facts["IF"] == "19.6608 MHz"
    assert facts["power wanted"] == "5 W"


def numbers(text):
    return [float(each.replace("−", "-")) for each in re.findall(r"[+−]?[\d.]+", text)]


def test_the_vfos_columns(tern, sheet):
    analysis = Analysis(tern)
    rows = dict(sheet.vfo.figures)
    for place, band in enumerate(sheet.vfo.bands):
        carrier = analysis.carrier_hz(band)
        dial = next((b.low_hz, b.high_hz) for b in tern.bands if b.name == band)
        # 20 m is IF - VFO, 12 m IF + VFO.
        wanted = sorted(abs(carrier - end) / 1e6 for end in dial)
        assert rows["wanted"][place] == f"{wanted[0]:.4f} to {wanted[1]:.4f} MHz"
        low, high = (float(each) for each in numbers(rows["covered"][place]))
        assert low <= wanted[0]
        assert wanted[1] <= high
        made = vfo.figures(analysis.tank, band)
        assert numbers(rows["tuning, most"][place])[0] == pytest.approx(
            made.dial.worst_hz_per_turn / 1000, rel=0.01
        )
        worst = max(each.worst_hz_per_k for each in made.drift)
        assert numbers(rows["drift, worst case"][place])[0] == pytest.approx(worst, abs=0.51)
        ends = numbers(rows["drift, low and high end"][place])
        assert ends == pytest.approx([each.hz_per_k for each in made.drift], abs=0.51)


def test_the_read_outs_columns_add_up_to_the_dial(tern, sheet):
    rows = dict(sheet.read_out.figures)
    assert len(sheet.read_out.bands) == len(tern.bands)
    for place, band in enumerate(tern.bands):
        shows = numbers(rows["shows"][place])
        assert shows == pytest.approx([band.low_hz / 1e6, band.high_hz / 1e6], abs=25e-6)
        counted = numbers(rows["counted"][place])
        assert counted[0] < counted[1]
        told = rows["stored"][place]
        stored = 0.0 if told == "nothing" else numbers(told)[0]
        sums = [abs(c + stored) for c in counted]
        assert sorted(sums) == pytest.approx(shows, abs=30e-6)
        assert rows["programme"][place] in ("none", "1", "2", "3")
        assert numbers(rows["off by up to"][place])[0] > 0
    counter = tern.read_out.counter
    step = counter.prescaler / counter.gate_s
    assert sheet.read_out.resolution == f"{step:g} Hz"


def _products(t):
    """Third-order products of two tones at a quarter of the peak power each, voltages added, dBc."""
    volts = [
        10 ** ((float(level) - 6.0206 - block.iip3_dbm - block.gain_db) / 10)
        for block, level in zip(t.blocks, t.level_dbm[1:], strict=True)
        if block.iip3_dbm is not None
    ]
    return 20 * log10(sum(volts))


def test_the_summaries_tell_the_levels_of_each_band(tern, sheet):
    analysis = Analysis(tern)
    receive, transmit = sheet.paths
    for place, band in enumerate(tern.bands):
        r, t = analysis.receive(band.name), analysis.transmit(band.name)
        mds_dbm = -174 + 10 * log10(r.bandwidth_hz) + r.noise_figure_db
        assert numbers(receive.summary[place].partition("MDS ")[2])[0] == pytest.approx(mds_dbm, abs=0.08)
        margin = r.band_noise_dbm - r.mds_dbm
        assert f"band noise over own {margin:.1f} dB" in receive.summary[place]
        assert f"{r.speaker_noise_db_spl:.0f} dB SPL" in receive.summary[place]
        watts = 1e-3 * 10 ** (float(t.level_dbm[-1]) / 10)
        strongest = max(h.amplifier_dbc - h.filter_db for h in analysis.harmonics(band.name))
        assert (
            f"output {watts:.3g} W PEP, two tones, antenna −{-_products(t):.0f} dBc, "
            f"strongest harmonic −{-strongest:.1f} dBc" in transmit.summary[place]
        )
        for rows, levels in ((receive.rows, r), (transmit.rows, t)):
            gains = [row.gain_db[place] for row in rows]
            start = -73.0 if levels is r else tern.microphone.peak_dbm
            assert len(gains) == len(levels.blocks)
            if levels is r:
                found = [row.level_dbm[place] for row in rows]
                assert found == pytest.approx(list(start + np.cumsum(gains)))
                headroom = [row.headroom_db[place] for row in rows]
                # The volume is turned down to the 50 mW that it holds.
                volume = next(n for n, block in enumerate(levels.blocks) if block.kind == "gain_control")
                down = start + 40 + sum(gains) - 10 * log10(50)
                for n, (block, room) in enumerate(zip(levels.blocks, headroom, strict=True)):
                    if room is not None:
                        came = start + 40 + sum(gains[:n]) - (down if n > volume else 0.0)
                        assert room == pytest.approx(block.p1db_out_dbm - block.gain_db + 1 - came)


def test_each_filters_figures_and_curve_are_those_of_its_network(tern, sheet):
    analysis = Analysis(tern)
    filters = [section for section in sheet.filters if section.curve is not None]
    # Low-pass and band-pass of either band, and the ladder; the others are amplifiers.
    assert len(filters) == 5
    for section in filters:
        figures = dict(section.figures)
        loss = solve(section.drawing, section.curve.f_hz).loss_db
        np.testing.assert_allclose(section.curve.loss_db, loss)
        ladder = section.curve.depth_db == 80.0
        least = float(figures["least loss"].split()[0])
        if ladder:
            assert least == pytest.approx(loss.min(), abs=0.1)
            width = figures["width at −6 dB"]
            assert width.endswith("kHz")
            inside = section.curve.f_hz[loss <= loss.min() + 6]
            assert float(width.split()[0]) * 1e3 == pytest.approx(inside[-1] - inside[0], rel=0.05)
            assert (section.curve.low_hz, section.curve.high_hz) == analysis.if_pass_band_hz
            continue
        bands = [
            b for b in tern.bands if section.curve.low_hz <= b.low_hz and b.high_hz <= section.curve.high_hz
        ]
        assert bands
        assert section.curve.low_hz == min(b.low_hz for b in bands)
        assert section.curve.high_hz == max(b.high_hz for b in bands)
        dial = np.concatenate([np.linspace(b.low_hz, b.high_hz, 101) for b in bands])
        over = solve(section.drawing, dial)
        assert float(figures["loss on the band"].split()[0]) == pytest.approx(over.loss_db.max(), abs=0.02)
        back = float(figures["return loss on the bands served"].split()[0])
        assert back == pytest.approx(over.return_loss_db.min(), abs=0.1)


def test_the_reports_levels_plan_and_carriers(tern):
    analysis, data = Analysis(tern), report(Analysis(tern))
    for row, band in zip(data["frequency_plan"], tern.bands, strict=True):
        carrier = row["carrier_hz"]
        ends = (band.low_hz, band.high_hz)
        assert (row["dial_low_hz"], row["dial_high_hz"]) == ends
        sign = 1 if band.scheme == "sum" else -1
        vfo_ends = sorted(sign * (end - carrier) for end in ends)
        assert [row["vfo_low_hz"], row["vfo_high_hz"]] == pytest.approx(vfo_ends)
        image = sorted(carrier - sign * each for each in vfo_ends)
        assert [row["image_low_hz"], row["image_high_hz"]] == pytest.approx(image)
        assert row["sideband_inverted"] is False
    for row, band in zip(data["levels"]["receive"], tern.bands, strict=True):
        r = analysis.receive(band.name)
        assert row["gain_db"] == pytest.approx(sum(each.gain_db for each in r.blocks))
        floor = -173.975 + 10 * log10(row["noise_bandwidth_hz"])
        assert row["mds_dbm"] == pytest.approx(floor + row["noise_figure_db"], abs=0.01)
        assert row["noise_margin_db"] == pytest.approx(row["band_noise_dbm"] - row["mds_dbm"])
        assert row["noise_above_own"] is bool(row["noise_margin_db"] >= tern.station.noise_margin_db)
    for row, band in zip(data["levels"]["transmit"], tern.bands, strict=True):
        t = analysis.transmit(band.name)
        assert row["output_w"] == pytest.approx(1e-3 * 10 ** (float(t.level_dbm[-1]) / 10))
        assert row["worst_headroom_db"] == min(each for each in t.headroom_db if each is not None)
        harmonics = [h.result_dbc for h in analysis.harmonics(band.name)]
        assert row["worst_harmonic_dbc"] == pytest.approx(max(harmonics))
    for row in data["vfo"]:
        assert row["covers_low_hz"] <= row["wanted_low_hz"] < row["wanted_high_hz"] <= row["covers_high_hz"]
        assert row["worst_drift_hz_per_degree"] >= max(abs(each) for each in row["drift_hz_per_degree"])
    for row in data["read_out"]:
        assert row["counted_low_hz"] < row["counted_high_hz"]
