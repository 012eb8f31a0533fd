"""Broken and odd files: projects through loading, report and JSON; tables and sweeps through the bench.

Each case has a seed of its own, so that one case is seen again with `--seed N --count 1`.
"""

import json
import math
import re
import tempfile
import traceback
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from random import Random
from typing import Any

from core.model.files import dumps, load, loads
from core.model.readings import readings_of
from core.model.samples import sample_path
from core.model.values.errors import CopperError
from core.rig.analysis import Analysis
from core.rig.bench import batch_figures, crystal_bench, crystals_in_ladder, sweep_files
from core.rig.paper.report import as_text, crystals_report, crystals_text, report
from core.stages.crystals.crystal_sweep import transmission
from core.stages.crystals.crystals import CrystalParameters, Fixture
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.outcome import Unsolved
from tests.bags import read_batch
from tests.soak.outcome import Outcome, patience, prints_no_number

LOADED, REFUSED = "loaded and reported", "refused in one sentence"
WORKED, ROWS_REFUSED = "table worked out", "table worked out, rows refused"
FINE = frozenset({LOADED, REFUSED, WORKED, ROWS_REFUSED})
#: A sentence beyond this many characters is none.
_LONGEST = 600
#: One case may take this long on a slow machine, seconds.
_PATIENCE_S = 20
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\xad\u061c\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff]")

_ODD: tuple[Any, ...] = (
    None,
    True,
    False,
    "",
    "1e6",
    "19660800",
    "yes",
    "nan",
    0,
    -1,
    -0.0,
    1e-310,
    1e-300,
    1e-30,
    1e20,
    1e308,
    10**30,
    10**400,
    2**63,
    [],
    {},
    [[]],
    [1, 2, 3],
    [None],
    {"crystal:1": None},
    {"crystal:1": -1.0},
    {"crystal:1": 0},
    {"coupling:1": 1e-310, "crystal:1": True},
    "x" * 5000,
    "a\nb",
    "\x1b[31mred\x1b[0m",
    "\u202eback",
    "a\u200eb",
    "\ud800",
    "\0",
    "<img src=x>",
    "=1+1",
    "../../etc/passwd",
)
_FACTORS = (1e-9, 1e-3, 0.1, 0.5, 0.9, 1.1, 2.0, 10.0, 1e3, 1e9, -1.0)


def cases(count: int, seed: int) -> Iterator[Outcome]:
    """Try cases `seed`, `seed` + 1 and so on, `count` of them."""
    with tempfile.TemporaryDirectory() as folder:
        for each in range(seed, seed + count):
            yield Outcome(case(each, Path(folder)), f"python -m tests.soak files --seed {each} --count 1")


def case(seed: int, folder: Path) -> str:
    """One file, made by chance from the seed, and what came of it."""
    chance = Random(seed)
    act, content = chance.choices(
        ((_project, _bytes), (_project, _fields), (_table, _table_text), (_sweep, _sweep_text)),
        (3, 5, 2, 2),
    )[0]
    made = content(chance)
    try:
        with patience(_PATIENCE_S), warnings.catch_warnings():
            warnings.simplefilter("error")
            return act(made, chance, folder)
    except CopperError as error:
        return _judged(str(error)) or REFUSED
    except Exception as error:
        frames = traceback.extract_tb(error.__traceback__)
        own = [frame for frame in frames if "/core/" in frame.filename.replace("\\", "/")] or frames
        where = Path(own[-1].filename).name
        return f"{type(error).__name__} at {where}:{own[-1].lineno}"


def _project(content: bytes, chance: Random, folder: Path) -> str:
    file = folder / "rig.json"
    file.write_bytes(content)
    project = load(file)
    if loads(dumps(project)) != project:
        return "changes on saving and loading"
    data = report(Analysis(project))
    text = as_text(data)
    json.dumps(data, allow_nan=False)
    if prints_no_number(text, project):
        return "prints a number that is none"
    if bad := next((line for line in text.split("\n") if _CONTROL.search(line)), None):
        return f"prints control characters in “{bad[:12]!r}”"
    return LOADED


def _table(content: str, chance: Random, folder: Path) -> str:
    method = chance.choice(tuple(crystal_bench.COLUMNS))
    return _worked(content, method, folder)


def _sweep(content: tuple[str, str], chance: Random, folder: Path) -> str:
    name, text = content
    (folder / name).write_text(text, "utf-8", "surrogatepass")
    return _worked(f"label,file\na,{name}\n", "sweep", folder)


def _worked(text: str, method: crystal_bench.Method, folder: Path) -> str:
    sweeps, refused = sweep_files.collect(crystal_bench.sweep_names(readings_of(text)), folder)
    batch = read_batch(text, method, Fixture(), sweeps, refused)
    for row in batch:
        if row.refused and (bad := _judged(row.refused)):
            return bad
    batch_figures.histogram(batch)
    ladder = Analysis(_sample("tern-20-12")).ladder
    assert ladder is not None
    placed = crystals_in_ladder.place(batch, AskedLadder(ladder, 19.66e6))
    data = crystals_report(batch, None if isinstance(placed, Unsolved) else placed)
    json.dumps(data, allow_nan=False)
    crystals_text(data)
    return ROWS_REFUSED if any(row.refused for row in batch) else WORKED


def _judged(sentence: str) -> str:
    """What is wrong with a sentence; empty when it is one."""
    if "\n" in sentence:
        return "a sentence of two lines"
    if _CONTROL.search(sentence):
        return "a sentence with control characters"
    if len(sentence) > _LONGEST:
        return "a sentence without end"
    return "" if sentence.endswith((".", "?")) else "a sentence without a full stop"


