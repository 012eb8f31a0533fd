"""Unsaved work after a bad end: how old the copy is, when it is offered, never lost unread."""

import os

import pytest
from PySide6.QtCore import QSysInfo

from app.state import recovery as recovery_module
from app.state.documents import Documents
from app.state.recovery import LONGEST_MS, PAUSE_MS, Recovery
from app.state.workbench import Workbench
from core.model import files
from tests.odd_files import odd_files


@pytest.fixture
def documents(bench, settings):
    return Documents(bench, settings, None)


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "recovery"


@pytest.fixture
def crashed(rig, folder, qapp):
    """A session that left unsaved work named “Nearly lost”."""
    lost = Workbench(rig)
    session = Recovery(lost, folder)
    lost.edit(("name",), "Nearly lost")
    session.write()
    session._lock.unlock()  # what the system does when a process dies
    return session


def test_the_copy_is_at_most_ten_seconds_old():
    assert PAUSE_MS < LONGEST_MS <= 9000, "a second is left for writing"


def test_edits_without_a_pause_are_copied_too(bench, folder, qtbot, monkeypatch):
    # Ten times as fast as in life: a pause of 0.2 s, the longest wait 0.8 s, an edit every 0.05 s.
    monkeypatch.setattr(recovery_module, "PAUSE_MS", PAUSE_MS // 10)
    monkeypatch.setattr(recovery_module, "LONGEST_MS", LONGEST_MS // 10)
    session = Recovery(bench, folder)
    seen = set()
    for step in range(40):
        bench.edit(("if_hz",), 9e6 + step)
        qtbot.wait(50)
        seen |= {files.load(copy).if_hz for copy in folder.glob("*.json")}
    assert len(seen) >= 2, "a copy every 0.8 s of 2 s, though no pause came"
    session.close()
    assert list(folder.iterdir()) == []


@pytest.mark.parametrize(
    "lock",
    [b"", b"1\npython3\nelsewhere\n\n\n", b"\xff\xfe\x00", None],
    ids=["empty", "another machine", "damaged", "none"],
)
def test_work_is_offered_whatever_its_lock_file_holds(crashed, folder, bench, documents, answers, lock):
    lock_file = next(folder.glob("*.json")).with_suffix(".lock")
    if lock is not None:
        lock_file.write_bytes(lock)
    answers.press = ["Bring it back"]
    documents.recover(Recovery(bench, folder))
    assert "Nearly lost" in answers.asked[0]
    assert ("“elsewhere” may still be at work" in answers.asked[0]) is (lock is not None and b"else" in lock)
    assert bench.current.name == "Nearly lost"


def test_a_running_session_of_this_machine_is_let_be(rig, folder, bench):
    running = Recovery(Workbench(rig), folder)
    running._bench.edit(("name",), "At work")
    running.write()
    assert QSysInfo.machineHostName() in next(folder.glob("*.lock")).read_text()
    assert Recovery(bench, folder).leftovers() == ()
    running.close()


@pytest.mark.parametrize("note", [b"\xff\xfe\x00\x81", b"somewhere/rig.json", b"/a\x00b"])
def test_a_damaged_note_of_the_file_hinders_nothing(crashed, folder, bench, documents, answers, note):
    next(folder.glob("*.path")).write_bytes(note)
    answers.press = ["Bring it back"]
    documents.recover(Recovery(bench, folder))
    assert bench.current.name == "Nearly lost"
    assert bench.file is None, "saving asks for a name"


def test_a_note_without_end_and_one_that_is_no_file_name_nothing(crashed, folder, bench):
    note = next(folder.glob("*.path"))
    note.write_bytes(b"/" + b"a/" * 40_000)
    (left,) = Recovery(bench, folder).leftovers()
    assert left.file is None
    with odd_files(folder) as places:
        for place in places:
            note.unlink()
            place.rename(note)
            (left,) = Recovery(bench, folder).leftovers()
            assert left.file is None
            note.rename(place)
            note.touch()


def test_a_file_name_that_is_not_text_is_noted_and_found_again(bench, folder, tmp_path):
    file = tmp_path / os.fsdecode(b"rig\xff.json")
    bench.save(file)
    bench.edit(("if_hz",), 9e6)
    session = Recovery(bench, folder)
    session.write()
    session._lock.unlock()
    (left,) = Recovery(Workbench(), folder).leftovers()
    assert left.file == file


def test_work_brought_back_is_never_without_a_copy(crashed, folder, bench, documents, answers):
    session = Recovery(bench, folder)
    answers.press = ["Bring it back"]
    documents.recover(session)
    (copy,) = folder.glob("*.json")
    assert files.load(copy).name == "Nearly lost"
    assert copy == session._copy, "this session's own"


def test_the_copy_brought_back_stays_while_no_other_can_be_written(
    crashed, folder, bench, documents, answers, monkeypatch
):
    session, told = Recovery(bench, folder), []
    session.told.connect(told.append)

    def refuse(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(recovery_module, "write_whole", refuse)
    answers.press = ["Bring it back"]
    documents.recover(session)
    assert [files.load(copy).name for copy in folder.glob("*.json")] == ["Nearly lost"]
    assert len(told) == 1
    assert str(folder) in told[0]
    assert "no space left on device" in told[0]
    bench.edit(("if_hz",), 9e6)
    session.write()
    assert len(told) == 1, "said once"
    monkeypatch.undo()
    session.write()
    (copy,) = folder.glob("*.json")
    assert files.load(copy) == bench.current


@pytest.mark.parametrize(
    "content", [b'{"schema_version": 2, "name": "half', b'{"schema_version": 99}', b"\xff"]
)
def test_a_copy_that_cannot_be_read_is_kept_and_told(crashed, folder, bench, documents, answers, content):
    next(folder.glob("*.json")).write_bytes(content)
    before = bench.current
    documents.recover(Recovery(bench, folder))
    (kept,) = folder.iterdir()
    assert kept.read_bytes() == content
    assert str(kept) in answers.asked[0]
    assert bench.current is before
    documents.recover(Recovery(bench, folder))
    assert len(answers.asked) == 1, "told once"


def test_deleting_leaves_nothing(crashed, folder, bench, documents, answers):
    copy = next(folder.glob("*.json"))
    copy.with_suffix(".lock").write_bytes(b"")
    (folder / f".{copy.name}.abc.tmp").write_text("half a copy")
    answers.press = ["Delete it"]
    documents.recover(Recovery(bench, folder))
    assert list(folder.iterdir()) == []


def test_asking_again_next_time_keeps_the_copy(crashed, folder, bench, documents, answers):
    answers.press = ["Ask again next time"]
    documents.recover(Recovery(bench, folder))
    assert len(list(folder.glob("*.json"))) == 1


def test_a_folder_that_cannot_be_written_is_told(bench, tmp_path):
    (tmp_path / "file").write_text("")
    session, told = Recovery(bench, tmp_path / "file" / "recovery"), []
    session.told.connect(told.append)
    bench.edit(("if_hz",), 9e6)
    session.write()
    assert len(told) == 1
    assert told[0].endswith("; save often, or make room there.")
