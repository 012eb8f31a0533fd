"""Photographs beside the project: decoded with care, found again, or told of in a sentence."""

import struct
import zlib

import pytest
from PySide6.QtCore import QBuffer, QByteArray, QIODevice
from PySide6.QtGui import QColor, QImage, QImageReader, QImageWriter, QPainter

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


def speckled(width=640, height=400, progressive=False):
    """A JPEG with much in it, and its left upper quarter red."""
    image = QImage(width, height, QImage.Format.Format_RGB32)
    image.fill(QColor("white"))
    painter = QPainter(image)
    for n in range(400):
        colour = QColor(n * 53 % 255, n * 97 % 255, n * 13 % 255)
        painter.fillRect(n * 37 % width, n * 91 % height, 9, 7, colour)
    painter.fillRect(0, 0, width // 4, height // 4, QColor("red"))
    painter.end()
    buffer = QBuffer()
    buffer.open(QBuffer.OpenModeFlag.WriteOnly)
    writer = QImageWriter(buffer, b"jpeg")
    writer.setProgressiveScanWrite(progressive)
    assert writer.write(image)
    return bytes(buffer.data().data())


@pytest.mark.qt_log_ignore("premature end of data segment", "Premature end", extend=True)
@pytest.mark.parametrize("progressive", [False, True])
@pytest.mark.parametrize("share", [0.3, 0.6, 0.95, 0.999])
def test_a_photograph_that_was_cut_is_refused_and_not_painted_grey(qapp, tmp_path, share, progressive):
    whole, source = speckled(progressive=progressive), tmp_path / "board.jpg"
    source.write_bytes(whole[: int(share * len(whole))])
    with pytest.raises(FileError, match=r"board\.jpg (ends before its picture does|is a damaged picture)"):
        prepared(source)
    source.write_bytes(whole + b"\0" * 700)
    assert prepared(source)[0] == ".jpg"


@pytest.mark.qt_log_ignore("premature end of data segment", "Premature end", extend=True)
def test_a_small_picture_within_the_file_is_not_its_end(qapp, tmp_path):
    """A camera puts a small picture, with an end of its own, before the large one."""
    whole, source = speckled(), tmp_path / "board.jpg"
    small = picture("jpeg")
    within = b"\xff\xe1" + (len(small) + 2).to_bytes(2, "big") + small
    source.write_bytes(whole[:2] + within + whole[2:])
    assert prepared(source)[0] == ".jpg"
    source.write_bytes((whole[:2] + within + whole[2:])[: -len(whole) // 3])
    with pytest.raises(FileError, match="ends before its picture does"):
        prepared(source)


@pytest.mark.parametrize(
    ("turn", "red"),
    [(1, (0, 0)), (3, (1, 1)), (6, (1, 0)), (8, (0, 1))],
    ids=["as is", "half", "right", "left"],
)
def test_a_camera_that_was_turned_is_seen_upright(qapp, tmp_path, turn, red):
    """Orientation as EXIF notes it (tag 0x0112 of CIPA DC-008), which no copy needs any more."""
    noted = b"Exif\0\0MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01"
    noted += bytes([0, turn]) + b"\0\0\0\0\0\0"
    whole, source = speckled(), tmp_path / "board.jpg"
    source.write_bytes(whole[:2] + b"\xff\xe1" + (len(noted) + 2).to_bytes(2, "big") + noted + whole[2:])
    _, content = prepared(source)
    image, _ = decoded(content, "board.jpg")
    assert (image.width(), image.height()) == ((400, 640) if turn in (6, 8) else (640, 400))
    x, y = (each * (size - 1) for each, size in zip(red, (image.width(), image.height()), strict=True))
    colour = image.pixelColor(min(max(x, 20), image.width() - 20), min(max(y, 20), image.height() - 20))
    assert colour.red() > 200
    assert colour.green() < 60
    assert b"Exif" not in content


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
