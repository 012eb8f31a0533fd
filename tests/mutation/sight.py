"""Which test passes through which body of statements of core: recorded once, kept while no file changes."""

import ast
import builtins
import functools
import hashlib
import importlib.abc
import importlib.machinery
import importlib.util
import json
import sys
import time
from collections import defaultdict
from collections.abc import Iterator

import pytest

from tests.mutation.mutants import ROOT, modules, path_of

#: Tests that may find a change, nearest the formulas first. The window's own tests look at no formula.
TESTS = (
    ("tests/circuits", "tests/stages", "tests/rig", "tests/published", "core"),
    tuple(
        f"tests/app/test_{name}.py"
        for name in (
            "command_line",
            "parts_table",
            "vfo_view",
            "plots",
            "signal_path",
            "bench_pages",
            "sheet",
            "pages",
        )
    ),
)
_STORED = ROOT / ".benchmarks" / "mutation-sight.json"


class Source(importlib.abc.MetaPathFinder):
    """Finds given modules and makes them from a syntax tree in the place of their file."""

    def __init__(self, trees: dict[str, ast.Module]):
        self._trees = trees

    def find_spec(self, fullname, path=None, target=None):
        """Only for the modules given."""
        if fullname not in self._trees:
            return None
        loader = _Loader(fullname, str(path_of(fullname)), self._trees[fullname])
        return importlib.util.spec_from_file_location(fullname, loader.path, loader=loader)


class _Loader(importlib.machinery.SourceFileLoader):
    """Reads the file for whoever asks for its text, and runs the tree."""

    def __init__(self, name: str, path: str, tree: ast.Module):
        super().__init__(name, path)
        self._tree = tree

    def exec_module(self, module):
        """Run the tree as the module."""
        exec(compile(self._tree, self.path, "exec"), module.__dict__)


def digest() -> str:
    """Of every source that decides what is seen."""
    sums = hashlib.sha256()
    for folder in ("core", "app", "tests"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            if "mutation" not in path.parts:
                sums.update(path.read_bytes())
    return sums.hexdigest()


def recorded() -> dict:
    """{"tests": {node id: seconds}, "seen": {"module body": [node ids]}}, from the store when still true."""
    if _STORED.exists():
        found = json.loads(_STORED.read_text())
        if found["digest"] == digest():
            return found
    print("Recording which test sees what ...", flush=True)
    made = record() | {"digest": digest()}
    _STORED.parent.mkdir(exist_ok=True)
    _STORED.write_text(json.dumps(made))
    return made


def record() -> dict:
    """Run the tests once with every body of statements telling that it was reached."""
    watch = _Watch()
    builtins.__reached__ = watch.reached
    sys.meta_path.insert(0, Source({name: _telling(name) for name in modules()}))
    options = ["-q", "-p", "no:cacheprovider", "-p", "no:benchmark", "--no-header"]
    pytest.main([*options, *(path for stage in TESTS for path in stage)], plugins=[watch])
    failed = [name for name in watch.seconds if name in watch.failed]
    if failed:
        print(f"Left out, since they fail unchanged: {', '.join(failed)}")
    seen: defaultdict[str, list[str]] = defaultdict(list)
    for test, bodies in watch.seen.items():
        if test not in watch.failed:
            for module, body in sorted(bodies | watch.of_file[test.partition("::")[0]]):
                seen[f"{module} {body}"].append(test)
    return {"tests": watch.seconds, "seen": dict(seen)}


class _Watch:
    """Notes for each test what it reached, also through fixtures made earlier and by importing its file."""

    def __init__(self):
        self.now: set = set()
        self.seen: dict[str, set] = {}
        self.of_file: defaultdict[str, set] = defaultdict(set)
        self.of_fixture: defaultdict[str, set] = defaultdict(set)
        self.seconds: dict[str, float] = {}
        self.failed: set[str] = set()

    def reached(self, module: str, body: int) -> None:
        """Called by the sources themselves."""
        self.now.add((module, body))

    @pytest.hookimpl(wrapper=True)
    def pytest_make_collect_report(self, collector) -> Iterator[None]:
        """What a file reaches while it is imported is reached by all its tests."""
        before, self.now = self.now, set()
        report = yield
        self.of_file[collector.nodeid.partition("::")[0]] |= self.now
        self.now = before
        return report

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef, request) -> Iterator[None]:
        """What a fixture reaches is reached by all that use it."""
        before, self.now = self.now, set()
        made = yield
        self.of_fixture[fixturedef.argname] |= self.now
        self.now |= before
        return made

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item) -> Iterator[None]:
        """One test, with nothing remembered from those before."""
        _forget()
        self.now = set()
        start = time.process_time()
        done = yield
        self.seconds[item.nodeid] = time.process_time() - start
        self.seen[item.nodeid] = self.now.union(*(self.of_fixture[name] for name in item.fixturenames))
        return done

    def pytest_runtest_logreport(self, report) -> None:
        """Tests that fail unchanged find nothing."""
        if report.failed:
            self.failed.add(report.nodeid)


def _forget() -> None:
    """Empty the caches of core, so that each test computes what it looks at."""
    for name, module in list(sys.modules.items()):
        if name.partition(".")[0] in ("core", "app"):
            for value in list(vars(module).values()):
                if isinstance(value, functools._lru_cache_wrapper):
                    value.cache_clear()


def _telling(module: str) -> ast.Module:
    """A module's tree in which every body of statements inside functions tells that it was reached."""
    tree = ast.parse(path_of(module).read_text(encoding="utf-8"))
    for function in [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]:
        for node in ast.walk(function):
            for field in ("body", "orelse", "finalbody"):
                body = getattr(node, field, None)
                if isinstance(body, list) and body and not getattr(body[0], "tells", False):
                    line = body[0].lineno
                    first = ast.parse(f"__reached__({module!r}, {line})").body[0]
                    first.tells = True
                    has_words = node is function and ast.get_docstring(function) is not None
                    body.insert(1 if has_words else 0, ast.copy_location(first, body[0]))
                    if has_words:
                        body[0].tells = True
    return ast.fix_missing_locations(tree)
