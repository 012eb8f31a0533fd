"""Imports run one way. Every import counts, also those inside functions; an unknown folder fails."""

import ast
from pathlib import Path

TOP = Path(__file__).parents[1]
#: Package to the packages of this project that it may import from, besides itself.
MAY_IMPORT = {
    "core.model": set(),
    "core.trade": set(),
    "core.circuits": set(),
    "core.stages": {"core.circuits", "core.model", "core.trade"},
    "core.rig": {"core.stages", "core.circuits", "core.model", "core.trade"},
    "app": {
        "core.model",
        "core.trade",
        "core.circuits",
        "core.stages",
        "core.rig",
        "app.plots",
        "app.pages",
        "app.sheet",
    },
    "app.plots": {"app", "core.model", "core.circuits", "core.stages", "core.rig"},
    "app.pages": {
        "app",
        "app.plots",
        "app.sheet",
        "core.model",
        "core.trade",
        "core.circuits",
        "core.stages",
        "core.rig",
    },
    "app.sheet": {"app", "core.model", "core.circuits", "core.stages", "core.rig"},
}
QT = {"PySide6", "shiboken6", "pyqtgraph"}


def package_of(module: str) -> str:
    """The package of this project that a module belongs to."""
    parts = module.split(".")
    if parts[0] == "core":
        return ".".join(parts[:2])
    return ".".join(parts[:2]) if len(parts) > 1 and ".".join(parts[:2]) in MAY_IMPORT else "app"


def modules() -> dict[str, Path]:
    files = [*TOP.glob("core/**/*.py"), *TOP.glob("app/**/*.py")]
    found = {}
    for file in files:
        name = ".".join(file.relative_to(TOP).with_suffix("").parts)
        found[name.removesuffix(".__init__")] = file
    return found


def imports(file: Path) -> set[str]:
    """Every module that a file imports, with names of `from` imports that are modules themselves."""
    known = modules()
    found = set()
    for node in ast.walk(ast.parse(file.read_text())):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{file} imports relatively"
            inner = {f"{node.module}.{alias.name}" for alias in node.names}
            found |= {each for each in inner if each in known} or {str(node.module)}
    return found


def test_every_folder_is_known():
    packages = {package_of(name) for name in modules() if name not in ("core", "app")}
    assert packages == set(MAY_IMPORT)


def test_imports_run_one_way():
    for name, file in modules().items():
        if name == "core":
            assert not imports(file)
            continue
        mine = package_of(name)
        for other in imports(file):
            if other.split(".")[0] not in ("core", "app"):
                continue
            theirs = package_of(other)
            assert theirs == mine or theirs in MAY_IMPORT[mine], f"{name} imports {other}"


def test_core_knows_no_window():
    for name, file in modules().items():
        if name.startswith("core"):
            assert not {each.split(".")[0] for each in imports(file)} & (QT | {"app"}), name


def test_circuits_and_stages_never_see_the_project():
    for name, file in modules().items():
        if name.startswith(("core.circuits", "core.stages")):
            assert "core.model.project" not in imports(file), name


def test_no_cycles_in_core():
    known = {
        name: {each for each in imports(file) if each.startswith("core.")} for name, file in modules().items()
    }
    core = {name: others for name, others in known.items() if name.startswith("core.")}
    # For type checkers only: findings name the analysis that calls them.
    core["core.rig.findings"].discard("core.rig.analysis")
    done: set[str] = set()

    def visit(name: str, trail: tuple[str, ...]) -> None:
        assert name not in trail, f"cycle: {' -> '.join([*trail, name])}"
        if name in done:
            return
        for other in core.get(name, ()):
            visit(other, (*trail, name))
        done.add(name)

    for name in core:
        visit(name, ())
