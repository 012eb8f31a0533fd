"""The crystal bench: a batch of readings from a table, and its statistics."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

import numpy as np

from core.circuits.ladder import Array, frozen
from core.model.bench import CrystalBatch, Sweep
from core.model.readings import COLUMNS as FIGURES
from core.model.readings import MOST_CRYSTALS, CrystalReading, figure_in, readings_of, table_of
from core.model.values.errors import DesignError
from core.model.values.notation import format_value
from core.model.values.tables import read_table
from core.model.values.wording import shortened, visible
from core.record import record
from core.rig.bench import sweep_files
from core.rig.bench.kept import kept
from core.stages.crystals import crystal_sweep, crystals
from core.stages.crystals.crystals import CrystalParameters, Fixture, Method
from core.stages.outcome import Unsolved

#: The columns of each method; those after the mark `?` may be missing.
COLUMNS: dict[Method, tuple[str, ...]] = {
    "bandwidth": ("label", "peak", "bandwidth", "loss", "?c0"),
    "series_capacitor": ("label", "without", "with", "?c0"),
    "parallel_capacitor": ("label", "series", "parallel", "?with", "?loss", "?c0"),
    "sweep": ("label", "file", "?c0"),
}
#: The errors of a fixture that intervals count, in words.
FIXTURE_ERRORS = (
    f"{100 * crystals.RESISTANCE_ERROR:g} % in its resistances, {crystals.LEVEL_ERROR_DB:g} dB, "
    f"{100 * crystals.CAPACITOR_ERROR:g} % in its capacitor and "
    f"{crystals.HOLDER_ERROR_F * 1e12:g} pF of holder"
)
#: A file of readings beyond this is none.
LARGEST_TABLE_BYTES = 1_000_000
#: Further from the median than this many median deviations is an outlier, among so many or more, and only
#: when it matters: shares of fs, ratios of Lm and of Q (logarithms).
_OUTLIER_DEVIATIONS, _FEWEST_TO_JUDGE = 5.0, 5
_OUTLIER_SHARE_OF_FS, _OUTLIER_LM, _OUTLIER_LOSS = 5e-6, 0.04, 0.5


@record
class BatchRow:
    """One crystal of the batch: its parameters, or why its readings were refused; `left_out`: ticked out."""

    label: str
    parameters: CrystalParameters | None
    refused: str = ""
    left_out: bool = False


@record(kw_only=True)
class BatchFigures:
    """Mean and standard deviation over the crystals that may be chosen.

    `outliers` are the labels of those that lie far out, and in what.
    """

    count: int
    fs_hz: tuple[float, float]
    lm_h: tuple[float, float]
    q: tuple[float, float] | None
    spread_hz: float
    outliers: tuple[tuple[str, str], ...]


@record
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


def worked_out(
    readings: Sequence[CrystalReading],
    method: Method,
    fixture: Fixture,
    sweeps: Sequence[Sweep] = (),
    refused: Mapping[str, str] = MappingProxyType({}),
) -> tuple[BatchRow, ...]:
    """The batch of these readings; `sweeps` are those that they may name. No file is read.

    A reading that cannot be used stays, with its reason; `refused` has the reasons for sweeps that could
    not be read. `DesignError` where no reading has anything in a column of the method.
    """
    needed = needed_columns(method)
    for column in needed[1:]:
        if readings and not any(_text(each, column) or each.as_typed(column) for each in readings):
            raise DesignError(
                f"No reading has anything in the column {column}; the first row must name "
                f"{', '.join(needed)}."
            )
    known = {sweep.label: sweep for sweep in sweeps}
    seen: set[str] = set()
    rows = []
    for reading in readings:
        # A label is quoted wherever its crystal is spoken of.
        label = shortened(visible(reading.label))
        if beyond := reading.as_typed(None):
            rows.append(
                BatchRow(
                    label,
                    None,
                    f"{label}: “{shortened(visible(beyond))}” stands beyond the columns that the first row "
                    "names; part columns by semicolons where commas are decimal marks.",
                )
            )
        elif not label:
            rows.append(
                BatchRow("", None, "A crystal without a label cannot be told from others; number it.")
            )
        elif label in seen:
            rows.append(BatchRow(label, None, f"{label}: this label stands above already; give it another."))
        else:
            rows.append(_row(label, reading, method, fixture, known, refused))
        seen.add(label)
    return tuple(rows)


def _text(reading: CrystalReading, column: str) -> str:
    """What stands in a column that holds something."""
    figure = None if column == "file" else reading.figure(column)
    return reading.file if column == "file" else "" if figure is None else f"{figure:g}"


def needed_columns(method: Method) -> tuple[str, ...]:
    """The columns that a table of this method must have."""
    return tuple(name for name in COLUMNS[method] if not name.startswith("?"))


def fixture_of(asked: CrystalBatch) -> Fixture:
    """What the readings of a batch were taken with."""
    return Fixture(
        source_ohm=asked.source_ohm,
        load_ohm=asked.load_ohm,
        capacitor_f=asked.capacitor_f,
        load_capacitance_f=asked.oscillator_load_f,
        c0_f=asked.c0_f,
        to_a_wire=asked.sweep_zero == "wire",
        as_files_state=asked.sweep_resistances == "of_file",
    )


def batch_of(asked: CrystalBatch, refused: Mapping[str, str] = MappingProxyType({})) -> tuple[BatchRow, ...]:
    """The batch of a project; `DesignError` when what was typed is no table of its method.

    `refused` has the reasons for sweeps that could not be read, by name.
    """
    if asked.draft:
        # Raises what makes it none, in the words of its method.
        read_table(asked.draft, dict.fromkeys(needed_columns(asked.method), ""), MOST_CRYSTALS)
        readings_of(asked.draft)
    rows = worked_out(asked.readings, asked.method, fixture_of(asked), asked.sweeps, refused)
    out = set(asked.left_out)
    return tuple(replace(row, left_out=True) if row.label in out else row for row in rows)


def to_fit(asked: CrystalBatch) -> tuple[Sweep, ...]:
    """The sweeps of a batch that must be fitted yet, once for each crystal that names one."""
    return tuple(each[0] for each in _fits(asked) if not _fitted.knows(*each))


def fit_sweeps(asked: CrystalBatch) -> Iterator[float]:
    """Fit the sweeps of a batch one by one, so that nobody waits for them later; safe beside other threads.

    What share is done is told before each.
    """
    fits = tuple(_fits(asked))
    for number, each in enumerate(fits):
        yield number / len(fits)
        _fitted(*each)


def _fits(asked: CrystalBatch) -> Iterator[tuple[Sweep, str, Fixture]]:
    if asked.method == "sweep":
        known = {sweep.label: sweep for sweep in asked.sweeps}
        fixture = fixture_of(asked)
        for each in asked.readings:
            if each.file in known and each.label and not each.as_typed("c0"):
                yield known[each.file], shortened(visible(each.label)), _own_fixture(each.c0_f, fixture)


def _own_fixture(c0_f: float | None, fixture: Fixture) -> Fixture:
    """The fixture with a crystal's own C0 where that was measured."""
    return fixture if c0_f is None else replace(fixture, c0_f=c0_f, c0_measured=True)


