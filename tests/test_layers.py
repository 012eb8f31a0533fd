"""Imports run one way. Every import counts, also those inside functions; an unknown folder fails."""

import ast
from functools import cache
from pathlib import Path

import pytest

TOP = Path(__file__).parents[1]
#: The house from the ground up: a folder imports from itself and from storeys below, never from beside or
#: above.
STOREYS = (
    ("core",),
    ("core.circuits.devices",),
    ("core.circuits", "core.model.values"),
    (
        "core.circuits.active",
        "core.circuits.coils",
        "core.circuits.power",
        "core.circuits.shapes",
        "core.circuits.switching",
        "core.model.stages",
        "core.model.supply",
        "core.trade",
    ),
    ("core.circuits.supply", "core.model.boards", "core.model.notebook", "core.trade.supply"),
    ("core.model",),
    ("core.stages", "core.trade.bodies"),
    ("core.stages.coils", "core.stages.tolerance"),
    ("core.stages.fitting",),
    (
        "core.stages.amplifiers",
        "core.stages.audio",
        "core.stages.band_pass",
        "core.stages.crystals",
        "core.stages.filters",
        "core.stages.mixers",
        "core.stages.power_amplifier",
        "core.stages.vfo",
    ),
    ("core.stages.built", "core.stages.crystal_oscillator"),
    ("core.stages.kinds",),
    ("core.rig.plan",),
    ("core.rig.bench", "core.rig.levels", "core.rig.spurs"),
    ("core.rig.read_out", "core.rig.survey"),
    ("core.rig",),
    (
        "core.rig.built",
        "core.rig.power",
        "core.rig.supply",
        "core.rig.wound",
    ),
    ("core.rig.board",),
    ("core.rig.figures",),
    ("core.rig.audio",),
    ("core.rig.sections",),
    ("core.rig.rules.bench", "core.rig.rules.mixing", "core.rig.rules.power"),
    ("core.rig.rules", "core.rig.workshop"),
    ("core.rig.paper", "core.rig.start"),
    ("core.rig.log", "core.rig.remedies"),
    ("app.photographs", "app.style"),
    ("app.state",),
    ("app.pictures",),
    ("app.pictures.bench", "app.pictures.panels", "app.pictures.rig", "app.pictures.stages"),
    ("app.pictures.audio", "app.pictures.power"),
    ("app.sheet.content",),
    ("app.sheet.flow", "app.sheet.sketches"),
    ("app.widgets",),
    ("app.boards", "app.plots", "app.sheet"),
    ("app.stage_views.cards",),
    ("app.panels", "app.stage_views"),
    ("app.pages",),
    ("app.pages.notebook", "app.pages.supply"),
    ("app.window",),
    ("app.commands",),
    ("app",),
)
STOREY = {folder: height for height, folders in enumerate(STOREYS) for folder in folders}
QT = {"PySide6", "shiboken6", "pyqtgraph"}


@cache
def modules() -> dict[str, Path]:
    """Every module of the project by its dotted name; a package goes by its own."""
    files = [*TOP.glob("core/**/*.py"), *TOP.glob("app/**/*.py")]
    named = {".".join(file.relative_to(TOP).with_suffix("").parts): file for file in files}
    return {name.removesuffix(".__init__"): file for name, file in named.items()}


@cache
def folder_of(module: str) -> str:
    return ".".join(modules()[module].relative_to(TOP).parent.parts)


def imported(source: str, known: set[str]) -> set[str]:
    """Every module that a source imports; a name of a `from` import counts as itself when it is one."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "relative import"
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                found.add(inner if inner in known else str(node.module))
    return found


@cache
def imports(module: str) -> frozenset[str]:
    return frozenset(imported(modules()[module].read_text(), set(modules())))


def of_ours(module: str) -> set[str]:
    """The project's own modules that a module imports; one that does not exist is a mistake."""
    ours = {each for each in imports(module) if each.split(".")[0] in ("core", "app")}
    assert ours <= set(modules()), f"{module} imports {ours - set(modules())}"
    return ours


def circle(graph: dict[str, set[str]]) -> list[str]:
    """A path through the graph that comes back to where it began; empty when there is none."""
    done: set[str] = set()

    def visit(name: str, trail: list[str]) -> list[str]:
        if name in trail:
            return [*trail[trail.index(name) :], name]
        if name in done:
            return []
        for other in sorted(graph.get(name, ())):
            if found := visit(other, [*trail, name]):
                return found
        done.add(name)
        return []

    return next((found for name in sorted(graph) if (found := visit(name, []))), [])


def test_every_folder_is_known():
    assert {folder_of(name) for name in modules()} == set(STOREY)


def test_imports_run_one_way():
    for name in modules():
        mine = folder_of(name)
        for other in of_ours(name):
            theirs = folder_of(other)
            assert theirs == mine or STOREY[theirs] < STOREY[mine], f"{name} imports {other}"


