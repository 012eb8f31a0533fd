"""A figure of a result, declared once, so that it is called and written alike wherever it is told."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from math import copysign, isfinite
from typing import Any, Generic, TypeVar, cast

from core.model.values.notation import format_value
from core.model.values.quantities import spelled
from core.record import record
from core.stages.outcome import Unsolved

T = TypeVar("T")
U = TypeVar("U")
Row = dict[str, Any]
#: What a figure may come to: a number in SI units, several of them, words, yes or no; None for no such thing,
#: `Unsolved` for one that cannot be, with the reason.
Value = float | str | bool | tuple[float, ...] | tuple[str, ...] | Unsolved | None

#: Prefixes that figures of one column share, to their factor.
_PREFIXES = {"": 1.0, "k": 1e3, "M": 1e6, "m": 1e-3}
#: Units of plain numbers, and of words.
PLAIN, WORDS = "-", ""


@record(kw_only=True, slots=False)
class Figure(Generic[T]):
    """One figure of results of type T.

    `key` is its name in JSON (`keys` those of its several numbers), `title` what it is called on screen and
    paper, `what` tells in one sentence what it is and `source` by what formula or from where. `get` takes it
    out of a result, in SI units of `unit`. It is written with `digits` significant digits and the prefix
    that suits the value, or with `places` decimals and this `prefix`; several numbers with `joint` between
    them. `words` spells one that is a word of the model. Beyond `within`, to either side of zero, no
    number is told. `listed`: it has a column in text tables.
    """

    key: str
    title: str
    what: str
    source: str
    get: Callable[[T], Any]
    unit: str = WORDS
    digits: int = 3
    places: int | None = None
    prefix: str = ""
    signed: bool = False
    joint: str = " to "
    keys: tuple[str, ...] = ()
    absent: str = "-"
    words: Callable[[str], str] = str
    within: float | None = None
    listed: bool = True

    @property
    def tip(self) -> str:
        """What is told of the figure when it is pointed at."""
        return f"{self.what} Source: {self.source}."

    @property
    def shown(self) -> str:
        """How a finding writes it, as its format and prefix."""
        if self.places is None:
            return str(self.digits)
        return f"{'+' if self.signed else ''}.{self.places}f {self.prefix}".rstrip()

    def text(self, of: T) -> str:
        """The figure of a result as it is written everywhere."""
        return self.written(self.get(of))

    def written(self, value: Value) -> str:
        """A value of this figure, with its unit; several equal ones once."""
        if isinstance(value, Unsolved):
            return value.reason
        if isinstance(value, bool):
            return "yes" if value else "no"
        if value is None or value in ((), ""):
            return self.absent
        if isinstance(value, str):
            return self.words(value)
        if not isinstance(value, tuple):
            return self._number(value)
        told = [self.words(each) for each in value if isinstance(each, str)]
        return self.joint.join(
            told or _unit_once([self._number(each) for each in value if not isinstance(each, str)])
        )

    def bare(self, value: float) -> str:
        """A number of fixed decimals without its unit, for a column that has it in its head."""
        number = f"{value / _PREFIXES[self.prefix]:.{self.places}f}"
        if not float(number):
            number = number.removeprefix("-")
        elif self.signed and value > 0:
            number = f"+{number}"
        return number.replace("-", "−")

    def _number(self, value: float) -> str:
        if self.within is not None and abs(value) > self.within:
            return f"{'over' if value > 0 else 'under'} {self._number(copysign(self.within, value))}"
        if self.places is None:
            text = format_value(value, self.unit, self.digits)
            return f"+{text}" if self.signed and value > 0 else text
        return self.bare(value) + ("" if self.unit in (PLAIN, WORDS) else f" {self.prefix}{self.unit}")

    def plain(self, of: T) -> Row:
        """The figure of a result under its keys, for JSON; None stands for what does not exist."""
        value: Value = self.get(of)
        known = None if isinstance(value, Unsolved) else value
        if not self.keys:
            return {self.key: [*map(finite, known)] if isinstance(known, tuple) else finite(known)}
        ends = known if isinstance(known, tuple) else (None,) * len(self.keys)
        return dict(zip(self.keys, map(finite, ends), strict=True))

    def read(self, row: Mapping[str, Any]) -> str:
        """The figure as written, from a row that `plain` made part of."""
        if not self.keys:
            value = row[self.key]
            return self.written(tuple(value) if isinstance(value, list) else value)
        ends = [row[key] for key in self.keys]
        return self.written(None if None in ends else tuple(ends))


Table = tuple[Figure[T], ...]


def label(
    key: str, title: str, get: Callable[[T], Any], *, joint: str = " ", words: Callable[[str], str] = str
) -> Figure[T]:
    """What tells a row from others: its band, stage or kind."""
    return Figure(
        key=key,
        title=title,
        get=get,
        what=f"The {title} of the row.",
        source="the project",
        joint=joint,
        words=words,
    )


def behind(figure: Figure[T], of: Callable[[U], T]) -> Figure[U]:
    """The same figure, of a result that holds the one it is declared for."""
    return cast(Figure[U], replace(figure, get=lambda held: figure.get(of(held))))  # type: ignore[arg-type]


def band_label(get: Callable[[T], str]) -> Figure[T]:
    """The band of a row."""
    return label("band", "band", get, words=spelled)


def bands_label(get: Callable[[T], tuple[str, ...]]) -> Figure[T]:
    """The bands that a row is about."""
    return label("bands", "bands", get, joint=", ", words=spelled)


def plain_row(table: Table[T], of: T) -> Row:
    """Every figure of a result under its keys."""
    return {key: value for figure in table for key, value in figure.plain(of).items()}


def keyed(table: Table[T]) -> dict[str, Figure[T]]:
    """The figures by their keys."""
    return {figure.key: figure for figure in table}


def by_key(table: Table[T], *keys: str) -> Table[T]:
    """The figures of these keys, in this order; `KeyError` where a table lacks one."""
    known = keyed(table)
    return tuple(known[key] for key in keys)


def lines(table: Table[Any], rows: Sequence[Mapping[str, Any]]) -> list[list[str]]:
    """Rows of JSON as texts below the figures' titles, a column for each figure that is listed."""
    listed = [figure for figure in table if figure.listed]
    return [[figure.title for figure in listed], *([figure.read(row) for figure in listed] for row in rows)]


def finite(value: Any) -> Any:
    """None for an infinite number (a response that passes nothing at all), which JSON cannot say."""
    return None if isinstance(value, float) and not isfinite(value) else value


def _unit_once(texts: Sequence[str]) -> list[str]:
    """Texts with the unit that all share behind the last only."""
    units = {text.partition(" ")[2] for text in texts}
    if len(units) > 1:
        return list(texts)
    return [*(text.partition(" ")[0] for text in texts[:-1]), texts[-1]]
