"""Files read bounded and written whole: nothing but regular files, and never half of one."""

import os
import stat
import tempfile
from pathlib import Path

from core.model.errors import FileError

#: A read that finds nothing must not wait for somebody who writes; Windows knows no such flag and needs none.
_READ = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0) | getattr(os, "O_BINARY", 0)


def read_regular(path: Path, limit: int, what: str) -> bytes:
    """At most `limit` bytes, the whole content of a regular file, reached through links or not.

    `FileError` with one sentence for a larger file and for a folder, pipe, socket or device, on which
    reading could wait or never end. `what` says what the builder wanted to read: `a project`.
    """
    try:
        # Before it is opened, because opening a device can do something; and again on what was opened.
        _check_regular(path, path.stat(), what)
        with open(os.open(path, _READ), "rb") as file:
            _check_regular(path, os.fstat(file.fileno()), what)
            content = file.read(limit + 1)
    except (FileNotFoundError, NotADirectoryError):
        raise FileError(f"There is no file {path}; check the name.") from None
    except (OSError, ValueError, RuntimeError) as error:
        # Besides what the system says: names that no file can have, and links that lead in a circle.
        raise FileError(f"{path} cannot be read ({cause(error)}); check the file.") from None
    if content is None:
        raise FileError(f"{path} has nothing to read and so is not {what}; choose another file.")
    if len(content) > limit:
        raise FileError(
            f"{path.name} is larger than {limit / 1e6:g} MB and so is not {what}; choose another file."
        )
    return content


def read_text(path: Path, limit: int, what: str) -> str:
    """The text of a regular file in UTF-8 of at most `limit` bytes; `FileError` as `read_regular`."""
    try:
        return read_regular(path, limit, what).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise FileError(
            f"{path.name} is not a text file in UTF-8 and so is not {what}; choose another file."
        ) from None


def _check_regular(path: Path, status: os.stat_result, what: str) -> None:
    if stat.S_ISDIR(status.st_mode):
        raise FileError(f"{path} is a folder and so is not {what}; choose a file in it.")
    if not stat.S_ISREG(status.st_mode):
        raise FileError(f"{path} is a pipe or a device and so is not {what}; choose a regular file.")


def write_whole(path: Path, content: bytes) -> None:
    """Replace the file at `path` by `content`, whole or not at all; `FileError` says what to do."""
    temporary: Path | None = None
    try:
        handle, temp_name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".tmp", dir=path.parent)
        temporary = Path(temp_name)
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            # mkstemp makes a private file; the rename must not change who may read the project.
            os.chmod(temporary, path.stat().st_mode & 0o777)
        else:
            os.chmod(temporary, 0o666 & ~_umask())
        os.replace(temporary, path)
    except OSError as error:
        if temporary is not None:
            temporary.unlink(missing_ok=True)
        raise FileError(
            f"{path.name} could not be written to {path.parent} ({cause(error)}); the file there is as it "
            "was, so free some space or save under another name or folder."
        ) from None


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def cause(error: Exception) -> str:
    """What the system says of an error, in lower case."""
    return (getattr(error, "strerror", None) or str(error) or type(error).__name__).lower()
