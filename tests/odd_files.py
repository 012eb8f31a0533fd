"""Things in a folder that are no regular files, made in the test's own folder."""

import os
import socket
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path


@contextmanager
def odd_files(folder: Path, ending: str = "") -> Iterator[list[Path]]:
    """A folder, and where the system has them a pipe, a link to it, a socket and links in a circle."""
    places = [folder / f"folder{ending}"]
    places[0].mkdir()
    with ExitStack() as stack:
        if hasattr(os, "mkfifo"):
            pipe, link, ring = (folder / f"{name}{ending}" for name in ("pipe", "link", "ring"))
            os.mkfifo(pipe)
            link.symlink_to(pipe)
            ring.symlink_to(ring)
            places += [pipe, link, ring]
        if hasattr(socket, "AF_UNIX"):
            ear = stack.enter_context(socket.socket(socket.AF_UNIX))
            # A socket's name must be short, a test's folder seldom is.
            here = os.getcwd()
            os.chdir(folder)
            try:
                ear.bind(f"socket{ending}")
            finally:
                os.chdir(here)
            places.append(folder / f"socket{ending}")
        yield places
