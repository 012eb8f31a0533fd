"""A mixer's transformers as they are wound, and what their inductance and leakage take of a signal.

Three wires twisted and wound together, the second and third in series as the tapped winding. Its inductance
lies across the signal at the lowest frequency, its leakage before it at the highest; what the core itself
turns into heat is the loss that is typed in. The permeability is that of low frequencies.
"""

from math import log10, pi

from core.circuits.circuit import Windings
from core.model.values.notation import format_value
from core.record import record
from core.stages.coils.winding import at_least, known
from core.stages.outcome import Unsolved
from core.stages.wound import Wound

#: Reactance of a winding at the lowest frequency over the impedance [-]; coupling of wires that are twisted
#: [-], and the thickest that are [m]: common practice, no source.
REACTANCE, COUPLING, _TWISTED_M = 4.0, 0.998, 0.315e-3
#: What stands at either side of a transformer, ohm.
OHM = 50.0


@record(kw_only=True)
class Trifilar:
    """A transformer of three windings alike: inductance of each [H], how one is wound, None where no core was
    chosen, and the lowest frequency that it must pass [Hz].
    """

    henry: float
    wound: Wound | None
    lowest_hz: float

    @property
    def told(self) -> str:
        """Its turns, in short."""
        if self.wound is None:
            return f"3 × {format_value(self.henry, 'H', 2)}"
        return f"3 × {self.wound.turns} turns on {self.wound.on}"

    @property
    def note(self) -> str:
        """How it is wound, for a parts list."""
        if self.wound is None:
            return f"trifilar, three windings of {format_value(self.henry, 'H', 2)} or more each"
        made = self.wound
        return (
            f"3 × {made.turns} turns trifilar on {made.on}, {1e3 * made.wire_m:g} mm wire, 3 × "
            f"{format_value(made.length_m, 'm', 2)} with leads; end of the second to start of the third is "
            "the tap"
        )

    @property
    def reactance_ohm(self) -> float:
        """Of one winding at its lowest frequency, ohm."""
        return 2 * pi * self.lowest_hz * self.henry

    def lost_db(self, f_hz: float) -> float:
        """What inductance and leakage take between equal resistances at a frequency [Hz], dB.

        From one winding into another, both of L, coupled by k: jωkL R / ((R + jωL)² + (ωkL)²) over a half.
        """
        reactance = 2j * pi * f_hz * self.henry
        passed = COUPLING * reactance * OHM / ((OHM + reactance) ** 2 - (COUPLING * reactance) ** 2)
        return -20 * log10(2 * abs(passed))

    def windings(self, ref: str, which: int) -> Windings:
        """It as a circuit has it."""
        return Windings(ref, (self.henry,) * 3, COUPLING, "transformer", which)


def trifilar(core: str, lowest_hz: float) -> Trifilar | Unsolved:
    """A transformer for a lowest frequency [Hz] on a core, empty for any."""
    least_h = REACTANCE * OHM / (2 * pi * lowest_hz)
    if not core:
        return Trifilar(henry=least_h, wound=None, lowest_hz=lowest_hz)
    on = known(core)
    wound = (
        on if isinstance(on, Unsolved) else at_least(on, least_h, lowest_hz, beside=2, most_wire_m=_TWISTED_M)
    )
    if isinstance(wound, Unsolved):
        return wound
    return Trifilar(henry=wound.inductance_h, wound=wound, lowest_hz=lowest_hz)


def core_ohm(loss_db: float) -> float | None:
    """The resistance across a winding [ohm] that takes so much [dB] between equal ones: 1 + R/2Rp; None for
    none.
    """
    lost = 10 ** (loss_db / 20) - 1
    return OHM / 2 / lost if lost > 0 else None
