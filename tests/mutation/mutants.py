"""The changes: what is tried on an expression, and what is left out by rule."""

import ast
import copy
import random
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.mutation.no_fault import NO_FAULT

ROOT = Path(__file__).resolve().parents[2]

#: Folders of core whose formulas are tried. The model declares what may be asked; its limits are tried by
#: tests of their own, the reading and writing of files by a soak.
FOLDERS = ("circuits", "stages", "rig", "trade")
#: Modules left out: tables read from assets, and lists of words.
WITHOUT = ("core.trade.tables", "core.trade.limits", "core.rig.rules")
#: Names whose numbers are left out: they set how finely or how long something is searched, and a correct
#: result does not depend on them. A wrong search is found by what it finds.
TUNING = re.compile(
    r"_(COARSE|REFINED|NOISE)?_?(POINTS|GRID|STEP|STEPS|TRIALS|FINALISTS|CHUNK|CENTRES|WEIGHTS|PLACES|SHIFTS|WIDTHS)$"
    r"|_(LARGEST_MOVE|STAY|NO_CHANGE|ROUNDING|NEAR_ENOUGH|HELPS_S|IDLE_PADDER|UNSHOWN|PHASE_STEP|WHOLE_SWING|FLOOR_DB)$"
)
#: Functions whose numbers are left out for the same reason: starts, steps and tolerances of a search.
SEARCHES = (
    "_first_guess",
    "_start",
    "_least_squares",
    "_peaked",
    "_first_grid",
    "_with_tops",
    "_root",
    "least_squares",
    "_settled",
    "_bounded",
    "_junction",
)
#: A number at the top of a module whose comment says one of this is a choice: a test could only repeat it.
CHOICE = re.compile(r"assum|memory|practice|customary|usual|no source|a choice|need not be|is tried", re.I)
#: Modules whose numbers are the figures of the stages that a new rig begins with: choices too.
FIRST_FIGURES = ("core.rig.start.new_rig",)
#: Options of calls whose numbers are left out for the same reason; `strict` only asserts.
TUNING_OPTIONS = (
    "maxsize",
    "strict",
    "rtol",
    "atol",
    "rel_tol",
    "abs_tol",
    "stacklevel",
    "num",
    "typ",
    "dtype",
    "indent",
)
#: Calls whose arguments are texts of errors: tests of the sentences hold them.
TEXTS = ("Unsolved", "ValueError", "KeyError", "TypeError", "InputError", "cast", "TypeVar", "Field", "field")

_ARITHMETIC = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult}
_OPPOSITE = {
    **{ast.Lt: ast.GtE, ast.GtE: ast.Lt, ast.Gt: ast.LtE, ast.LtE: ast.Gt},
    **{ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.In: ast.NotIn, ast.NotIn: ast.In},
}
_BOUNDARY = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}
_EXCHANGED = {
    "min": "max",
    "any": "all",
    "minimum": "maximum",
    "argmin": "argmax",
    "amin": "amax",
    "real": "imag",
}
_EXCHANGED |= {b: a for a, b in _EXCHANGED.items()}
_TEXT = (ast.JoinedStr, ast.List, ast.Tuple)


@dataclass(frozen=True)
class Mutant:
    """One change: where, and what becomes of what; `number` counts the changes of the module."""

    module: str
    number: int
    line: int
    #: First line of the innermost body of statements in which it lies; 0 at the top of the module.
    body: int
    #: The name that is given a value there, or of the function around.
    name: str
    was: str
    becomes: str

    @property
    def words(self) -> tuple[str, str, str, str]:
        """Everything but its place in the file."""
        return self.module, self.name, self.was, self.becomes

    def __str__(self) -> str:
        return f"{path_of(self.module).relative_to(ROOT)}:{self.line}: {self.was}  ->  {self.becomes}"


def path_of(module: str) -> Path:
    """The file of a module of core."""
    plain = ROOT.joinpath(*module.split("."))
    return plain / "__init__.py" if plain.is_dir() else plain.with_suffix(".py")


def modules() -> tuple[str, ...]:
    """Names of the modules that are tried."""
    found = []
    for folder in FOLDERS:
        for path in sorted((ROOT / "core" / folder).rglob("*.py")):
            name = ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
            if path.stem != "__init__" and name not in WITHOUT:
                found.append(name)
    return tuple(found)


