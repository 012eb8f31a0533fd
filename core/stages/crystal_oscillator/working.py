"""What a crystal oscillator does on its fitted parts, read off its whole circuit."""

from math import isfinite, pi, sqrt

import numpy as np

from core.circuits.active.amplitude import Room, swing
from core.circuits.active.operating import Bias
from core.circuits.active.oscillation import InARow, Rest, in_row, oscillates_at, rest_of
from core.circuits.circuit import GROUND, Part
from core.circuits.ladder import Array, Values
from core.circuits.units import dbm, watts
from core.model.values.part_names import reference
from core.record import record
from core.stages.crystal_oscillator.asked import Asked, Place
from core.stages.crystal_oscillator.soldered import (
    BASE,
    BUFFER,
    COIL_Q,
    EMITTER,
    FAMILY,
    FED,
    OSCILLATOR,
    OUT,
    Fitted,
    bias_ohm,
    circuit_on,
    row_of,
)
from core.stages.outcome import Unsolved

CRYSTAL = reference(FAMILY, "crystal", 1)
#: How far below its series resonance a coil may pull a crystal at most [-].
_LOWEST = 3e-3
#: About the frequency wanted it is looked for first, to either side [-].
_ABOUT = 3e-5
#: How near to its parallel resonance it is looked for [-].
_NEAR = 1e-7
#: Where it is looked for what coil and holder do, over the crystal's frequency [-].
_BESIDE = np.geomspace(1.15, 12.0, 81)


@record(kw_only=True)
class Working:
    """The oscillator at one of its frequencies.

    `f_hz` on its fitted parts, None where it does not oscillate with an ordinary crystal; `margin` how many
    times its transistor at rest has the transconductance that the worst crystal needs, and `usual_margin`
    that an ordinary one does; `control_v` peak between base and emitter or gate and source [V], `mean_a` mean
    current of the transistor [A], `crystal_w` heat in the crystal, the worse of both [W], `emitter_v` peak at
    the emitter or source [V], `current_a` peak in the crystal [A], `settles_s` the crystal's own time
    constant [s], `level_dbm` at the output, `crest` the buffer's peak current over its mean [-]. None of what
    there is none.
    """

    place: Place
    f_hz: float | None
    margin: float
    usual_margin: float
    control_v: float | None = None
    mean_a: float | None = None
    crystal_w: float | None = None
    emitter_v: float | None = None
    current_a: float | None = None
    settles_s: float = 0.0
    level_dbm: float | None = None
    crest: float | None = None

    def peak_v(self, port_ohm: float) -> float:
        """Peak voltage at the output across `port_ohm` [ohm], V; none where it does not oscillate."""
        return 0.0 if self.level_dbm is None else sqrt(2 * port_ohm * watts(self.level_dbm))

    @property
    def off_hz(self) -> float | None:
        """How far it lies above what is asked, Hz."""
        return None if self.f_hz is None else self.f_hz - self.place.wanted_hz


def rest_on(asked: Asked, fitted: Fitted, f_hz: float) -> tuple[Rest, Bias] | Unsolved:
    """The circuit about a frequency [Hz] without its crystal's row and its transistor's current, which is the
    same whichever row is switched in, and its bias.
    """
    circuit, row = circuit_on(asked, asked.places[0].which, fitted)
    return rest_of(circuit, reference(FAMILY, "transistor", OSCILLATOR), row, (BASE, GROUND), f_hz)


def span_hz(crystal: Part) -> tuple[float, float]:
    """Between what frequencies a crystal rules [Hz]: from what a coil may do to its parallel resonance."""
    ws = 2 * pi * crystal.value
    motional_f = 1 / (ws * ws * crystal.motional_inductance_h)
    parallel = crystal.value * sqrt(1 + motional_f / crystal.holder_capacitance_f)
    return crystal.value * (1 - _LOWEST), parallel * (1 - _NEAR)


def pulled_hz(fitted: Fitted, rest: Rest, which: str | None, trimmer_f: Array) -> Array:
    """Frequency [Hz] over settings of a row's trimmer, shape (T,) [F]; NaN where it does not oscillate."""
    row = row_of(fitted, which)
    trimmer = reference(FAMILY, "trimmer", which)
    return oscillates_at(rest, row, span_hz(fitted.crystal), {trimmer: trimmer_f})[0]


def worst_q(asked: Asked, crystal: Part) -> float:
    """Q [-] of the worst crystal of this kind; never better than that of the one at hand."""
    worst = 2 * pi * crystal.value * crystal.motional_inductance_h / asked.worst_ohm
    return worst if crystal.q is None else min(worst, crystal.q)


def room_of(rest: Rest, direct: Bias, f_hz: float, row_ohm: complex) -> Room:
    """What the supply leaves the oscillator's transistor for its swing at a frequency [Hz] with a row of so
    many ohm.
    """
    volts = rest.volts(f_hz, row_ohm, 1.0)
    base, emitter = (float(abs(volts[rest.nodes.index(node)])) for node in (BASE, EMITTER))
    return Room(
        over_common_v=direct.volts[FED] - direct.volts[EMITTER],
        over_control_v=direct.volts[FED] - direct.volts[BASE],
        common_times=emitter,
        control_times=base,
    )


