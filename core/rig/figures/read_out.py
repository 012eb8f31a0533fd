"""Figures of what the counter shows on a band."""

from collections.abc import Mapping
from typing import Any

from core.model.readout import Counter
from core.model.values.notation import format_value
from core.model.values.quantities import spelled
from core.record import record
from core.rig.figures.figure import Figure, Table, band_label
from core.rig.read_out.plan import BandReadOut, Options, ReadOutPlan
from core.rig.read_out.schemes import Reading, Refusal
from core.stages.outcome import Unsolved

_ARITHMETIC = "mixing arithmetic, dial = carrier ± VFO"


@record(slots=False)
class ShownOn:
    """What the counter shows on a band, the display's step [Hz], and the schemes that were looked at."""

    row: BandReadOut
    resolution_hz: float
    options: Options | None = None

    @property
    def reading(self) -> Reading | None:
        """The scheme chosen; None where no scheme works."""
        return None if isinstance(self.row.reading, Unsolved) else self.row.reading


_COUNTED = "arithmetic of the read-out plan"


class Stored(Figure[ShownOn]):
    """What is stored, with the sign that it is counted with."""

    def text(self, of: ShownOn) -> str:
        """What is stored on a band."""
        reading = of.reading
        return self.absent if reading is None else self.counted(reading.offset_hz, reading.direction)

    def read(self, row: Mapping[str, Any]) -> str:
        """What is stored, from a row of JSON."""
        return self.absent if row[self.key] is None else self.counted(row[self.key], row["direction"])

    def counted(self, offset_hz: float, direction: str) -> str:
        """An offset [Hz] that is added, subtracted, or none at all."""
        sign = {"add": "+", "subtract": "−"}.get(direction)
        return "nothing" if sign is None else f"{sign}{self.written(offset_hz)}"


STORED = Stored(
    key="offset_hz",
    title="stored",
    what="What is stored in the counter for the band.",
    source=_COUNTED,
    get=lambda s: s.reading and s.reading.offset_hz,
    unit="Hz",
    places=6,
    prefix="M",
)

#: The helper crystal, to the digits that such crystals are marked with.
HELPER = Figure[ReadOutPlan](
    key="helper_hz",
    title="helper crystal",
    what="The crystal of the helper oscillator, with which the VFO is mixed before it is counted.",
    source="the cheapest of stocked crystals that serves all bands, or as chosen",
    get=lambda p: p.helper_hz,
    unit="Hz",
    digits=8,
)
_EDGE = Figure[Reading](
    key="filter_hz",
    title="filter",
    what="Where the filter behind the helper's mixer passes.",
    source=_COUNTED,
    get=lambda r: r.filter_hz,
    unit="Hz",
)


class _Near(Figure[Refusal]):
    """A frequency to the kilohertz; one that is lower to three digits."""

    def _number(self, value: float) -> str:
        return super()._number(value) if value >= _LOW_HZ else format_value(value, self.unit, self.digits)


_LOW_HZ = 10e3
_NEAR = _Near(
    key="hz",
    title="frequency",
    what="A frequency by which a scheme was turned down.",
    source=_COUNTED,
    get=lambda r: r.hz,
    unit="Hz",
    places=3,
    prefix="M",
)


def _scheme(of: Reading) -> str:
    return of.scheme if of.helper_hz is None else f"{of.scheme}, helper {HELPER.written(of.helper_hz)}"


def _filter(of: Reading) -> str:
    kind = {0: "", 1: "low-pass at", 2: "band-pass"}[len(of.filter_hz)]
    return f"{kind} {_EDGE.text(of)}" if kind else ""


def _refused(of: Refusal) -> str:
    many = len(of.helpers_hz)
    if not many:
        return of.scheme
    who = f"{many} helper crystals" if many > 1 else f"helper {HELPER.written(of.helpers_hz[0])}"
    return f"{of.scheme}, {who}"


#: Other schemes of a band.
OTHERS: Table[Reading] = (
    Figure(
        key="scheme",
        title="scheme",
        what="What the counter counts, and what is added or subtracted.",
        source=_COUNTED,
        get=_scheme,
    ),
    Figure(
        key="stored",
        title="stored",
        what="What is stored in the counter for the band, added to the count or subtracted from it.",
        source=_COUNTED,
        get=lambda r: STORED.counted(r.offset_hz, r.direction),
    ),
    Figure(
        key="filter",
        title="filter",
        what="What brings the counted product out of the helper's mixer.",
        source=_COUNTED,
        get=_filter,
        absent="none",
    ),
    Figure(
        key="birdies",
        title="birdies",
        what="How many weak products of the helper, and harmonics of what is counted, are heard on the dial.",
        source="whole multiples of VFO and helper over the dial",
        get=lambda r: r.birdies,
        unit="-",
    ),
)

