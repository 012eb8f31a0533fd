"""Which core to wind the coils of a filter on."""

from collections import Counter
from collections.abc import Iterator, Mapping
from math import sqrt

from core.model.bands import Dials
from core.model.stages.filters import SwitchedFilter
from core.model.values.notation import format_value
from core.record import record
from core.rig.analysis import Analysis
from core.rig.findings import Edit
from core.rig.plan.surroundings import shelf
from core.rig.wound.windings import flux_in
from core.stages.coils.winding import Choice, choose
from core.stages.kinds.table import kind_of
from core.stages.outcome import FilterFigures, Unsolved
from core.trade.cores import cores

#: Cores whose coils come this near to the best are tried in the filter [-], and so many of them at most.
_NEARLY, _MOST_TRIED = 0.75, 12
#: What a smaller core may cost over the best, dB: less than anybody notices; and one on hand. A choice.
_WORTH_DB, _ON_HAND_DB = 0.1, 0.3


@record
class CoreChoice:
    """The core to wind a filter's coils on, and why in a sentence."""

    core: str
    why: str
    edit: Edit


def choose_core(analysis: Analysis, stage_id: str, band: str) -> CoreChoice | Unsolved:
    """The core for all coils of the filter that a stage switches in on a band.

    Cores whose material is meant for the bands served, that hold the turns and stay cool at full power, are
    ranked by the Q of their worst coil; those that come near to the best are tried in the filter itself. The
    smallest is taken with which it loses hardly more on its bands than with the best; where the junk box
    comes first, the one on hand in pieces enough with which it loses least, if that is not much more.
    """
    stage, member = analysis.project.stage(stage_id), analysis.member_on(stage_id, band)
    if isinstance(member, Unsolved):
        return member
    making, asked = kind_of(stage).making, member.asked
    plain = asked.tried(("core",), "") if isinstance(asked, SwitchedFilter) else None
    if plain is None or making is None or making.figures is None:
        return Unsolved(f"{stage.name} has no coils to choose a core for.")
    around, figures_of = analysis.surroundings, making.figures
    dials = around.dials(member.bands or ())
    design = making.design(plain, around)
    if isinstance(design, Unsolved):
        return design
    if not dials:
        return Unsolved(f"{stage.name} serves no band here, so no core can be chosen; tick a band first.")
    stressed = making.stress is not None and stage.in_path
    seen = making.stress(plain, around, analysis.full_power_w) if stressed and making.stress else ()
    volts = {each.ref: each.peak_v / sqrt(2) for each in seen}
    coils = [(row.ref, row.fitted) for row in design.parts if row.role == "coil"]
    ranked = _for_all(coils, volts, dials)
    if not ranked:
        return Unsolved(
            f"No core of the table suits every coil of {stage.name} on these bands"
            + (" at full power" if volts else "")
            + "; wind them in air."
        )

    def lost_db(core: str) -> Iterator[tuple[float, str]]:
        wound = plain.tried(("core",), core)
        figures = None if wound is None else figures_of(wound, around)
        if isinstance(figures, FilterFigures) and figures.served_loss_db is not None:
            yield figures.served_loss_db, core

    tried: list[tuple[float, str]] = []
    for core, worth in ranked.items():
        if worth < _NEARLY * next(iter(ranked.values())) or len(tried) == _MOST_TRIED:
            break
        tried += lost_db(core)
    if not tried:
        return Unsolved(f"{stage.name} cannot be made with any core of the table; wind its coils in air.")
    least_db, best = min(tried)
    near = [pair for pair in tried if pair[0] <= least_db + _WORTH_DB]
    loss_db, core = min(near, key=lambda pair: (cores()[pair[1]].outer_m, pair[0]))
    many = cores_on_hand(analysis, len(coils))
    mine = [pair for core in ranked if core.casefold() in many for pair in lost_db(core)]
    on_hand = mine and min(mine)[0] <= least_db + _ON_HAND_DB
    if on_hand:
        loss_db, core = min(mine)
    path = ("stages", stage_id, *(() if member.place is None else ("filters", member.place)), "core")
    return CoreChoice(
        core,
        f"{core}, of which {many[core.casefold()]} are on hand: the filter loses {loss_db:.2f} dB on its "
        f"bands with it, and {least_db:.2f} dB with {best}."
        if on_hand
        else _why(core, loss_db, best, least_db, bool(volts), analysis),
        Edit(f"Wind the coils on {core}", ((path, core),)),
    )


def cores_on_hand(analysis: Analysis, wanted: int) -> dict[str, int]:
    """How many there are of each core of which there are so many, where the junk box comes first."""
    counts: Counter[str] = Counter()
    for core, many in shelf(analysis.project.junk_box).cores:
        counts[core.casefold()] += many
    return {core: count for core, count in counts.items() if count >= wanted}


def _why(core: str, loss_db: float, best: str, least_db: float, powered: bool, analysis: Analysis) -> str:
    told = f"{core}: of the cores made for this frequency"
    if powered:
        told += f" that stay cool with {format_value(analysis.full_power_w, 'W', 3)}"
    if core == best:
        return f"{told} the filter loses least with it, {loss_db:.2f} dB on its bands."
    return (
        f"{told} the smallest with which the filter loses hardly more than it must: {loss_db:.2f} dB on its "
        f"bands, and {least_db:.2f} dB with {best}."
    )


def _for_all(coils: list[tuple[str, float]], volts: Mapping[str, float], dials: Dials) -> dict[str, float]:
    """Cores that suit every coil, the best first, by what their worst coil is worth."""
    low, high = min(each for each, _ in dials), max(each for _, each in dials)
    worths: list[dict[str, float]] = []
    for ref, henry in coils:
        volt = volts.get(ref)
        worths.append({each.core.core: each.worth for each in _cool(henry, low, high, volt)})
    names = set.intersection(*map(set, worths)) if worths else set()
    worst = {name: min(each[name] for each in worths) for name in names}
    return dict(sorted(worst.items(), key=lambda pair: (-pair[1], cores()[pair[0]].outer_m, pair[0])))


def _cool(henry: float, low_hz: float, high_hz: float, volt_rms: float | None) -> Iterator[Choice]:
    for each in choose(henry, high_hz, volt_rms=volt_rms):
        core = each.core
        if core.of.low_hz > low_hz:
            continue
        if volt_rms is not None:
            flux, most = flux_in(core, each.wound.turns, volt_rms, low_hz)
            if flux > most:
                continue
        yield each
