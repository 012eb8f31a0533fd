"""Reading bounded, from regular files only; writing whole, without another file's loss."""

import os
import stat

import pytest

from core.model.disk import read_regular, read_text, write_whole
from core.model.files import dumps, load, save
from core.model.values.errors import FileError
from tests.odd_files import odd_files


def test_only_regular_files_are_read(tmp_path):
    with odd_files(tmp_path) as places:
        for place in places:
            with pytest.raises(FileError) as refusal:
                read_regular(place, 100, "a project")
            assert str(refusal.value) in (
                f"{place} is a folder and so is not a project; choose a file in it.",
                f"{place} is a pipe or a device and so is not a project; choose a regular file.",
                f"{place} cannot be read (too many levels of symbolic links); check the file.",
            )
            with pytest.raises(FileError):
                load(place)


def test_a_read_is_bounded(tmp_path):
    file = tmp_path / "a"
    file.write_bytes(b"x" * 1000)
    assert read_regular(file, 1000, "a project") == b"x" * 1000
    file.write_bytes(b"x" * 2_000_001)
    with pytest.raises(FileError, match="a is larger than 2 MB and so is not a sweep"):
        read_regular(file, 2_000_000, "a sweep")


@pytest.mark.parametrize("name", ["n" * 300, "nul\0byte", "\udcff", "a/b"])
def test_a_name_that_no_file_has_is_a_sentence(tmp_path, name):
    with pytest.raises(FileError, match=r"cannot be read|no file"):
        read_regular(tmp_path / name, 100, "a project")


def test_a_text_in_another_encoding_is_a_sentence(tmp_path):
    file = tmp_path / "a.csv"
    file.write_bytes("Ω".encode("utf-16"))
    with pytest.raises(FileError, match=r"a\.csv is not a text file in UTF-8 and so is not a table"):
        read_text(file, 100, "a table of readings")
    file.write_bytes("\ufeffΩ".encode())
    assert read_text(file, 100, "a table of readings") == "Ω"


@pytest.fixture
def saved(tern, tmp_path):
    """A project on the disk."""
    save(tern, tmp_path / "rig.json")
    return tmp_path / "rig.json"


def test_a_link_is_kept_and_what_it_leads_to_is_saved(tern, saved, tmp_path):
    (tmp_path / "elsewhere").mkdir()
    link = tmp_path / "elsewhere" / "link.json"
    link.symlink_to("../rig.json")
    renamed = tern.edited(("name",), "through the link")
    save(renamed, link)
    assert link.is_symlink()
    assert load(saved) == renamed
    assert load(tmp_path / "rig.json.bak") == tern
    assert [file.name for file in (tmp_path / "elsewhere").iterdir()] == ["link.json"]


def test_a_link_to_nothing_is_saved_where_it_leads(tern, tmp_path):
    link = tmp_path / "link.json"
    link.symlink_to("later.json")
    save(tern, link)
    assert link.is_symlink()
    assert load(tmp_path / "later.json") == tern


def test_hard_links_stay_one_file(tern, saved, tmp_path):
    other = tmp_path / "other.json"
    os.link(saved, other)
    renamed = tern.edited(("name",), "n")
    save(renamed, saved)
    assert other.samefile(saved)
    assert load(other) == renamed
    assert load(tmp_path / "rig.json.bak") == tern
    assert not (tmp_path / "rig.json.bak").samefile(saved)
    assert sorted(file.name for file in tmp_path.iterdir()) == ["other.json", "rig.json", "rig.json.bak"]


def test_a_full_disk_amid_a_hard_linked_file_leaves_it_as_it_was(tern, saved, tmp_path, monkeypatch):
    os.link(saved, tmp_path / "other.json")
    before, calls, real = saved.read_bytes(), [], os.fsync

    def full_in_place(handle: int) -> None:
        calls.append(handle)
        if len(calls) == 4:  # .bak and its folder, the new file, and then the one in place
            raise OSError(28, "No space left on device")
        real(handle)

    monkeypatch.setattr(os, "fsync", full_in_place)
    with pytest.raises(FileError, match="no space left on device"):
        save(tern.edited(("name",), "n"), saved)
    assert saved.read_bytes() == before
    assert not list(tmp_path.glob(".*"))