#: Schemes that were turned down.
REFUSED: Table[Refusal] = (
    Figure(
        key="scheme",
        title="scheme",
        what="What would be counted, and with which helper crystals.",
        source=_COUNTED,
        get=_refused,
    ),
    Figure(
        key="reason",
        title="reason",
        what="Why it does not serve, first of what stands against it.",
        source=_COUNTED,
        get=lambda r: r.words.format(*map(_NEAR.written, r.hz)),
    ),
)

READ_OUT: Table[ShownOn] = (
    band_label(lambda s: s.row.band),
    Figure(
        key="scheme",
        title="scheme",
        what="What the counter counts, and what is added or subtracted.",
        source=_COUNTED,
        get=lambda s: s.reading and _scheme(s.reading),
        absent="cannot be shown",
    ),
    STORED,
    Figure(
        key="direction",
        title="by",
        what="Whether what is stored is added to the count or subtracted from it.",
        source=_COUNTED,
        get=lambda s: s.reading and s.reading.direction,
        listed=False,
    ),
    Figure(
        key="helper_hz",
        title="helper",
        what="The helper oscillator that the VFO is mixed with before it is counted.",
        source="the crystal that serves every band with the fewest birdies",
        get=lambda s: s.reading and s.reading.helper_hz,
        unit="Hz",
        digits=8,
    ),
    Figure(
        key="counted",
        keys=("counted_low_hz", "counted_high_hz"),
        title="counted",
        what="What the counter sees from one end of the dial to the other.",
        source=_COUNTED,
        get=lambda s: s.reading and (min(s.reading.counted_hz), max(s.reading.counted_hz)),
        unit="Hz",
        places=5,
        prefix="M",
    ),
    Figure(
        key="shows",
        keys=("shows_low_hz", "shows_high_hz"),
        title="shows",
        what="What the display shows at both ends of the dial.",
        source="the count cut to whole steps, as the module forms it",
        get=lambda s: s.reading and s.reading.shows_hz,
        unit="Hz",
        places=5,
        prefix="M",
    ),
    Figure(
        key="resolution_hz",
        title="step",
        what="The smallest step of the display.",
        source="prescaler over gate time",
        get=lambda s: s.resolution_hz,
        unit="Hz",
    ),
    Figure(
        key="error_hz",
        title="off by up to",
        what="How far the display may be off, with carrier and helper as they are known now.",
        source="the counter's clock, and what is assumed of a crystal that was not measured",
        get=lambda s: s.row.error and s.row.error.hz,
        unit="Hz",
        places=0,
    ),
    Figure(
        key="error_measured_hz",
        title="measured, off by",
        what="How far it may be off once carrier and helper are measured with this counter.",
        source="the counter's clock alone",
        get=lambda s: s.row.error and s.row.error.measured_hz,
        unit="Hz",
        places=0,
    ),
    Figure(
        key="unmeasured",
        title="not measured",
        what="What the display counts with and nobody has measured.",
        source="readings entered in the read-out's fields",
        get=lambda s: () if s.row.error is None else s.row.error.unmeasured,
        joint=", ",
    ),
    Figure(
        key="filter",
        title="filter",
        what="What brings the counted product out of the helper's mixer.",
        source=_COUNTED,
        get=lambda s: s.reading and _filter(s.reading),
        absent="none",
    ),
    Figure(
        key="programme",
        title="programme",
        what="Which of the counter's stored programmes the band uses.",
        source=_COUNTED,
        get=lambda s: s.row.programme,
        unit="-",
        absent="none",
    ),
)


def switching(plan: ReadOutPlan, counter: Counter) -> tuple[str, ...]:
    """What changes from band to band, a sentence a band."""
    how = {"jumper": "by its jumper", "line": "by a line from the band switch", "button": "by its button"}
    many = len({row.programme for row in plan.bands if row.programme is not None}) > 1
    texts = []
    for row in plan.bands:
        if isinstance(row.reading, Unsolved):
            continue
        r = row.reading
        if row.programme is None:
            text = f"{spelled(row.band)}: nothing is stored; count both inputs"
        else:
            text = (
                f"{spelled(row.band)}: programme {row.programme} "
                f"{how[counter.selected_by] if many else 'as always'}, "
                f"{r.direction} {STORED.written(r.offset_hz)}"
            )
        if plan.helper_hz is not None:
            text += (
                ", helper on" if r.arrangement == "helper" else ", helper off, VFO straight to the counter"
            )
        texts.append(f"{text}.")
    return tuple(texts)
