"""Figures of filters: what all have, what a ladder has besides, and what a low-pass does and bears."""

from functools import cached_property
from typing import Any

from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.figure import Figure, Table, band_label, label
from core.rig.figures.products import EXACT
from core.rig.ladder_facts import LadderFacts
from core.rig.rows import FilterRow
from core.stages.filters.ladder_figures import Flare, Rounding
from core.stages.filters.stress import PartStress
from core.stages.kinds.table import KINDS
from core.stages.outcome import FilterDesign, FilterFigures, Unsolved


@record(slots=False)
class FilterOn:
    """A filter of the rig on one of its bands."""

    analysis: Analysis
    row: FilterRow
    band: str

    @property
    def figures(self) -> FilterFigures | None:
        """What was read off its response; None where it has none."""
        return self.row.figures if isinstance(self.row.figures, FilterFigures) else None

    @property
    def design(self) -> FilterDesign | None:
        """Its circuit; None where it cannot be made."""
        return self.row.design if isinstance(self.row.design, FilterDesign) else None

    @cached_property
    def ladder(self) -> LadderFacts | None:
        """What there is to tell of it as a crystal ladder; None for other filters."""
        ladder = KINDS[self.row.kind].ladder(self.analysis.project.stage(self.row.stage))
        if ladder is None or self.design is None:
            return None
        return LadderFacts(self.analysis, ladder, self.design, self.figures, self.band)


def filter_on(analysis: Analysis, stage: str, band: str) -> FilterOn | None:
    """The filter that a stage has on a band or switches in on it; None where it has none."""
    rows = (row for row in analysis.filters if row.stage == stage and band in row.bands)
    return next((FilterOn(analysis, row, band) for row in rows), None)


def _width(depth: str) -> Figure[FilterOn]:
    key = f"bandwidth_{depth}db_hz"
    return Figure(
        key=key,
        title=f"width at −{depth} dB",
        what=f"From edge to edge where the loss is {depth} dB above the least; of a low-pass, from zero.",
        source=EXACT,
        get=lambda f: f.figures and getattr(f.figures, key),
        unit="Hz",
        digits=4,
    )


def _read(name: str, title: str, what: str, unit: str = "dB", **how: Any) -> Figure[FilterOn]:
    """A figure that stands under its own name among those read off a response."""
    return Figure(
        key=name,
        title=title,
        what=what,
        source=EXACT,
        get=lambda f: f.figures and getattr(f.figures, name),
        unit=unit,
        **how,
    )


LOSS = _read(
    "insertion_loss_db",
    "least loss",
    "What the filter loses where it passes best; of a low-pass, on the bands it serves.",
    places=1,
)
RIPPLE = _read(
    "ripple_db",
    "ripple",
    "Between least and most loss over the inner 80 % of the −3 dB width; of a low-pass by mismatch alone.",
    places=2,
)

RETURN_LOSS = _read(
    "return_loss_db",
    "return loss in its pass-band",
    "How far the filter's reflection lies below what comes, at worst over the inner 80 % of the −3 dB width; "
    "of a low-pass on the bands it serves.",
    places=1,
)

FILTER: Table[FilterOn] = (
    label("stage", "stage", lambda f: f.row.stage),
    label("kind", "kind", lambda f: f.row.kind),
    band_label(lambda f: f.band),
    _read("centre_hz", "centre", "The middle between the −3 dB edges.", "Hz", digits=7),
    _width("3"),
    _width("6"),
    _width("60"),
    RIPPLE,
    LOSS,
    _read(
        "served_loss_db",
        "loss on the band",
        "The most that the filter loses on the bands it serves.",
        places=2,
    ),
    _read(
        "served_return_loss_db",
        "return loss on the bands served",
        "How far the filter's reflection lies below what comes, where it reflects most on its bands.",
        places=1,
    ),
    Figure(
        key="end_resistance_ohm",
        title="end resistance",
        what="What the bare filter wants to see at its ends.",
        source="design equations of the filter",
        get=lambda f: f.design and f.design.end_resistance_ohm,
        unit="Ω",
        places=1,
    ),
    RETURN_LOSS,
)

#: What only a ladder has.
LADDER: Table[FilterOn] = (
    Figure(
        key="shape_factor",
        title="shape factor, 60 dB over 6 dB",
        what="How steep the flanks are: the −60 dB width over the −6 dB width.",
        source=EXACT,
        get=lambda f: f.ladder and f.ladder.shape_factor,
        unit="-",
        places=2,
        listed=False,
    ),
    Figure(
        key="group_delay_spread_s",
        title="group delay spread",
        what="Between least and most group delay over 300 to 2700 Hz of speech.",
        source=EXACT,
        get=lambda f: f.ladder and f.ladder.delay_spread_s,
        unit="s",
        places=2,
        prefix="m",
    ),
    Figure(
        key="ultimate_attenuation_db",
        title="ultimate attenuation",
        what="Least loss of the far stop-band over the least loss, by the parts; wiring leaks more.",
        source=EXACT,
        get=lambda f: None if f.ladder is None else f.ladder.ultimate_db,
        unit="dB",
        places=0,
    ),
    Figure(
        key="end_match",
        title="end match",
        what="How the ends meet the resistance around, with turns or parts.",
        source="design equations of the match",
        get=lambda f: f.ladder and f.ladder.end_match,
    ),
)
FILTERS: Table[FilterOn] = (*FILTER, *LADDER)
#: What a filter is known by, by key: read on the bench, and printed.
KNOWN_BY = (
    "centre_hz",
    "bandwidth_3db_hz",
    "bandwidth_6db_hz",
    "bandwidth_60db_hz",
    "ripple_db",
    "insertion_loss_db",
    "served_loss_db",
    "served_return_loss_db",
)