def drawn(names: tuple[str, ...], count: int, seed: int) -> list[Mutant]:
    """Changes drawn by chance, shared among the modules as their possible changes are."""
    every = {name: tried_of(name) for name in names}
    total = sum(map(len, every.values()))
    chosen = []
    for name, possible in every.items():
        share = min(len(possible), max(1, round(count * len(possible) / total)))
        chosen += sorted(
            random.Random(f"{seed} {name}").sample(possible, share), key=lambda each: each.number
        )
    return chosen


def tried_of(module: str) -> list[Mutant]:
    """Every change of a module that would be a fault."""
    return [mutant for mutant in mutants_of(module) if mutant.words not in NO_FAULT]


def stale_words(names: tuple[str, ...]) -> list[tuple[str, str, str, str]]:
    """What `no_fault.py` lists though the sources have it no more."""
    there = {mutant.words for name in names for mutant in mutants_of(name)}
    return [words for words in NO_FAULT if words not in there and (words[0] in names or names == modules())]


def mutants_of(module: str) -> list[Mutant]:
    """Every change of a module, in a fixed order."""
    found = []
    for number, (node, place, changed) in enumerate(_changes_of(module)):
        becomes = "(left out)" if changed is None else ast.unparse(changed)
        found.append(
            Mutant(
                module,
                number,
                node.lineno,
                place.body,
                place.name,
                _short(ast.unparse(node)),
                _short(becomes),
            )
        )
    return found


def changed_tree(mutant: Mutant) -> ast.Module:
    """The module's syntax tree with the change made."""
    tree = ast.parse(path_of(mutant.module).read_text(encoding="utf-8"))
    for number, (node, place, changed) in enumerate(_changes_of(mutant.module, tree)):
        if number == mutant.number:
            new = ast.copy_location(ast.Pass() if changed is None else changed, node)
            owner, field, index = place.owner, place.field, place.index
            if index is None:
                setattr(owner, field, new)
            else:
                getattr(owner, field)[index] = new
            return ast.fix_missing_locations(tree)
    raise LookupError(f"{mutant} is no longer there")


def _short(text: str, most: int = 100) -> str:
    text = " ".join(text.split())
    return text if len(text) <= most else text[: most - 1] + "…"


@dataclass(frozen=True)
class _Place:
    owner: ast.AST
    field: str
    index: int | None
    body: int
    name: str
    function: str


def _changes_of(
    module: str, tree: ast.Module | None = None
) -> Iterator[tuple[ast.expr | ast.stmt, _Place, ast.AST | None]]:
    """(node, its place, what it becomes) for each change of a module; the tree itself is not touched."""
    text = path_of(module).read_text(encoding="utf-8")
    chosen = _chosen_lines(text)
    for node, place, becomes in _walk(tree or ast.parse(text), 0, "", ""):
        number = isinstance(node, ast.Constant) and not isinstance(node.value, bool)
        if number and (module in FIRST_FIGURES or place.function in SEARCHES or node.lineno in chosen):
            continue
        yield node, place, becomes


def _chosen_lines(text: str) -> set[int]:
    """Lines of the numbers that the comment right above calls a choice."""
    chosen, comment = set(), ""
    for number, line in enumerate(text.splitlines(), start=1):
        if line.startswith("#:"):
            comment += line
        else:
            if comment and CHOICE.search(comment) and re.match(r"_?[A-Z]", line):
                chosen.add(number)
            comment = ""
    return chosen


def _walk(owner: ast.AST, body: int, name: str, function: str) -> Iterator[tuple]:
    for field, value in ast.iter_fields(owner):
        for index, node in enumerate(value) if isinstance(value, list) else ((None, value),):
            if not isinstance(node, ast.AST) or _left_out(owner, field, node, body):
                continue
            inner, called, around = body, name, function
            if (
                field in ("body", "orelse", "finalbody")
                and isinstance(value, list)
                and _in_function(owner, body)
            ):
                inner = value[0].lineno
            if isinstance(node, ast.FunctionDef):
                called = around = node.name
            if body == 0 and isinstance(node, ast.Assign | ast.AnnAssign):
                target = node.targets[0] if isinstance(node, ast.Assign) else node.target
                called = ast.unparse(target)
                if TUNING.search(called):
                    continue
            if isinstance(node, ast.expr | ast.stmt):
                place = _Place(owner, field, index, inner, called, around)
                for becomes in _becomes(owner, field, node):
                    yield node, place, becomes
            yield from _walk(node, inner, called, around)