def _near(
    rest: Rest, row: InARow, wanted_hz: float, span: tuple[float, float], values: Values
) -> tuple[Array, Array]:
    """`oscillates_at` [Hz, S], looked for about the frequency wanted [Hz] before all of a span [Hz]."""
    near = (max(wanted_hz * (1 - _ABOUT), span[0]), min(wanted_hz * (1 + _ABOUT), span[1]))
    if near[0] < near[1]:
        found = oscillates_at(rest, row, near, values, rounds=1)
        if np.isfinite(found[0]).all():
            return found
    return oscillates_at(rest, row, span, values)


def working(asked: Asked, fitted: Fitted, rest: Rest, direct: Bias, place: Place) -> Working:
    """What it does with the row of a place switched in, at the bias of its transistors."""
    row, crystal = row_of(fitted, place.which), fitted.crystal
    span = span_hz(crystal)
    assert crystal.q is not None
    qualities = np.array([crystal.q, worst_q(asked, crystal)])
    f, needed = _near(rest, row, place.wanted_hz, span, {f"{CRYSTAL}.q": qualities})
    margins = np.where(np.isfinite(needed), rest.transconductance_s / needed, 0.0)
    bare = Working(
        place=place,
        f_hz=float(f[0]) if margins[0] >= 1 else None,
        margin=float(margins[1]),
        usual_margin=float(margins[0]),
    )
    if bare.f_hz is None:
        return bare
    ohm, heats, first = bias_ohm(asked, fitted.values), [], None
    for at, need, quality in zip(map(float, f), map(float, needed), map(float, qualities), strict=True):
        if not isfinite(need):
            continue
        values = {f"{CRYSTAL}.q": quality}
        row_ohm = complex(in_row(row, np.array([at]), values)[0])
        found = swing(rest.device, rest.at_a, need, ohm, room_of(rest, direct, at, row_ohm))
        if found is None:
            continue
        volts = rest.volts(at, row_ohm, found.control_v)
        # What a current loses in the crystal, its holder counted.
        own = float(in_row((crystal,), np.array([at]), values)[0].real)
        heats.append(float(0.5 * abs(volts[rest.nodes.index(BASE)] / row_ohm) ** 2 * own))
        first = first or (found, row_ohm, volts)
    assert first is not None
    found, row_ohm, volts = first
    base_v, emitter_v, out_v = (float(abs(volts[rest.nodes.index(node)])) for node in (BASE, EMITTER, OUT))
    loss = 2 * pi * crystal.value * crystal.motional_inductance_h / crystal.q
    return Working(
        place=place,
        f_hz=bare.f_hz,
        margin=bare.margin,
        usual_margin=bare.usual_margin,
        control_v=found.control_v,
        mean_a=found.mean_a,
        crystal_w=max(heats),
        emitter_v=emitter_v,
        current_a=base_v / abs(row_ohm),
        settles_s=2 * crystal.motional_inductance_h / loss,
        # To a tenth: it is an estimate, and a turn of the IF then changes no mixer's drive.
        level_dbm=round(dbm(out_v**2 / (2 * asked.port_ohm)), 1),
        crest=out_v / asked.port_ohm / direct.transistors[buffer_ref()].output_a,
    )


def beside(fitted: Fitted, rest: Rest, which: str | None) -> tuple[float, float] | None:
    """Where it could oscillate far above the crystal [Hz], by the coil with the holder's capacitance, and how
    many times the transistor at rest has the transconductance for it [-]; None for nowhere.

    Such an oscillation begins in microseconds, and the crystal's in milliseconds.
    """
    row = row_of(fitted, which)
    f = fitted.crystal.value * _BESIDE
    far = rest.far_off(f)
    if far is None:
        return None
    # A coil's Q rises with the root of frequency, as the skin effect leaves it.
    rising = {f"{reference(FAMILY, 'coil', which)}.q": fitted.coil_q.get(which, COIL_Q) * np.sqrt(_BESIDE)}
    ohm = in_row(row, f, rising)
    wanted, needed = far.holding(f, ohm.real)
    with np.errstate(all="ignore"):
        beyond = ohm.imag - wanted
        at = np.flatnonzero((beyond[:-1] <= 0) & (beyond[1:] > 0))
    found = []
    for n in at:
        part = beyond[n] / (beyond[n] - beyond[n + 1])
        need = needed[n] + part * (needed[n + 1] - needed[n])
        found.append((float(f[n] + part * (f[n + 1] - f[n])), float(rest.transconductance_s / need)))
    return max(found, key=lambda each: each[1], default=None)


def buffer_ref() -> str:
    """What the buffer's transistor is called."""
    return reference(FAMILY, "transistor", BUFFER)
