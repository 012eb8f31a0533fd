"""What the program imports is what it declares, and nothing else."""

import ast
import re
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

ROOT = Path(__file__).parents[1]


def imported(*folders: str) -> set[str]:
    """The top names of all modules imported in the folders, besides the standard library's and our own."""
    found: set[str] = set()
    for file in (each for folder in folders for each in (ROOT / folder).rglob("*.py")):
        for node in ast.walk(ast.parse(file.read_text())):
            if isinstance(node, ast.Import):
                found |= {name.name.partition(".")[0] for name in node.names}
            elif isinstance(node, ast.ImportFrom) and not node.level:
                found.add(str(node.module).partition(".")[0])
    return found - set(sys.stdlib_module_names) - {"app", "core", "tests"}


def normal(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def declared(*groups: str) -> set[str]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    lines = list(project["dependencies"])
    for group in groups:
        lines += project["optional-dependencies"][group]
    return {normal(re.split(r"[<>=~! \[]", line)[0]) for line in lines}


def sources(names: set[str]) -> set[str]:
    """The distributions that the modules come from; of several that share a name those that are declared."""
    owners = packages_distributions()
    found = set()
    for name in names:
        own = {normal(each) for each in owners[name]}
        found |= own & declared("test") or own
    return found


def test_what_the_program_imports_is_what_it_declares():
    # pydantic_core comes with the pydantic of its very version, and declares nothing of its own.
    needed = sources(imported("app", "core") - {"pydantic_core"}) - {"shiboken6"}
    assert needed == declared()


def test_what_the_tests_import_is_declared_too():
    assert sources(imported("tests") - {"pydantic_core", "PySide6", "shiboken6"}) <= declared("test")
