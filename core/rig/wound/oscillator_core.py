"""Which core to wind the coil of an oscillator on: the VFO's by what drifts least, the carrier's by Q."""

from collections.abc import Mapping

from core.model.stages.tank import Tank
from core.model.values.base import Path
from core.rig import tuning
from core.rig.analysis import Analysis
from core.rig.findings import Edit
from core.rig.wound.core_choice import CoreChoice, cores_on_hand
from core.stages.coils.winding import Choice, choose
from core.stages.outcome import Unsolved
from core.stages.vfo.tank import TankDesign
from core.trade.cores import cores

#: A core that drifts by no more than this beyond the best is as steady [-].
_AS_STEADY = 1.1
#: One on hand may drift by so many times as much as the best [-]; a choice.
_ON_HAND_DRIFT = 1.5
#: A smaller core is taken where its Q is at least this share of the best [-].
_AS_GOOD = 0.75
#: Cores tried in the tank at most.
_MOST_TRIED = 12


def choose_vfo_core(analysis: Analysis) -> CoreChoice | Unsolved:
    """The core for the VFO's coil with which every band is covered, the oscillator starts, and the worst
    place of any dial drifts least once it is compensated as well as can be; the compensation goes with it.
    Where the junk box comes first one on hand that drifts hardly more.
    """
    made = tuning.tank_of(analysis)
    if isinstance(made, Unsolved):
        return made
    ends = [hz for cover in made.ranges for hz in (cover.wanted_low_hz, cover.wanted_high_hz)]
    tried: list[tuple[float, float, str, Tank]] = []
    many = cores_on_hand(analysis, 1)
    for choice in _ranked(made.coil_h, min(ends), max(ends), many, ppm_counts=True):
        asked = made.tank.tried(("core",), choice.core.core)
        found = None if asked is None else _steady(analysis, asked)
        if found is not None:
            tried.append((found[0], choice.wound.quality, choice.core.core, found[1]))
    if not tried:
        return Unsolved(
            "With no core of the table the VFO covers its bands and starts; wind its coil in air, or find "
            "coil and parallel capacitor together."
        )
    least = min(each[0] for each in tried)
    near = [each for each in tried if each[0] <= _AS_STEADY * least]
    # Of those as steady the one of the highest Q, whose noise is the least.
    drift, quality, core, tank = max(near, key=lambda each: each[1])
    mine = [each for each in tried if each[2].casefold() in many and each[0] <= _ON_HAND_DRIFT * least]
    if mine:
        drift, quality, core, tank = min(mine, key=lambda each: each[:3])
    changes: list[tuple[Path, object]] = [(("vfo", "tank", "core"), core)]
    for field in ("compensation_f", "differential_share"):
        if getattr(tank, field) != getattr(made.tank, field):
            changes.append((("vfo", "tank", field), getattr(tank, field)))
    return CoreChoice(
        core,
        f"{core}{_told(core, many)}: with its compensation no place of any dial drifts by more than "
        f"{drift:.0f} Hz a degree, all coefficients unkind; of the {len(tried)} cores with which the VFO "
        f"works {least:.0f} is the least"
        + ("." if mine else f", and of those as steady its Q, {quality:.0f}, is the highest."),
        Edit(f"Wind the VFO's coil on {core}", tuple(changes)),
    )


def _steady(analysis: Analysis, asked: Tank) -> tuple[float, Tank] | None:
    """Worst drift [Hz/K], with what coefficients scatter, of the tank compensated as well as can be, and
    that tank; None where a band is not covered or it does not start.
    """

    def on(tank: Tank) -> tuple[float, TankDesign] | None:
        trial = Analysis(analysis.project.edited(("vfo", "tank"), tank))
        design = trial.tank
        if not isinstance(design, TankDesign) or design.limits:
            return None
        figures = [trial.vfo_on(cover.band) for cover in design.ranges]
        if any(isinstance(each, Unsolved) or min(each.start) < 1 for each in figures):
            return None
        drifts = [d.worst_hz_per_k for f in figures if not isinstance(f, Unsolved) for d in f.drift]
        return max(drifts, default=0.0), design

    plain = on(asked)
    if plain is None:
        return None
    found = tuning.compensation_of(plain[1])
    if isinstance(found, Unsolved):
        return plain[0], asked
    stilled = tuning.stilled(plain[1], found)
    better = on(stilled)
    if better is None or better[0] >= plain[0]:
        return plain[0], asked
    return better[0], stilled


def choose_carrier_core(analysis: Analysis) -> CoreChoice | Unsolved:
    """The core for the coil in series with the carrier's crystal: of those that reach what every sideband
    wants, squeezed or spread, the smallest whose Q comes near to the best; where the junk box comes first one
    on hand of such a Q.
    """
    wanted = [row.pulling for row in analysis.carriers if row.pulling is not None and row.pulling.coil_h > 0]
    if not wanted:
        return Unsolved("The carrier's crystal wants no coil in series, so there is none to wind.")
    hz = max(each.wanted_hz for each in wanted)
    worths: dict[str, float] = {}
    many = cores_on_hand(analysis, len(wanted))
    for choice in _ranked(wanted[0].coil_h, hz, hz, many):
        name = choice.core.core
        trial = Analysis(analysis.project.edited(("carrier", "coil_core"), name))
        pulled = [row.pulling for row in trial.carriers if row.pulling is not None]
        if all(each.reaches and not isinstance(each.wound, Unsolved) for each in pulled):
            worths[name] = choice.wound.quality
    if not worths:
        return Unsolved("No core of the table brings the carrier to every place wanted; take a coil to set.")
    best = max(worths.values())
    near = [each for each in worths if worths[each] >= _AS_GOOD * best]
    mine = [each for each in near if each.casefold() in many]
    core = min(mine or near, key=lambda name: cores()[name].outer_m)
    return CoreChoice(
        core,
        f"{core}{_told(core, many)}: the smallest with which the carrier reaches its places and whose Q, "
        f"{worths[core]:.0f}, comes near to the best, {best:.0f}.",
        Edit(f"Wind the carrier's coil on {core}", ((("carrier", "coil_core"), core),)),
    )


def _told(core: str, many: Mapping[str, int]) -> str:
    count = many.get(core.casefold())
    return "" if count is None else f", of which {count} {'is' if count == 1 else 'are'} on hand"


def _ranked(
    henry: float, low_hz: float, high_hz: float, many: Mapping[str, int], *, ppm_counts: bool = False
) -> list[Choice]:
    """The best, and all that are on hand."""
    suits = [each for each in choose(henry, high_hz, ppm_counts=ppm_counts) if each.core.of.low_hz <= low_hz]
    return [each for n, each in enumerate(suits) if n < _MOST_TRIED or each.core.core.casefold() in many]