def with_readings(asked: CrystalBatch, text: str) -> CrystalBatch:
    """The batch with other readings, as typed; of its sweeps those stay that they name. No file is read.

    What is no table yet is kept as a draft, so that it is not lost. `DesignError` where it is too long even
    for that.
    """
    try:
        readings = readings_of(text)
    except DesignError:
        readings = ()
    if not readings:
        return asked.edited(("readings",), ()).edited(("draft",), text if text.strip() else "")
    batch = asked.edited(("draft",), "").edited(("readings",), readings)
    named = set(sweep_names(readings))
    kept = tuple(sweep for sweep in asked.sweeps if sweep.label in named)
    return batch if kept == batch.sweeps else batch.edited(("sweeps",), kept)


def table_text(asked: CrystalBatch) -> str:
    """The readings of a batch as the table in which they are typed, or the draft of one."""
    return asked.draft or (table_of(asked.readings, needed_columns(asked.method)) if asked.readings else "")


def with_sweeps(asked: CrystalBatch, folder: Path) -> tuple[CrystalBatch, dict[str, str]]:
    """The batch with every sweep that its readings name, read anew from a folder the builder chose.

    What cannot be read anew stays as it was; the reasons are given by name.
    """
    sweeps, refused = sweep_files.collect(sweep_names(asked.readings), folder, asked.sweeps)
    return asked.edited(("sweeps",), sweeps), refused


