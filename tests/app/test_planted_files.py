"""A file runs nothing, whatever its name: a pickle stands in every place where a file is read."""

import pickle
import sys

import pytest
from PySide6.QtWidgets import QFileDialog, QMessageBox

from app.commands.command_line import main
from app.pages.crystals import CrystalsPage
from app.sheet.pages import write_pdf
from app.state.documents import Documents
from app.state.recovery import Recovery
from app.state.settings import Settings
from app.state.workbench import Workbench
from app.window.main_window import MainWindow
from core.model.files import load, save
from tests.bags import with_table
from tests.planted import plant


@pytest.fixture
def mark(tmp_path):
    """What a pickle that was run would leave; it must not be there when a test ends."""
    file = tmp_path / "it ran"
    yield file
    assert not file.exists()


@pytest.fixture
def naming(tern, tmp_path, mark, monkeypatch):
    """A project, saved, whose table names pickles beside it and in the folder one works in."""
    names = ["x1.s2p", "x2.csv", "x3.s1p", "x4", str(tmp_path / "x5.s2p")]
    for name in names:
        plant(tmp_path / name, mark)
    monkeypatch.chdir(tmp_path)
    table = "label,file\n" + "".join(f"{n},{name}\n" for n, name in enumerate(names))
    rig = with_table(tern.edited(("crystal_batch", "method"), "sweep"), table).edited(
        ("stages", "ladder", "as_built"), {"crystal:1": 19.66e6}
    )
    (tmp_path / "bag.csv").write_text(table)
    save(rig, tmp_path / "rig.json")
    return tmp_path / "rig.json"


def test_the_trap_works(tmp_path):
    plant(tmp_path / "x.s2p", tmp_path / "ran")
    pickle.loads((tmp_path / "x.s2p").read_bytes())
    assert (tmp_path / "ran").exists()


def test_the_command_line_reads_sweeps_as_text(naming, capsys):
    assert main(["crystals", "bag.csv", "--method", "sweep"]) == 0
    out = capsys.readouterr().out
    assert out.count("UTF-8") + out.count("two ports") + out.count("outside") == 5


@pytest.mark.parametrize("name", ["trap.csv", "trap.json", "trap.s2p"])
@pytest.mark.parametrize(
    "words",
    [
        ("crystals", "{}", "--method", "sweep"),
        ("crystals", "bag.csv", "--method", "sweep", "--choose", "2", "--for", "{}"),
        ("report", "{}"),
        ("sheet", "{}", "-o", "s.pdf"),
        ("response", "{}", "ladder", "-o", "l.s2p"),
        ("vfo", "{}"),
        ("screens", "{}", "pictures"),
        ("{}",),
    ],
    ids=" ".join,
)
def test_what_the_command_line_is_given_is_read_as_text(naming, mark, tmp_path, capsys, words, name):
    plant(tmp_path / name, mark)
    assert main([word.format(name) for word in words]) == 2
    assert capsys.readouterr().err.count("\n") == 1


@pytest.mark.parametrize(
    "words",
    [
        ("report", "rig.json"),
        ("report", "rig.json", "--json"),
        ("response", "rig.json", "ladder", "-o", "l.s2p"),
        ("vfo", "rig.json"),
    ],
    ids=" ".join,
)
def test_a_project_opens_no_other_file(naming, tmp_path, capsys, words):
    """Python tells of every file that is opened, by whichever way."""
    opened = _watched(lambda: main(words))
    assert not [name for name in opened if name.endswith(("x1.s2p", "x2.csv", "x3.s1p", "x4", "x5.s2p"))]
    assert any(name.endswith("rig.json") for name in opened)


_watchers: list[list[str]] = []
_hooked: list[bool] = []


def _watched(act) -> list[str]:
    """Names of the files that Python opened meanwhile. An audit hook cannot be taken out again."""
    if not _hooked:
        sys.addaudithook(_note)
        _hooked.append(True)
    names: list[str] = []
    _watchers.append(names)
    try:
        act()
    finally:
        _watchers.remove(names)
    return names


def _note(event, arguments) -> None:
    if event == "open" and _watchers and arguments:
        _watchers[-1].append(str(arguments[0]))


def test_sheet_and_window_open_no_sweep(naming, tmp_path, qtbot, qapp):
    rig = load(naming)
    page = CrystalsPage(Workbench(rig))
    qtbot.addWidget(page)

    def look() -> None:
        write_pdf(rig, tmp_path / "s.pdf", "A4")
        page.show()
        page.refresh(page._bench)

    opened = _watched(look)
    assert not [name for name in opened if name.endswith(("x1.s2p", "x2.csv", "x3.s1p", "x4", "x5.s2p"))]
    assert all("not in this project" in row[7] for row in page.table.texts())


def test_the_crystals_page_reads_sweeps_as_text(naming, mark, tmp_path, qtbot, qapp, monkeypatch):
    page = CrystalsPage(Workbench(load(naming)))
    qtbot.addWidget(page)
    page.show()
    page.refresh(page._bench)
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: str(tmp_path))
    page.bring.click()
    assert "x1.s2p is not a text file in UTF-8" in page.summary.text()
    assert "lies outside" in page.summary.text()
    plant(tmp_path / "trap.csv", mark)
    for name in ("bag.csv", "trap.csv"):
        monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_, name=name: (str(tmp_path / name), ""))
        page.open.click()
    assert "trap.csv is not a text file" in page.summary.text()


def test_what_the_window_opens_is_read_as_text(tern, mark, tmp_path, qtbot, qapp, monkeypatch):
    for name in ("rig.json", "settings.ini"):
        plant(tmp_path / name, mark)
    (tmp_path / "recovery").mkdir()
    plant(tmp_path / "recovery" / "copy.json", mark)
    bench = Workbench(tern)
    settings = Settings(tmp_path / "settings.ini")
    recovery = Recovery(bench, tmp_path / "recovery")
    window = MainWindow(bench, settings, recovery)
    qtbot.addWidget(window)
    said: list[str] = []
    monkeypatch.setattr(Documents, "say", lambda _self, _title, sentence: said.append(sentence))
    monkeypatch.setattr(QMessageBox, "exec", lambda _self: 0)
    assert not window.documents.open(tmp_path / "rig.json")
    window.documents.recover(recovery)
    assert "UTF-8" in said[0]
    assert bench.current == tern
