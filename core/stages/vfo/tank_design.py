"""Finds the parts with which the VFO's tank covers the bands, or says what stands in the way.

The tuning capacitance T that a frequency needs follows from the coil and from what the feedback divider puts
across it; two frequencies give the swing that the tuning capacitor with its padder must make, and the rest
is fixed. Those relations are exact for these networks. Derived here; for a parallel-tuned tank without a
divider they are the handbook's padding equations.
"""

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from math import inf, isfinite, log, pi, sqrt

import numpy as np

from core.circuits.ladder import Array
from core.circuits.resonator import in_series
from core.model.stages.tank import Tank
from core.model.values.notation import format_value
from core.model.values.parts import Role, Which, reference
from core.model.values.quantities import spelled
from core.stages.coils.winding import wind
from core.stages.gate import gate
from core.stages.on_hand import ALL_BOUGHT, Shelf
from core.stages.outcome import PartRow, Unsolved
from core.stages.parts import Built, Key
from core.stages.vfo.oscillator import operating
from core.stages.vfo.tank import Limit, RangeCover, Shift, TankDesign, WantedRange, resonance
from core.stages.wound import Wound
from core.trade.series import neighbours, preferred

#: A padder larger than this many times the tuning capacitor does nothing that a wire would not.
_IDLE_PADDER = 200.0
#: The swing wanted may come this near to all that the capacitor has.
_WHOLE_SWING = 0.999
#: A padder on hand may let the tuning swing so many times as far as wanted [-]; a choice.
_WIDER = 1.1
#: Reactances of ordinary VFO coils, ohm; common practice, no source.
_USUAL_COILS_OHM = (100.0, 150.0, 70.0, 200.0, 50.0)
#: Ordinary tuning capacitors, F; common practice, no source.
_USUAL_VARIABLES_F = (100e-12, 200e-12, 365e-12)
#: Coils between which one is looked for, H: a choice far beyond any VFO's.
_COILS_H = (1e-8, 1e-2)
_GRID = 241
#: A coil this near to what its turns give needs no squeezing [-].
_AS_WOUND = 0.005
#: Below this the wiring decides and no part is worth proposing, F; common practice, no source.
_LEAST_PART_F = 1.5e-12


def built_of(tank: Tank) -> Built:
    """What is fitted in a tank as built, by role."""
    return Built("tank", tank.as_built)


class _Bench:
    """What a tank's fixed parts make of a frequency: the tuning capacitance that it needs."""

    def __init__(self, tank: Tank) -> None:
        self.tank = tank
        built = built_of(tank)
        feedback, device = tank.feedback, operating(tank.feedback)
        self.upper = built.get("feedback_upper") or feedback.upper_f
        self.lower = built.get("feedback_lower") or feedback.lower_f
        self.coupling = built.get("coupling") or feedback.coupling_f
        divider = in_series(self.upper + device.input_f, self.lower) + device.through_f
        self.across = in_series(self.coupling, divider) if tank.tuned == "parallel" else divider
        #: Fixed capacitance across the tuning that is neither parallel capacitor nor trimmer.
        self.rest = tank.stray_f + (tank.compensation_f or 0.0) + (tank.differential_f or 0.0)
        self.open_f, self.meshed_f = tank.variable.span_f

    def needed_f(self, f_hz: float, coil_h: Array | float) -> Array:
        """Tuning capacitance for `f_hz` [Hz] with a coil [H] of any shape; infinite where none will do."""
        left = 1 / ((2 * pi * f_hz) ** 2 * np.asarray(coil_h, dtype=float)) - self.tank.coil_self_f
        if self.tank.tuned == "parallel":
            return left - self.across
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(
                (left > 0) & (left < self.across),
                1 / (1 / left - 1 / self.across),
                np.where(left > 0, inf, -inf),
            )

    def swing_f(self, wanted: WantedRange, coil_h: Array | float) -> Array:
        """Change of tuning capacitance over a range, F."""
        with np.errstate(invalid="ignore"):
            return self.needed_f(wanted.low_hz, coil_h) - self.needed_f(wanted.high_hz, coil_h)

    def branch_f(self, padder_f: Array | float) -> tuple[Array, Array]:
        """Tuning capacitor with its padder, meshed and open, F; an infinite padder is a wire."""
        padder = 1 / np.asarray(padder_f, dtype=float)
        return 1 / (1 / self.meshed_f + padder), 1 / (1 / self.open_f + padder)

    def padder_for(self, swing_f: Array | float) -> Array:
        """Padder [F] with which the tuning capacitor swings by `swing_f`; infinite where it just does."""
        span = self.meshed_f - self.open_f
        left = span - np.asarray(swing_f, dtype=float)
        total, product = self.meshed_f + self.open_f, self.meshed_f * self.open_f
        with np.errstate(divide="ignore", invalid="ignore"):
            root = swing_f * (total + np.sqrt(total**2 + 4 * left * product / swing_f)) / (2 * left)
        return np.where(left > (1 - _WHOLE_SWING) * span, root, inf)


