"""Whether a window can be opened here, asked before Qt is: Qt would abort instead of answering."""

import ctypes
import os
import sys
from collections.abc import Callable, Mapping

#: System libraries that Qt's window plugin loads on Linux, and the Debian package of each.
_LIBRARIES: dict[str, str] = {
    "libEGL.so.1": "libegl1",
    "libGL.so.1": "libgl1",
    "libxkbcommon.so.0": "libxkbcommon0",
    "libdbus-1.so.3": "libdbus-1-3",
    "libfontconfig.so.1": "libfontconfig1",
}
_X11_LIBRARIES: dict[str, str] = {
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-image.so.0": "libxcb-image0",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-render-util.so.0": "libxcb-render-util0",
    "libxcb-shape.so.0": "libxcb-shape0",
    "libxcb-xinerama.so.0": "libxcb-xinerama0",
}


def problem_with_display(
    environment: Mapping[str, str] = os.environ,
    platform: str = sys.platform,
    loads: Callable[[str], object] = ctypes.CDLL,
) -> str | None:
    """Why no window can be opened, in one sentence that says what to do; None when one can.

    Only Linux and its kin can lack a display or Qt's system libraries; elsewhere Qt brings everything.
    """
    if not platform.startswith(("linux", "freebsd")):
        return None
    chosen = environment.get("QT_QPA_PLATFORM", "")
    wayland, x11 = environment.get("WAYLAND_DISPLAY"), environment.get("DISPLAY")
    if not chosen and not wayland and not x11:
        return (
            "There is no display to open a window on; write the build sheet instead with "
            "“copperclad sheet PROJECT -o FILE.pdf”."
        )
    wanted = dict(_LIBRARIES)
    if chosen.startswith("xcb") or (not chosen and not wayland):
        wanted |= _X11_LIBRARIES
    return missing_library(wanted, loads)


def missing_library(
    wanted: Mapping[str, str] = _LIBRARIES, loads: Callable[[str], object] = ctypes.CDLL
) -> str | None:
    """A sentence on the system libraries that Qt lacks and the packages to install; None when it has all."""
    packages = []
    for library, package in wanted.items():
        try:
            loads(library)
        except OSError:
            packages.append(package)
    if not packages:
        return None
    return (
        f"Qt lacks system libraries; install {' '.join(packages)} (on Debian and its kin: "
        f"apt install {' '.join(packages)}) and start again."
    )
