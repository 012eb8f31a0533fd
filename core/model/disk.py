"""Files read bounded and written whole: nothing but regular files, and never half of one."""

import os
import re
import stat
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO

from core.model.values.errors import FileError

#: No file of ours is larger.
LARGEST_BYTES = 20_000_000
#: A temporary file so much older than the one just written is what a killed save left, seconds.
_STALE_S = 60.0
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
    except FileError:
        raise
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


def keep(path: Path) -> None:
    """Keep the file at `path`, if there is one, as `NAME.bak` beside it, with its mode and owner.

    `FileError` when it cannot be kept, or is one that `write_whole` would refuse to replace.
    """
    try:
        path = Path(os.path.realpath(path))
        old = _replaceable(path, over_project=True)
    except FileError:
        raise
    except (OSError, ValueError) as error:
        raise _unwritten(path, error) from None
    if old is not None:
        content = read_regular(path, LARGEST_BYTES, "a project")
        _replace(path.with_name(f"{path.name}.bak"), content, like=old, in_place=False)


def write_whole(path: Path, content: bytes, *, over_project: bool = False) -> None:
    """Replace the file at `path` by `content`, whole or not at all; `FileError` says what to do.

    A new file beside it is flushed to the disk and renamed over the old one, which gives it its mode and,
    where the system allows, its owner. A link is kept and what it leads to is replaced. A file of several
    hard links is written in place, since a rename would part it from its other names: amid that it is not
    whole, but the new content lies whole beside it until it is. Refused: what is no regular file, a
    write-protected file, and a project unless `over_project`, so that no output wipes a design out.
    """
    try:
        # Through links by hand, because a rename replaces the link itself.
        path = Path(os.path.realpath(path))
        old = _replaceable(path, over_project)
    except FileError:
        raise
    except (OSError, ValueError) as error:
        raise _unwritten(path, error) from None
    _replace(path, content, like=old, in_place=old is not None and old.st_nlink > 1)


def _replace(path: Path, content: bytes, *, like: os.stat_result | None, in_place: bool) -> None:
    """Put a whole file in the place of `path`, with mode and owner of `like`, or with those customary."""
    temporary: Path | None = None
    try:
        handle, temp_name = tempfile.mkstemp(prefix=_prefix(path), suffix=".tmp", dir=path.parent)
        temporary = Path(temp_name)
        with os.fdopen(handle, "wb") as file:
            _fill(file, content)
        if in_place:
            _write_in_place(path, content)
            temporary.unlink()
        else:
            _dress(temporary, like)
            os.replace(temporary, path)
        _settle(path)
    except (OSError, ValueError) as error:
        if temporary is not None:
            temporary.unlink(missing_ok=True)
        raise _unwritten(path, error) from None


def _unwritten(path: Path, error: Exception) -> FileError:
    there = "the file there is as it was" if os.path.lexists(path) else "nothing was written"
    return FileError(
        f"{path.name} could not be written to {path.parent} ({cause(error)}); {there}, so free some space or "
        "save under another name or folder."
    )


def _replaceable(path: Path, over_project: bool) -> os.stat_result | None:
    """The state of the file that would be replaced, None where there is none; `FileError` if it must stay."""
    if path.is_symlink():
        raise FileError(f"{path} is a link that leads in a circle; save under another name.")
    try:
        old = path.stat()
    except FileNotFoundError:
        return None
    if stat.S_ISDIR(old.st_mode):
        raise FileError(f"{path} is a folder; give the name of a file in it.")
    if not stat.S_ISREG(old.st_mode):
        raise FileError(f"{path} is a pipe or a device, not a file to be replaced; save under another name.")
    # The mode itself, because the system lets its administrator write to anything.
    if not old.st_mode & 0o222 or not os.access(path, os.W_OK):
        raise FileError(f"{path} is write-protected; save under another name or take the protection off.")
    if not over_project and _is_project(path):
        raise FileError(f"{path} is a project and would be lost; write to another file.")
    return old


def _is_project(path: Path) -> bool:
    """Whether a file is a project, also one that is damaged or cannot be looked into."""
    try:
        start = read_regular(path, LARGEST_BYTES, "a project")
    except FileError:
        return False
    return start.removeprefix(b"\xef\xbb\xbf").lstrip().startswith(b"{") and b'"schema_version"' in start


def _prefix(path: Path) -> str:
    """How the temporary files of a file begin; cut, so that no name becomes too long by it."""
    return f".{path.name[:50]}."


def _dress(new: Path, like: os.stat_result | None) -> None:
    """Give a new file, private as made, the mode and owner of another, or the mode that is customary."""
    if like is not None and hasattr(os, "chown"):
        # Only an administrator may give files away; a group one is in may have it.
        for owner in (like.st_uid, -1):
            with suppress(OSError):
                os.chown(new, owner, like.st_gid)
                break
    os.chmod(new, 0o666 & ~_umask() if like is None else stat.S_IMODE(like.st_mode))


def _write_in_place(path: Path, content: bytes) -> None:
    old = path.read_bytes()
    with open(path, "r+b") as file:
        try:
            _fill(file, content)
        except OSError:
            _fill(file, old)
            raise


def _fill(file: BinaryIO, content: bytes) -> None:
    file.seek(0)
    file.write(content)
    file.truncate()
    file.flush()
    os.fsync(file.fileno())


def _settle(path: Path) -> None:
    """Flush the folder, so that the rename outlives a power cut, and clear away what a killed save left."""
    with suppress(OSError):
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
    ours = re.compile(re.escape(_prefix(path)) + r"[a-z0-9_]{8}\.tmp")
    with suppress(OSError):
        # By the folder's own clock, which on a network is another than ours.
        now = path.stat().st_mtime
        for other in path.parent.iterdir():
            if ours.fullmatch(other.name) and now - other.lstat().st_mtime > _STALE_S:
                other.unlink()


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def cause(error: Exception) -> str:
    """What the system says of an error, in lower case."""
    return (getattr(error, "strerror", None) or str(error) or type(error).__name__).lower()
