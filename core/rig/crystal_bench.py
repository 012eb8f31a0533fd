"""The crystal bench: a batch of readings from a table, its statistics, and its place in a rig's ladder."""

import csv
import io
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from core.circuits.ladder import Array, ComplexArray, frozen
from core.model.bench import CrystalBatch, Sweep
from core.model.errors import DesignError, FileError
from core.model.filters import LadderFilter
from core.model.notation import parse
from core.model.project import Project
from core.stages import crystals, ladder_filter
from core.stages.crystals import CrystalParameters, Fixture, Method, Placed, Placement
from core.stages.outcome import Unsolved

#: The columns of each method: name to unit; those after the mark `?` may be missing.
COLUMNS: dict[Method, dict[str, str]] = {
    "bandwidth": {"label": "", "peak": "Hz", "bandwidth": "Hz", "loss": "dB", "?c0": "F"},
    "series_capacitor": {"label": "", "without": "Hz", "with": "Hz", "?c0": "F"},
    "parallel_capacitor": {"label": "", "series": "Hz", "parallel": "Hz", "?with": "Hz", "?c0": "F"},
    "sweep": {"label": "", "file": "", "?c0": "F"},
}
#: What to connect, what to read, what error to expect: shown beside each method.
GUIDANCE: dict[Method, str] = {
    "bandwidth": "Put the crystal in series between two known resistances (12.5 Ω or 50 Ω). Read "
    "the frequency of the peak, the distance of the −3 dB points, and the loss "
    "against a wire in its place. Expect Lm within 2 %, as good as the resistances "
    "and the bandwidth reading.",
    "series_capacitor": "Put the crystal in an oscillator and read its frequency with a known capacitor "
    "in series shorted and open. Give the oscillator's own load capacitance if you "
    "know it. Expect Lm within 5 %; the loss is not found.",
    "parallel_capacitor": "Read series resonance (peak) and parallel resonance (dip), and the dip again "
    "with a known capacitor across the crystal, or give C0 from a capacitance "
    "meter. Expect Lm within 3 %; the loss is not found.",
    "sweep": "Sweep S21 through the crystal in series between known resistances, from below "
    "series to above parallel resonance, with 100 points or more. It gives all four "
    "figures and their confidence.",
}
#: What stands for no transmission at all in a stored sweep, dB.
_FLOOR_DB = -200.0
#: Further from the median than this many median deviations is an outlier.
_OUTLIER_DEVIATIONS = 5.0


@dataclass(frozen=True, slots=True)
class BatchRow:
    """One crystal of the batch: its parameters, or why its readings were refused."""

    label: str
    parameters: CrystalParameters | None
    refused: str = ""


@dataclass(frozen=True, slots=True)
class BatchFigures:
    """Mean and standard deviation over the good crystals, and the labels that lie far out."""

    count: int
    fs_hz: tuple[float, float]
    lm_h: tuple[float, float]
    spread_hz: float
    outliers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Histogram:
    """Series resonances in bins: edges (B + 1,) less the median [Hz], counts (B,), the median [Hz].

    Crystals beyond the outer edges are counted in the outermost bins, `below` and `above` of them.
    """

    edges_hz: Array
    counts: Array
    median_hz: float
    below: int
    above: int


#: The histogram reaches this many robust deviations to both sides; what lies further would flatten it.
_HISTOGRAM_DEVIATIONS = 4.0
#: Median deviations over standard deviation for a normal distribution.
_NORMAL = 1.4826


def histogram(batch: Sequence[BatchRow]) -> Histogram | None:
    """How series resonance scatters over the good crystals; None with fewer than two different ones."""
    fs = np.array([row.parameters.fs_hz for row in batch if row.parameters is not None])
    if fs.size < 2 or np.ptp(fs) == 0:
        return None
    median = float(np.median(fs))
    offset = fs - median
    reach = _HISTOGRAM_DEVIATIONS * _NORMAL * float(np.median(np.abs(offset)))
    inside = offset[np.abs(offset) <= reach] if reach > 0 else offset
    low, high = float(inside.min()), float(inside.max())
    if low == high:
        inside, low, high = offset, float(offset.min()), float(offset.max())
    counts, edges = np.histogram(inside, bins="auto")
    below, above = int(np.sum(offset < low)), int(np.sum(offset > high))
    counts[0] += below
    counts[-1] += above
    return Histogram(frozen(edges), frozen(counts.astype(float)), median, below, above)


