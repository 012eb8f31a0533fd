"""The user's own list of parts on hand, beside the lists of single rigs."""

from contextlib import suppress
from pathlib import Path

from app.state.mishaps import data_folder
from core.model.disk import read_text, write_whole
from core.model.notebook.junk_box import JunkBox, PartOnHand
from core.model.notebook.junk_box_table import MOST_LETTERS, ReadTable, parts_in, table_of
from core.model.values.errors import DesignError, FileError


def own_file() -> Path:
    """Where the list is kept: a table that any program of tables opens."""
    return data_folder() / "junk box.csv"


def read_own() -> ReadTable:
    """The user's own list, empty where there is none yet; `FileError` where it cannot be read."""
    file = own_file()
    return read_parts(file) if file.exists() else ReadTable((), ())


def read_parts(file: Path) -> ReadTable:
    """The parts in a table of parts; `FileError` with one sentence where it is none."""
    try:
        return parts_in(read_text(file, 4 * MOST_LETTERS, "a table of parts"))
    except DesignError as error:
        raise FileError(f"{file.name}: {error}") from None


def keep_own(parts: tuple[PartOnHand, ...]) -> None:
    """Make these the user's own list; `FileError` where it cannot be written."""
    file = own_file()
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FileError(f"{file.parent} cannot be made ({error}); check the folder.") from None
    write_parts(file, parts)


def write_parts(file: Path, parts: tuple[PartOnHand, ...]) -> None:
    """Write a table of parts, whole or not at all; `FileError` where that fails."""
    write_whole(file, table_of(parts).encode())


def begun_with(box: JunkBox) -> JunkBox:
    """The junk box of a new rig: that of the design at hand, or the user's own list where nothing is counted
    there.
    """
    if box.parts:
        return box
    with suppress(FileError):
        return box.tried(("parts",), read_own().parts) or box
    return box
