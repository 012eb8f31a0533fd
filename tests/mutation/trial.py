"""One change tried: a fork of a process that has everything imported which the change does not touch."""

import ast
import contextlib
import importlib
import json
import os
import resource
import signal
import sys
import time
from functools import cache
from pathlib import Path
from typing import IO

import pytest

from tests.mutation.mutants import Mutant, changed_tree, modules, path_of
from tests.mutation.sight import Source

#: Seconds of computing after which a change counts as found, beyond twice what its tests usually take.
_PATIENCE = 8
#: Seconds of tests tried for one change: of those nearest its module, of core's others, of the program's.
_MOST_SECONDS = (6.0, 3.0, 2.0)
_FOUND, _SURVIVED, _NOT_TRIED = 10, 11, 12


def warm_up() -> None:
    """Import what no change touches."""
    for name in (
        *("numpy", "scipy.optimize", "scipy.interpolate", "scipy.linalg", "pydantic", "quantiphy", "jinja2"),
        *("hypothesis", "hypothesis.strategies", "pytestqt.plugin", "PySide6.QtWidgets", "PySide6.QtPdf"),
        *("PySide6.QtPrintSupport", "PySide6.QtSvg", "pyqtgraph", "schemdraw", "schemdraw.elements", "skrf"),
    ):
        with contextlib.suppress(ImportError):
            importlib.import_module(name)


def started(mutants: list[Mutant], sight: dict) -> IO[str]:
    """Try changes of one module in a fork; a stream of JSON lines: number, outcome, seconds.

    The outcome is "found by ...", "survived" or "reached by no test".
    """
    read, write = os.pipe()
    if os.fork() == 0:
        os.close(read)
        _import_untouched(mutants[0].module)
        with os.fdopen(write, "w") as answers:
            for mutant in mutants:
                start = time.monotonic()
                outcome = _outcome(mutant, sight)
                answers.write(json.dumps([mutant.number, outcome, time.monotonic() - start]) + "\n")
                answers.flush()
        os._exit(0)
    os.close(write)
    return os.fdopen(read)


def _outcome(mutant: Mutant, sight: dict) -> str:
    tests = _tests_of(mutant, sight)
    if not any(tests):
        return "reached by no test"
    tree = changed_tree(mutant)
    for stage in tests:
        if stage:
            outcome = _in_fork(mutant, tree, stage, sum(sight["tests"][each] for each in stage))
            if outcome:
                return outcome
    return "survived"


def _tests_of(mutant: Mutant, sight: dict) -> list[list[str]]:
    """The tests that reach a change: nearest, those of core, those of the program; quick ones first."""
    if mutant.body:
        seen = set(sight["seen"].get(f"{mutant.module} {mutant.body}", ()))
    else:
        bodies = _bodies_with(mutant.module, mutant.name)
        seen = {test for body in bodies for test in sight["seen"].get(f"{mutant.module} {body}", ())}
        if not seen:
            all_of_it = [key for key in sight["seen"] if key.startswith(f"{mutant.module} ")]
            seen = {test for key in all_of_it for test in sight["seen"][key]}
    words = mutant.module.rpartition(".")[2]
    stages: list[list[str]] = [[], [], []]
    for test in sorted(seen, key=lambda each: sight["tests"][each]):
        is_app = test.startswith("tests/app")
        near = words in test or any(part in test for part in words.split("_") if len(part) > 3)
        stages[2 if is_app else 0 if near else 1].append(test)
    return [_bounded(*each, sight["tests"]) for each in zip(stages, _MOST_SECONDS, strict=True)]


def _bounded(tests: list[str], most: float, seconds: dict[str, float]) -> list[str]:
    total, kept = 0.0, []
    for test in tests:
        total += seconds[test]
        if total > most and kept:
            break
        kept.append(test)
    return kept


def _bodies_with(module: str, name: str) -> set[int]:
    """Bodies of statements of a module that mention a name of its own."""
    tree = ast.parse(path_of(module).read_text(encoding="utf-8"))
    found: set[int] = set()

    def walk(node: ast.AST, body: int) -> None:
        for field, value in ast.iter_fields(node):
            for each in value if isinstance(value, list) else [value]:
                if isinstance(each, ast.AST):
                    is_body = field in ("body", "orelse", "finalbody") and isinstance(value, list)
                    inside = is_body and (body or isinstance(node, ast.FunctionDef))
                    walk(each, value[0].lineno if inside else body)
        if isinstance(node, ast.Name) and node.id == name and body:
            found.add(body)

    walk(tree, 0)
    return found


def _in_fork(mutant: Mutant, tree: ast.Module, tests: list[str], usual_s: float) -> str:
    """Run tests with the change in place; what found it, or nothing."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read)
        _run(mutant, tree, tests, usual_s, write)
    os.close(write)
    with os.fdopen(read) as answer:
        words = answer.read()
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        return f"found: it ended by signal {os.WTERMSIG(status)}"
    outcomes = {_FOUND: f"found by {words}", _SURVIVED: ""}
    return outcomes.get(os.WEXITSTATUS(status), "not tried: its tests did not start")


def _run(mutant: Mutant, tree: ast.Module, tests: list[str], usual_s: float, write: int) -> None:
    """In the fork: never returns."""
    limit = int(_PATIENCE + 2 * usual_s)
    resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 2))
    signal.alarm(30 * limit)
    nothing = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(nothing, stream)
    sys.meta_path.insert(0, Source({mutant.module: tree}))
    first = _First(tests)
    options = ["-x", "-q", "-p", "no:cacheprovider", "-p", "no:benchmark", "-p", "no:xdist", "--no-header"]
    # Plugins are imported before pytest could rewrite their asserts, which they have none of.
    options += ["-W", "ignore::pytest.PytestAssertRewriteWarning"]
    code = None
    try:
        code = pytest.main([*options, *sorted({test.partition("::")[0] for test in tests})], plugins=[first])
        os.write(write, first.found.encode())
    finally:
        os._exit(_SURVIVED if code == 0 else _FOUND if first.found else _NOT_TRIED)


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
    if name == "core.rig.findings":
        every.update(each for each in modules() if each.startswith("core.rig.rules."))
    return frozenset(each for each in every if each in _all_of_core())