def read_batch(
    text: str, method: Method, fixture: Fixture, folder: Path = Path(), sweeps: Sequence[Sweep] = ()
) -> tuple[BatchRow, ...]:
    """The batch in a CSV text with a header row; a sweep that is not in `sweeps` is looked for in `folder`.

    Columns may carry their unit in brackets, `peak (MHz)`; a decimal comma is accepted where columns are
    parted by semicolons or tabs. A row that cannot be used stays, with its reason. `DesignError` when
    the table itself cannot be read.
    """
    table = _table(text, COLUMNS[method])
    known = {sweep.label: sweep for sweep in sweeps}
    return tuple(_row(cells, method, fixture, folder, known) for cells in table)


def batch_of(asked: CrystalBatch, folder: Path = Path()) -> tuple[BatchRow, ...]:
    """The batch of a project; `DesignError` when its table cannot be read."""
    fixture = Fixture(
        asked.source_ohm, asked.load_ohm, asked.capacitor_f, asked.oscillator_load_f, asked.c0_f
    )
    return read_batch(asked.table, asked.method, fixture, folder, asked.sweeps)


def with_readings(
    asked: CrystalBatch, text: str, folder: Path = Path(), *, afresh: bool = False
) -> CrystalBatch:
    """The batch with other readings, and with every sweep in it that they name and that can be read.

    A sweep that the batch has already is kept, unless `afresh` asks for its file again. What cannot be
    read is left out; its row says why.
    """
    kept = {sweep.label: sweep for sweep in asked.sweeps}
    try:
        names = dict.fromkeys(row.get("file", "") for row in _table(text, COLUMNS["sweep"]))
    except DesignError:
        names = {}
    sweeps = []
    for name in names:
        known = kept.get(name)
        if known is None or afresh:
            known = _stored(name, folder / name) or known
        if name and known is not None:
            sweeps.append(known)
    return asked.edited(("table",), text).edited(("sweeps",), tuple(sweeps))


def _stored(name: str, path: Path) -> Sweep | None:
    try:
        f, s21, magnitude_only = read_sweep(path)
        order = np.argsort(f)
        f, s21 = f[order], s21[order]
        with np.errstate(divide="ignore"):
            level = np.maximum(20 * np.log10(np.abs(s21)), _FLOOR_DB)
        # As many digits as any instrument has; more would only swell the file.
        return Sweep.checked(
            label=name,
            f_hz=tuple(np.round(f, 3).tolist()),
            s21_db=tuple(np.round(level, 4).tolist()),
            s21_degrees=() if magnitude_only else tuple(np.round(np.degrees(np.angle(s21)), 3).tolist()),
        )
    except (DesignError, FileError):
        return None


def example(method: Method) -> str:
    """A header row with which a table of this method begins."""
    return ";".join(
        name.lstrip("?") + (f" ({unit})" if unit else "")
        for name, unit in COLUMNS[method].items()
        if name != "?c0"
    )


def figures(batch: Sequence[BatchRow]) -> BatchFigures | None:
    """Statistics of the good crystals of a batch; None when there is none."""
    good = [row.parameters for row in batch if row.parameters is not None]
    if not good:
        return None
    fs, lm = np.array([c.fs_hz for c in good]), np.array([c.lm_h for c in good])
    out = set()
    for values in (fs, np.log(lm)):
        distance = np.abs(values - np.median(values))
        typical = float(np.median(distance))
        if typical > 0:
            out |= {c.label for c, d in zip(good, distance, strict=True) if d > _OUTLIER_DEVIATIONS * typical}
    many = min(len(good) - 1, 1)
    return BatchFigures(
        len(good),
        (float(fs.mean()), float(fs.std(ddof=many))),
        (float(lm.mean()), float(lm.std(ddof=many))),
        float(np.ptp(fs)),
        tuple(sorted(out)),
    )


#: Crystals this far from the IF, as a share of it [-], are for another filter.
_OTHER_CRYSTALS = 0.005


