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
    ("tests/pictures",),
    tuple(
        f"tests/app/test_{name}.py"
        for name in (
            "command_line",
            "crystals_command",
            "curves_command",
            "parts_table",
            "vfo_view",
            "plots",
            "signal_path",
            "crystals_page",
            "tolerance_page",
            "sheet",
            "stage_page",
            "survey_page",
        )
    ),
)
#: Where the bodies of statements hang.
_FIELDS = ("body", "orelse", "finalbody")
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


def files_of_tests() -> list[str]:
    """The files with tests that may find a change, nearest the formulas first."""
    found = []
    for each in (ROOT / name for stage in TESTS for name in stage):
        inside = sorted(each.rglob("*.py")) if each.is_dir() else [each]
        found += [
            path for path in inside if path.stem.startswith("test_") or ">>> " in path.read_text("utf-8")
        ]
    return [path.relative_to(ROOT).as_posix() for path in found]


def recorded() -> dict:
    """What each test reaches, from the store where that is still true.

    {"tests": {node id: seconds}, "reach": {node id: number of bodies}, "seen": {"module body": [node ids]},
    "imported": ["module body"]}; the last are reached while the files with the tests are imported.
    """
    files = json.loads(_STORED.read_text()) if _STORED.exists() else {}
    wanted = files_of_tests()
    old = [name for name in wanted if files.get(name, {}).get("digest") != _digest(name, files.get(name))]
    if old:
        print(f"Recording which test sees what, in {len(old)} of {len(wanted)} files ...", flush=True)
        files = {name: files[name] for name in wanted if name in files} | record(old)
        _STORED.parent.mkdir(exist_ok=True)
        _STORED.write_text(json.dumps(files))
    seen: defaultdict[str, list[str]] = defaultdict(list)
    for found in files.values():
        for test, bodies in found["seen"].items():
            for body in sorted({*bodies, *found["imported"]}):
                seen[body].append(test)
    return {
        "tests": {test: s for found in files.values() for test, s in found["seconds"].items()},
        "reach": {test: len(bodies) for found in files.values() for test, bodies in found["seen"].items()},
        "seen": dict(seen),
        "imported": sorted({body for found in files.values() for body in found["imported"]}),
    }


def _digest(name: str, found: dict | None) -> str:
    """Of a file with tests, and of where the bodies begin that its tests may reach."""
    sums = hashlib.sha256((ROOT / name).read_bytes())
    bodies = [body for each in (found or {}).get("seen", {}).values() for body in each]
    for module in sorted({body.partition(" ")[0] for body in (*bodies, *(found or {}).get("imported", ()))}):
        sums.update(repr(_bodies(module)).encode())
    return sums.hexdigest()


@functools.cache
def _bodies(module: str) -> list[int]:
    """First lines of all bodies of statements inside functions; none where the module is gone."""
    path = path_of(module)
    if not path.exists():
        return []
    tree = ast.parse(path.read_text("utf-8"))
    return sorted(
        {
            body[0].lineno
            for function in ast.walk(tree)
            if isinstance(function, ast.FunctionDef)
            for node in ast.walk(function)
            for field in _FIELDS
            if isinstance(body := getattr(node, field, None), list) and body
        }
    )


def record(names: list[str]) -> dict:
    """Run files of tests once with every body of statements telling that it was reached; a record of each."""
    watch = _Watch()
    builtins.__reached__ = watch.reached
    sys.meta_path.insert(0, Source({name: _telling(name) for name in modules()}))
    options = ["-q", "--continue-on-collection-errors", "-p", "no:cacheprovider", "-p", "no:benchmark"]
    options.append("--no-header")
    code = pytest.main([*options, *names], plugins=[watch])
    if code not in (pytest.ExitCode.OK, pytest.ExitCode.TESTS_FAILED):
        # Kept, it would make every change look as if no test saw it.
        raise SystemExit(f"The tests did not run to their end ({code!r}); nothing was recorded.")
    if watch.failed:
        print(f"Left out, since they fail unchanged: {', '.join(sorted(watch.failed))}")
    made: dict[str, dict] = {}
    for name in names:
        tests = [
            each for each in watch.seconds if each.partition("::")[0] == name and each not in watch.failed
        ]
        made[name] = {
            "seconds": {test: watch.seconds[test] for test in tests},
            "seen": {test: sorted(f"{m} {body}" for m, body in watch.seen[test]) for test in tests},
            "imported": sorted(f"{m} {body}" for m, body in watch.of_file[name]),
        }
        made[name]["digest"] = _digest(name, made[name])
    return made


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
        forget()
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


def forget() -> None:
    """Empty the caches of core, so that each test computes what it looks at."""
    for name, module in list(sys.modules.items()):
        if name.partition(".")[0] in ("core", "app"):
            for value in list(vars(module).values()):
                # A class of caches, imported by name, is none itself.
                if not isinstance(value, type) and callable(getattr(value, "cache_clear", None)):
                    value.cache_clear()


def _telling(module: str) -> ast.Module:
    """A module's tree in which every body of statements inside functions tells that it was reached."""
    tree = ast.parse(path_of(module).read_text(encoding="utf-8"))
    for function in [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]:
        for node in ast.walk(function):
            for field in _FIELDS:
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
