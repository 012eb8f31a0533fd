"""Speed of the window, as budgets and ratios in one run (two slow cores, offscreen).

An edit to every visible plot repainted: 16 ms median, 33 ms p95. Start to first paint: at most twice that
of a bare PySide6 and pyqtgraph window. Memory: no growth beyond the undo limit.
"""

import os
import statistics
import subprocess
import sys
import tracemalloc
from pathlib import Path
from time import perf_counter

import pytest

from app.workbench import UNDO_LIMIT, Workbench
from core.model.files import load
from core.model.samples import sample_path

#: Budgets in milliseconds; the machine that checks may be busy, so the test allows this factor over them and
#: writes the figures themselves beside the result.
MEDIAN_MS, P95_MS, SLACK = 16.0, 33.0, 2.0
START_RATIO = 2.0

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
from app.start import application
from core.model.files import load
from core.model.samples import sample_path
project = load(sample_path())
app = application()
from app.main_window import MainWindow
from app.settings import Settings
from app.workbench import Workbench
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


@pytest.fixture
def shown(qtbot, qapp, tmp_path):
    from app.main_window import MainWindow
    from app.settings import Settings

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


def test_an_edit_of_the_if_is_repainted_within_a_frame(shown, qapp, benchmark):
    start = shown.bench.current.if_hz
    took = []

    def turn() -> None:
        begin = perf_counter()
        shown.bench.edit(("if_hz",), start + 10.0 * (len(took) + 1))
        qapp.processEvents()
        took.append(1e3 * (perf_counter() - begin))

    for _ in range(70):
        turn()
    benchmark.pedantic(turn, rounds=10)
    ordered = sorted(took[10:])
    median, p95 = statistics.median(ordered), ordered[int(0.95 * len(ordered))]
    benchmark.extra_info.update(
        median_ms=median, p95_ms=p95, budget_median_ms=MEDIAN_MS, budget_p95_ms=P95_MS
    )
    assert median <= SLACK * MEDIAN_MS
    assert p95 <= SLACK * P95_MS


def test_start_to_first_paint_against_a_bare_window(benchmark, tmp_path):
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
    pairs = [(seconds(_OURS), seconds(_BARE)) for _ in range(3)]
    ratio = statistics.median(ours / bare for ours, bare in pairs)
    benchmark.extra_info.update(ratio=ratio, budget=START_RATIO, ours_s=min(p[0] for p in pairs))
    benchmark.pedantic(lambda: None, rounds=1)
    assert ratio <= START_RATIO


def test_ten_thousand_edits_leave_only_the_undo_limit_behind():
    bench = Workbench(load(sample_path()))

    def edit(count: int) -> None:
        for step in range(count):
            bench.edit(("stages", "driver", "gain_db"), 10 + step % 977 / 100)

    edit(UNDO_LIMIT + 10)
    tracemalloc.start()
    before, _ = tracemalloc.get_traced_memory()
    edit(10_000)
    after, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    # The limit's steps were made before tracing began; as many traced ones replaced them.
    assert after - before < UNDO_LIMIT * 8_000
