"""A coil as it is wound: whole turns of a wire on a core or in air, and what it then is."""

from collections.abc import Callable, Sequence
from math import ceil, floor, inf, pi, sqrt

from core.circuits.coils import air, cored
from core.circuits.coils.wire import WIRES_M, insulated_m
from core.record import record
from core.stages.gate import gate
from core.stages.outcome import Unsolved
from core.stages.wound import Wound
from core.trade.cores import Core, cores

#: Wire left at both ends for soldering, m.
_LEADS_M = 0.05
#: Thickest and thinnest wire that is wound on small cores by hand, m; common practice, no source.
_WIRES = tuple(wire for wire in WIRES_M if 0.2e-3 <= wire <= 1.0e-3)
#: How far the inductance of a toroid's winding can be set: turns spread all round, and squeezed together over
#: two thirds of the way (common practice, no source).
SPREAD, SQUEEZED = 0.97, 1.08
#: Fewer turns than this leave so much to the leads that the core's figure says little.
_FEW = 3
#: Most turns that anybody winds by hand.
_MOST = 200
#: Temperature coefficient of a tight winding in air, ppm/K (as in the table of temperatures; from memory).
_AIR_PPM = 40.0


@gate("The coil")
def on_core(
    core: Core,
    wanted_h: float,
    f_hz: float,
    *,
    wire_m: float | None = None,
    turns: int | None = None,
    volt_rms: float | None = None,
) -> Wound | Unsolved:
    """Whole turns on a toroid or through a binocular core for `wanted_h` [H] at `f_hz` [Hz].

    `wire_m` [m] and `turns` are found where they are not given; `volt_rms` [V] is across the winding at full
    power. `Unsolved` where the core cannot give it.
    """
    found = max(1, round(sqrt(wanted_h / core.al_h))) if turns is None else turns
    if found > _MOST:
        return Unsolved(
            f"{core.core} would take {found} turns for this inductance; take a core of higher A_L."
        )
    if found < _FEW:
        return Unsolved(
            f"{core.core} reaches this inductance with {sqrt(wanted_h / core.al_h):.1f} turns, too few to "
            "set it by; take a core of lower A_L, or wind in air."
        )
    thickest = _thickest(core, found)
    if thickest is None:
        return Unsolved(
            f"{found} turns do not fit into {core.core} with {1e3 * _WIRES[0]:g} mm wire; take a larger core "
            "or one of higher A_L."
        )
    if wire_m is not None and not fits(core, found, wire_m):
        return Unsolved(
            f"{found} turns of {1e3 * wire_m:g} mm wire do not fit into {core.core}; "
            f"{1e3 * thickest:g} mm is the thickest that does."
        )
    wire = thickest if wire_m is None else wire_m
    return _on(core, found, f_hz, wanted_h, wire, volt_rms)


def _on(
    core: Core, turns: int, f_hz: float, wanted_h: float, wire_m: float, volt_rms: float | None = None
) -> Wound:
    """What so many turns of a wire [m] on a core are at `f_hz` [Hz], where `wanted_h` [H] is wanted."""
    inductance = core.al_h * turns**2
    length = _wire_on(core, turns, wire_m)
    made_of = core.of
    return Wound(
        on=core.core,
        turns=turns,
        inductance_h=inductance,
        error=inductance / wanted_h - 1,
        range_h=_adjusted(core, inductance),
        filled=filled(core, turns, wire_m),
        wire_m=wire_m,
        thickest_m=_thickest(core, turns) or wire_m,
        length_m=length + 2 * _LEADS_M,
        quality=cored.quality(
            inductance, length, wire_m, f_hz, made_of.best_q, (made_of.low_hz, made_of.high_hz)
        ),
        self_resonance_hz=cored.self_resonance_hz(length),
        ppm=made_of.ppm,
        flux_t=None if volt_rms is None else cored.flux_t(volt_rms, turns, core.area_m2, f_hz),
        most_flux_t=cored.most_flux_t(f_hz),
    )


def at_least(
    core: Core, least_h: float, f_hz: float, *, beside: int = 0, most_wire_m: float = inf
) -> Wound | Unsolved:
    """A winding of `least_h` [H] or more for a broad band about `f_hz` [Hz]: the fewest whole turns that do,
    of the thickest wire with which as many `beside` times as well go on the core, up to `most_wire_m` [m].
    """
    turns = max(ceil(sqrt(least_h / core.al_h)), _FEW)
    return broadband(core, turns, f_hz, beside=beside * turns, most_wire_m=most_wire_m)


