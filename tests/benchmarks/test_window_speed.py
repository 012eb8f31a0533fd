"""Speed of the window, as ratios within one run.

An edit to every visible plot repainted, against the same plots merely painted again; start to first paint
against a bare PySide6 and pyqtgraph window.
"""

import os
import statistics
import subprocess
import sys
from pathlib import Path
from time import perf_counter

import pytest
from PySide6.QtCore import QEvent, QObject

from app.plots.base import Plot
from app.state.workbench import Workbench
from core.model.files import load
from core.model.samples import sample_path

#: Most an edit may cost, in bare repaints of the same plots: its median, and 19 of 20.
MEDIAN, P95 = 5.0, 10.0
#: Most the start may take, in starts of a bare window.
START = 1.5

_BARE = """
import sys
from PySide6.QtWidgets import QApplication, QMainWindow
import pyqtgraph as pg
app = QApplication([])
window = QMainWindow()
plot = pg.PlotWidget()
plot.plot([0, 1, 2], [0, 1, 0])
window.setCentralWidget(plot)
window.resize(1440, 900)
window.show()
app.processEvents()
window.grab()
"""
#: As the command opens the window, without waiting for it to be closed.
_OURS = """
import gc
gc.disable()
from app.window.start import application
from core.model.files import load
from core.model.samples import sample_path
project = load(sample_path())
app = application()
from app.window.main_window import MainWindow
from app.state.settings import Settings
from app.plots.base import Plot
from app.state.workbench import Workbench
import sys
from pathlib import Path
window = MainWindow(Workbench(project), Settings(Path(sys.argv[1])))
window.resize(1440, 900)
window.show()
app.processEvents()
window.grab()
import os
os._exit(0)
"""


class Painted(QObject):
    """Which plots were painted since they were last forgotten: an edit shows after more than one turn."""

    def __init__(self, plots: list[Plot]) -> None:
        super().__init__()
        self._plots, self._seen = plots, set()
        for plot in plots:
            plot.viewport().installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802
        if event.type() == QEvent.Type.Paint:
            self._seen.add(watched)
        return False

    def forget(self) -> None:
        self._seen.clear()

    def all(self) -> bool:
        return len(self._seen) == len(self._plots)


@pytest.fixture
def shown(qtbot, qapp, tmp_path):
    from app.state.settings import Settings
    from app.window.main_window import MainWindow

    bench = Workbench(load(sample_path()))
    window = MainWindow(bench, Settings(tmp_path / "settings.ini"))
    window.choose_theme("light")
    qtbot.addWidget(window, before_close_func=lambda _: bench.start(bench.current))
    window.resize(1440, 900)
    window.show()
    qtbot.waitExposed(window)
    for _ in range(3):
        qapp.processEvents()
    return window


def test_an_edit_of_the_if_against_a_bare_repaint(shown, qapp, note):
    start = shown.bench.current.if_hz
    plots = [plot for plot in shown.findChildren(Plot) if plot.isVisible()]
    painted = Painted(plots)
    edits, bare = [], []

    def timed(work) -> float:
        """Milliseconds until every plot was painted after `work`."""
        painted.forget()
        begin = perf_counter()
        work()
        while not painted.all():
            qapp.processEvents()
        return 1e3 * (perf_counter() - begin)

    def repaint() -> None:
        for plot in plots:
            plot.viewport().update()

    for step in range(80):
        edits.append(timed(lambda step=step: shown.bench.edit(("if_hz",), start + 10.0 * (step + 1))))
        for _ in range(3):
            qapp.processEvents()
        bare.append(timed(repaint))
    ordered, one = sorted(edits[10:]), statistics.median(bare[10:])
    median, p95 = statistics.median(ordered), ordered[int(0.95 * len(ordered))]
    note("edit of the IF to every plot of the whole-rig page repainted", median, "ms", 16)
    note("a bare repaint of the same plots", one, "ms")
    note("edit over bare repaint, median", median / one, "×", MEDIAN)
    note("edit over bare repaint, 19 of 20", p95 / one, "×", P95)
    assert median / one <= MEDIAN
    assert p95 / one <= P95


def test_start_to_first_paint_against_a_bare_window(note, tmp_path):
    def seconds(code: str) -> float:
        begin = perf_counter()
        subprocess.run(
            [sys.executable, "-c", code, str(tmp_path / "settings.ini")],
            check=True,
            env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
            cwd=Path(__file__).parents[2],
        )
        return perf_counter() - begin

    seconds(_BARE), seconds(_OURS)
    pairs = [(seconds(_OURS), seconds(_BARE)) for _ in range(5)]
    ratio = statistics.median(ours / bare for ours, bare in pairs)
    note("start to first paint", min(p[0] for p in pairs), "s")
    note("start over a bare window's", ratio, "×", START)
    assert ratio <= START
