"""Reading bounded, from regular files only; writing whole, without another file's loss."""

import pytest

from core.model.disk import read_regular, read_text
from core.model.errors import FileError
from core.model.files import load
from tests.odd_files import odd_files


def test_only_regular_files_are_read(tmp_path):
    with odd_files(tmp_path) as places:
        for place in places:
            with pytest.raises(FileError, match=r"folder|pipe|symbolic links") as refusal:
                read_regular(place, 100, "a project")
            assert "\n" not in str(refusal.value)
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
