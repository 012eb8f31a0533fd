"""Speed: measured as ratios within one run, printed in a table, and stored beside it.

Run by its own command only, `python -m pytest tests/benchmarks`; the suite does not collect this folder, for
a slow machine is no fault of the program.
"""

import json
import statistics
from collections.abc import Callable
from pathlib import Path
from time import perf_counter

import pytest

#: Where the figures of the last run are stored, below the checkout.
STORED = Path(".benchmarks/figures.json")
_FIGURES: dict[str, dict[str, float | str | None]] = {}

#: Writes a figure down: name, value, unit ("×" for a ratio), budget.
Noted = Callable[..., None]


@pytest.fixture
def note() -> Noted:
    """Write a figure down with its budget; an asserted budget is a ratio of one run."""

    def write(name: str, value: float, unit: str, budget: float | None = None) -> None:
        _FIGURES[name] = {"value": value, "unit": unit, "budget": budget}

    return write


def median_s(work: Callable[[], object], rounds: int) -> float:
    """Median time [s] of a piece of work."""
    took = []
    for _ in range(rounds):
        begin = perf_counter()
        work()
        took.append(perf_counter() - begin)
    return statistics.median(took)


def pytest_terminal_summary(terminalreporter, config) -> None:
    if not _FIGURES:
        return
    terminalreporter.section("speed")
    for name, row in _FIGURES.items():
        budget = "" if row["budget"] is None else f"budget {row['budget']:g}"
        terminalreporter.write_line(f"{name:<76} {row['value']:>10.4g} {row['unit']:<3} {budget}")
    target = config.rootpath / STORED
    target.parent.mkdir(exist_ok=True)
    target.write_text(json.dumps(_FIGURES, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
    terminalreporter.write_line(f"stored in {STORED}")
