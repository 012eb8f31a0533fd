"""Sweeps are read from the table's own folder, bounded, as text; what is none is refused in a sentence."""

import numpy as np
import pytest

from core.model.values.errors import FileError
from core.rig.bench import sweep_files
from core.rig.bench.sweep_files import collect, inside, read_sweep, stored
from core.stages.crystals.crystal_sweep import from_sweep
from core.stages.crystals.crystals import Fixture
from tests.odd_files import odd_files
from tests.published.test_crystals import X, sweep


def touchstone(f, s21, extra: str = "") -> str:
    lines = [f"{a:.1f} 0 0 {b.real:.9f} {b.imag:.9f} 0 0 0 0" for a, b in zip(f, s21, strict=True)]
    return "\n".join(["# Hz S RI R 50", extra, *lines]) + "\n"


@pytest.mark.parametrize(
    "name",
    [
        "../out.s2p",
        "deep/../../out.s2p",
        "/etc/hostname",
        "link.s2p",
        "linked/out.s2p",
        "no\0name.s2p",
        "n" * 300 + ".s2p",
        "\udcff.s2p",
    ],
)
def test_nothing_outside_the_folder_is_read(tmp_path, name):
    folder = tmp_path / "bag"
    (folder / "deep").mkdir(parents=True)
    (tmp_path / "out.s2p").write_text(touchstone(*sweep()))
    (folder / "link.s2p").symlink_to(tmp_path / "out.s2p")
    (folder / "linked").symlink_to(tmp_path)
    found, refused = collect([name], folder)
    assert found == ()
    assert list(refused) == [name]
    assert "\n" not in refused[name]


def test_a_folder_inside_and_a_link_inside_are_fine(tmp_path):
    (tmp_path / "deep").mkdir()
    (tmp_path / "deep" / "x.s2p").write_text(touchstone(*sweep()))
    (tmp_path / "link.s2p").symlink_to("deep/x.s2p")
    found, refused = collect(["deep/x.s2p", "link.s2p"], tmp_path)
    assert refused == {}
    assert found[0].f_hz == found[1].f_hz
    assert inside(tmp_path, "link.s2p") == (tmp_path / "deep" / "x.s2p").resolve()


def test_only_regular_files_are_sweeps(tmp_path):
    with odd_files(tmp_path, ".s2p") as places:
        names = [place.name for place in places]
        found, refused = collect(names, tmp_path)
        assert found == ()
        assert list(refused) == names


def test_long_comments_cost_nothing(tmp_path):
    """Five million characters of comment took minutes; none of it is looked at."""
    f, s21 = sweep()
    (tmp_path / "x.s2p").write_text(touchstone(f, s21, "! " + "a=1;" * 1_250_000))
    read, values = read_sweep(tmp_path / "x.s2p")[:2]
    assert np.allclose(read, f)
    assert np.allclose(values, s21, atol=1e-8)


def test_a_sweep_that_ran_downwards_is_read(tmp_path):
    f, s21 = sweep()
    (tmp_path / "x.s2p").write_text(touchstone(f[::-1], s21[::-1]))
    rows = [f"{a:.1f};{20 * np.log10(abs(b)):.6f}" for a, b in zip(f[::-1], s21[::-1], strict=True)]
    (tmp_path / "x.csv").write_text("\n".join(["frequency (Hz);S21 (dB)", *rows]))
    found, refused = collect(["x.s2p", "x.csv"], tmp_path)
    assert refused == {}
    assert all(np.allclose(each.f_hz, f, atol=0.1) for each in found)
    read = read_sweep(tmp_path / "x.s2p")
    order = np.argsort(read[0])
    assert from_sweep("X", read[0][order], read[1][order], Fixture()).lm_h == pytest.approx(X.lm_h, rel=1e-4)


