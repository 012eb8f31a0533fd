"""Every view of the window rendered to pictures, light and dark, without a display."""

import os
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

from core.model.disk import write_whole
from core.model.project import Project
from core.model.values.errors import FileError

if TYPE_CHECKING:
    from app.window.main_window import MainWindow

_SIZE = (1440, 900)


def render(project: Project, folder: Path) -> list[Path]:
    """Render every view of `project` into `folder` as PNG; returns the files. `FileError` when it cannot.

    Must run in a process of its own: it takes Qt's offscreen platform.
    """
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FileError(
            f"{folder} cannot be made a folder ({(error.strerror or str(error)).lower()}); choose another."
        ) from None
    from app.state.settings import THEME_CHOICES

    return [
        file for theme in THEME_CHOICES if theme != "system" for file in _render_theme(project, folder, theme)
    ]


def _render_theme(project: Project, folder: Path, theme: str) -> Iterator[Path]:
    import tempfile

    from PySide6.QtCore import QBuffer

    from app.state.settings import Settings
    from app.state.workbench import Workbench
    from app.window.main_window import MainWindow
    from app.window.start import application

    app = application()
    with tempfile.TemporaryDirectory() as private, ExitStack() as at_end:
        settings = Settings(Path(private) / "settings.ini")
        settings.theme = theme  # type: ignore[assignment]
        window = MainWindow(Workbench(project), settings)
        at_end.callback(app.processEvents)
        for last in (window.deleteLater, window.hide, window.tasks.close):
            at_end.callback(last)
        window.resize(*_SIZE)
        window.show()
        for name in views(window):
            file = folder / f"{name}-{theme}.png"
            picture = QBuffer()
            window.grab().save(picture, "PNG")  # type: ignore[call-overload]
            write_whole(file, bytes(picture.data().data()))
            yield file


def views(window: "MainWindow") -> Iterator[str]:
    """Bring each view of a window on screen, whole and painted, and give its name."""
    from PySide6.QtCore import QCoreApplication, QEventLoop

    flags = QEventLoop.ProcessEventsFlag
    for name, prepare in _views(window):
        prepare()
        # The first turn refreshes the views, the second paints what they asked for; forms inside forms ask
        # for room from the inside out, a turn each.
        for _ in range(5):
            window.refresher.now()
            QCoreApplication.processEvents(flags.ExcludeUserInputEvents)
        while getattr(window.pages.current, "busy", False):
            QCoreApplication.processEvents()
        while window.tasks.running("survey") or window.tasks.running("tolerance"):
            QCoreApplication.processEvents(flags.WaitForMoreEvents)
        QCoreApplication.processEvents(flags.ExcludeUserInputEvents)
        yield name


def _views(window) -> Iterator[tuple[str, Callable[[], object]]]:  # type: ignore[no-untyped-def]
    """Name of each view and what brings it on screen."""
    from core.stages.kinds.table import KINDS

    bench = window.bench

    def rig(way: str) -> Callable[[], object]:
        return lambda: (bench.select(()), bench.look_at_way(way), window.pages.show_page("Whole rig"))

    def stage(key: str) -> Callable[[], object]:
        return lambda: (bench.select(("stages", key)), window.pages.show_page("Stage"))

    def page(name: str) -> Callable[[], object]:
        def prepare() -> None:
            made_of_parts = [each.id for each in bench.current.stages if KINDS[each.kind].making is not None]
            # A board is that of a stage; the other pages speak of the rig.
            board = name == "Board plan" and made_of_parts
            bench.select(("stages", made_of_parts[0]) if board else ())
            made = window.pages.show_page(name)
            if name == "Tolerance":
                made.run()

        return prepare

    def ladder_figures(key: str) -> Callable[[], object]:
        def prepare() -> None:
            stage(key)()
            window.refresher.now()
            for choice in (window.pages.current.view.heard, window.pages.current.view.circuit):
                choice.buttons[1].click()

        return prepare

    yield "whole-rig-receive", rig("receive")
    yield "whole-rig-transmit", rig("transmit")
    yield "birdie-finder", lambda: (rig("receive")(), window.pages.current.looks.buttons[1].click())
    window.pages.current.looks.buttons[0].click()
    seen = set()
    for each in bench.current.stages:
        if each.kind not in seen:
            seen.add(each.kind)
            yield f"stage-{each.kind.replace('_', '-')}", stage(each.id)
            if KINDS[each.kind].ladder(each) is not None:
                yield "stage-ladder-figures", ladder_figures(each.id)
    yield "vfo", lambda: (bench.select(("vfo",)), window.pages.show_page("Stage"))
    yield "carrier", lambda: (bench.select(("carrier",)), window.pages.show_page("Stage"))
    for name in window.pages.names[2:]:
        yield name.lower().replace(" ", "-"), page(name)