def place(
    batch: Sequence[BatchRow], ladder: LadderFilter, if_hz: float, on_hand: tuple[float, ...] = ()
) -> Placement | Unsolved:
    """Which crystals go into which mesh of a ladder at an IF of `if_hz` [Hz].

    `Unsolved` when the ladder is, or when there are too few. Crystals of another frequency are placed all
    the same, and the placement's doubt says so.
    """
    wanted = ladder_filter.mesh_reactances(ladder, if_hz, on_hand)
    if isinstance(wanted, Unsolved):
        return wanted
    good = [row.parameters for row in batch if row.parameters is not None]
    found = crystals.place(good, np.array(wanted), ladder.crystal_refs)
    middle = float(np.median([each.fs_hz for each in good])) if good else if_hz
    if isinstance(found, Unsolved) or abs(middle - if_hz) <= _OTHER_CRYSTALS * if_hz:
        return found
    doubt = (
        f"These crystals resonate near {middle / 1e6:.3f} MHz and the IF is {if_hz / 1e6:.3f} MHz: set "
        "the IF to the crystals, or choose the ladder that they are for."
    )
    return replace(found, doubt=doubt)


def fit_in(project: Project, stage: str, batch: Sequence[BatchRow], placement: Placement) -> Project:
    """The rig with the placed crystals as built in the ladder `stage`: each with its own fs, Lm, C0, Q."""
    known = {row.label: row.parameters for row in batch}
    ladder = project.stage(stage)
    assert isinstance(ladder, LadderFilter)
    built = {ref: value for ref, value in ladder.as_built if not ref.startswith("X")}
    for each in placement.placed:
        crystal = known[each.label]
        if crystal is None:
            continue
        ref = each.ref
        built |= {ref: crystal.fs_hz, f"{ref}.lm": crystal.lm_h, f"{ref}.c0": crystal.c0_f}
        if crystal.q is not None:
            built[f"{ref}.q"] = crystal.q
    return project.edited(("stages", stage, "as_built"), built)


#: Two readings of series resonance this near are the same crystal, Hz; a file keeps every digit.
_SAME_HZ = 0.01


def fitted(
    batch: Sequence[BatchRow], ladder: LadderFilter, if_hz: float, on_hand: tuple[float, ...] = ()
) -> tuple[Placed, ...]:
    """Which crystal of the batch stands in which mesh as built, and how far its mesh lies from their mean.

    Crystals are known again by series resonance and inductance. Empty for a ladder, at an IF of `if_hz` [Hz],
    that is not wholly built of crystals of this batch.
    """
    wanted = ladder_filter.mesh_reactances(ladder, if_hz, on_hand)
    good = [row.parameters for row in batch if row.parameters is not None]
    if isinstance(wanted, Unsolved) or not good:
        return ()
    built = dict(ladder.as_built)
    places = [(mesh, ref) for mesh, refs in enumerate(ladder.crystal_refs, start=1) for ref in refs]
    chosen: list[CrystalParameters] = []
    for _, ref in places:
        # Two may read alike; the motional inductance, and that none stands twice, tell them apart.
        like = [c for c in good if c not in chosen and abs(c.fs_hz - built.get(ref, np.inf)) < _SAME_HZ]
        if not like:
            return ()
        chosen.append(min(like, key=lambda c: abs(c.lm_h - built.get(f"{ref}.lm", c.lm_h))))
    lies = np.diagonal(crystals.mesh_frequencies(chosen, np.array(wanted)))
    return tuple(
        Placed(mesh, each.label, float(error), ref)
        for (mesh, ref), each, error in zip(places, chosen, lies - lies.mean(), strict=True)
    )


def read_sweep(path: Path) -> tuple[Array, ComplexArray, bool]:
    """A measured sweep: frequency [Hz], S21, and whether only its magnitude is known.

    Touchstone (.s2p, .s1p is refused) or CSV with the columns frequency, S21 in dB, and phase in degrees if
    there is one. `FileError` with one sentence.
    """
    if not path.is_file():
        raise FileError(f"There is no sweep {path}; check its name.")
    if path.suffix.lower() == ".s2p":
        import skrf

        try:
            network = skrf.Network(str(path))
        except Exception as error:  # The library raises what its parser meets.
            raise FileError(f"{path.name} cannot be read as Touchstone ({error}); save it again.") from None
        return np.asarray(network.f), np.asarray(network.s[:, 1, 0]), False
    columns = {"frequency": "Hz", "s21": "dB", "?phase": ""}
    rows = _table(path.read_text(encoding="utf-8-sig", errors="replace"), columns)
    try:
        f = np.array([parse(row["frequency"], "Hz") for row in rows])
        size = 10 ** (np.array([parse(row["s21"], "dB") for row in rows]) / 20)
        phase = [row.get("phase", "") for row in rows]
        angle = np.radians([parse(each) if each else 0.0 for each in phase])
    except DesignError as error:
        raise FileError(f"{path.name}: {error}") from None
    s21 = np.asarray(size * np.exp(1j * angle), dtype=complex)
    return f, s21, not any(phase)


