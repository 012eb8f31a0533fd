"""One change tried, in a fork of a process that has collected every test.

A change inside a function is put into the living function, a changed number at the top of a module into every
module that knows it by its name. Where that cannot be, or where it was not found and would also act while
modules are imported, it is left to `anew.py`.
"""

import ast
import gc
import json
import os
import resource
import signal
import sys
import tempfile
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from functools import cache
from types import CodeType, FunctionType
from typing import IO

import pytest

from tests.mutation.mutants import ROOT, Mutant, changed_tree, modules, path_of
from tests.mutation.sight import files_of_tests, forget

#: Seconds of computing after which a change counts as found, beyond twice what a test usually takes.
PATIENCE = 8
#: Seconds of tests tried for one change: of those nearest its module, of core's others, of the program's.
_MOST_SECONDS = (4.0, 3.0, 1.5)
#: Minutes after which a change counts as found though it does not compute.
_LONGEST_MIN = 10
#: The outcome of a change that is to be tried by importing its module anew.
ANEW = "to be tried anew"
SURVIVED = "survived"
#: Plugins are imported before pytest could rewrite their asserts, which they have none of.
_UNWRITTEN = "ignore::pytest.PytestAssertRewriteWarning"
OPTIONS = (
    "-W",
    _UNWRITTEN,
    "-p",
    "no:cacheprovider",
    "-p",
    "no:benchmark",
    "-p",
    "no:xdist",
    "-p",
    "no:terminal",
)


def started(mutants: list[Mutant], sight: dict) -> IO[str]:
    """Try changes in a fork; a stream of JSON lines: place in the list, outcome, seconds.

    The outcome is "found by ...", "survived", "reached by no test" or `ANEW`.
    """
    read, write = os.pipe()
    if os.fork() == 0:
        os.close(read)
        with os.fdopen(write, "w") as answers, tempfile.TemporaryDirectory() as folder:
            silence()
            pytest.main(
                [*OPTIONS, f"--basetemp={folder}/tests", *files_of_tests()],
                plugins=[_Trials(mutants, sight, answers)],
            )
        os._exit(0)
    os.close(write)
    return os.fdopen(read)


def silence() -> None:
    """Send what pytest prints nowhere."""
    nothing = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(nothing, stream)


class _Trials:
    """The loop over the tests: a fork for each change, which runs the tests that reach it."""

    def __init__(self, mutants: list[Mutant], sight: dict, answers: IO[str]):
        self.mutants = mutants
        self.sight = sight
        self.answers = answers
        self.found = ""
        self.finders: defaultdict[str, Counter[str]] = defaultdict(Counter)

    def pytest_configure(self) -> None:
        """A test that fails is enough: no smaller example is looked for, and none is kept."""
        from hypothesis import Phase, settings

        settings.register_profile("change", phases=(Phase.explicit, Phase.generate), database=None)
        settings.load_profile("change")

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """The first failure."""
        if report.failed and not self.found:
            self.found = report.nodeid

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Try every change."""
        items = {item.nodeid: item for item in session.items}
        functions = _living_functions()
        _names_at_top()  # for all the forks
        gc.freeze()
        for place, mutant in enumerate(self.mutants):
            start = time.monotonic()
            # What found a change of the module before is likely to find another.
            finders = self.finders[mutant.module]
            tests = sorted(
                (test for test in tests_of(mutant, self.sight) if test in items),
                key=lambda t, f=finders: -f[t],
            )
            outcome = "reached by no test"
            if tests:
                outcome = in_fork(lambda m=mutant, t=tests: self._try(m, functions, [items[n] for n in t]))
            if outcome == SURVIVED and f"{mutant.module} {mutant.body}" in self.sight["imported"]:
                outcome = ANEW
            finders[outcome.removeprefix("found by ")] += 1
            self.answers.write(json.dumps([place, outcome, time.monotonic() - start]) + "\n")
            self.answers.flush()
        return True

    def _try(self, mutant: Mutant, functions: dict, items: list[pytest.Item]) -> str:
        """In the fork."""
        tree = changed_tree(mutant)
        if not (_put_into_functions(mutant, tree, functions) if mutant.body else _put_at_top(mutant, tree)):
            return ANEW
        forget()
        for item, following in zip(items, [*items[1:], None], strict=True):
            limit_seconds(self.sight["tests"][item.nodeid])
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            if self.found:
                return f"found by {self.found}"
        return SURVIVED


def in_fork(work) -> str:
    """What work says in a fork, or by which signal it ended."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read)
        try:
            os.write(write, work().encode())
        finally:
            os._exit(0)
    os.close(write)
    with os.fdopen(read) as answer:
        words = answer.read()
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        return f"found: it ended by signal {os.WTERMSIG(status)}"
    return words or "not tried: its tests did not start"


