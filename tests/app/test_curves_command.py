"""The commands that write netlists and responses."""

import math

import numpy as np
import pytest

from core.circuits.active.two_port import two_port
from core.model.files import load, save
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.rig.analysis import Analysis
from core.rig.paper.export import netlist_of
from tests.app.saying import MUDDLE, TERN, refused, said


def test_a_netlist_is_written_for_filter_and_vfo(capsys, tmp_path):
    for stage, band, words in (
        ("low_pass", "12m", "Low-pass, 12 m"),
        ("vfo", "20m", "VFO, 20 m"),
        ("mixer", "12m", "Mixer, 12 m, receive"),
    ):
        file = tmp_path / f"{stage}.cir"
        assert said(capsys, "netlist", TERN, stage, "--band", band, "-o", str(file)) == (0, "", "")
        assert file.read_text() == netlist_of(Analysis(load(TERN)), stage, band)
        assert words in file.read_text().splitlines()[0]
    assert "not a filter" in refused(capsys, "netlist", MUDDLE, "mixer", "-o", str(tmp_path / "x.cir"))


def test_a_response_in_both_formats(capsys, tmp_path):
    touchstone, table = tmp_path / "l.s2p", tmp_path / "l.csv"
    ends = ("--from", "19.655MHz", "--to", "19,67 MHz", "--points", "31")
    assert said(capsys, "response", TERN, "ladder", "-o", str(touchstone), *ends)[0] == 0
    assert said(capsys, "response", TERN, "low_pass", "--band", "12m", "-o", str(table))[0] == 0
    import skrf

    network = skrf.Network(str(touchstone))
    exact = Analysis(load(TERN)).filter_response("ladder", "20m", network.f)
    assert network.f[0] == pytest.approx(19.655e6)
    assert abs(network.s[:, 1, 0] - exact.s21).max() < 1e-12
    assert table.read_text().startswith("frequency (Hz),loss (dB)")


@pytest.mark.parametrize(
    ("words", "limits"),
    [
        (("--from", "1e-300", "--to", "1e-299"), "--from must lie between 1 Hz and 10 GHz; 1e-300 does not"),
        (("--to", "1e300"), "--to must lie between 1 Hz and 10 GHz"),
        (("--from", "-5"), "--from must lie between 1 Hz and 10 GHz"),
        (("--reference", "0"), "--reference must lie between 1 mΩ and 1 GΩ"),
    ],
)
def test_a_response_where_nothing_is_defined_is_refused(capsys, tmp_path, words, limits):
    file = tmp_path / "ladder.s2p"
    assert limits in refused(capsys, "response", TERN, "ladder", "-o", str(file), *words)
    assert not file.exists()


def test_a_response_over_everything_holds_numbers_only(capsys, tmp_path):
    for stage in ("ladder", "band_pass", "low_pass"):
        for name in ("out.s2p", "out.csv"):
            file = tmp_path / name
            wide = ("--from", "1Hz", "--to", "10GHz", "--points", "50")
            assert said(capsys, "response", TERN, stage, "-o", str(file), *wide) == (0, "", "")
            assert "nan" not in file.read_text()
            assert "inf" not in file.read_text().replace("infinite", "")


def test_an_amplifiers_response_has_all_four_parameters_in_either_direction(capsys, tern, tmp_path):
    import skrf

    made = BilateralAmplifier(
        id="rf_stage", name="Pair", receive_gain_db=14.0, transmit_gain_db=10.0, current_a=13e-3
    )
    rig = tern.with_stages(tuple(made if each.id == "rf_stage" else each for each in tern.stages))
    save(rig, tmp_path / "rig.json")
    design = Analysis(rig).design("rf_stage", "20m")
    words = ("response", str(tmp_path / "rig.json"), "rf_stage", "--from", "2MHz", "--to", "30MHz")
    for way in ("receive", "transmit"):
        file = tmp_path / f"{way}.s2p"
        assert said(capsys, *words, "--points", "5", "--way", way, "-o", str(file))[0] == 0
        read = skrf.Network(str(file))
        solved = two_port(design.on(way).circuit, read.f)
        np.testing.assert_allclose(np.moveaxis(read.s, 0, -1), solved.s(50.0), rtol=1e-9)
        assert f"Pair, 20 m, {way}" in file.read_text()
        assert abs(read.s[1, 1, 0]) > 10 ** (9 / 20)
    table = tmp_path / "pair.csv"
    assert said(capsys, *words, "--points", "3", "--reference", "75", "-o", str(table))[0] == 0
    head, *lines = table.read_text().splitlines()
    assert head.split(",")[1:3] == ["gain (dB)", "reverse gain (dB)"]
    f, gain, _, into, _, noise = map(float, lines[1].split(","))
    solved = two_port(design.receive.circuit, [f])
    assert gain == pytest.approx(20 * math.log10(abs(solved.s(75.0)[1, 0, 0])))
    assert into == pytest.approx(-20 * math.log10(abs(solved.s(75.0)[0, 0, 0])))
    assert noise == pytest.approx(solved.noise_figure_db(75.0)[0])


def test_a_pairs_netlist_is_written_for_either_direction(capsys, tern, tmp_path):
    made = BilateralAmplifier(id="rf_stage", name="Pair", current_a=13e-3)
    rig = tern.with_stages(tuple(made if each.id == "rf_stage" else each for each in tern.stages))
    save(rig, tmp_path / "rig.json")
    file = tmp_path / "pair.cir"
    command = ("netlist", str(tmp_path / "rig.json"), "rf_stage", "-o", str(file), "--way", "transmit")
    assert said(capsys, *command)[0] == 0
    assert file.read_text() == netlist_of(Analysis(rig), "rf_stage", "20m", "transmit")
    assert "V_rail_receive_supply receive_supply 0 DC 0.0" in file.read_text()