def _table(text: str, columns: dict[str, str]) -> list[dict[str, str]]:
    """Rows of a CSV text as name to cell with the header's unit appended; checks the header."""
    lines = [line for line in text.splitlines() if line.strip()]
    if not lines:
        raise DesignError("The table is empty; its first row names the columns.")
    delimiter = next((each for each in (";", "\t") if each in lines[0]), ",")
    reader = csv.reader(io.StringIO("\n".join(lines)), delimiter=delimiter, skipinitialspace=True)
    heads = [_head(cell) for cell in next(reader)]
    names = [name for name, _ in heads]
    needed = [name for name in columns if not name.startswith("?")]
    missing = [name for name in needed if name not in names]
    if missing:
        raise DesignError(
            f"The table lacks the column {missing[0]}; its first row must name {', '.join(needed)}."
        )
    found = []
    for cells in reader:
        row = {}
        for (name, unit), cell in zip(heads, cells, strict=False):
            bare = re.fullmatch(r"[-+−]?[\d\s.,]+([eE][-+]?\d+)?", cell.strip())
            row[name] = f"{cell.strip()} {unit}".strip() if bare and unit else cell.strip()
        found.append(row)
    return found


def _head(cell: str) -> tuple[str, str]:
    """`Peak (MHz)` as its name and unit."""
    match = re.fullmatch(r"\s*([\w ]+?)\s*(?:[(\[](.*?)[)\]])?\s*", cell)
    if match is None:
        return cell.strip().lower(), ""
    unit = (match[2] or "").strip()
    return match[1].lower(), "" if unit.lower() in ("degree", "degrees", "deg", "°") else unit


def _row(
    cells: dict[str, str], method: Method, fixture: Fixture, folder: Path, sweeps: Mapping[str, Sweep]
) -> BatchRow:
    label = cells.get("label", "") or "(no label)"

    def number(name: str, unit: str) -> float:
        text = cells.get(name, "")
        if not text:
            raise DesignError(f"{label}: {name} is empty; fill it in.")
        try:
            return parse(text, unit)
        except DesignError as error:
            raise DesignError(f"{label}: {name}: {error}") from None

    try:
        if cells.get("c0"):
            fixture = Fixture(
                fixture.source_ohm,
                fixture.load_ohm,
                fixture.capacitor_f,
                fixture.load_capacitance_f,
                number("c0", "F"),
            )
        ways: dict[Method, Callable[[], CrystalParameters | Unsolved]] = {
            "bandwidth": lambda: crystals.from_bandwidth(
                label, number("peak", "Hz"), number("bandwidth", "Hz"), number("loss", "dB"), fixture
            ),
            "series_capacitor": lambda: crystals.from_series_capacitor(
                label, number("without", "Hz"), number("with", "Hz"), fixture
            ),
            "parallel_capacitor": lambda: crystals.from_parallel_resonance(
                label,
                number("series", "Hz"),
                number("parallel", "Hz"),
                fixture,
                number("with", "Hz") if cells.get("with") else None,
            ),
            "sweep": lambda: _swept(label, cells.get("file", ""), fixture, folder, sweeps),
        }
        result = ways[method]()
    except (DesignError, FileError) as error:
        return BatchRow(label, None, str(error))
    if isinstance(result, Unsolved):
        return BatchRow(label, None, result.reason)
    return BatchRow(label, result)


def _swept(
    label: str, name: str, fixture: Fixture, folder: Path, sweeps: Mapping[str, Sweep]
) -> CrystalParameters | Unsolved:
    if name in sweeps:
        return _fitted(label, sweeps[name], fixture)
    f, s21, magnitude_only = read_sweep(folder / name)
    return crystals.from_sweep(label, f, s21, fixture, magnitude_only=magnitude_only)


@lru_cache(maxsize=256)
def _fitted(label: str, sweep: Sweep, fixture: Fixture) -> CrystalParameters | Unsolved:
    """A stored sweep's crystal; kept, because a page that shows a batch asks after every turn of the IF."""
    size = 10 ** (np.array(sweep.s21_db) / 20)
    angle = np.radians(sweep.s21_degrees) if sweep.s21_degrees else np.zeros(size.size)
    s21 = np.asarray(size * np.exp(1j * angle), dtype=complex)
    return crystals.from_sweep(
        label, np.array(sweep.f_hz), s21, fixture, magnitude_only=not sweep.s21_degrees
    )