@pytest.mark.parametrize(
    ("name", "text", "hint"),
    [
        ("x.s1p", "# Hz S RI R 50\n1 0 0\n2 0 0\n", "not Touchstone of two ports.*save it as .s2p"),
        ("x.s3p", "# Hz S RI R 50\n1 0 0\n", "not Touchstone of two ports"),
        ("x.s2p", "[Number of Ports] 1000000000\n# Hz S RI R 50\n[Network Data]\n1 0 0\n", "two ports"),
        ("x.s2p", "[Reference]\n", "cannot be read as Touchstone"),
        ("x.s2p", "", "cannot be read as Touchstone|0 points"),
        ("x.s2p", "# Hz S RI R 50\n1 2 3\n", "cannot be read as Touchstone|1 points"),
        ("x.s2p", "# parsec S RI R 50\n1 0 0 0 0 0 0 0 0\n", "cannot be read as Touchstone"),
        ("x.s2p", "1\n" * 200_000, "more than 20001 points"),
        ("x.csv", "frequency;s21\n" + "1;2\n" * 20_002, "more than 20001 rows"),
        ("x.csv", "frequency;s21\n1M\n", "x.csv: Nothing was typed"),
    ],
)
def test_what_is_no_sweep_is_refused_with_the_reason(tmp_path, name, text, hint):
    (tmp_path / name).write_text(text)
    with pytest.raises(FileError, match=hint):
        read_sweep(tmp_path / name)


def test_a_project_takes_only_so_many_sweeps(tmp_path, monkeypatch):
    f, s21 = sweep()
    for n in range(4):
        (tmp_path / f"{n}.s2p").write_text(touchstone(f, s21))
    monkeypatch.setattr(sweep_files, "MOST_POINTS_IN_ALL", 2 * f.size)
    found, refused = collect([f"{n}.s2p" for n in range(4)], tmp_path)
    assert [each.label for each in found] == ["0.s2p", "1.s2p"]
    assert "beyond" in refused["2.s2p"]
    monkeypatch.setattr(sweep_files, "MOST_SWEEPS", 1)
    assert len(collect([f"{n}.s2p" for n in range(4)], tmp_path)[0]) == 1


@pytest.mark.parametrize(
    ("head", "hint"),
    [
        ("# Hz S RI R 0", "of 0 Ω"),
        (
            "[Version] 2.0\n# Hz S RI R 50\n[Number of Ports] 2\n[Two-Port Data Order] 21_12\n"
            "[Number of Frequencies] 401\n[Reference] 50 75\n[Network Data]",
            "not one real resistance",
        ),
    ],
    ids=["none", "unequal"],
)
def test_ports_between_which_no_crystal_is_measured_are_refused(tmp_path, head, hint):
    f, s21 = sweep()
    text = touchstone(f, s21).replace("# Hz S RI R 50", head)
    (tmp_path / "x.s2p").write_text(text)
    with pytest.raises(FileError, match=hint):
        read_sweep(tmp_path / "x.s2p")
    assert read_sweep_text(tmp_path, touchstone(f, s21)).reference_ohm == 50.0


def read_sweep_text(folder, text):
    (folder / "y.s2p").write_text(text)
    return read_sweep(folder / "y.s2p")


def test_a_table_gives_decibels_and_degrees(tmp_path):
    path = tmp_path / "x.csv"
    path.write_text("frequency (MHz);s21 (dB);phase\n9,0;-6,0206;90\n9,1;-20;-45\n")
    found = read_sweep(path)
    assert found.f_hz == pytest.approx([9.0e6, 9.1e6])
    assert found.s21 == pytest.approx([0.5j, 0.1 * np.exp(-1j * np.pi / 4)], abs=1e-5)
    assert (found.magnitude_only, found.reference_ohm) == (False, None)
    path.write_text("frequency (MHz);s21 (dB)\n9,0;-6,0206\n9,1;-20\n")
    plain = read_sweep(path)
    assert plain.magnitude_only
    assert plain.s21 == pytest.approx([0.5, 0.1], abs=1e-5)


@pytest.mark.parametrize(
    ("low", "high", "level", "refused"),
    [
        ("9 MHz", "9.9 GHz", "-3", None),
        ("9 MHz", "10.1 GHz", "-3", "no crystal is there, check its unit"),
        ("0.9 Hz", "9 MHz", "-3", "no crystal is there, check its unit"),
        ("9 MHz", "9.1 MHz", "199", None),
        ("9 MHz", "9.1 MHz", "201", "check that it is in dB"),
    ],
)
def test_sweeps_beyond_all_measure(tmp_path, low, high, level, refused):
    path = tmp_path / "x.csv"
    path.write_text(f"frequency;s21 (dB)\n{low};{level}\n{high};-20\n")
    if refused is None:
        assert len(stored("x.csv", path).f_hz) == 2
        return
    with pytest.raises(FileError, match=refused):
        stored("x.csv", path)
