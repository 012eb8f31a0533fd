"""Where photographs lie: in a folder beside the project's file, named after it."""

import re
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path

from core.model.disk import cause, read_regular, write_whole
from core.model.notebook.bench_log import Photograph
from core.model.project import Project
from core.model.values.errors import FileError
from core.model.values.wording import shortened, visible

#: No photograph is larger, bytes: what a good camera makes of one.
LARGEST_BYTES = 25_000_000
_LONGEST_STEM = 60


def folder_of(file: Path) -> Path:
    """The folder of the photographs of a project in this file."""
    return file.with_name(f"{file.stem} photographs")


def content_of(photograph: Photograph, file: Path | None) -> bytes:
    """What a photograph's file holds; `FileError` with one sentence where it is missing or another one."""
    if file is None:
        raise FileError(
            f"{photograph.name} lies beside the file that the design came from; open that, or save the "
            "design there."
        )
    place = folder_of(file) / photograph.name
    if not place.exists():
        raise FileError(
            f"The photograph {photograph.name} is missing in {folder_of(file)}; put it back there, or take "
            "it out of the log."
        )
    content = read_regular(place, LARGEST_BYTES, "a photograph")
    if sha256(content).hexdigest() != photograph.digest:
        raise FileError(
            f"The photograph {photograph.name} is another one than was taken into the log; put the former "
            "one back, or take this one in anew."
        )
    return content


def put(file: Path, wanted: str, suffix: str, content: bytes) -> tuple[str, str]:
    """Keep a photograph beside a project's file; its name there, like the one `wanted`, and its digest.

    `FileError` where it cannot be written.
    """
    folder, stem = folder_of(file), _stem(wanted)
    _make(folder)
    names = (f"{stem}{'' if n == 1 else f' {n}'}{suffix}" for n in range(1, 1000))
    name = next(each for each in names if not (folder / each).exists())
    write_whole(folder / name, content)
    return name, sha256(content).hexdigest()


def taken_along(project: Project, old: Path | None, new: Path) -> Iterator[str]:
    """Copy the photographs of a project saved under another name; a sentence for each that cannot be."""
    if old is None or folder_of(old) == folder_of(new):
        return
    for each in project.photographs:
        place = folder_of(new) / each.name
        try:
            content = content_of(each, old)
            if not place.exists():
                _make(place.parent)
                write_whole(place, content)
        except FileError as error:
            yield str(error)


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FileError(
            f"{folder} cannot be made a folder ({cause(error)}); save the design elsewhere."
        ) from None


def _stem(wanted: str) -> str:
    """The beginning of a name that every system takes as one of a file."""
    words = re.sub(r"[^\w .()-]+", "-", shortened(visible(Path(wanted).stem), _LONGEST_STEM)).strip(" .-")
    return words.replace("…", "-") or "photograph"
