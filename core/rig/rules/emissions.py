"""Rules on what leaves the antenna besides the signal."""

from collections.abc import Iterator

from core.model.stages.filters import LowPassFilter, Traps
from core.rig.analysis import Analysis
from core.rig.findings import Edit, Finding, rule
from core.stages.kinds.table import kind_of
from core.stages.outcome import Unsolved

_ORDINALS = ("second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth")
_LIMIT_SOURCE = "47 CFR 97.307(d) asks 43 dB below 30 MHz; the limit is as set for the station"


@rule
def harmonic_limit(analysis: Analysis) -> Iterator[Finding]:
    """Every harmonic under the limit, on every band, also when two bands share a low-pass."""
    low_pass = _low_pass_key(analysis)
    for band in analysis.project.bands:
        rows = analysis.harmonics(band.name)
        if not rows:
            continue
        worst = max(rows, key=lambda row: row.result_dbc)
        ordinal = _ORDINALS[worst.number - 2]
        broken = worst.margin_db < 0
        remedy = "Measure the power amplifier's harmonics; they are an assumption until then."
        edits: tuple[Edit, ...] = ()
        if broken:
            remedy, edits = _against_harmonics(analysis, band.name)
        yield Finding(
            severity="fault" if broken else "note",
            rule="harmonic_limit",
            stage=low_pass,
            band=band.name,
            path=("stages", low_pass) if low_pass else ("stages",),
            words=(
                f"The {ordinal} harmonic on {band.name} leaves at <figure>; at most <limit> is asked"
                f"{'' if broken else f', {worst.margin_db:.0f} dB in hand'}{_shared(analysis, band.name)}."
            ),
            figure=worst.result_dbc,
            limit=worst.limit_dbc,
            unit="dBc",
            remedy=remedy,
            source=_LIMIT_SOURCE,
            edits=edits,
        )


@rule
def transmit_products(analysis: Analysis) -> Iterator[Finding]:
    """Mixer products that the filters do not hold under the limit, away from the signal."""
    limit = -analysis.project.station.harmonic_limit_db
    for band in analysis.project.bands:
        loud = [s for s in analysis.spurs(band.name, "transmit") if not s.crosses and s.level_dbc > limit]
        if loud:
            worst = max(loud, key=lambda s: s.level_dbc)
            yield Finding(
                severity="fault",
                rule="transmit_product",
                band=band.name,
                path=("if_hz",),
                words=(
                    f"{worst.products} leaves on {band.name} at about <figure> "
                    f"({len(loud)} such product{'s' if len(loud) > 1 else ''}); at most <limit> is asked."
                ),
                figure=worst.level_dbc,
                limit=limit,
                unit="dBc",
                remedy="Narrow the band-pass or add a resonator, use a better balanced mixer, or "
                "move the IF.",
                source=_LIMIT_SOURCE + "; level estimated",
            )


#: Traps that a low-pass may be given, the fewest first.
_TRAPS: dict[Traps, str] = {
    "second": "add its trap on the second harmonic",
    "second_and_third": "add traps on the second and third harmonics",
    "second_of_each_band": "add traps on the second harmonic of every band that it serves",
}

#: What a low-pass is changed to, in words: the filters that stand in its place.
_Instead = tuple[str, tuple[LowPassFilter, ...]]


def _against_harmonics(analysis: Analysis, band: str) -> tuple[str, tuple[Edit, ...]]:
    """What brings the harmonics of a band under the limit: changes of the last low-pass that were tried."""
    key = _low_pass_key(analysis)
    if not key:
        return "Put a low-pass behind the power amplifier.", ()
    found = analysis.member_on(key, band)
    if isinstance(found, Unsolved) or not isinstance(found.asked, LowPassFilter) or found.place is None:
        own = (*analysis.project.at(("stages", key, "filters")), LowPassFilter(bands=(band,)))
        words = f"Give {band} a low-pass of its own"
        return f"{words}.", (Edit(words, ((("stages", key, "filters"), own),)),)
    place, one = found.place, found.asked
    all_of_them = analysis.project.at(("stages", key, "filters"))
    told: dict[str, tuple[str, Edit]] = {}
    for words, instead in _tried(one, band):
        if words.split()[0] in told:
            continue
        filters = (*all_of_them[:place], *instead, *all_of_them[place + 1 :])
        changed = analysis.project.tried(("stages", key, "filters"), filters)
        if changed is not None and all(row.margin_db >= 0 for row in Analysis(changed).harmonics(band)):
            edit = Edit(f"{words[0].upper()}{words[1:]}", ((("stages", key, "filters"), filters),))
            told[words.split()[0]] = words, edit
    if not told:
        return (
            "No single change of the low-pass suffices; take a second one, or a power amplifier of weaker "
            "harmonics."
        ), ()
    text = ", or ".join(words for words, _ in told.values())
    return f"{text[0].upper()}{text[1:]}.", tuple(edit for _, edit in told.values())


def _tried(one: LowPassFilter, band: str) -> Iterator[_Instead]:
    for order in range(one.order + 2, 12, 2):
        yield f"raise the low-pass's order to {order}", (one.edited(("order",), order),)
    if one.shape != "butterworth":
        for traps, words in _TRAPS.items():
            if one.shape == "chebyshev" or (one.traps == "second" and traps != "second"):
                yield words, (one.edited(("traps",), traps).edited(("shape",), "chebyshev_trap"),)
    if one.shape == "butterworth":
        yield "take the Chebyshev shape", (one.edited(("shape",), "chebyshev"),)
    if one.as_built:
        yield "clear its as-built values and wind the coils anew", (one.edited(("as_built",), ()),)
    if one.cutoff_hz is not None:
        yield "leave its cut-off to be found", (one.edited(("cutoff_hz",), None),)
    if len(one.bands) > 1:
        own = LowPassFilter(bands=(band,))
        rest = one.edited(("bands",), tuple(name for name in one.bands if name != band))
        yield f"give {band} a low-pass of its own, of order {own.order}", (rest, own)


def _low_pass_key(analysis: Analysis) -> str:
    path = analysis.project.path("transmit")
    return next((stage.id for stage in reversed(path) if kind_of(stage).role == "low_pass"), "")


def _shared(analysis: Analysis, band: str) -> str:
    for stage in analysis.project.path("transmit"):
        for each in stage.members if kind_of(stage).role == "low_pass" else ():
            if each.bands is not None and band in each.bands and len(each.bands) > 1:
                return f" through the low-pass shared by {' and '.join(each.bands)}"
    return ""
