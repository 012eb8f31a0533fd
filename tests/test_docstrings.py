"""Everything public in core says what it is."""

import ast
import re
from pathlib import Path

import pytest

FILES = sorted((Path(__file__).parents[1] / "core").glob("**/*.py"))


def public(tree: ast.Module):
    """Public functions, classes and their public methods."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            yield node.name, node
        if isinstance(node, ast.ClassDef):
            for inner in node.body:
                if isinstance(inner, ast.FunctionDef) and not inner.name.startswith("_"):
                    yield f"{node.name}.{inner.name}", inner


@pytest.mark.parametrize("file", FILES, ids=lambda file: f"{file.parent.name}/{file.stem}")
def test_public_things_have_a_docstring(file):
    tree = ast.parse(file.read_text())
    if tree.body:
        assert ast.get_docstring(tree), "the module itself"
    missing = [name for name, node in public(tree) if not ast.get_docstring(node)]
    assert not missing


def test_functions_of_quantities_state_their_units():
    """A public function of `_hz`, `_db` and the like names the unit somewhere in its docstring."""
    units = {"_hz": "Hz", "_db": "dB", "_dbm": "dBm", "_ohm": "ohm", "_w": "W"}
    silent = []
    for file in FILES:
        for name, node in public(ast.parse(file.read_text())):
            if isinstance(node, ast.FunctionDef):
                text = ast.get_docstring(node) or ""
                endings = {end for arg in node.args.args for end in units if arg.arg.endswith(end)}
                if endings and not any(units[end] in text or units[end] == "ohm" for end in endings):
                    silent.append(f"{file.stem}.{name}")
    assert not silent


def test_files_that_are_named_are_there():
    top = Path(__file__).parents[1]
    ours = [
        file.relative_to(top).as_posix()
        for room in ("app", "core", "tests")
        for file in (top / room).rglob("*.py")
    ]
    texts = {name: (top / name).read_text(encoding="utf-8") for name in (*ours, "DEVELOPERS.md", "README.md")}
    named = [
        (name, each)
        for name, text in texts.items()
        for each in re.findall(r"`([a-z_]+(?:/[a-z_]+)*\.py)`", text)
    ]
    assert len(named) > 50
    assert [pair for pair in named if not any(f"/{file}".endswith(f"/{pair[1]}") for file in ours)] == []
