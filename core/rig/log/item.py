"""Something that can be read on the bench, and what was typed as a reading of it."""

import re
from difflib import get_close_matches
from math import log10, sqrt
from typing import Any, Literal

from core.model.notebook.bench_log import About
from core.model.values.errors import DesignError
from core.model.values.notation import format_value, is_bare, parse, parse_near
from core.model.values.quantities import spelled
from core.model.values.wording import shortened
from core.record import record
from core.rig.figures.figure import Figure

#: Of what was read and is expected no more, such as a part of another circuit, nothing can be said.
Verdict = Literal["within", "out", "not yet measured", "no longer expected"]
#: What a level is taken to stand in where nothing is said, ohm.
_NOMINAL_OHM = 50.0
#: Units of a level besides decibels over a milliwatt.
LEVEL_UNITS = ("dBm", "W", "V", "V pp")


@record(kw_only=True)
class Item:
    """Something that can be read: which it is, what a builder calls it, and what is expected.

    `about`, `stage`, `key`, `way` and `band` are what a reading binds to; `name` is the stage's, `words` what
    is read there and `help` what that is. `value` is what is expected in `unit`, None where nothing is, and
    `plus_minus` how far it may be off; only one side is bad where it is `at_least` or `at_most` that much. A
    level stands in `load_ohm` [ohm]. `sought` are those that a rig is brought up by.
    """

    about: About
    stage: str
    name: str
    key: str
    words: str
    unit: str
    value: float | None
    plus_minus: float
    way: str = ""
    band: str = ""
    load_ohm: float | None = None
    figure: Figure[Any] | None = None
    help: str = ""
    at_least: bool = False
    at_most: bool = False
    sought: bool = False

    @property
    def place(self) -> tuple[str, str, str, str, str]:
        """What a reading of it is bound to."""
        return self.about, self.stage, self.key, self.way, self.band

    @property
    def code(self) -> str:
        """The same as one word, for a command line: `ladder/bandwidth_6db_hz/20m`."""
        return "/".join(filter(None, (self.stage or "rig", self.key, self.way, self.band)))

    @property
    def title(self) -> str:
        """The whole in words: stage, what is read, direction and band."""
        where = ", ".join(filter(None, (self.way, spelled(self.band) if self.band else "")))
        return f"{self.name}: {self.words}{f' ({where})' if where else ''}"

    def text(self, value: float | None, unit: str = "") -> str:
        """A value of it as it is written."""
        if value is None:
            return "—"
        unit = unit or self.unit
        if unit == "V pp":
            return f"{format_value(value, 'V', 3)} pp"
        if self.figure is not None and unit == self.unit:
            return self.figure.written(value)
        if unit.startswith("dB"):
            return f"{value:.1f} {unit}".replace("-", "−")
        return format_value(value, unit, 6 if unit == "Hz" else 4)

    def spread_text(self, value: float) -> str:
        """How far something may be off, as it is written: two digits."""
        if self.unit.startswith("dB"):
            return f"{value:.2g} dB"
        return format_value(value, self.unit, 2)

    def in_unit(self, value: float, unit: str) -> float:
        """A value read in a unit, in the item's own; `DesignError` where that is another thing."""
        if unit in ("", self.unit):
            return value
        if self.unit == "dBm" and unit in LEVEL_UNITS:
            rms_v = value / (2 * sqrt(2)) if unit == "V pp" else value
            watt = value if unit == "W" else rms_v**2 / (self.load_ohm or _NOMINAL_OHM)
            if not watt > 0:
                raise DesignError("A level of nothing at all cannot be told in dBm; leave it out.")
            return 10 * log10(watt / 1e-3)
        raise DesignError(f"{self.title} is read in {self.unit or 'plain numbers'} and not in {unit}.")

    def off(self, value: float, unit: str) -> float:
        """How far a reading lies from what is expected, in the item's unit; zero without."""
        return 0.0 if self.value is None else self.in_unit(value, unit) - self.value


def read_as(item: Item, text: str) -> tuple[float, str]:
    """The value and the unit that a text means as a reading of an item: `2.5 Vpp`, `-20 dBm`, `2400`.

    A bare number is in the unit in which what is expected is written. `DesignError` with one sentence.
    """
    level = _LEVEL.fullmatch(text.strip()) if item.unit == "dBm" else None
    if level is not None:
        # The number goes with its prefix and a plain unit; from peak to peak is told apart here alone.
        unit = "V pp" if level["pp"] else level["unit"].upper()
        return parse(f"{level['number']} {level['prefix']}{level['unit'].upper()}", unit[0]), unit
    if item.unit == "%":
        # A figure counts per cents, and what is parsed is a share.
        return 100 * parse(f"{text} %" if is_bare(text) else text, "%"), "%"
    if not item.unit or item.unit.startswith("dB") or item.value is None:
        return parse(text, item.unit), item.unit
    return parse_near(text, item.unit, _shown(item), item.value), item.unit


#: A level as volts, from peak to peak or not, or as watts.
_LEVEL = re.compile(r"(?P<number>.*\d)\s*(?P<prefix>[pnuµmk]?)(?P<unit>[vVwW])\s*(?P<pp>p-?p)?")


def _shown(item: Item) -> str:
    """The unit with its prefix in which what is expected is written."""
    return item.text(item.value).rpartition(" ")[2]


def found(items_: tuple[Item, ...], code: str) -> Item:
    """The item of a code; `DesignError` names what comes near."""
    for each in items_:
        if each.code == code:
            return each
    near = get_close_matches(code, [each.code for each in items_], n=3, cutoff=0.4)
    hint = f"did you mean {' or '.join(near)}?" if near else "--all lists what can be read."
    raise DesignError(f"There is nothing called {shortened(code)} to be read in this rig; {hint}")
