"""Broadband transformers of a power stage: whole turns on a ferrite core, and what they cost."""

from collections.abc import Iterable, Iterator
from math import ceil, pi, sqrt

from core.circuits.coils import cored
from core.circuits.coils.wire import WIRES_M
from core.model.values.notation import format_value
from core.record import record
from core.stages.coils.winding import filled, fits
from core.stages.outcome import Unsolved
from core.trade.cores import Core, cores

#: Reactance of the primary over the resistance at it, at the lowest frequency of use [-]; common practice.
REACTANCE = 4.0
#: Leakage inductance of a winding of one turn [H]; it grows with their square. Estimates, from memory: a
#: binocular core has one winding inside the other, a toroid both side by side.
_LEAKAGE_H = {"binocular": 5e-9, "toroid": 12e-9}
#: Most turns of the smaller winding of a ratio, of either winding in a ratio, and most multiples of it.
_RATIO_TURNS, _MULTIPLES = 6, 5
_WIRES = tuple(wire for wire in WIRES_M if 0.315e-3 <= wire <= 1.0e-3)


@record(kw_only=True)
class Windings:
    """Two windings on one core: turns, inductances [H], their coupling [-], and the resistance at the first
    one [ohm].

    `lowest_hz` is where the primary's reactance is four times the resistance at it, `flux_t` and
    `most_flux_t` [T] at full power on the lowest frequency of use, `wire_m` copper's diameter, `filled` the
    share of the window. `loss_w` at full power there is an estimate.
    """

    core: str
    primary: int
    secondary: int
    primary_h: float
    secondary_h: float
    coupling: float
    primary_ohm: float
    lowest_hz: float
    flux_t: float
    most_flux_t: float
    loss_w: float
    wire_m: float
    filled: float

    def passes(self, f_hz: float) -> float:
        """What of the power it passes on at `f_hz` [Hz; -]; an estimate."""
        return 1 / (1 + _lost(cores()[self.core], self.primary_h, self.primary_ohm, f_hz))

    @property
    def leakage_h(self) -> float:
        """Leakage inductance, seen at the primary, H."""
        return (1 - self.coupling**2) * self.primary_h

    @property
    def saturates(self) -> bool:
        """Whether the core gets more flux than keeps it cool."""
        return self.flux_t > self.most_flux_t

    @property
    def note(self) -> str:
        """How it is wound, for a parts list."""
        return (
            f"{self.primary} to {self.secondary} turns on {self.core}, {1e3 * self.wire_m:g} mm wire, from "
            f"{format_value(self.lowest_hz, 'Hz', 2)}"
        )


def _lost(core: Core, primary_h: float, primary_ohm: float, f_hz: float) -> float:
    """Power lost in the core over that carried [-]: a coil of low Q loses V²/(Q X). The wire is short and
    thick, so that the core alone counts.
    """
    q = cored.core_quality(f_hz, core.of.best_q, (core.of.low_hz, core.of.high_hz))
    return primary_ohm / (q * 2 * pi * f_hz * primary_h)


def ratios() -> Iterator[tuple[int, int]]:
    """Ratios of turns that are customary, each once in its lowest terms."""
    seen = set()
    for primary in range(1, 5):
        for secondary in range(1, _RATIO_TURNS + 1):
            if primary / secondary not in seen:
                seen.add(primary / secondary)
                yield primary, secondary


