"""Photographs decoded: JPEG and PNG alone, of bounded size, whatever their names say."""

import re
from pathlib import Path

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QSize, Qt
from PySide6.QtGui import QImage, QImageReader, QImageWriter

from app.photographs.beside import LARGEST_BYTES, content_of
from core.model.disk import read_regular
from core.model.notebook.bench_log import Photograph
from core.model.values.errors import FileError
from core.model.values.wording import shortened, visible

#: How a file of each kind begins: what is decoded is decided by that, and by nothing else.
_BEGINNINGS = {b"\xff\xd8\xff": "jpeg", b"\x89PNG\r\n\x1a\n": "png"}
#: Beyond so many pixels it is no photograph of a bench; and while one is decoded no more memory is taken, MB.
_MOST_PIXELS, _MEMORY_MB = 64_000_000, 260
#: A photograph is kept no larger than this on its longer side, pixels: as much as paper shows.
_LONGEST_SIDE = 2000
_JPEG_QUALITY = 88
#: In a JPEG the next marker behind some coded data, which has other bytes behind each 0xFF of its own.
_MARKER = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")
_END = 0xD9


def prepared(source: Path) -> tuple[str, bytes]:
    """A photograph of a builder's as it is kept, smaller where it is large: its suffix and content.

    `FileError` with one sentence for what is none, or too large.
    """
    content = read_regular(source, LARGEST_BYTES, "a photograph")
    image, kind = decoded(content, source.name)
    if max(image.width(), image.height()) > _LONGEST_SIDE:
        image = image.scaled(
            QSize(_LONGEST_SIDE, _LONGEST_SIDE),
            Qt.AspectRatioMode.KeepAspectRatio,
            Qt.TransformationMode.SmoothTransformation,
        )
    # Written anew in any case: what a camera notes beside a picture, such as the place, stays behind.
    return (".jpg" if kind == "jpeg" else ".png"), _encoded(image, kind)


def image_of(photograph: Photograph, file: Path | None) -> QImage:
    """A photograph of the project in `file`; `FileError` with one sentence where none can be shown."""
    return decoded(content_of(photograph, file), photograph.name)[0]


def decoded(content: bytes, name: str) -> tuple[QImage, str]:
    """The picture in a file's content, and its kind; `FileError` with one sentence where there is none."""
    told = shortened(visible(name))
    kind = next((kind for start, kind in _BEGINNINGS.items() if content.startswith(start)), None)
    if kind is None:
        raise FileError(f"{told} is no JPEG and no PNG picture; choose another file.")
    data = QByteArray(content)
    buffer = QBuffer(data)
    buffer.open(QIODevice.OpenModeFlag.ReadOnly)
    reader = QImageReader(buffer, QByteArray(kind.encode()))
    reader.setAutoDetectImageFormat(False)
    reader.setAutoTransform(True)
    size = reader.size()
    if size.isValid() and size.width() * size.height() > _MOST_PIXELS:
        raise FileError(
            f"{told} has {size.width()} × {size.height()} pixels, more than any photograph needs; make it "
            "smaller."
        )
    former = QImageReader.allocationLimit()
    QImageReader.setAllocationLimit(_MEMORY_MB)
    try:
        image = reader.read()
    finally:
        QImageReader.setAllocationLimit(former)
    if not image.isNull() and kind == "jpeg" and not _is_whole(content):
        raise FileError(f"{told} ends before its picture does; copy it anew, or choose another file.")
    if image.isNull():
        raise FileError(f"{told} is a damaged picture; choose another file.")
    return image, kind


def _is_whole(content: bytes) -> bool:
    """Whether a JPEG has its end: a reader paints what lacks of a file that was cut, and says nothing."""
    place = 2
    while (found := _MARKER.search(content, place)) is not None:
        marker, place = content[found.end() - 1], found.end()
        if marker == _END:
            return True
        # A segment tells its own length; behind that of a scan come its data.
        place += max(int.from_bytes(content[place : place + 2], "big"), 2)
    return False


def _encoded(image: QImage, kind: str) -> bytes:
    data = QByteArray()
    buffer = QBuffer(data)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QImageWriter(buffer, QByteArray(kind.encode()))
    if kind == "jpeg":
        writer.setQuality(_JPEG_QUALITY)
    for key in image.textKeys():
        image.setText(key, "")
    if not writer.write(image):
        raise FileError("The picture cannot be written; choose another file.")
    return bytes(data.data())