@lru_cache(maxsize=64)
@gate("The VFO's tank")
def design(tank: Tank, wanted: tuple[WantedRange, ...], shelf: Shelf = ALL_BOUGHT) -> TankDesign | Unsolved:
    """Parts with which the tank covers every wanted range, its margin included.

    Capacitors of the `shelf` are taken where the trimmer or the tuning still reaches all that is wanted.

    Bands that are not shifted share one range. An as-built value counts as given: the others are found
    around it. Ranges that pass zero are left out; `Unsolved` when no other is left.
    """
    if not wanted:
        return Unsolved("No band wants anything of the VFO; give the rig a band.")
    # A range through zero is the frequency plan's fault to tell; the other bands' parts are found without it.
    wanted = tuple(each for each in wanted if each.low_hz - tank.margin_hz > 0)
    if not wanted:
        return Unsolved("On every band the VFO would pass zero; choose another mixing scheme or IF.")
    ranges = [
        WantedRange(w.band, w.low_hz - tank.margin_hz, w.high_hz + tank.margin_hz, w.shift) for w in wanted
    ]
    plain = [r for r in ranges if r.shift == "none"] or ranges[:1]
    shifted = [r for r in ranges if r not in plain]
    base = WantedRange("", min(r.low_hz for r in plain), max(r.high_hz for r in plain))
    made = _Solution(tank, base, shifted, len(plain) > 1, shelf)
    made.solve()
    covers = []
    if isinstance(made.wound, Unsolved):
        return made.wound
    wound = made.wound
    fitted = TankDesign(
        tank=tank, parts=tuple(made.rows), ranges=(), fixed=(), found=(), limits=(), wound=wound
    )
    for w in wanted:
        shift: Shift = "none" if any(r.band == w.band for r in plain) else w.shift
        f = resonance(fitted, w.band, np.array([0.0, 1.0])).f_hz
        cover = RangeCover(
            band=w.band,
            wanted_low_hz=w.low_hz,
            wanted_high_hz=w.high_hz,
            covers_low_hz=float(f[0]),
            covers_high_hz=float(f[1]),
            shift=shift,
        )
        covers.append(cover)
        if not cover.covers and not made.limits:
            made.limits.append(
                Limit(
                    f"On {spelled(w.band)} these parts tune {f[0] / 1e6:.3f} to {f[1] / 1e6:.3f} MHz where "
                    f"{w.low_hz / 1e6:.3f} to {w.high_hz / 1e6:.3f} MHz is wanted",
                    "correct the as-built values, shift the band otherwise, or take a tuning capacitor of "
                    "more swing",
                    tells_range=True,
                )
            )
    return TankDesign(
        tank=tank,
        parts=tuple(made.rows),
        ranges=tuple(covers),
        fixed=tuple(made.fixed),
        found=tuple(made.found),
        limits=tuple(made.limits),
        wound=wound,
        shelf=shelf,
    )


