"""The figures of a ladder as the rows of a table."""

from app.stage_views.response import hertz
from core.model.filters import LadderFilter
from core.model.notation import format_value
from core.rig.analysis import Analysis
from core.stages import carrier_oscillator, ladder_figures
from core.stages.carrier_oscillator import CarrierPlace
from core.stages.ladder_figures import FAR_WIDTHS, Rounding, StopBand
from core.stages.outcome import FilterDesign, FilterFigures, Unsolved

HEADS = ("figure", "value")
Rows = list[tuple[str, str]]


def ladder_rows(
    analysis: Analysis,
    ladder: LadderFilter,
    design: FilterDesign,
    figures: FilterFigures,
    place: CarrierPlace | Unsolved,
) -> Rows:
    """Every figure of a ladder whose carrier lies at `place`."""
    if_hz, on_hand = analysis.project.if_hz, analysis.on_hand(ladder)
    shape = ladder_figures.shape_factor(figures)
    rows = [
        ("width at −3 dB", _width(figures.bandwidth_3db_hz)),
        ("width at −6 dB", _width(figures.bandwidth_6db_hz)),
        ("width at −60 dB", _width(figures.bandwidth_60db_hz)),
        ("shape factor, 60 dB over 6 dB", "-" if shape is None else f"{shape:.2f}"),
        ("ripple, inner 80 %", f"{figures.ripple_db:.2f} dB"),
        ("loss", f"{figures.insertion_loss_db:.2f} dB"),
        ("return loss, inner 80 %", f"{figures.return_loss_db:.1f} dB or better"),
        ("end resistance", f"{design.end_resistance_ohm:.1f} Ω, between {ladder.system_ohm:g} Ω"),
        ("end match", ladder_figures.end_match(ladder, design)),
    ]
    solved = analysis.solved(ladder)
    spread: float | Unsolved
    stop: StopBand | Unsolved
    if isinstance(solved, Unsolved):
        spread = stop = solved
    else:
        stop = ladder_figures.stop_band(solved)
        if isinstance(place, Unsolved):
            spread = place
        else:
            spread = carrier_oscillator.group_delay_spread_s(solved, place)
    low, high = carrier_oscillator.SPEECH_HZ
    told = spread.reason if isinstance(spread, Unsolved) else f"{1e3 * spread:.2f} ms"
    rows.append((f"group delay spread, {low:.0f} to {high:.0f} Hz", told))
    rows += [("stop-band", stop.reason)] if isinstance(stop, Unsolved) else _stop_rows(stop)
    flat = ladder_figures.flatness(ladder, if_hz, on_hand)
    if flat is not None:
        rows += [
            (f"{name}: ripple and loss", _ripple_and_loss(each))
            for name, each in zip(
                ("designed without loss", "designed with the crystals' Q"), flat, strict=True
            )
        ]
    price = ladder_figures.rounding(ladder, if_hz, on_hand)
    if isinstance(price, Rounding):
        rows += _price_rows(price)
    return rows


def _ripple_and_loss(figures: FilterFigures | Unsolved) -> str:
    if isinstance(figures, Unsolved):
        return figures.reason
    return f"{figures.ripple_db:.2f} dB, {figures.insertion_loss_db:.1f} dB"


def _width(value: float | None) -> str:
    return "-" if value is None else hertz(value)


def _stop_rows(stop: StopBand) -> Rows:
    near, far = FAR_WIDTHS
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