def test_the_model_knows_neither_trade_nor_circuits():
    for name in modules():
        if folder_of(name).startswith("core.model"):
            assert not {folder_of(other) for other in of_ours(name)} & {"core.trade", "core.circuits"}, name


#: More than that in one room and nobody finds anything.
ROOM = 13


def test_no_folder_is_crowded():
    for folder in STOREY:
        inside = [name for name, file in modules().items() if folder_of(name) == folder]
        assert len(set(inside) - {folder}) <= ROOM, f"{folder} holds {len(inside)}"


def test_core_knows_no_window():
    for name in modules():
        if folder_of(name).startswith("core"):
            assert not {each.split(".")[0] for each in imports(name)} & (QT | {"app"}), name


def test_pictures_know_no_window():
    """Nor does anything that they import."""
    reached = {name for name in modules() if folder_of(name).startswith("app.pictures")}
    assert reached
    for _ in modules():
        reached |= {other for name in reached for other in of_ours(name)}
    for name in reached:
        assert not {each.split(".")[0] for each in imports(name)} & QT, name


def computed_by(source: str) -> set[str]:
    """What a source takes from stages and circuits besides classes and constants, which only name things."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            names = [(alias.name, "") for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [(str(node.module), alias.name) for alias in node.names]
        else:
            continue
        for module, name in names:
            if f"{module}.{name}".startswith(("core.stages", "core.circuits")) and not name[:1].isupper():
                found.add(f"{module}.{name}".strip("."))
    return found


def test_the_window_asks_the_rig_and_computes_nothing():
    for name, file in modules().items():
        if name.split(".")[0] == "app":
            assert computed_by(file.read_text()) == set(), name


def test_a_call_past_the_rig_is_seen():
    source = """
import core.circuits.ladder
from core.stages.vfo import vfo
from core.stages.vfo.tank import TANK, TankDesign, circuit
from core.rig import levels
"""
    assert computed_by(source) == {
        "core.circuits.ladder",
        "core.stages.vfo.vfo",
        "core.stages.vfo.tank.circuit",
    }


def test_circuits_and_stages_never_see_the_project():
    for name in modules():
        if folder_of(name).startswith(("core.circuits", "core.stages")):
            assert "core.model.project" not in imports(name), name


def test_there_is_no_circle():
    assert circle({name: of_ours(name) for name in modules()}) == []


@pytest.mark.parametrize(
    ("graph", "found"),
    [
        ({"a": {"b"}, "b": {"c"}, "c": set()}, []),
        ({"a": {"b", "c"}, "b": {"d"}, "c": {"d"}, "d": set()}, []),
        ({"a": {"b"}, "b": {"c"}, "c": {"b"}}, ["b", "c", "b"]),
        ({"a": {"a"}}, ["a", "a"]),
    ],
)
def test_a_circle_is_found_and_nothing_else(graph, found):
    assert circle(graph) == found


def test_every_way_to_import_is_seen():
    source = """
import app.style.words
from app.style import palette
def late():
    from core.rig.paper.report import report
    if True:
        import core.stages.vfo.vfo as vfo
"""
    known = {"app.style.words", "app.style.palette", "core.rig.paper.report", "core.stages.vfo.vfo"}
    assert imported(source, known) == known


#: Classes of many fields that are built by position: a part of a circuit is written kind, reference, value,
#: as in a parts list.
BY_POSITION = {"Part", "CoupledCoils"}


def by_position(node):
    """How many values a class takes by their place: none when it is built by keyword alone."""
    kinds = "".join(ast.unparse(each) for each in node.decorator_list)
    bases = "".join(ast.unparse(each) for each in node.bases)
    if "kw_only=True" in kinds or not (kinds.startswith(("dataclass", "record")) or "NamedTuple" in bases):
        return 0
    fields = [ast.unparse(each.annotation) for each in node.body if isinstance(each, ast.AnnAssign)]
    return fields.index("KW_ONLY") if "KW_ONLY" in fields else len(fields)


def test_results_of_many_fields_are_built_by_keyword():
    for name, file in modules().items():
        for node in ast.walk(ast.parse(file.read_text())):
            if isinstance(node, ast.ClassDef) and node.name not in BY_POSITION:
                assert by_position(node) <= 5, f"{node.name} in {name}"


def test_a_class_of_many_places_is_seen():
    fields = "\n    ".join(f"f{n}: int" for n in range(6))
    for source, places in (
        (f"@dataclass\nclass A:\n    {fields}", 6),
        (f"@record\nclass A:\n    {fields}", 6),
        (f"class A(NamedTuple):\n    {fields}", 6),
        (f"@dataclass(kw_only=True)\nclass A:\n    {fields}", 0),
        (f"@dataclass\nclass A:\n    place: int\n    _: KW_ONLY\n    {fields}", 1),
        (f"class A(Model):\n    {fields}", 0),
    ):
        assert by_position(ast.parse(source).body[0]) == places
