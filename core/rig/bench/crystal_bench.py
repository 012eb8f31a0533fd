"""The crystal bench: a batch of readings from a table."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

import numpy as np

from core.model.bench import CrystalBatch, Sweep
from core.model.readings import COLUMNS as FIGURES
from core.model.readings import MOST_CRYSTALS, CrystalReading, figure_in, readings_of, table_of
from core.model.values.errors import DesignError
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


@record
class BatchRow:
    """One crystal of the batch: its parameters, or why its readings were refused; `left_out`: ticked out."""

    label: str
    parameters: CrystalParameters | None
    refused: str = ""
    left_out: bool = False


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
