"""A mixer's transformers as they are wound, and what their inductance and leakage take of a signal.

Of diodes three wires twisted and wound together, the second and third in series as the tapped winding; of
transistors these have more turns. Its inductance
lies across the signal at the lowest frequency, its leakage before it at the highest; what the core itself
turns into heat is the loss that is typed in. The permeability is that of low frequencies.
"""

from math import ceil, log10, pi, sqrt

from core.circuits.circuit import Windings
from core.model.values.notation import format_value
from core.record import record
from core.stages.coils.winding import at_least, broadband, known
from core.stages.outcome import Unsolved
from core.stages.wound import Wound

#: Reactance of a winding at the lowest frequency over the impedance [-]; coupling of wires that are twisted
#: [-], and the thickest that are [m]: common practice, no source.
REACTANCE, COUPLING, _TWISTED_M = 4.0, 0.998, 0.315e-3
#: What stands at either side of a transformer, ohm.
OHM = 50.0
#: Fewest turns at a port.
_FEW = 2


@record(kw_only=True)
class Transformer:
    """A transformer of one winding at a port and two, in series, at the other side: inductance of the port's
    [H], turns of each of the two over its [-], how the port's and each of the two are wound, None where no
    core was chosen, and the lowest frequency that it must pass [Hz].
    """

    henry: float
    wound: Wound | None
    lowest_hz: float
    steps_up: float = 1.0
    half: Wound | None = None

    @property
    def told(self) -> str:
        """Its turns, in short."""
        return self.turns if self.wound is None else f"{self.turns} turns on {self.wound.on}"

    @property
    def turns(self) -> str:
        """Turns of its windings, or inductances where no core was chosen."""
        if self.wound is None:
            one = format_value(self.henry, "H", 2)
            return f"3 × {one}" if self.steps_up == 1 else f"{one}, 1 to 2 × {self.steps_up:.3g}"
        if self.half is None:
            return f"3 × {self.wound.turns}"
        return f"{self.wound.turns} to 2 × {self.half.turns}"

    @property
    def note(self) -> str:
        """How it is wound, for a parts list."""
        if self.wound is None:
            word = "trifilar, three windings of " if self.steps_up == 1 else "the port's winding of "
            each = " each" if self.steps_up == 1 else f", turns 1 to 2 × {self.steps_up:.3g}"
            return f"{word}{format_value(self.henry, 'H', 2)} or more{each}"
        made, half = self.wound, self.half
        metres = made.length_m + 2 * (made if half is None else half).length_m
        how = " trifilar" if half is None else ""
        return (
            f"{self.turns} turns{how} on {made.on}, {1e3 * made.wire_m:g} mm wire, "
            f"{format_value(metres, 'm', 2)} of it with leads; end of the second to start of the third is "
            "the tap"
        )

    @property
    def reactance_ohm(self) -> float:
        """Of the port's winding at its lowest frequency, ohm."""
        return 2 * pi * self.lowest_hz * self.henry

    def lost_db(self, f_hz: float) -> float:
        """What inductance and leakage take between matched resistances at a frequency [Hz], dB.

        From one winding into another, both of L, coupled by k: jωkL R / ((R + jωL)² + (ωkL)²) over a half.
        """
        reactance = 2j * pi * f_hz * self.henry
        passed = COUPLING * reactance * OHM / ((OHM + reactance) ** 2 - (COUPLING * reactance) ** 2)
        return -20 * log10(2 * abs(passed))

    def windings(self, ref: str, which: int) -> Windings:
        """It as a circuit has it."""
        each = self.henry * self.steps_up**2
        return Windings(ref, (self.henry, each, each), COUPLING, "transformer", which)


def trifilar(core: str, lowest_hz: float) -> Transformer | Unsolved:
    """A transformer of three windings alike for a lowest frequency [Hz] on a core, empty for any."""
    least_h = REACTANCE * OHM / (2 * pi * lowest_hz)
    if not core:
        return Transformer(henry=least_h, wound=None, lowest_hz=lowest_hz)
    on = known(core)
    wound = (
        on if isinstance(on, Unsolved) else at_least(on, least_h, lowest_hz, beside=2, most_wire_m=_TWISTED_M)
    )
    if isinstance(wound, Unsolved):
        return wound
    return Transformer(henry=wound.inductance_h, wound=wound, lowest_hz=lowest_hz)


def stepped(core: str, lowest_hz: float, inside_ohm: float) -> Transformer | Unsolved:
    """A transformer from 50 ohm to `inside_ohm` [ohm] across both of its further windings."""
    ratio = sqrt(inside_ohm / OHM) / 2
    least_h = REACTANCE * OHM / (2 * pi * lowest_hz)
    if not core:
        return Transformer(henry=least_h, wound=None, lowest_hz=lowest_hz, steps_up=ratio)
    on = known(core)
    if isinstance(on, Unsolved):
        return on
    port = max(ceil(sqrt(least_h / on.al_h)), _FEW)
    half = max(round(port * ratio), 1)
    made = broadband(on, port, lowest_hz, beside=2 * half, most_wire_m=_TWISTED_M)
    other = broadband(on, half, lowest_hz, beside=port + half, most_wire_m=_TWISTED_M)
    if isinstance(made, Unsolved):
        return made
    if isinstance(other, Unsolved):
        return other
    return Transformer(
        henry=made.inductance_h, wound=made, lowest_hz=lowest_hz, steps_up=half / port, half=other
    )


def core_ohm(loss_db: float) -> float | None:
    """The resistance across a winding [ohm] that takes so much [dB] between equal ones: 1 + R/2Rp; None for
    none.
    """
    lost = 10 ** (loss_db / 20) - 1
    return OHM / 2 / lost if lost > 0 else None
