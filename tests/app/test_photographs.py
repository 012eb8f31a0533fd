"""Photographs beside the project: decoded with care, found again, or told of in a sentence."""

import struct
import zlib

import pytest
from PySide6.QtCore import QBuffer, QByteArray, QIODevice
from PySide6.QtGui import QColor, QImage, QImageReader

from app.photographs.beside import content_of, folder_of, put, taken_along
from app.photographs.pictures import decoded, image_of, prepared
from core.model.notebook.bench_log import Photograph
from core.model.values.errors import DesignError, FileError

KINDS = ("jpeg", "png")


def picture(kind, width=60, height=40, text=""):
    image = QImage(width, height, QImage.Format.Format_RGB32)
    image.fill(QColor("orange"))
    if text:
        image.setText("Comment", text)
    data = QByteArray()
    buffer = QBuffer(data)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    assert image.save(buffer, kind)
    return bytes(data.data())


def png_of(width, height):
    """A picture that says it is so large and holds nothing."""

    def chunk(name, body):
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = zlib.compress(b"\0" * 100)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


@pytest.mark.parametrize("kind", KINDS)
def test_a_picture_is_kept_and_found_again(qapp, tmp_path, kind):
    project, source = tmp_path / "my rig.json", tmp_path / f"IMG=1;{kind}.{kind}"
    source.write_bytes(picture(kind))
    suffix, content = prepared(source)
    name, digest = put(project, source.name, suffix, content)
    assert name == f"IMG-1-{kind}{suffix}"
    assert folder_of(project) == tmp_path / "my rig photographs"
    photograph = Photograph(name=name, digest=digest)
    image = image_of(photograph, project)
    assert (image.width(), image.height()) == (60, 40)
    # A second one of the same name lies beside it.
    other, _ = put(project, source.name, suffix, content)
    assert other == f"IMG-1-{kind} 2{suffix}"


def test_a_large_picture_is_made_smaller_and_tells_nothing_of_the_camera(qapp, tmp_path):
    source = tmp_path / "large.png"
    source.write_bytes(picture("png", 4000, 1000, text="where it was taken"))
    assert b"where it was taken" in source.read_bytes()
    suffix, content = prepared(source)
    image, _ = decoded(content, "large")
    assert (image.width(), image.height()) == (2000, 500)
    assert suffix == ".png"
    assert b"where it was taken" not in content


@pytest.mark.qt_log_ignore("Invalid JPEG file structure", "Unsupported marker type", extend=True)
@pytest.mark.parametrize(
    ("content", "reason"),
    [
        (b"", "is no JPEG and no PNG picture; choose another file."),
        (b"label,peak\n1,9\n", "is no JPEG and no PNG picture"),
        (b"GIF89a" + b"\0" * 40, "is no JPEG and no PNG picture"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "is no JPEG and no PNG picture"),
        (picture("jpeg")[:200], "is a damaged picture"),
        (b"\xff\xd8\xff" + b"junk" * 50, "is a damaged picture"),
        (picture("png")[:60], "is a damaged picture"),
        (png_of(60_000, 60_000), "has 60000 × 60000 pixels, more than any photograph needs"),
        (png_of(500, 500), "is a damaged picture"),
    ],
    ids=["empty", "text", "gif", "svg", "cut jpeg", "false jpeg", "cut png", "bomb", "hollow png"],
)
def test_what_is_no_photograph_is_one_sentence(qapp, tmp_path, content, reason):
    source = tmp_path / "board.png"
    source.write_bytes(content)
    limit = QImageReader.allocationLimit()
    with pytest.raises(FileError, match=reason):
        prepared(source)
    assert QImageReader.allocationLimit() == limit


def test_too_large_a_file_and_none_are_one_sentence(qapp, tmp_path):
    source = tmp_path / "board.jpg"
    with open(source, "wb") as file:
        file.write(picture("jpeg"))
        file.truncate(25_000_001)
    with pytest.raises(FileError, match=r"board\.jpg is larger than 25 MB"):
        prepared(source)
    with pytest.raises(FileError, match="There is no file"):
        prepared(tmp_path / "none.jpg")
    with pytest.raises(FileError, match="is a folder"):
        prepared(tmp_path)


def test_a_missing_or_changed_one_is_one_sentence(qapp, tmp_path):
    project = tmp_path / "rig.json"
    name, digest = put(project, "a.jpg", ".jpg", picture("jpeg"))
    photograph = Photograph(name=name, digest=digest)
    with pytest.raises(FileError, match="lies beside the file that the design came from"):
        content_of(photograph, None)
    (folder_of(project) / name).write_bytes(picture("jpeg", 61))
    with pytest.raises(FileError, match="is another one than was taken into the log"):
        content_of(photograph, project)
    (folder_of(project) / name).unlink()
    with pytest.raises(
        FileError, match=r"The photograph a\.jpg is missing in .*rig photographs; put it back"
    ):
        content_of(photograph, project)


def test_no_name_leads_out_of_the_folder():
    for name in ("../x.jpg", "a/b.jpg", "a\\b.jpg", "", "x\0.jpg"):
        with pytest.raises(ValueError, match="name"):
            Photograph(name=name, digest="0" * 64)


def test_a_name_has_at_most_120_letters_of_any_alphabet():
    longest = "Spule im Gehäuse (1).jpg".rjust(120, "Ж")
    assert Photograph.checked(name=longest, digest="0" * 64).name == longest
    with pytest.raises(DesignError, match="File: must have at most 120 letters"):
        Photograph.checked(name="x" + longest, digest="0" * 64)


def test_photographs_come_along_when_a_design_is_saved_elsewhere(qapp, tmp_path, sample):
    old, new = tmp_path / "old.json", tmp_path / "there" / "new.json"
    new.parent.mkdir()
    name, digest = put(old, "a.png", ".png", picture("png"))
    kept = Photograph(name=name, digest=digest)
    project = sample.edited(("photographs",), (kept, Photograph(name="gone.jpg", digest="0" * 64)))
    (told,) = taken_along(project, old, new)
    assert "gone.jpg is missing" in told
    assert content_of(kept, new) == content_of(kept, old)
    assert not list(taken_along(project, old, old))
    assert not list(taken_along(project, None, new))