def sweep_names(readings: Sequence[CrystalReading]) -> tuple[str, ...]:
    """The sweeps that readings name."""
    return tuple(dict.fromkeys(each.file for each in readings if each.file))


def example(method: Method) -> str:
    """A header row with which a table of this method begins."""
    return ";".join(
        f"{name} ({FIGURES[name][1]})" if name in FIGURES else name
        for name in (each.lstrip("?") for each in COLUMNS[method] if each != "?c0")
    )


def with_header(text: str, method: Method) -> str:
    """Readings under a header row of this method, put before them where none of the rows is one."""
    body = text.lstrip()
    try:
        readings_of(body)
    except DesignError:
        first = body.partition("\n")[0]
        mark = next((each for each in (";", "\t", ",") if each in first), ";")
        return f"{example(method).replace(';', mark)}\n{body}"
    return text


def figures(batch: Sequence[BatchRow]) -> BatchFigures | None:
    """Statistics of the crystals of a batch that may be chosen; None when there is none.

    How far out a crystal lies is told of those too that are left out.
    """
    read = [row.parameters for row in batch if row.parameters is not None]
    good = [row.parameters for row in batch if row.parameters is not None and not row.left_out]
    if not good:
        return None
    fs, lm = np.array([c.fs_hz for c in good]), np.array([c.lm_h for c in good])
    q = np.array([c.q for c in good if c.q is not None])
    many = min(len(good) - 1, 1)
    return BatchFigures(
        count=len(good),
        fs_hz=(float(fs.mean()), float(fs.std(ddof=many))),
        lm_h=(float(lm.mean()), float(lm.std(ddof=many))),
        q=None if q.size == 0 else (float(q.mean()), float(q.std(ddof=min(q.size - 1, 1)))),
        spread_hz=float(np.ptp(fs)),
        outliers=_outliers(read),
    )


def c0_too_small(batch: Sequence[BatchRow]) -> str:
    """One sentence for all crystals whose C0, which nobody measured, is less than quartz allows; or none.

    It is a matter of the C0 assumed and not of the crystals, so no crystal's remark repeats it.
    """
    good = [row.parameters for row in batch if row.parameters is not None and not row.left_out]
    least = [each.least_c0_f for each in good if each.least_c0_f is not None]
    if not least:
        return ""
    whose = "The crystal" if len(good) == 1 else f"{len(least)} of {len(good)} crystals"
    verb = "has" if len(good) == 1 or len(least) == 1 else "have"
    return (
        f"{whose} {verb} a Cm that wants a C0 of {format_value(max(least), 'F', 2)} or more; measure C0 and "
        "give it."
    )


def _outliers(good: Sequence[CrystalParameters]) -> tuple[tuple[str, str], ...]:
    """Crystals far from the others, and in what; of a handful nobody can say which one is odd."""
    if len(good) < _FEWEST_TO_JUDGE:
        return ()
    found: dict[str, list[str]] = {}

    def judge(values: Array, least: float, say: Callable[[float], str], *, above_only: bool = False) -> None:
        """Note what lies more than five median deviations, and more than `least`, from the median."""
        offset = values - np.median(values)
        limit = max(_OUTLIER_DEVIATIONS * float(np.median(np.abs(offset))), least)
        for crystal, off in zip(good, offset, strict=True):
            if off > limit or (off < -limit and not above_only):
                found.setdefault(crystal.label, []).append(say(float(off)))

    fs = np.array([c.fs_hz for c in good])
    judge(fs, _OUTLIER_SHARE_OF_FS * float(np.median(fs)), lambda off: f"fs {off:+.0f} Hz".replace("-", "−"))
    lm = np.log([c.lm_h for c in good])
    judge(lm, _OUTLIER_LM, lambda off: f"Lm {100 * np.expm1(off):+.0f} %".replace("-", "−"))
    known = [c.half_width_hz for c in good if c.half_width_hz is not None]
    if len(known) >= _FEWEST_TO_JUDGE:
        usual = float(np.median(known))
        half = np.log([usual if c.half_width_hz is None else c.half_width_hz for c in good])
        judge(half, _OUTLIER_LOSS, lambda off: f"Q only {100 * np.exp(-off):.0f} % of usual", above_only=True)
    return tuple((label, ", ".join(what)) for label, what in sorted(found.items()))