# -- what is tried ---------------------------------------------------------------------------------------


@lru_cache
def _sample(name: str) -> Any:
    return load(sample_path(name))


def _text(chance: Random) -> str:
    return dumps(_sample(chance.choice(("tern-20-12", "muddle-40-20"))))


def _bytes(chance: Random) -> bytes:
    """A project's bytes with some turned, cut out, doubled or put in, or an end cut off."""
    content = bytearray(_text(chance).encode())
    for _ in range(chance.choice((1, 1, 1, 2, 5, 50))):
        at = chance.randrange(len(content) + 1)
        end = min(len(content), at + chance.choice((1, 1, 5, 100)))
        match chance.randrange(6):
            case 0:
                del content[at:]
            case 1:
                del content[at:end]
            case 2:
                content[at:at] = content[at:end]
            case 3:
                content[at:at] = chance.randbytes(chance.choice((1, 4)))
            case _:
                content[at : at + 1] = bytes(
                    (chance.choice((chance.randrange(256), *b'0123456789.-e"{}[],')),)
                )
    return bytes(content)


def _fields(chance: Random) -> bytes:
    """A project with odd, scaled, missing, foreign or doubled values in some of its fields."""
    data = json.loads(_text(chance))
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        places = tuple(_places(data))
        if chance.random() < 0.5:
            places = tuple((where, key) for where, key in places if isinstance(where[key], float)) or places
        parent, key = chance.choice(places)
        value = parent[key]
        match chance.randrange(9):
            case 0:
                del parent[key]
            case 1 if isinstance(parent, dict):
                parent[chance.choice((f"{key}x", "", "k" * 100_000, "\x1b[2J", "a b", "\ud800"))] = value
            case 2 if isinstance(parent, list):
                parent.extend([value] * chance.choice((1, 100, 1000)))
            case 3 | 4 | 5 | 6 if isinstance(value, float | int) and not isinstance(value, bool):
                parent[key] = value * chance.choice(_FACTORS)
            case _:
                parent[key] = chance.choice(_ODD)
    with _endless_digits():
        return json.dumps(data, indent=chance.choice((2, None))).encode()


@contextmanager
def _endless_digits() -> Iterator[None]:
    import sys

    before = sys.get_int_max_str_digits()
    sys.set_int_max_str_digits(0)
    try:
        yield
    finally:
        sys.set_int_max_str_digits(before)


def _places(data: Any) -> Iterator[tuple[Any, Any]]:
    """Every member of the nested objects and arrays, as the holder and its key."""
    members = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, value in members:
        yield data, key
        yield from _places(value)


_TABLES = (
    "label;peak (MHz);bandwidth (Hz);loss (dB)\n"
    + "".join(f"{n};19,66{n:03d}1;28{n:02d};0,9\n" for n in range(12)),
    "label,without,with,c0\n" + "".join(f"{n},900{n:04d},900{n + 2000:04d},3.5p\n" for n in range(12)),
    "label,series,parallel\n" + "".join(f"{n},900{n:04d},90195{n:02d}\n" for n in range(12)),
    "label,file\na,x.s2p\nb,none.csv\nc,../out.s2p\n",
)
_CELLS = (
    "",
    "1e300",
    "-1",
    "0",
    "1e",
    "nan",
    "inf",
    "9" * 5000,
    "1,5",
    '"',
    ";",
    ",,,,,",
    "\x1b[2J",
    "\u202e",
    "1e-300",
    "9 MHz",
    "MHz",
    "x" * 140_000,
    "\r",
    "\0",
    "../../x.s2p",
    "n" * 300,
)


def _table_text(chance: Random) -> str:
    """A table of readings with odd cells, or with characters turned."""
    return _turned(chance.choice(_TABLES), chance, ";,\n")


def _sweep_text(chance: Random) -> tuple[str, str]:
    """Name and text of a sweep with odd cells, or with characters turned."""
    crystal = CrystalParameters(label="", fs_hz=9e6, lm_h=17e-3, c0_f=4e-12, rm_ohm=12.0)
    f = [8.995e6 + 500.0 * n for n in range(60)]
    s21 = [complex(transmission(crystal, _array(each), Fixture())[0]) for each in f]
    if chance.random() < 0.1:
        f.reverse()
    name = chance.choice(("x.s2p", "x.s2p", "x.csv", "x.s1p", "x"))
    if name == "x.s2p":
        lines = ["! a sweep", "# Hz S RI R 50"]
        lines += [f"{a:.1f} 0 0 {b.real:.6f} {b.imag:.6f} 0 0 0 0" for a, b in zip(f, s21, strict=True)]
        return name, _turned("\n".join(lines), chance, " \n")
    lines = ["frequency (Hz);s21 (dB)"]
    lines += [f"{a:.1f};{20 * math.log10(abs(b)):.4f}" for a, b in zip(f, s21, strict=True)]
    return name, _turned("\n".join(lines), chance, ";\n")


def _array(value: float) -> Any:
    import numpy as np

    return np.array([value])


def _turned(text: str, chance: Random, parts: str) -> str:
    for _ in range(chance.choice((0, 1, 1, 2, 5))):
        at = chance.randrange(len(text) + 1)
        if chance.random() < 0.5:
            cut = [n for n, sign in enumerate(text) if sign in parts]
            if len(cut) > 1:
                n = chance.randrange(len(cut) - 1)
                text = text[: cut[n] + 1] + chance.choice(_CELLS) + text[cut[n + 1] :]
        elif chance.random() < 0.3:
            text = text[:at]
        else:
            text = (
                text[:at]
                + chance.choice(("", "\0", '"', ",", ";", "\n", "é", "-", "e9", "["))
                + text[at + 1 :]
            )
    return text