def test_nothing_but_a_regular_file_is_replaced(tern, tmp_path):
    with odd_files(tmp_path, ".json") as places:
        before = {place: stat.S_IFMT(place.lstat().st_mode) for place in places}
        for place in places:
            with pytest.raises(FileError, match=r"folder|pipe or a device|circle"):
                save(tern, place)
            with pytest.raises(FileError, match=r"folder|pipe or a device|circle"):
                write_whole(place, b"")
        assert {place: stat.S_IFMT(place.lstat().st_mode) for place in places} == before
        assert sorted(tmp_path.iterdir()) == sorted(places)


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664])
def test_project_and_previous_version_keep_the_mode(tern, saved, tmp_path, mode):
    saved.chmod(mode)
    expected = stat.S_IMODE(saved.stat().st_mode)
    (tmp_path / "rig.json.bak").touch(0o644)
    save(tern.edited(("name",), "n"), saved)
    assert stat.S_IMODE(saved.stat().st_mode) == expected
    assert stat.S_IMODE((tmp_path / "rig.json.bak").stat().st_mode) == expected


def test_the_owner_stays(tern, saved, tmp_path, monkeypatch):
    """Another owner is what only an administrator can see; the calls are what everybody can."""
    asked = []
    monkeypatch.setattr(os, "chown", lambda file, user, group: asked.append((user, group)), raising=False)
    old = saved.stat()
    save(tern.edited(("name",), "n"), saved)
    assert asked == [(old.st_uid, old.st_gid)] * 2

    def forbidden(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "chown", forbidden)
    save(tern, saved)
    assert load(saved) == tern


def test_a_write_protected_project_is_refused(tern, saved, tmp_path):
    saved.chmod(0o444)
    with pytest.raises(FileError, match=r"rig\.json is write-protected; save under another name"):
        save(tern.edited(("name",), "n"), saved)
    assert load(saved) == tern
    assert [file.name for file in tmp_path.iterdir()] == ["rig.json"]


def test_the_previous_version_does_not_follow_a_link(tern, saved, tmp_path):
    """A folder unpacked from anywhere must not choose which file of the machine is written over."""
    precious = tmp_path / "precious"
    precious.write_text("mine")
    (tmp_path / "rig.json.bak").symlink_to(precious)
    save(tern.edited(("name",), "n"), saved)
    assert precious.read_text() == "mine"
    assert load(tmp_path / "rig.json.bak") == tern


def test_an_output_does_not_wipe_a_project_out(tern, saved, tmp_path):
    (tmp_path / "link.pdf").symlink_to(saved)
    (tmp_path / "damaged.json").write_text(dumps(tern)[:3000])
    for name in ("rig.json", "link.pdf", "damaged.json"):
        before = (tmp_path / name).read_bytes()
        with pytest.raises(FileError, match="is a project and would be lost; write to another file"):
            write_whole(tmp_path / name, b"%PDF")
        assert (tmp_path / name).read_bytes() == before
    (tmp_path / "old.pdf").write_bytes(b"%PDF old")
    write_whole(tmp_path / "old.pdf", b"%PDF new")
    assert (tmp_path / "old.pdf").read_bytes() == b"%PDF new"


def test_what_a_killed_save_left_is_cleared_away(tern, saved, tmp_path):
    left, fresh, foreign = (
        tmp_path / f".{n}.tmp" for n in ("rig.json.ab_d3f9h", "rig.json.zzzzzzzz", "a.json.b")
    )
    for file in (left, fresh, foreign):
        file.write_text("{")
    for file in (left, foreign):
        os.utime(file, (1e9, 1e9))
    save(tern, saved)
    assert [file.exists() for file in (left, fresh, foreign)] == [False, True, True]


@pytest.mark.parametrize("name", ["n" * 300 + ".json", "nul\0.json", "Ω" * 130 + ".json"])
def test_a_name_that_cannot_be_is_a_sentence(tern, tmp_path, name):
    with pytest.raises(FileError, match=r"could not be written.*nothing was written"):
        save(tern, tmp_path / name)


def test_the_longest_name_there_is_can_be_saved_to(tern, tmp_path):
    file = tmp_path / ("n" * 246 + ".json")
    save(tern, file)
    save(tern, file)
    assert load(file) == tern