def _row(
    label: str,
    reading: CrystalReading,
    method: Method,
    fixture: Fixture,
    sweeps: Mapping[str, Sweep],
    refused: Mapping[str, str],
) -> BatchRow:
    def figure(column: str) -> float | None:
        if typed := reading.as_typed(column):
            try:
                return figure_in(typed, FIGURES[column][1])
            except DesignError as error:
                raise DesignError(f"{label}: {column}: {error}") from None
        return reading.figure(column)

    def needed(column: str) -> float:
        value = figure(column)
        if value is None:
            raise DesignError(f"{label}: {column} is empty; fill it in.")
        return value

    try:
        c0_f = figure("c0")
        if method == "parallel_capacitor" and c0_f is not None and figure("with") is not None:
            raise DesignError(f"{label}: “with” finds C0, and c0 gives it; leave one of them empty.")
        fixture = _own_fixture(c0_f, fixture)
        ways: dict[Method, Callable[[], CrystalParameters | Unsolved]] = {
            "bandwidth": lambda: crystals.from_bandwidth(
                label, needed("peak"), needed("bandwidth"), needed("loss"), fixture
            ),
            "series_capacitor": lambda: crystals.from_series_capacitor(
                label, needed("without"), needed("with"), fixture
            ),
            "parallel_capacitor": lambda: crystals.from_parallel_resonance(
                label, needed("series"), needed("parallel"), fixture, figure("with"), figure("loss")
            ),
            "sweep": lambda: _swept(label, reading.file, fixture, sweeps, refused),
        }
        with np.errstate(all="ignore"):
            result = ways[method]()
    except DesignError as error:
        return BatchRow(label, None, str(error))
    except (ArithmeticError, np.linalg.LinAlgError):
        return BatchRow(label, None, f"{label}: no crystal has such readings; read again.")
    if isinstance(result, Unsolved):
        return BatchRow(label, None, result.reason)
    return BatchRow(label, result)


def _swept(
    label: str, name: str, fixture: Fixture, sweeps: Mapping[str, Sweep], refused: Mapping[str, str]
) -> CrystalParameters | Unsolved:
    if not name:
        raise DesignError(f"{label}: file is empty; name its sweep.")
    if name in sweeps:
        return _fitted(sweeps[name], label, fixture)
    if name in refused:
        raise DesignError(f"{label}: {refused[name]}")
    raise DesignError(
        f"{label}: the sweep {name} is not in this project; bring it in on the page Crystals with "
        "“Import sweeps…”."
    )


@kept(2 * MOST_CRYSTALS)
def _fitted(sweep: Sweep, label: str, fixture: Fixture) -> CrystalParameters | Unsolved:
    """A stored sweep's crystal; kept, because a page that shows a batch asks after every turn of the IF."""
    stated, typed = sweep.reference_ohm, {fixture.source_ohm, fixture.load_ohm}
    overruled = fixture.as_files_state and stated is not None and typed != {stated}
    if overruled and stated is not None:
        fixture = replace(fixture, source_ohm=stated, load_ohm=stated)
    size = 10 ** (np.array(sweep.s21_db) / 20)
    angle = np.radians(sweep.s21_degrees) if sweep.s21_degrees else np.zeros(size.size)
    s21 = np.asarray(size * np.exp(1j * angle), dtype=complex)
    try:
        with np.errstate(all="ignore"):
            found = crystal_sweep.from_sweep(
                label, np.array(sweep.f_hz), s21, fixture, magnitude_only=not sweep.s21_degrees
            )
    except (ArithmeticError, np.linalg.LinAlgError):
        return Unsolved(f"{label}: no crystal has such readings; read again.")
    if overruled and isinstance(found, CrystalParameters):
        return crystals.doubted(found, f"between {stated:g} Ω, as its file states, not as typed")
    return found