def limit_seconds(usual_s: float) -> None:
    """End this process when it computes much longer from now on than a test usually takes."""
    used = sum(resource.getrusage(resource.RUSAGE_SELF)[:2])
    _, most = resource.getrlimit(resource.RLIMIT_CPU)
    resource.setrlimit(resource.RLIMIT_CPU, (int(used + PATIENCE + 2 * usual_s), most))
    signal.alarm(60 * _LONGEST_MIN)


def _living_functions() -> dict[tuple[str, str, int], list[FunctionType]]:
    """The functions of core by module, name and first line, wherever they are kept."""
    found = defaultdict(list)
    for each in gc.get_objects():
        if isinstance(each, FunctionType) and str(each.__module__).startswith("core."):
            found[each.__module__, each.__code__.co_qualname, each.__code__.co_firstlineno].append(each)
    return found


def _put_into_functions(mutant: Mutant, tree: ast.Module, functions: dict) -> bool:
    """Give the living functions of a module the code of the changed tree; False where none changes."""
    changed = False
    for code in _codes(compile(tree, str(path_of(mutant.module)), "exec")):
        for function in functions.get((mutant.module, code.co_qualname, code.co_firstlineno), ()):
            if function.__code__ != code:
                if len(function.__code__.co_freevars) != len(code.co_freevars):
                    return False
                function.__code__ = code
                changed = True
    return changed


def _codes(code: CodeType) -> Iterator[CodeType]:
    for each in code.co_consts:
        if isinstance(each, CodeType):
            yield each
            yield from _codes(each)


def _put_at_top(mutant: Mutant, tree: ast.Module) -> bool:
    """Give a changed value to its name in every module; False where the value may have gone into others."""
    if _names_at_top().intersection(mutant.name.strip("()").split(", ")):
        return False
    for node in tree.body:
        if not isinstance(node, ast.Assign | ast.AnnAssign) or not node.value:
            continue
        target = node.targets[0] if isinstance(node, ast.Assign) else node.target
        if ast.unparse(target) != mutant.name:
            continue
        known = vars(sys.modules[mutant.module])
        value = eval(compile(ast.Expression(node.value), mutant.module, "eval"), dict(known))
        targets, values = ([target], [value]) if isinstance(target, ast.Name) else (target.elts, [*value])
        if len(targets) != len(values):
            return False
        for each, becomes in zip(targets, values, strict=True):
            was = known[each.id]
            for module in list(sys.modules.values()):
                if vars(module).get(each.id) is was:
                    setattr(module, each.id, becomes)
        return True
    return False


@cache
def _names_at_top() -> frozenset[str]:
    """Names that are read while some module is imported, or that have another name there."""
    found: set[str] = set()

    def walk(node: ast.AST) -> None:
        for field, value in ast.iter_fields(node):
            if field == "body" and isinstance(node, ast.FunctionDef):
                continue
            for each in value if isinstance(value, list) else [value]:
                if isinstance(each, ast.AST):
                    walk(each)
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
            found.add(node.id)
        elif isinstance(node, ast.Attribute):
            found.add(node.attr)
        elif isinstance(node, ast.alias) and node.asname:
            found.add(node.name)

    for folder in ("core", "app", "tests"):
        for path in (ROOT / folder).rglob("*.py"):
            walk(ast.parse(path.read_text(encoding="utf-8")))
    return frozenset(found)


def tests_of(mutant: Mutant, sight: dict) -> list[str]:
    """The tests that reach a change: nearest, those of core, those of the program; quick ones first."""
    if mutant.body:
        seen = set(sight["seen"].get(f"{mutant.module} {mutant.body}", ()))
    else:
        bodies = _bodies_with(mutant.module, mutant.name)
        seen = {test for body in bodies for test in sight["seen"].get(f"{mutant.module} {body}", ())}
        # A test that looks at the value itself passes by no body.
        names = mutant.name.strip("()").split(", ")
        seen |= {test for test in sight["tests"] if any(name in _text_of(test) for name in names)}
        if not seen:
            # A table of expressions alone has no bodies; those that import it have.
            for near in ([mutant.module], _importers(mutant.module)):
                keys = [key for key in sight["seen"] if key.partition(" ")[0] in near]
                seen = seen or {test for key in keys for test in sight["seen"][key]}
    words = mutant.module.rpartition(".")[2]
    stages: list[list[str]] = [[], [], []]
    # Quick ones first, and those that pass through little else.
    for test in sorted(seen, key=lambda each: sight["tests"][each] * sight["reach"][each]):
        is_app = test.startswith("tests/app")
        near = words in test or any(part in test for part in words.split("_") if len(part) > 3)
        stages[2 if is_app else 0 if near else 1].append(test)
    return [
        test
        for stage, most in zip(stages, _MOST_SECONDS, strict=True)
        for test in _bounded(stage, most, sight["tests"])
    ]


@cache
def _text_of(test: str) -> str:
    return (ROOT / test.partition("::")[0]).read_text("utf-8")


def _importers(module: str) -> list[str]:
    return [each for each in modules() if f"from {module} import" in path_of(each).read_text("utf-8")]


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
