"""The rows of a crystal oscillator that are switched in: coil and trimmer for each of its frequencies."""

from dataclasses import replace
from math import inf, pi, sqrt
from types import MappingProxyType

import numpy as np

from core.circuits.active.operating import Bias
from core.circuits.active.oscillation import Rest, in_row
from core.circuits.circuit import Part
from core.record import record
from core.stages.coils.winding import wind
from core.stages.crystal_oscillator.asked import Asked, Place
from core.stages.crystal_oscillator.soldered import COIL_Q, FAMILY, Fitted
from core.stages.crystal_oscillator.values import Fitting, Values
from core.stages.crystal_oscillator.working import rest_on, worst_q
from core.stages.filters.carrier_oscillator import Pulling, pull
from core.stages.outcome import Unsolved
from core.stages.parts import Key, part
from core.stages.wound import Wound

#: Share of its largest that the trimmer stands at where the coil is found for it [-].
_IN = 0.7


def rest_without(asked: Asked, values: Values, crystal: Fitting) -> tuple[Rest, Bias] | Unsolved:
    """The circuit with these values but for what is switched, about the first frequency, and its bias."""
    # Some row to leave out.
    row: dict[Key, float] = {("trimmer", place.which): asked.trimmer_f[1] for place in asked.places}
    bare = Fitted(
        values=MappingProxyType(values.fitted | row), crystal=crystal.part, coil_q=MappingProxyType({})
    )
    return rest_on(asked, bare, asked.places[0].wanted_hz)


@record(eq=False, kw_only=True)
class Switched:
    """Coil and trimmer for a place: how they bring the crystal there, the coil's Q, and what a current loses
    in an ordinary crystal and in the worst, alone and with the row [ohm].
    """

    place: Place
    pulling: Pulling
    coil_q: float
    bare_ohm: tuple[float, float]
    losses_ohm: tuple[float, float]

    def fitted_in(self, values: Values, asked: Asked) -> tuple[str, Wound] | None:
        """Writes its parts; gives the coil's reference and winding where it is wound.

        The trimmer stands where it is set, at its nearer end where the frequency is out of reach.
        """
        (low, high), which = asked.trimmer_f, self.place.which
        setting = self.pulling.trimmer_f
        if setting is None:
            setting = low if self.place.wanted_hz > self.pulling.reachable_high_hz else high
        values.at("trimmer", which, setting, "set to the frequency", asked.trimmer_f)
        if not self.pulling.coil_h:
            return None
        winding = self.pulling.wound
        wound = winding if isinstance(winding, Wound) else None
        assumed = f"in series with the crystal; a Q of {COIL_Q:.0f} is assumed, as no core is known"
        note = assumed if wound is None else wound.note
        row = values.at("coil", which, self.pulling.coil_h, note)
        return None if wound is None else (row.ref, wound)


def switched(asked: Asked, values: Values, crystal: Fitting, rest: Rest, place: Place) -> Switched:
    """The row of a place, for what the circuit loads it with once it oscillates steadily there."""
    f = np.array([place.wanted_hz])
    w = 2 * pi * place.wanted_hz
    bare = [
        complex(in_row((crystal.part,), f, {f"{crystal.part.ref}.q": each})[0])
        for each in (crystal.of.quality_factor, worst_q(asked, crystal.part))
    ]
    built = values.built.get("coil", place.which)
    coil_h, core = (asked.coil_h, asked.core) if built is None else (built, "")
    damping = values.fitted.get(("damping_resistor", place.which))
    more, quality, found_h = 0.0, COIL_Q, 0.0
    # A second time with what the coil loses, which moves what the circuit is to the row a little.
    for _ in range(2):
        x = float(rest.holding(place.wanted_hz, bare[0].real + more)[0])
        # Where it cannot oscillate the divider asked tells where the parts would have to be.
        load = 1 / (w * x) if x > 0 else asked.load_f
        found_h = _coil_h(asked, w, bare[0].imag - 1 / (w * load)) if coil_h is None else coil_h
        if not found_h:
            break
        wound = wind(found_h, place.wanted_hz, core=core) if core else None
        quality = wound.quality if isinstance(wound, Wound) else COIL_Q
        more = w * found_h * (1 / quality + (w * found_h / damping if damping else 0.0))
    pulling = pull(crystal.of, crystal.fs_hz, place.wanted_hz, asked.trimmer_f, load, found_h, core)
    if pulling.trimmer_f is not None:
        pulling = _exactly(asked, values, crystal, rest, place, pulling, quality)
    return Switched(
        place=place,
        pulling=pulling,
        coil_q=quality,
        bare_ohm=(bare[0].real, bare[1].real),
        losses_ohm=(bare[0].real + more, bare[1].real + more),
    )


def _coil_h(asked: Asked, w: float, left_ohm: float) -> float:
    """The coil [H] with which the trimmer reaches, at w [rad/s], where crystal and circuit leave a reactance
    [ohm] for it to cancel; none where the trimmer alone does.

    With the trimmer further in than its middle a smaller coil does, which loses less and resonates with the
    crystal's holder further away.
    """
    low, high = asked.trimmer_f
    if left_ohm > 0 and low <= 1 / (w * left_ohm) <= high:
        return 0.0
    at = max(sqrt(low * high), _IN * high)
    return max((1 / (w * at) - left_ohm) / w, 0.0)


def _exactly(
    asked: Asked,
    values: Values,
    crystal: Fitting,
    rest: Rest,
    place: Place,
    pulling: Pulling,
    quality: float,
) -> Pulling:
    """The same with the trimmer that brings the whole circuit to its place, losses and damping counted."""
    coil: list[Part | tuple[Part, ...]] = []
    if pulling.coil_h:
        alone = part(FAMILY, "coil", place.which, pulling.coil_h, quality)
        damping = values.fitted.get(("damping_resistor", place.which))
        beside_it = () if damping is None else (part(FAMILY, "damping_resistor", place.which, damping),)
        coil.append((alone, *beside_it))
    ohm = complex(in_row((crystal.part, *coil), np.array([place.wanted_hz]), {})[0])
    left = ohm.imag - float(rest.holding(place.wanted_hz, ohm.real)[0])
    low, high = asked.trimmer_f
    farad = 1 / (2 * pi * place.wanted_hz * left) if left > 0 else inf
    return replace(pulling, trimmer_f=farad) if low <= farad <= high else pulling
