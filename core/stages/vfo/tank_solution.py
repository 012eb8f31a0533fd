"""The values of a tank's parts, found one after the other, and what stands in their way."""

from collections.abc import Mapping
from dataclasses import replace
from math import inf, isfinite, log, sqrt
from types import MappingProxyType

import numpy as np

from core.circuits.ladder import Array
from core.model.stages.tank import Tank
from core.model.values.notation import format_value, megahertz
from core.model.values.part_names import reference
from core.model.values.parts import Role, Which
from core.model.values.quantities import spelled
from core.stages.coils.winding import wind
from core.stages.on_hand import Shelf
from core.stages.outcome import PartRow, Unsolved
from core.stages.parts import Key
from core.stages.vfo.relations import WHOLE_SWING, Bench, built_of, feedback_of, root, series_for
from core.stages.vfo.tank import Limit, WantedRange
from core.stages.wound import Wound
from core.trade.series import neighbours, preferred

#: A padder larger than this many times the tuning capacitor does nothing that a wire would not.
_IDLE_PADDER = 200.0


#: A padder on hand may let the tuning swing so many times as far as wanted [-]; a choice.
_WIDER = 1.1


#: A coil this near to what its turns give needs no squeezing [-].
_AS_WOUND = 0.005


#: Below this the wiring decides and no part is worth proposing, F; common practice, no source.
_LEAST_PART_F = 1.5e-12


class Solution:
    """Works the parts out one after another: coil, padder, parallel capacitor, band shifts.

    `taken` are capacitors of the `shelf` that stand where others were asked for [F], by role.
    """

    def __init__(
        self,
        tank: Tank,
        base: WantedRange,
        shifted: list[WantedRange],
        several: bool,
        shelf: Shelf,
        taken: Mapping[str, float] = MappingProxyType({}),
    ) -> None:
        self.tank, self.base, self.shifted, self.several = tank, base, shifted, several
        self._left, self._taken = shelf.without(taken.values()), taken
        self.bench = Bench(tank, taken)
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
        for role, (asked, note) in feedback_of(tank).items():
            self._row(role, None, asked, self._taken.get(role, asked), note)
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
        # What is soldered here is no longer on hand for the next; what was taken first is gone already.
        if row.kind == "capacitor" and role not in self._taken:
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
            found = root(lambda coil: self._swing(coil) - swing)
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

        return root(miss)

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
                elif 0 < swing < WHOLE_SWING * span:
                    designed = float(bench.padder_for(swing))
                self._row("padder", None, designed, padder, "padder")
                self.fixed.append(f"padder {format_value(padder, 'F')}")
            else:
                self.fixed.append("no padder")
            return self.values.get(("padder", None), inf)
        if swing >= WHOLE_SWING * span:
            enough = root(lambda each: self._swing(each) - 0.97 * span)
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
        widest = float(bench.padder_for(min(_WIDER * swing, WHOLE_SWING * span * 0.999)))
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
                    f"A coil of {format_value(coil, 'H', 3)} tunes above {megahertz(self.base.low_hz)} "
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
        least = series_for(below - rest, bench.meshed_f)
        most = series_for(above - rest, bench.open_f)
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
