"""What starting costs: heavy modules are loaded by those who need them, when they need them."""

import subprocess
import sys
from pathlib import Path

import pytest

TOP = Path(__file__).parents[1]


def loaded_by(code: str) -> set[str]:
    script = f"{code}\nimport sys\nprint(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=TOP, check=True)
    return set(done.stdout.split())


@pytest.mark.parametrize(
    "code",
    [
        "import core.rig.analysis, core.rig.start.new_rig, core.rig.survey.if_survey, core.rig.paper.report",
        "from core.model.files import load\nfrom core.model.samples import sample_path\n"
        "from core.rig.analysis import Analysis\nfrom core.rig.rules import inspect\n"
        "inspect(Analysis(load(sample_path())))",
    ],
)
def test_computing_loads_neither_qt_nor_scipys_heavy_parts(code):
    heavy = {
        "PySide6",
        "pyqtgraph",
        "scipy.signal",
        "scipy.optimize",
        "scipy.special",
        "scipy.stats",
        "skrf",
        "schemdraw",
        "jinja2",
    }
    assert not loaded_by(code) & heavy


def test_the_first_page_loads_nothing_of_what_others_need():
    code = (
        "import os\nos.environ['QT_QPA_PLATFORM'] = 'offscreen'\n"
        "import app.window.main_window, app.pages.whole_rig"
    )
    heavy = {"scipy.signal", "scipy.optimize", "scipy.special", "skrf", "schemdraw", "jinja2"}
    # What findings, further pages and menus compute with is imported when somebody first looks there.
    asked_for = ("rules", "remedies", "survey", "bench", "built", "board", "log", "paper", "start", "wound")
    loaded = loaded_by(code)
    assert not loaded & heavy
    assert not {name for name in loaded if name.startswith(tuple(f"core.rig.{room}" for room in asked_for))}
    assert not loaded & {"app.panels.remedy_dialog", "app.panels.birdie_panel", "app.pages.stage"}


def test_the_window_comes_on_screen_before_plots_are_imported():
    code = (
        "import os\nos.environ['QT_QPA_PLATFORM'] = 'offscreen'\n"
        "from app.window.start import application\napp = application()\n"
        "from app.window.main_window import MainWindow\nfrom app.state.workbench import Workbench\n"
        "window = MainWindow(Workbench())\nwindow.show()\nwindow.grab()"
    )
    painted = loaded_by(code)
    assert "app.panels.signal_path" in painted
    assert "pyqtgraph" not in painted
    assert "pyqtgraph" in loaded_by(f"{code}\nfor _ in range(3):\n    app.processEvents()")


def test_small_matrices_are_solved_without_threads():
    code = (
        "import app, os, sys\nassert 'numpy' not in sys.modules\n"
        "assert os.environ['OPENBLAS_NUM_THREADS'] == '1'\n"
        "import numpy as np\nnp.linalg.eigvalsh(np.ones((200, 200)))\n"
        # Where the system lists them.
        "listed = '/proc/self/task'\n"
        "assert not os.path.isdir(listed) or len(os.listdir(listed)) == 1"
    )
    assert "numpy" in loaded_by(code)


def test_what_is_loaded_behind_the_window_comes_in_parts_and_is_all_that_placing_crystals_needs():
    code = (
        "import os\nos.environ['QT_QPA_PLATFORM'] = 'offscreen'\nimport sys\n"
        "import app.window.main_window\nfrom app.state.libraries import PLACING, load_next\n"
        "for _ in PLACING:\n"
        "    before = set(sys.modules)\n    assert load_next(PLACING)\n"
        "    assert len(sys.modules) - len(before) < 160, set(sys.modules) - before\n"
        "assert not load_next(PLACING)\n"
        "before = {name for name in sys.modules if name.startswith('scipy')}\n"
        "from scipy.optimize import linear_sum_assignment\n"
        "assert {name for name in sys.modules if name.startswith('scipy')} == before\n"
        "while load_next():\n    pass\n"
        "before = set(sys.modules)\nfrom scipy.interpolate import PchipInterpolator\n"
        "assert set(sys.modules) == before"
    )
    assert "scipy.fft" in loaded_by(code), "by far the largest part, and so one of its own"


def test_crystals_looked_at_at_once_are_read_while_the_libraries_load_in_turns():
    code = (
        "import os\nos.environ['QT_QPA_PLATFORM'] = 'offscreen'\nimport sys\n"
        "from PySide6.QtWidgets import QApplication\n"
        "from app.pages.crystals import CrystalsPage\nfrom app.state.workbench import Workbench\n"
        "from core.model.files import load\nfrom core.model.samples import sample_path\n"
        "app = QApplication([])\npage = CrystalsPage(bench := Workbench(load(sample_path())))\n"
        "page.show()\npage.refresh(bench)\n"
        "assert page.summary.text() == 'Reading the crystals…', page.summary.text()\n"
        "assert not page.table.rowCount() and not page.fit.isEnabled() and page.readings.toPlainText()\n"
        "turns = [0]\n"
        "while not page.table.rowCount():\n"
        "    before = len(sys.modules)\n    app.processEvents()\n"
        "    turns.append(len(sys.modules) - before)\n"
        "assert max(turns) < 160, turns\n"
        "assert page.fit.isEnabled() and 'meshes lie' in page.summary.text()\n"
        "page._tasks.close()"
    )
    assert "scipy.optimize" in loaded_by(code)


def test_qt_keeps_the_count_of_none(qapp):
    """PySide6 6.12.0 on Python 3.11 takes a reference from None at each such call, and aborts in the end."""
    from PySide6.QtWidgets import QLabel

    label = QLabel()
    before = sys.getrefcount(None)
    for number in range(1000):
        label.setText(str(number))
    assert abs(sys.getrefcount(None) - before) < 100