def _in_function(owner: ast.AST, body: int) -> bool:
    return body != 0 or isinstance(owner, ast.FunctionDef)


def _left_out(owner: ast.AST, field: str, node: ast.AST, body: int) -> bool:
    """Whether nothing is tried in a node."""
    if field in ("annotation", "returns", "decorator_list", "format_spec", "bases", "keywords", "args"):
        if field == "keywords" and isinstance(owner, ast.Call):
            return node.arg in TUNING_OPTIONS or _name(owner.func) in TEXTS
        if field == "args" and isinstance(owner, ast.Call):
            return _name(owner.func) in TEXTS
        return not isinstance(owner, ast.arguments)
    if isinstance(owner, ast.FunctionDef) and field == "args":
        return True
    return isinstance(node, ast.Raise | ast.Assert | ast.Import | ast.ImportFrom)


def _becomes(owner: ast.AST, field: str, node: ast.AST) -> Iterator[ast.AST | None]:
    """What is tried in the place of a node; None leaves a statement out."""
    match node:
        case ast.BinOp(left=left, op=op, right=right) if type(op) in _ARITHMETIC and not _is_text(
            left, right
        ):
            yield ast.BinOp(left, _ARITHMETIC[type(op)](), right)
            if isinstance(op, ast.Add | ast.Sub | ast.Mult):
                yield left
        case ast.UnaryOp(op=ast.USub() | ast.Not(), operand=operand):
            if not (
                isinstance(owner, ast.Subscript)
                or (isinstance(operand, ast.Constant) and operand.value in (1, 0))
            ):
                yield operand
        case ast.Compare(left=left, ops=[op], comparators=[right]):
            if type(op) in _OPPOSITE:
                yield ast.Compare(left, [_OPPOSITE[type(op)]()], [right])
            if type(op) in _BOUNDARY and (_counts(left) or _counts(right)):
                yield ast.Compare(left, [_BOUNDARY[type(op)]()], [right])
        case ast.BoolOp(op=op, values=values):
            yield ast.BoolOp(ast.Or() if isinstance(op, ast.And) else ast.And(), values)
            yield ast.BoolOp(op, values[:-1]) if len(values) > 2 else values[0]
        case ast.IfExp(test=test, body=yes, orelse=no):
            yield ast.IfExp(test, no, yes)
        case ast.If(test=test, orelse=[]) if _returns(node):
            yield None
        case ast.AugAssign(target=target, op=op, value=value):
            if type(op) in _ARITHMETIC and not _is_text(value, value):
                yield ast.AugAssign(target, _ARITHMETIC[type(op)](), value)
        case ast.Call(func=func, args=[first, *_], keywords=keywords):
            called = _name(func)
            if called == "abs":
                yield first
            elif called in _EXCHANGED:
                other = copy.deepcopy(func)
                if isinstance(other, ast.Name):
                    other.id = _EXCHANGED[called]
                else:
                    other.attr = _EXCHANGED[called]
                yield ast.Call(other, node.args, keywords)
        case ast.Attribute(value=value, attr="real" | "imag" as attr, ctx=ast.Load()):
            yield ast.Attribute(value, _EXCHANGED[attr], ast.Load())
        case ast.Constant(value=bool(value)) if isinstance(owner, ast.keyword):
            yield ast.Constant(not value)
        case ast.Constant(value=int(value)) if not isinstance(value, bool):
            yield ast.Constant(value + 1)
        case ast.Constant(value=float(value)):
            yield ast.Constant(value * 1.1 if value else 1.0)
            if value:
                yield ast.Constant(value * 2)
    if field == "ifs":
        yield ast.Constant(True)


def _returns(node: ast.If) -> bool:
    """Whether an if only guards: its one body leaves the function or the turn."""
    return isinstance(node.body[-1], ast.Return | ast.Continue | ast.Break)


def _is_text(*operands: ast.expr) -> bool:
    return any(
        isinstance(each, _TEXT) or (isinstance(each, ast.Constant) and isinstance(each.value, str))
        for each in operands
    )


def _counts(node: ast.expr) -> bool:
    """Whether a side of a comparison is a count. Between continuous quantities a boundary has no measure."""
    whole = isinstance(node, ast.Constant) and isinstance(node.value, int) and node.value != 0
    return whole or (isinstance(node, ast.Call) and _name(node.func) == "len")


def _name(func: ast.expr) -> str:
    return func.id if isinstance(func, ast.Name) else func.attr if isinstance(func, ast.Attribute) else ""
