"""Whether a window can be opened here, asked before Qt is: Qt would abort instead of answering."""

import ctypes
import os
import socket
import sys
from collections.abc import Callable, Mapping
from importlib.util import find_spec
from pathlib import Path

#: System libraries that Qt's window plugin loads on Linux, and the Debian package of each.
_LIBRARIES: dict[str, str] = {
    "libglib-2.0.so.0": "libglib2.0-0",
    "libX11.so.6": "libx11-6",
    "libEGL.so.1": "libegl1",
    "libGL.so.1": "libgl1",
    "libxkbcommon.so.0": "libxkbcommon0",
    "libdbus-1.so.3": "libdbus-1-3",
    "libfontconfig.so.1": "libfontconfig1",
}
_X11_LIBRARIES: dict[str, str] = {
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
    "libX11-xcb.so.1": "libx11-xcb1",
    "libxcb-randr.so.0": "libxcb-randr0",
    "libxcb-render.so.0": "libxcb-render0",
    "libxcb-shm.so.0": "libxcb-shm0",
    "libxcb-sync.so.1": "libxcb-sync1",
    "libxcb-util.so.1": "libxcb-util1",
    "libxcb-xfixes.so.0": "libxcb-xfixes0",
    "libxcb-xkb.so.1": "libxcb-xkb1",
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-image.so.0": "libxcb-image0",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-render-util.so.0": "libxcb-render-util0",
    "libxcb-shape.so.0": "libxcb-shape0",
    "libxcb-xinerama.so.0": "libxcb-xinerama0",
}


#: What QT_QPA_PLATFORM may name for the plugin `libqwayland.so`, besides its own name.
_ALSO = {"wayland": ("wayland-egl", "wayland-brcm")}
_NO_WINDOW = "write the build sheet instead with “copperclad sheet PROJECT -o FILE.pdf”."


def problem_with_display(
    environment: Mapping[str, str] = os.environ,
    platform: str = sys.platform,
    loads: Callable[[str], object] = ctypes.CDLL,
    answers: Callable[[str, str], bool] | None = None,
) -> str | None:
    """Why no window can be opened, in one sentence that says what to do; None when one can.

    Only Linux and its kin can lack a display or Qt's system libraries; elsewhere Qt brings everything.
    `answers(kind, name)` tells whether the display of that name, `x11` or `wayland`, can be reached.
    """
    if not platform.startswith(("linux", "freebsd")):
        return None
    chosen = [each.partition(":")[0] for each in environment.get("QT_QPA_PLATFORM", "").split(";") if each]
    known = _platforms()
    if chosen and known and not set(chosen) & known:
        return (
            f"Qt has no window system “{chosen[0]}” here; unset QT_QPA_PLATFORM, or set it to one of "
            f"{', '.join(sorted(known))}."
        )
    names = {"x11": environment.get("DISPLAY"), "wayland": environment.get("WAYLAND_DISPLAY")}
    if chosen:
        # Other window systems need no display.
        asked = {"xcb": "x11", "wayland": "wayland", "wayland-egl": "wayland"}
        if any(each not in asked for each in chosen):
            return missing_library(_LIBRARIES, loads)
        names = {kind: name for kind, name in names.items() if kind in {asked[each] for each in chosen}}
    if not any(names.values()):
        return f"There is no display to open a window on; {_NO_WINDOW}"
    wanted = dict(_LIBRARIES)
    if not names.get("wayland"):
        wanted |= _X11_LIBRARIES
    problem = missing_library(wanted, loads)
    if problem is not None:
        return problem
    reached = answers or _answers
    if not any(name and reached(kind, name) for kind, name in names.items()):
        told = " and ".join(name for name in names.values() if name)
        return f"The display {told} does not answer; start the program on your desktop, or {_NO_WINDOW}"
    return None


def _platforms() -> frozenset[str]:
    """The window systems that this Qt knows; empty when that cannot be told without starting it."""
    found = find_spec("PySide6")
    folders = [] if found is None else [*(found.submodule_search_locations or ())]
    files = [file for folder in folders for file in Path(folder, "Qt/plugins/platforms").glob("libq*.so")]
    names = {file.stem.removeprefix("libq") for file in files}
    return frozenset(names | {also for name in names for also in _ALSO.get(name, ())})


def _answers(kind: str, name: str) -> bool:
    """Whether a display can be reached; what cannot be asked is left to Qt."""
    if kind == "wayland":
        path = Path(os.environ.get("XDG_RUNTIME_DIR", "/"), name)
        try:
            with socket.socket(socket.AF_UNIX) as line:
                line.connect(str(path))
        except OSError:
            return False
        return True
    try:
        xcb = ctypes.CDLL("libxcb.so.1")
    except OSError:
        return True
    xcb.xcb_connect.restype = ctypes.c_void_p
    for function in (xcb.xcb_connection_has_error, xcb.xcb_disconnect):
        function.argtypes = [ctypes.c_void_p]
    line = xcb.xcb_connect(name.encode(), None)
    broken = xcb.xcb_connection_has_error(line)
    xcb.xcb_disconnect(line)
    return not broken


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
