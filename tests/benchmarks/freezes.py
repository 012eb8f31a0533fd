"""How long the window is held up by what a builder does seldom: pages, colours, paper, bags.

    python -m tests.benchmarks.freezes

Prints the longest stretch of the GUI thread's own time [ms] between two looks at the event queue. Nothing is
asserted: 200 ms is where a hand notices.
"""

import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from time import perf_counter, thread_time

from core.rig.bench import crystal_bench
from tests.bags import with_table

#: The queue is watched for so long after each act, seconds.
_WATCH_S = 1.2


def main() -> None:
    """Do each act once and print its longest stretch."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from PySide6.QtCore import QStandardPaths

    from app.state.libraries import load_the_rest
    from app.state.settings import Settings
    from app.state.workbench import Workbench
    from app.window.main_window import MainWindow
    from app.window.start import application
    from core.model.files import load
    from core.model.samples import sample_path

    QStandardPaths.setTestModeEnabled(True)
    app = application()
    bench = Workbench(load(sample_path()))
    with tempfile.TemporaryDirectory() as folder:
        window = MainWindow(bench, Settings(Path(folder) / "settings.ini"))
        window.resize(1440, 900)
        window.show()

        def longest(name: str, act: Callable[[], object]) -> None:
            begin = thread_time()
            act()
            most = thread_time() - begin
            end = perf_counter() + _WATCH_S
            while perf_counter() < end:
                begin = thread_time()
                app.processEvents()
                most = max(most, thread_time() - begin)
            print(f"{name:42s} {1e3 * most:6.0f} ms")

        longest("the window's first turns", lambda: None)
        longest("libraries loaded behind it", lambda: load_the_rest(window))
        longest("other colours, one page made", lambda: window.colours.choose("dark"))
        for name in window.pages.names:
            longest(f"first look at {name}", lambda name=name: window.pages.show_page(name))
        longest("an edit with Build sheet on show", lambda: bench.edit(("if_hz",), 19.67e6))
        page = window.pages.current
        longest("other paper", lambda: (page.paper.setCurrentIndex(1), page.paper.activated.emit(1)))
        longest("other colours, every page made", lambda: window.colours.choose("light"))
        window.pages.show_page("Crystals")
        head, *lines = crystal_bench.table_text(bench.current.crystal_batch).splitlines()
        for rows in (400, 1000, 2000):
            bag = [f"{n};{lines[n % len(lines)].split(';', 1)[1]}" for n in range(rows)]
            table = "\n".join([head, *bag])
            longest(
                f"{rows} readings pasted",
                lambda table=table: bench.change(lambda rig: with_table(rig, table), label="readings"),
            )
            longest(f"the IF with {rows} readings", lambda rows=rows: bench.edit(("if_hz",), 19.66e6 + rows))
        bench.start(bench.current)
        window.close()
        window.deleteLater()


if __name__ == "__main__":
    main()
