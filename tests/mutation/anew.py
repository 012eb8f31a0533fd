"""One change tried by importing its module anew, in a fork that has all else imported."""

import ast
import contextlib
import importlib
import json
import os
import sys
import time
from functools import cache
from pathlib import Path
from typing import IO

import pytest

from tests.mutation.mutants import Mutant, changed_tree, modules, path_of
from tests.mutation.sight import Source
from tests.mutation.trial import OPTIONS, SURVIVED, in_fork, limit_seconds, silence, tests_of


def warm_up() -> None:
    """Import what no change touches."""
    for name in (
        *("numpy", "scipy.optimize", "scipy.interpolate", "scipy.linalg", "pydantic", "jinja2"),
        *("hypothesis", "hypothesis.strategies", "pytestqt.plugin", "PySide6.QtWidgets", "PySide6.QtPdf"),
        *("PySide6.QtPrintSupport", "PySide6.QtSvg", "pyqtgraph", "schemdraw", "schemdraw.elements", "skrf"),
    ):
        with contextlib.suppress(ImportError):
            importlib.import_module(name)


def started(mutants: list[Mutant], sight: dict) -> IO[str]:
    """As `trial.started`, for changes of one module."""
    read, write = os.pipe()
    if os.fork() == 0:
        os.close(read)
        _import_untouched(mutants[0].module)
        with os.fdopen(write, "w") as answers:
            for place, mutant in enumerate(mutants):
                start = time.monotonic()
                tests = tests_of(mutant, sight)
                outcome = in_fork(lambda m=mutant, t=tests: _try(m, t, sight["tests"]))
                answers.write(json.dumps([place, outcome, time.monotonic() - start]) + "\n")
                answers.flush()
        os._exit(0)
    os.close(write)
    return os.fdopen(read)


def _try(mutant: Mutant, tests: list[str], seconds: dict[str, float]) -> str:
    """In the fork."""
    silence()
    limit_seconds(sum(seconds[each] for each in tests))
    sys.meta_path.insert(0, Source({mutant.module: changed_tree(mutant)}))
    first = _First(tests)
    files = sorted({test.partition("::")[0] for test in tests})
    code = pytest.main(["-x", *OPTIONS, *files], plugins=[first])
    if first.found:
        return f"found by {first.found}"
    return SURVIVED if code == 0 else "not tried: its tests did not start"


class _First:
    """Keeps the tests asked for, in the order asked for, and the name of the first that fails."""

    def __init__(self, tests: list[str]):
        self.order = {test: position for position, test in enumerate(tests)}
        self.found = ""

    def pytest_collection_modifyitems(self, items) -> None:
        """Only these, quick ones first."""
        items[:] = sorted(
            (item for item in items if item.nodeid in self.order), key=lambda item: self.order[item.nodeid]
        )

    def pytest_runtest_logreport(self, report) -> None:
        """The first failure."""
        if report.failed and not self.found:
            self.found = report.nodeid

    def pytest_collectreport(self, report) -> None:
        """A file that no longer imports."""
        if report.failed and not self.found:
            self.found = report.nodeid


def _import_untouched(changed: str) -> None:
    """Import every module of core that does not import, directly or through others, the changed one."""
    for name in _all_of_core():
        if changed not in _imports_with(name):
            with contextlib.suppress(ImportError):
                importlib.import_module(name)


@cache
def _all_of_core() -> tuple[str, ...]:
    top = Path(path_of("core")).parent
    every = []
    for path in sorted(top.rglob("*.py")):
        name = ".".join(path.relative_to(top.parent).with_suffix("").parts).removesuffix(".__init__")
        if not path.is_relative_to(top / "sample_projects"):
            every.append(name)
    return tuple(every)


@cache
def _imports_with(name: str) -> frozenset[str]:
    """A module and all that it imports at its top, through others too."""
    found, waiting = {name}, [name]
    while waiting:
        for other in _imports_of(waiting.pop()):
            if other not in found:
                found.add(other)
                waiting.append(other)
    return frozenset(found)


@cache
def _imports_of(name: str) -> frozenset[str]:
    tree = ast.parse(path_of(name).read_text(encoding="utf-8"))
    every: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            every.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            every.add(node.module)
            every.update(f"{node.module}.{alias.name}" for alias in node.names)
    # Its packages are imported first, with all that they import.
    parts = name.split(".")
    every.update(".".join(parts[:many]) for many in range(1, len(parts)))
    if name == "core.rig.findings":
        every.update(each for each in modules() if each.startswith("core.rig.rules."))
    return frozenset(each for each in every if each in _all_of_core())