@gate("The coil")
def broadband(
    core: Core, turns: int, f_hz: float, *, beside: int = 0, most_wire_m: float = inf
) -> Wound | Unsolved:
    """So many turns for a broad band about `f_hz` [Hz], of the thickest wire with which so many more
    `beside` them go on the core, up to `most_wire_m` [m]. However few, as nothing is set by them.
    """
    wire = _thickest(core, turns + beside, most_wire_m)
    if wire is None:
        return Unsolved(
            f"{turns + beside} turns do not fit into {core.core} with {1e3 * _WIRES[0]:g} mm wire; take a "
            "larger core or one of higher A_L."
        )
    return _on(core, turns, f_hz, core.al_h * turns**2, wire)


@gate("The coil")
def in_air(
    wanted_h: float,
    f_hz: float,
    *,
    diameter_m: float,
    length_m: float,
    wire_m: float | None = None,
    turns: int | None = None,
) -> Wound | Unsolved:
    """A single layer in air for `wanted_h` [H] at `f_hz` [Hz], of a mean diameter and a length [m].

    Whole turns, by the exact current sheet and the correction for round wire; its length is what is squeezed
    and spread to the inductance wanted.
    """

    def made(n: float) -> float:
        wire = _wire_in_air(n, length_m) if wire_m is None else wire_m
        return air.round_wire_h(n, diameter_m, length_m, wire)

    found = turns
    if found is None:
        found = _whole_turns(made, wanted_h)
        if found is None:
            return Unsolved(
                f"More than {_MOST} turns would be wanted on {1e3 * diameter_m:.3g} mm of diameter; take a "
                "larger former or a core."
            )
    wire = _wire_in_air(found, length_m) if wire_m is None else wire_m
    if found * insulated_m(wire) > 1.001 * length_m:
        return Unsolved(
            f"{found} turns of {1e3 * wire:g} mm wire are {1e3 * found * insulated_m(wire):.3g} mm long and "
            f"the coil is {1e3 * length_m:.3g} mm; make it longer or take thinner wire."
        )
    inductance = air.round_wire_h(found, diameter_m, length_m, wire)
    capacitance = air.self_capacitance_f(diameter_m, length_m)
    close = found * insulated_m(wire)
    return Wound(
        on=f"air, {1e3 * diameter_m:.3g} mm across, {1e3 * length_m:.3g} mm long",
        turns=found,
        inductance_h=inductance,
        error=inductance / wanted_h - 1,
        range_h=(
            air.round_wire_h(found, diameter_m, 1.25 * length_m, wire),
            air.round_wire_h(found, diameter_m, max(close, 0.8 * length_m), wire),
        ),
        filled=close / length_m,
        wire_m=wire,
        thickest_m=_wire_in_air(found, length_m),
        length_m=sqrt((pi * diameter_m * found) ** 2 + length_m**2) + 2 * _LEADS_M,
        quality=air.quality(found, diameter_m, length_m, wire, f_hz),
        self_resonance_hz=1 / (2 * pi * sqrt(inductance * capacitance)),
        ppm=_AIR_PPM,
        size_m=(diameter_m, length_m),
    )


@record
class Choice:
    """A core with what is wound on it, the best first; `worth` is what it is ranked by."""

    core: Core
    wound: Wound
    worth: float


def reachable(core: Core, wanted_h: float) -> float:
    """The inductance [H] nearest to `wanted_h` [H] that whole turns give, squeezed or spread."""
    turns = turns_for(core, wanted_h)
    plain = core.al_h * turns**2
    low, high = _adjusted(core, plain)
    return min(max(wanted_h, low), high)


def turns_for(core: Core, wanted_h: float) -> int:
    """The whole turns from which `wanted_h` [H] is least squeezing and spreading away."""
    exact = sqrt(wanted_h / core.al_h)

    def beyond(turns: int) -> tuple[float, float]:
        plain = core.al_h * turns**2
        low, high = _adjusted(core, plain)
        return max(low - wanted_h, wanted_h - high, 0.0), abs(plain - wanted_h)

    return min((max(floor(exact), 1), max(ceil(exact), 1)), key=beyond)