def kept(made: TankDesign) -> Tank:
    """The tank with every part at its fitted value as built, so that it stays put when the rig is turned."""
    return made.tank.edited(("as_built",), {row.key: row.fitted for row in made.parts})


def anew(tank: Tank) -> Tank:
    """The tank with nothing fixed as built, so that every part that can be is found again."""
    return tank.edited(("as_built",), ())


def typical(wanted: tuple[WantedRange, ...], like: Tank | None = None) -> Tank:
    """The tank `like` with the first ordinary coil and tuning capacitor that cover these ranges.

    A coil of about 100 ohm in the middle of the plain ranges, or some other, and a tuning capacitor
    as small as will do.
    """
    plain = [w for w in wanted if w.shift == "none"] or list(wanted)
    middle = (min(w.low_hz for w in plain) + max(w.high_hz for w in plain)) / 2
    tank = Tank() if like is None else anew(like)
    for high_f in _USUAL_VARIABLES_F:
        for reactance in _USUAL_COILS_OHM:
            coil = preferred(reactance / (2 * pi * middle), "E12")
            tank = tank.edited(("coil_h",), coil)
            if tank.variable.law != "table":
                tank = tank.edited(("variable", "high_f"), max(high_f, 1.5 * tank.variable.low_f))
            made = design(tank, wanted)
            if isinstance(made, TankDesign) and not made.limits:
                return tank
    return tank


