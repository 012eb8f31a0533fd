"""A window at work, killed amid edits and saves: what is in the file, in its .bak and in the recovery copy.

Each case is a process of its own: `--seed N --count 1` kills that one again, though never at the same
moment, because the clock decides.
"""

import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from random import Random

from core.model.files import load
from core.model.values.errors import FileError
from tests.soak.outcome import Outcome

SAVED = "all whole; everything was saved"
OFFERED = "all whole; unsaved work offered to the last edit"
BEHIND = "all whole; unsaved work offered, its last 10 s at most missing"
YOUNG = "all whole; unsaved work not yet 10 s old lost"
FINE = frozenset({SAVED, OFFERED, BEHIND, YOUNG})
#: Unsaved work older than this is safe, seconds.
SAFE_S = 10.0
#: The IF of edit n is this and n hertz more.
_BASE_HZ = 19_660_000


def cases(count: int, seed: int) -> Iterator[Outcome]:
    """Kill windows `seed`, `seed` + 1 and so on, `count` of them."""
    for each in range(seed, seed + count):
        yield Outcome(kill(each), f"python -m tests.soak kills --seed {each} --count 1")


def kill(seed: int, longest_s: float = 14.0) -> str:
    """Let a window work, kill it after up to `longest_s` of edits, and look at what is left."""
    chance = Random(seed)
    after = chance.uniform(0.05, longest_s)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        words = [sys.executable, "-m", "tests.soak.kills", name, str(seed)]
        log = folder / "log"
        with log.open("wb") as told, subprocess.Popen(words, stdout=told) as process:
            end = time.monotonic() + 120
            while b"edit 1 " not in log.read_bytes():
                if process.poll() is not None or time.monotonic() > end:
                    process.kill()
                    return "the window did not start"
                time.sleep(0.02)
            time.sleep(after)
            at = time.time()
            process.send_signal(getattr(signal, "SIGKILL", signal.SIGTERM))
        return judged(folder, log.read_text(), at)


def judged(folder: Path, log: str, killed_s: float) -> str:
    """What a killed window left in its folder, given what it told before and when it was killed."""
    edits: dict[int, float] = {}
    saved = saving = 0
    # The last line may have been cut off with the window.
    for line in log[: log.rfind("\n") + 1].splitlines():
        what, number, moment = line.split(" ")
        if what == "edit":
            edits[int(number)] = float(moment)
        elif what == "saving":
            saving = int(number)
        else:
            saved = int(number)
    file = folder / "rig.json"
    try:
        held = round(load(file).if_hz) - _BASE_HZ
    except FileError:
        return "the file is broken"
    # An edit that was not yet told, and a save that was under way, may be in it.
    if held not in (saved, saving, saving + 1):
        return "the file holds another state"
    if file.with_name("rig.json.bak").exists():
        try:
            load(file.with_name("rig.json.bak"))
        except FileError:
            return "the .bak is broken"
    unsaved = {number: moment for number, moment in edits.items() if number > held}
    if not unsaved:
        return SAVED
    copy = offered(folder / "recovery")
    if copy is None:
        return YOUNG if killed_s - min(unsaved.values()) < SAFE_S else "old unsaved work lost"
    if copy >= max(unsaved):
        return OFFERED
    lacking = min(moment for number, moment in unsaved.items() if number > copy)
    return BEHIND if killed_s - lacking < SAFE_S else "the copy is too old"


def offered(folder: Path) -> int | None:
    """The edit that the offered copy holds; None when nothing is offered."""
    from app.state.recovery import Recovery
    from app.state.workbench import Workbench

    found = Recovery(Workbench(), folder).leftovers()
    return max((round(each.load().if_hz) - _BASE_HZ for each in found), default=None)


def _work(folder: Path, chance: Random) -> None:
    """Edit and save through the widgets for ever, telling what was done."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from PySide6.QtCore import QStandardPaths, Qt
    from PySide6.QtTest import QTest

    from app.state.recovery import Recovery
    from app.state.settings import Settings
    from app.state.workbench import Workbench
    from app.window.main_window import MainWindow
    from app.window.start import application
    from core.model.files import save
    from core.model.samples import sample_path

    QStandardPaths.setTestModeEnabled(True)
    application()
    start = load(sample_path()).edited(("if_hz",), float(_BASE_HZ))
    save(start, folder / "rig.json")
    bench = Workbench()
    bench.open(folder / "rig.json")
    recovery = Recovery(bench, folder / "recovery")
    window = MainWindow(bench, Settings(folder / "settings.ini"), recovery)
    window.show()
    field = window.frequency_bar.intermediate
    # Some save often, some never; some pause between edits, some never do.
    saves, pause_s = chance.choice((0.0, 0.0, 0.1, 0.5)), chance.choice((0.05, 0.2, 1.5, 2.5))
    number = 0
    while True:
        number += 1
        field.setFocus()
        field.selectAll()
        QTest.keyClicks(field, f"{(_BASE_HZ + number) / 1e6:.6f} MHz")
        QTest.keyClick(field, Qt.Key.Key_Return)
        _tell("edit", number)
        if chance.random() < saves:
            _tell("saving", number)
            QTest.keyClick(window, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
            if not bench.dirty:
                _tell("saved", number)
        QTest.qWait(round(1000 * chance.uniform(0.5, 1.0) * pause_s))


def _tell(what: str, number: int) -> None:
    print(what, number, time.time(), flush=True)


if __name__ == "__main__":
    _work(Path(sys.argv[1]), Random(int(sys.argv[2])))