def wind(
    core: Core, turns: tuple[int, int], primary_ohm: float, power_w: float, low_hz: float, high_hz: float
) -> Windings | Unsolved:
    """Windings of these turns, with `primary_ohm` [ohm] at the first one and a power [W] from `low_hz` to
    `high_hz` [Hz].
    """
    primary, secondary = turns
    wire = next((each for each in reversed(_WIRES) if fits(core, primary + secondary, each)), None)
    if wire is None:
        return Unsolved(
            f"{primary} and {secondary} turns do not fit into {core.core} with {1e3 * _WIRES[0]:g} mm wire; "
            "take a larger core."
        )
    primary_h = core.al_h * primary**2
    volt = sqrt(power_w * primary_ohm)
    leak = min(_LEAKAGE_H[core.shape] * primary**2 / primary_h, 0.5)
    return Windings(
        core=core.core,
        primary=primary,
        secondary=secondary,
        primary_h=primary_h,
        secondary_h=core.al_h * secondary**2,
        coupling=sqrt(1 - leak),
        primary_ohm=primary_ohm,
        lowest_hz=REACTANCE * primary_ohm / (2 * pi * primary_h),
        flux_t=cored.flux_t(volt, primary, core.area_m2, low_hz),
        most_flux_t=cored.most_flux_t(low_hz),
        loss_w=power_w * _lost(core, primary_h, primary_ohm, low_hz),
        wire_m=wire,
        filled=filled(core, primary + secondary, wire),
    )


def candidates(
    ratio: tuple[int, int], primary_ohm: float, power_w: float, low_hz: float, high_hz: float
) -> Iterator[Windings]:
    """On each ferrite core, the smallest first, the fewest turns of a ratio that reach down to `low_hz` [Hz]
    and keep it cool; cores that cannot are left out.
    """
    for core in _ferrites():
        found = _fewest(core, ratio, primary_ohm, power_w, low_hz, high_hz)
        if isinstance(found, Windings) and suits(found, low_hz):
            yield found


def suits(found: Windings, low_hz: float) -> bool:
    """Whether windings reach down to a frequency [Hz] and their core stays cool."""
    return found.lowest_hz <= low_hz * (1 + 1e-9) and not found.saturates


def on_named(
    name: str, ratio: tuple[int, int], primary_ohm: float, power_w: float, low_hz: float, high_hz: float
) -> Windings | Unsolved:
    """The best that a core of the builder's choice can, whatever it lacks: its figures tell. Where so many
    turns do not fit, as many as do.
    """
    if name not in cores():
        return Unsolved(f"There is no core called {name} in the table; choose another.")
    core = cores()[name]
    found = _fewest(core, ratio, primary_ohm, power_w, low_hz, high_hz)
    if isinstance(found, Windings):
        return found
    for times in range(_least_times(core, ratio, primary_ohm, low_hz) - 1, 0, -1):
        turns = (times * ratio[0], times * ratio[1])
        fewer = wind(core, turns, primary_ohm, power_w, low_hz, high_hz)
        if isinstance(fewer, Windings):
            return fewer
    return found


def _least_times(core: Core, ratio: tuple[int, int], primary_ohm: float, low_hz: float) -> int:
    """How often a ratio's turns are wound at least, so that the primary has the reactance."""
    return ceil(sqrt(REACTANCE * primary_ohm / (2 * pi * low_hz * core.al_h)) / ratio[0] - 1e-9)


def _fewest(
    core: Core, ratio: tuple[int, int], primary_ohm: float, power_w: float, low_hz: float, high_hz: float
) -> Windings | Unsolved:
    # From the turns on that have the reactance; more of them lower the flux.
    least = _least_times(core, ratio, primary_ohm, low_hz)
    best: Windings | Unsolved = Unsolved("")
    for times in range(max(least, 1), max(least, _MULTIPLES) + 1):
        turns = (times * ratio[0], times * ratio[1])
        found = wind(core, turns, primary_ohm, power_w, low_hz, high_hz)
        if isinstance(found, Unsolved):
            return best if isinstance(best, Windings) else found
        best = found
        if suits(found, low_hz):
            break
    return best


def volume_m3(found: Windings) -> float:
    """The room that the core takes, m³."""
    return _volume(cores()[found.core])


def _volume(core: Core) -> float:
    return core.outer_m**2 * core.height_m


def _ferrites() -> Iterable[Core]:
    found = (each for each in cores().values() if each.of.family == "ferrite")
    return sorted(found, key=_volume)