class _Solution:
    """Works the parts out one after another: coil, padder, parallel capacitor, band shifts."""

    def __init__(
        self, tank: Tank, base: WantedRange, shifted: list[WantedRange], several: bool, shelf: Shelf
    ) -> None:
        self.tank, self.base, self.shifted, self.several = tank, base, shifted, several
        self._left = shelf
        self.bench = _Bench(tank)
        self.built = built_of(tank)
        self.values: dict[Key, float] = {}
        self.rows: list[PartRow] = []
        self.fixed: list[str] = []
        self.found: list[str] = []
        self.limits: list[Limit] = []
        self.wound: Wound | Unsolved | None = None

    def solve(self) -> None:
        """Fill in values, rows and sentences."""
        tank, bench = self.tank, self.bench
        low, high = tank.variable.span_f
        self.fixed.append(f"tuning capacitor {format_value(low, 'F')} to {format_value(high, 'F')}")
        coil = self._coil()
        self._row("coil", None, coil, *self._wind(coil))
        coil = self.values["coil", None]
        padder = self._padder(coil)
        meshed, opened = (float(each) for each in bench.branch_f(padder))
        below, above = (float(bench.needed_f(f, coil)) for f in (self.base.low_hz, self.base.high_hz))
        # What the branch swings too much is shared so that both ends have as many hertz to spare.
        spare = (meshed - opened) - (below - above)
        share = self.base.high_hz**3 / (self.base.low_hz**3 + self.base.high_hz**3)
        total = below + spare * share - meshed - bench.rest if isfinite(below) else below
        self._parallel(total, coil)
        if tank.compensation_f:
            self._row("compensating", None, tank.compensation_f, tank.compensation_f, "compensating")
        if tank.differential_f:
            self._row("differential", None, tank.differential_f, tank.differential_f, "differential")
        upper, lower, coupling = tank.feedback.upper_f, tank.feedback.lower_f, tank.feedback.coupling_f
        self._row("feedback_upper", None, upper, upper, "feedback, upper")
        self._row("feedback_lower", None, lower, lower, "feedback, lower")
        if tank.tuned == "parallel":
            self._row("coupling", None, coupling, coupling, "coupling to the gate")
        rest = self._fitted_rest()
        for each in self.shifted:
            self._shift(each, coil, padder, rest)

    def _fitted_rest(self) -> float:
        """All that stands across the tuning besides the tuning branch, as fitted, F."""
        across: tuple[Role, ...] = ("parallel", "trimmer", "compensating", "differential")
        return self.tank.stray_f + sum(self.values.get((role, None), 0.0) for role in across)

    def _row(
        self,
        role: Role,
        which: Which,
        designed: float,
        value: float,
        note: str,
        pieces: tuple[float, ...] = (),
        trimmer_f: tuple[float, float] | None = None,
    ) -> None:
        row = self.built.row(role, which, designed, value, note)
        row = replace(row, pieces=pieces, trimmer_f=trimmer_f)
        self.rows.append(row)
        # What is soldered here is no longer on hand for the next.
        if row.kind == "capacitor":
            self._left = self._left.without(row.soldered)
        self.values[role, which] = row.fitted

    def _swing(self, coil: Array | float) -> Array:
        """The largest swing that any range tuned by the plain branch asks for, F."""
        asked = [self.base, *(each for each in self.shifted if each.shift == "parallel")]
        swings = np.max([self.bench.swing_f(each, coil) for each in asked], axis=0)
        return np.where(np.isnan(swings), inf, swings)

    def _parallel_given(self) -> float:
        """Parallel capacitor where it is given, with the trimmer at its middle, F."""
        trimmer = self.tank.trimmer
        return self.tank.parallel_f + (trimmer.low_f + trimmer.high_f) / 2

    def _wind(self, wanted_h: float) -> tuple[float, str]:
        """The coil that is wound for one wanted [H], or as it was built, and how: what is fixed stays so."""
        tank = self.tank
        if not tank.core and tank.in_air is None:
            return wanted_h, "the coil"
        wanted_h = self.built.get("coil") or wanted_h
        f_hz = sqrt(self.base.low_hz * self.base.high_hz)
        self.wound = wind(wanted_h, f_hz, core=tank.core, size_m=tank.in_air)
        if isinstance(self.wound, Unsolved):
            return wanted_h, ""
        value = self.wound.nearest_h(wanted_h)
        off = value / self.wound.inductance_h - 1
        set_by = "" if abs(off) < _AS_WOUND else f", {'squeezed' if off > 0 else 'spread'} to it"
        return value, f"{self.wound.note}{set_by}"

    def _coil(self) -> float:
        """The coil as designed [H], whatever is fitted."""
        tank, bench, built = self.tank, self.bench, self.built.get("coil")
        if built is not None or tank.find == "padder_and_parallel":
            self.fixed.append(f"coil {format_value(built or tank.coil_h, 'H')}")
        if tank.find == "padder_and_parallel":
            return tank.coil_h
        if tank.find == "coil_and_parallel":
            meshed, opened = bench.branch_f(self._padder_given())
            swing = float(meshed - opened)
            found = _root(lambda coil: self._swing(coil) - swing)
        else:
            found = self._coil_for_parallel(self._parallel_given())
        if built is not None:
            # What would be found without it, to be told beside it.
            return found or built
        if found is None:
            self.limits.append(
                Limit(
                    "No coil makes this tuning capacitor cover the range with the parts given",
                    "change the padder or the parallel capacitor",
                )
            )
            return tank.coil_h
        self.found.append(f"coil {format_value(found, 'H')}")
        return found

    def _coil_for_parallel(self, parallel_f: float) -> float | None:
        """Coil [H] with which, the padder being found, just `parallel_f` [F] is left across the tuning."""
        bench = self.bench

        def miss(coil: Array) -> Array:
            _, opened = bench.branch_f(bench.padder_for(self._swing(coil)))
            left = bench.needed_f(self.base.high_hz, coil) - opened - bench.rest - parallel_f
            return np.where(self._swing(coil) < bench.meshed_f - bench.open_f, left, np.nan)

        return _root(miss)

    def _padder_given(self) -> float:
        return self.built.get("padder") or self.tank.padder_f or inf

    def _padder(self, coil: float) -> float:
        tank, bench = self.tank, self.bench
        swing, span = float(self._swing(coil)), bench.meshed_f - bench.open_f
        if tank.find == "coil_and_parallel" or self.built.get("padder") is not None:
            padder = self._padder_given()
            if isfinite(padder):
                designed = padder
                if tank.find == "coil_and_parallel":
                    designed = tank.padder_f or padder
                elif 0 < swing < _WHOLE_SWING * span:
                    designed = float(bench.padder_for(swing))
                self._row("padder", None, designed, padder, "padder")
                self.fixed.append(f"padder {format_value(padder, 'F')}")
            else:
                self.fixed.append("no padder")
            return self.values.get(("padder", None), inf)
        if swing >= _WHOLE_SWING * span:
            enough = _root(lambda each: self._swing(each) - 0.97 * span)
            advice = "" if enough is None else f" a coil of at least {format_value(enough, 'H', 3)} or"
            if enough is not None and enough < coil:
                advice = " a smaller coil or"  # its own capacitance alone is too much
            elif enough is not None and not self._leaves_room(enough):
                advice = ""  # it would tune the lower end, and no longer the upper one
            if swing > span:
                self.limits.append(
                    Limit(
                        f"The tuning capacitor swings too little: {format_value(span, 'F', 3)} where "
                        f"{format_value(swing, 'F', 3) if isfinite(swing) else 'far more'} is wanted, which "
                        "would take a negative padder",
                        f"take{advice} a larger tuning capacitor{self._or_shift()}",
                    )
                )
            self.found.append("no padder")
            return inf
        exact = float(bench.padder_for(swing))
        if exact > _IDLE_PADDER * bench.meshed_f:
            self.found.append("no padder")
            return inf
        # The larger neighbour: the range then is a little too wide, never too narrow.
        bought = neighbours(exact, tank.capacitors)[1]
        widest = float(bench.padder_for(min(_WIDER * swing, _WHOLE_SWING * span * 0.999)))
        on_hand = self._left.of(tank.padder_type).between(exact, max(widest, exact))
        self._row("padder", None, exact, min(on_hand, default=bought), "padder")
        self.found.append(f"padder {format_value(exact, 'F', 4)}")
        return self.values["padder", None]

    def _leaves_room(self, coil: float) -> bool:
        """Whether a coil [H] still tunes the upper end with the tuning capacitor and the trimmer open."""
        bench, fixed = self.bench, self.built.get("parallel") or 0.0
        there = bench.open_f + bench.rest + fixed + self.tank.trimmer.low_f
        return float(bench.needed_f(self.base.high_hz, coil)) >= there

    def _or_shift(self) -> str:
        """Advice where the swing is that of several bands together."""
        return ", or let a capacitor shift one of the bands" if self.several else ""

    def _parallel(self, total: float, coil: float) -> None:
        """Parallel capacitor and trimmer that make up `total` [F] together."""
        given = self.tank.parallel_f if self.tank.find == "coil_and_padder" else None
        if given is not None:
            self.fixed.append(f"parallel capacitor {format_value(given, 'F')}")
        if not self._split("parallel", None, total, "parallel", given):
            self._too_much(total, coil)

    def _too_much(self, total: float, coil: float) -> None:
        """What to do where more stands across the tuning than the `total` [F] that there may be."""
        trimmer, parallel = self.tank.trimmer, self.values.get(("parallel", None), 0.0)
        if total == inf:
            # Only in a series-tuned tank, where the divider stands in the coil's way whatever tunes it.
            self.limits.append(
                Limit(
                    f"A coil of {format_value(coil, 'H', 3)} tunes above {self.base.low_hz / 1e6:.3f} MHz "
                    "with any tuning capacitance",
                    "take a larger coil or larger feedback capacitors",
                )
            )
            return
        whose = "as given" if self.built.get("parallel") is None else "as built"
        if parallel and total - trimmer.low_f > _LEAST_PART_F:
            fits = max(total - (trimmer.low_f + trimmer.high_f) / 2, _LEAST_PART_F)
            self.limits.append(
                Limit(
                    f"The parallel capacitor of {format_value(parallel, 'F', 3)} {whose} is more than there "
                    "may be across the tuning",
                    f"make it {format_value(fits, 'F', 3)}",
                )
            )
        else:
            found = self._coil_for_parallel(trimmer.low_f)
            # A root above the coil in use is where another branch of the relation ends: no advice.
            smaller = found is not None and found < coil
            advice = (
                f"a coil of at most {format_value(found or 0.0, 'H', 3)}" if smaller else "a smaller coil"
            )
            self.limits.append(
                Limit(
                    f"Stray, feedback and tuning capacitance alone are more than a coil of "
                    f"{format_value(coil, 'H', 3)} can have up there",
                    f"take {advice}, less coupling or less stray capacitance",
                )
            )

    def _split(self, role: Role, which: Which, total: float, note: str, given: float | None = None) -> bool:
        """A fixed capacitor and a trimmer's setting for `total` [F]; False when that is too little."""
        trimmer, what = self.tank.trimmer, note
        middle = (trimmer.low_f + trimmer.high_f) / 2
        if not isfinite(total):
            total = trimmer.low_f
        designed = total - middle if given is None else given
        pieces: tuple[float, ...] = ()
        built = fixed = self.built.get(role, which)
        if fixed is None and given is not None:
            fixed = given
        if fixed is None and total > trimmer.high_f:
            pieces, note = self._fixed(role, designed, note)
            fixed = sum(pieces)
        if fixed is not None:
            self._row(role, which, max(designed, 0.0), fixed, note, pieces)
            if given is None and built is None:
                self.found.append(f"{what} capacitor {format_value(designed, 'F', 4)}")
        left = total - self.values.get((role, which), 0.0)
        setting = min(max(left, trimmer.low_f), trimmer.high_f)
        span = f"trimmer {format_value(trimmer.low_f, 'F', 3)} to {format_value(trimmer.high_f, 'F', 3)}"
        reach = (trimmer.low_f, trimmer.high_f)
        self._row(
            "trimmer", which, max(left, trimmer.low_f), setting, f"{span}, set to this", trimmer_f=reach
        )
        free = self.built.get("trimmer", which) is None
        if left > trimmer.high_f * (1 + 1e-9) and free:
            self.limits.append(
                Limit(
                    f"The trimmer {reference('tank', 'trimmer', which)} would have to be "
                    f"{format_value(left, 'F', 3)} and has at most {format_value(trimmer.high_f, 'F', 3)}",
                    f"take a larger {what} capacitor or trimmer",
                )
            )
        return left >= trimmer.low_f * (1 - 1e-9) or not free

    def _fixed(self, role: Role, designed: float, note: str) -> tuple[tuple[float, ...], str]:
        """Capacitors for `designed` [F] with which the trimmer reaches, on hand or preferred: one, or two in
        parallel where one misses it.
        """
        reach = (self.tank.trimmer.high_f - self.tank.trimmer.low_f) / 2
        on_hand = self._on_hand(role, designed, reach)
        if on_hand:
            return on_hand, _in_parallel(note, on_hand)
        below, above = neighbours(max(designed, 0.1e-12), self.tank.capacitors)
        one = min((below, above), key=lambda c: abs(designed - c))
        if abs(designed - one) <= reach:
            return (one,), note
        second = preferred(designed - below, self.tank.capacitors)
        if second < _LEAST_PART_F:
            return (one,), note
        return (below, second), _in_parallel(note, (below, second))

    def _on_hand(self, role: Role, designed: float, reach: float) -> tuple[float, ...]:
        """One or two capacitors on hand within `reach` of `designed` [F]; none where there are no such."""
        shelf = self._left.of(self.tank.shift_type if role == "shift" else self.tank.parallel_type)

        def nearest(off: float) -> float | None:
            near = shelf.between(max(off - reach, _LEAST_PART_F), off + reach)
            return min(near, key=lambda each: abs(each - off), default=None)

        one = nearest(designed)
        if one is not None:
            return (one,)
        pairs = (
            (first, second)
            for first in sorted(shelf.between(_LEAST_PART_F, designed), reverse=True)
            if (second := nearest(designed - first)) is not None and shelf.holds((first, second))
        )
        return next(pairs, ())

    def _shift(self, wanted: WantedRange, coil: float, padder: float, rest: float) -> None:
        bench, band = self.bench, wanted.band
        meshed, opened = (float(each) for each in bench.branch_f(padder))
        below, above = (float(bench.needed_f(f, coil)) for f in (wanted.low_hz, wanted.high_hz))
        if wanted.shift == "parallel":
            spare = (meshed - opened) - (below - above)
            share = wanted.high_hz**3 / (wanted.low_hz**3 + wanted.high_hz**3)
            total = below + spare * share - meshed - rest
            if not self._split("shift", band, total, f"band shift, {spelled(band)}"):
                self.limits.append(self._shift_advice(wanted, "across"))
            return
        # In series: the padder and the shift together must not be more than reaches the upper end.
        least = _series_for(below - rest, bench.meshed_f)
        most = _series_for(above - rest, bench.open_f)
        together = least if least <= most else sqrt(least * most) if most > 0 else least
        exact = 0.0
        if 0 < together < padder:
            exact = 1 / (1 / together - (1 / padder if isfinite(padder) else 0.0))
        if exact < _LEAST_PART_F:
            self.limits.append(self._shift_advice(wanted, "in series with"))
            return
        # On hand, whatever lets the tuning reach both ends of the band.
        ends = sorted(
            1 / (1 / each - (1 / padder if isfinite(padder) else 0.0)) if 0 < each < padder else exact
            for each in (least, most)
        )
        on_hand = self._left.of(self.tank.shift_type).between(*ends)
        near = min(on_hand, key=lambda each: abs(log(each / exact)), default=None)
        taken = preferred(exact, self.tank.capacitors) if near is None else near
        self._row("shift", band, exact, taken, f"band shift, {spelled(band)}")
        self.found.append(f"band shift, {spelled(band)} {format_value(exact, 'F', 4)}")

    def _shift_advice(self, wanted: WantedRange, where: str) -> Limit:
        """What to say of a band that no capacitor of its kind of shift brings the VFO to."""
        told = f"No ordinary capacitor {where} the tuning brings the VFO to {spelled(wanted.band)}"
        if wanted.high_hz > self.base.high_hz:
            return Limit(
                f"{told}, which lies above the plain range",
                f"make {spelled(wanted.band)} the plain one and shift the lower one by a capacitor "
                "across the tuning",
            )
        if where == "across":
            return Limit(told, "take less across the tuning (a smaller parallel capacitor or coil)")
        return Limit(told, "shift it by one across the tuning, or let it share the plain range")


def _in_parallel(note: str, pieces: tuple[float, ...]) -> str:
    """A note with the pieces where there are two."""
    if len(pieces) < 2:
        return note
    return f"{note}, {' and '.join(format_value(each, 'F', 3) for each in pieces)} in parallel"


def _series_for(target: float, capacitance: float) -> float:
    """What in series with `capacitance` [F] makes `target` [F]; infinite when it is that already."""
    if target <= 0:
        return 0.0
    return inf if target >= capacitance else 1 / (1 / target - 1 / capacitance)


def _root(miss: Callable[[Array], Array]) -> float | None:
    """Coil [H] where `miss`, a function of arrays, changes its sign; None when it does not."""
    low, high = _COILS_H
    for _ in range(4):
        coils = np.geomspace(low, high, _GRID)
        with np.errstate(invalid="ignore"):
            values = miss(coils)
        signs = np.sign(values)
        turns = np.flatnonzero(signs[:-1] * signs[1:] < 0)
        if turns.size == 0:
            return None
        low, high = float(coils[turns[0]]), float(coils[turns[0] + 1])
    return sqrt(low * high)