def _mismatched(of: str, title: str, what: str, **how: Any) -> Figure[PartStress]:
    key = f"mismatched_{of}"
    return Figure(
        key=key,
        title=title,
        what=f"{what} at full power into an antenna of 3:1, at the worst phase.",
        source="exact solution of the circuit for 24 phases; the power amplifier as a source of 50 Ω",
        get=lambda s: getattr(s, key),
        **how,
    )


STRESS: Table[PartStress] = (
    label("ref", "part", lambda s: s.ref),
    Figure(
        key="peak_voltage_v",
        title="peak volts",
        what="The highest voltage across the part at full power, into a matched antenna.",
        source="exact voltages of the circuit at the worst place of its bands",
        get=lambda s: s.peak_v,
        unit="V",
    ),
    Figure(
        key="rms_current_a",
        title="rms amperes",
        what="The most current through the part at full power, into a matched antenna.",
        source="exact currents of the circuit at the worst place of its bands",
        get=lambda s: s.rms_a,
        unit="A",
    ),
    Figure(
        key="lost_w",
        title="lost in it",
        what="What the part makes of the power as heat.",
        source="its current and its Q",
        get=lambda s: s.loss_w,
        unit="W",
        digits=2,
    ),
    _mismatched("v", "volts at 3:1", "The highest voltage across the part", unit="V"),
    _mismatched("a", "amperes at 3:1", "The most current through the part", unit="A"),
    _mismatched("w", "lost at 3:1", "The most heat in the part", unit="W", digits=2),
    Figure(
        key="stands_it",
        title="take",
        what="The kind of capacitor that stands the mismatch, with half as many volts in reserve.",
        source="an ampere for a small C0G and two for silver mica; common practice, no source",
        get=lambda s: s.stands_it,
    ),
)


FULL_POWER = Figure[Analysis](
    key="full_power_w",
    title="full power",
    what="What the transmitter gives into a matched antenna.",
    source="the power amplifier's largest output; without one, the power wanted",
    get=lambda a: a.full_power_w,
    unit="W",
)


def stress_title(analysis: Analysis) -> str:
    """What stands above a table of what parts see at full power."""
    watts = FULL_POWER.text(analysis)
    whose = "the power wanted" if analysis.sending is None else "the power amplifier's largest output"
    return f"What the parts see with {watts}, {whose}, into a matched antenna and a mismatch"


#: What preferred values cost a ladder, against exact ones.
PRICE: Table[Rounding] = (
    Figure(
        key="width_6db_hz",
        title="width at −6 dB",
        what="How much wider the ladder is with preferred values than with exact ones.",
        source=EXACT,
        get=lambda r: _dearer(r.exact.bandwidth_6db_hz, r.preferred.bandwidth_6db_hz),
        unit="Hz",
        places=0,
        signed=True,
    ),
    Figure(
        key="ripple_db",
        title="ripple",
        what="How much more ripple the ladder has with preferred values than with exact ones.",
        source=EXACT,
        get=lambda r: _dearer(r.exact.ripple_db, r.preferred.ripple_db),
        unit="dB",
        places=2,
        signed=True,
    ),
    Figure(
        key="insertion_loss_db",
        title="least loss",
        what="How much more the ladder loses with preferred values than with exact ones.",
        source=EXACT,
        get=lambda r: _dearer(r.exact.insertion_loss_db, r.preferred.insertion_loss_db),
        unit="dB",
        places=2,
        signed=True,
    ),
)


def _dearer(exact: float | None, preferred: float | None) -> float | None:
    return None if exact is None or preferred is None else preferred - exact


#: How a ladder's loss comes back above its pass-band.
FLARE: Table[Flare] = (
    Figure(
        key="back_db",
        title="flare above, from C0",
        what="How far the loss comes back from its largest value, by the parts; wiring leaks more.",
        source="exact response of the circuit, whose crystals' C0 resonates in parallel above the pass-band",
        get=lambda f: f.back_db,
        unit="dB",
        places=0,
    ),
    Figure(
        key="peak_hz",
        title="largest loss at",
        what="Where the loss above the pass-band is largest.",
        source=EXACT,
        get=lambda f: f.peak_hz,
        unit="Hz",
        places=4,
        prefix="M",
    ),
    Figure(
        key="low_hz",
        title="back by",
        what="Where it has come back.",
        source=EXACT,
        get=lambda f: f.low_hz,
        unit="Hz",
        places=4,
        prefix="M",
    ),
)


def stress_of(stress: PartStress | None, figure: Figure[PartStress]) -> Any:
    """What a part sees, None where nobody asks."""
    return None if stress is None or isinstance(stress, Unsolved) else figure.get(stress)
