"""The figures of a ladder as the rows of a table."""

from app.pictures.response import hertz
from core.model.stages.filters import LadderFilter
from core.model.values.notation import format_value
from core.rig.analysis import Analysis
from core.rig.ladder_facts import ladder_facts
from core.stages.filters.ladder_figures import Rounding, StopBand
from core.stages.outcome import FilterDesign, FilterFigures, Unsolved

HEADS = ("figure", "value")
Rows = list[tuple[str, str]]


def ladder_rows(
    analysis: Analysis, ladder: LadderFilter, design: FilterDesign, figures: FilterFigures, band: str
) -> Rows:
    """Every figure of a ladder with the carrier of a band."""
    facts = ladder_facts(analysis, ladder, design, figures, band)
    shape, spread, stop = facts.shape_factor, facts.delay_spread_s, facts.stop_band
    low, high = facts.speech_hz
    rows = [
        ("width at −3 dB", _width(figures.bandwidth_3db_hz)),
        ("width at −6 dB", _width(figures.bandwidth_6db_hz)),
        ("width at −60 dB", _width(figures.bandwidth_60db_hz)),
        ("shape factor, 60 dB over 6 dB", "-" if shape is None else f"{shape:.2f}"),
        ("ripple, inner 80 %", f"{figures.ripple_db:.2f} dB"),
        ("least loss", f"{figures.insertion_loss_db:.1f} dB"),
        ("return loss, inner 80 %", f"{figures.return_loss_db:.1f} dB or better"),
        ("end resistance", f"{design.end_resistance_ohm:.1f} Ω, between {ladder.system_ohm:g} Ω"),
        ("end match", facts.end_match),
        (
            f"group delay spread, {low:.0f} to {high:.0f} Hz",
            spread.reason if isinstance(spread, Unsolved) else f"{1e3 * spread:.2f} ms",
        ),
    ]
    if isinstance(stop, Unsolved):
        rows.append(("stop-band", stop.reason))
    else:
        rows += _stop_rows(stop, facts.far_widths)
    if facts.flatness is not None:
        names = ("designed without loss", "designed with the crystals' Q")
        rows += [
            (f"{name}: ripple and least loss", _ripple_and_loss(each))
            for name, each in zip(names, facts.flatness, strict=True)
        ]
    if facts.flatter is not None:
        words, flatter = facts.flatter
        rows.append((f"with {words} too: ripple and least loss", _ripple_and_loss(flatter)))
    if facts.nothing_gained is not None:
        rows.append(("the crystals' Q", facts.nothing_gained))
    if facts.rounding is not None:
        rows += _price_rows(facts.rounding)
    return rows


def _ripple_and_loss(figures: FilterFigures | Unsolved) -> str:
    if isinstance(figures, Unsolved):
        return figures.reason
    return f"{figures.ripple_db:.2f} dB, {figures.insertion_loss_db:.1f} dB"


def _width(value: float | None) -> str:
    return "-" if value is None else hertz(value)


def _stop_rows(stop: StopBand, far_widths: tuple[float, float]) -> Rows:
    near, far = far_widths
    rows = [
        (f"least loss {near:.0f} to {far:.0f} widths below", f"{stop.below_db:.0f} dB"),
        (f"least loss {near:.0f} to {far:.0f} widths above", f"{stop.above_db:.0f} dB"),
        ("ultimate attenuation", f"{stop.ultimate_db:.0f} dB by its parts; wiring leaks more"),
    ]
    if stop.flare is None:
        return [*rows, ("flare above, from C0", "none")]
    flare = stop.flare
    text = (
        f"comes back {flare.back_db:.0f} dB from its largest loss at {flare.peak_hz / 1e6:.4f} MHz "
        f"by {flare.low_hz / 1e6:.4f} MHz"
    )
    return [*rows, ("flare above, from C0", text)]


def _price_rows(price: Rounding) -> Rows:
    exact, rounded = price.exact, price.preferred
    rows = []
    if exact.bandwidth_6db_hz is not None and rounded.bandwidth_6db_hz is not None:
        rows.append(("−6 dB width", _signed(rounded.bandwidth_6db_hz - exact.bandwidth_6db_hz, "Hz")))
    rows.append(("ripple", _signed(rounded.ripple_db - exact.ripple_db, "dB")))
    rows.append(("loss", _signed(rounded.insertion_loss_db - exact.insertion_loss_db, "dB")))
    return [(f"price of preferred values: {name}", text) for name, text in rows]


def _signed(value: float, unit: str) -> str:
    text = format_value(abs(value), unit, 2) if unit == "Hz" else f"{abs(value):.2f} {unit}"
    return f"{'−' if value < 0 else '+'}{text}"