def wind(
    wanted_h: float, f_hz: float, *, core: str = "", size_m: tuple[float, float] | None = None
) -> Wound | Unsolved:
    """A coil for `f_hz` [Hz] of whole turns on a core, or in air of a diameter and a length [m], that comes
    to `wanted_h` [H] with the least squeezing and spreading.
    """
    if size_m is not None:
        return in_air(wanted_h, f_hz, diameter_m=size_m[0], length_m=size_m[1])
    found = known(core)
    if isinstance(found, Unsolved):
        return found
    return on_core(found, wanted_h, f_hz, turns=turns_for(found, wanted_h))


def _adjusted(core: Core, plain_h: float) -> tuple[float, float]:
    """What spreading and squeezing makes of a winding's inductance [H]."""
    return (SPREAD * plain_h, SQUEEZED * plain_h) if core.shape == "toroid" else (plain_h, plain_h)


def known(name: str) -> Core | Unsolved:
    """The core of a designation, or that there is none."""
    core = cores().get(name)
    return core or Unsolved(f"There is no core called {name} in the table; choose another.")


def choose(
    wanted_h: float,
    f_hz: float,
    *,
    volt_rms: float | None = None,
    stock: Sequence[str] | None = None,
    ppm_counts: bool = False,
) -> tuple[Choice, ...]:
    """The cores that suit an inductance [H] at a frequency [Hz], the best first.

    One that gets too much flux, or is used outside the range of its material, is left out. Ranked by Q, less
    what the whole turns miss beyond squeezing and spreading, and with `ppm_counts` by drift. `stock` names
    the cores that there are; all of the table where it is None.
    """
    found = []
    for core in cores().values():
        if stock is not None and core.core not in stock:
            continue
        if not core.of.low_hz <= f_hz <= core.of.high_hz:
            continue
        wound = on_core(core, wanted_h, f_hz, volt_rms=volt_rms)
        if isinstance(wound, Unsolved) or wound.saturates:
            continue
        low, high = wound.range_h
        missed = max(low / wanted_h - 1, 1 - high / wanted_h, 0.0)
        worth = wound.quality * (1 - 4 * missed) / (1 + (wound.ppm / 50 if ppm_counts else 0.0))
        found.append(Choice(core, wound, worth))
    # Of two that are alike, the smaller one.
    return tuple(sorted(found, key=lambda each: (-each.worth, each.core.outer_m)))


def _thickest(core: Core, turns: int, most_wire_m: float = inf) -> float | None:
    return max((wire for wire in _WIRES if wire <= most_wire_m and fits(core, turns, wire)), default=None)


def fits(core: Core, turns: int, wire_m: float) -> bool:
    """Whether so many turns of a wire of copper [m] go on a core: in one layer, or into half a hole."""
    if core.shape == "toroid":
        return turns <= cored.most_turns(core.inner_m, wire_m)
    return filled(core, turns, wire_m) <= 0.5


def filled(core: Core, turns: int, wire_m: float) -> float:
    """Share of the window that so many turns of a wire [m] take [-]: of a binocular core that of a hole."""
    if core.shape == "toroid":
        return cored.filled(turns, core.inner_m, wire_m)
    return turns * (insulated_m(wire_m) / core.inner_m) ** 2


def _wire_on(core: Core, turns: int, wire_m: float) -> float:
    if core.shape == "toroid":
        return cored.wire_length_m(turns, core.outer_m, core.inner_m, core.height_m, wire_m)
    return turns * 2 * (core.height_m + core.inner_m + 2 * insulated_m(wire_m))


def _wire_in_air(turns: float, length_m: float) -> float:
    """Wire of half the pitch, about which Q is best (common practice), of those that are sold."""
    pitch = length_m / turns
    return max((wire for wire in WIRES_M if wire <= pitch / 2), default=WIRES_M[0])


def _whole_turns(made: Callable[[float], float], wanted_h: float) -> int | None:
    """The whole number of turns nearest to an inductance, which grows with them."""
    low, high = 1.0, float(_MOST)
    if made(high) < wanted_h:
        return None
    while high - low > 0.01:
        middle = (low + high) / 2
        low, high = (middle, high) if made(middle) < wanted_h else (low, middle)
    below, above = max(floor(low), 1), ceil(high)
    return min((below, above), key=lambda n: abs(made(n) - wanted_h))
