"""Crystal oscillators of parts at each of their frequencies, and their figures."""

from collections.abc import Callable
from typing import Any

from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.figure import Figure, Table, label
from core.stages.crystal_oscillator.design import CrystalOscillatorDesign
from core.stages.crystal_oscillator.soldered import CAPACITOR_Q, CHOKE_Q, COIL_Q
from core.stages.crystal_oscillator.working import Working
from core.stages.outcome import Unsolved


@record(slots=False)
class OscillatorAt:
    """An oscillator, as it is called, at one of its frequencies."""

    name: str
    design: CrystalOscillatorDesign
    working: Working

    @property
    def beside(self) -> tuple[float, float] | None:
        """Where it could oscillate beside its crystal [Hz], and its margin there [-]."""
        return self.design.beside(self.working.place.which)


def oscillators_at(analysis: Analysis) -> list[OscillatorAt]:
    """Every crystal oscillator of parts at each of its frequencies."""
    return [
        OscillatorAt(row.name, row.design, working)
        for row in analysis.oscillators
        if not isinstance(row.design, Unsolved)
        for working in row.design.places
    ]


_WHOLE = (
    f"the whole circuit on its fitted parts, node by node; Q of a coil that nobody wound {COIL_Q:.0f}, of "
    f"chokes {CHOKE_Q:.0f} and capacitors {CAPACITOR_Q:.0f}, common practice"
)
#: Where what hangs on the swing is from, and how good it is.
SWING = (
    "the transistor's large-signal transconductance on the whole circuit; an estimate, within 1.5 dB of "
    "transient simulation where a bipolar transistor oscillates, within 1 dB and mostly high with a JFET"
)
_BESIDE = f"{_WHOLE}; a coil's Q taken to rise with the root of frequency"


def _of(
    key: str, title: str, what: str, get: Callable[[OscillatorAt], Any], unit: str, **how: Any
) -> Figure[OscillatorAt]:
    given: dict[str, Any] = {"source": _WHOLE} | how
    return Figure(key=key, title=title, what=what, get=get, unit=unit, **given)


CRYSTAL_OSCILLATOR: Table[OscillatorAt] = (
    label("oscillator", "oscillator", lambda o: o.name),
    label("sideband", "sideband", lambda o: o.working.place.which or ""),
    _of(
        "frequency_hz",
        "oscillates at",
        "Where the crystal oscillates with the parts that are fitted.",
        lambda o: o.working.f_hz,
        "Hz",
        places=6,
        prefix="M",
        absent="not at all",
    ),
    _of(
        "off_hz",
        "beside what is asked",
        "How far that lies above the frequency asked.",
        lambda o: o.working.off_hz,
        "Hz",
        places=0,
        signed=True,
    ),
    _of(
        "start_margin",
        "start-up margin, worst crystal",
        "How many times the transistor gives back what is lost with the worst crystal, which loses what "
        "is stated, or twice what its Q tells, an assumption; 1 is none.",
        lambda o: o.working.margin,
        "-",
    ),
    _of(
        "usual_margin",
        "with an ordinary crystal",
        "The same with the loss resistance that the crystal's Q tells.",
        lambda o: o.working.usual_margin,
        "-",
    ),
    _of(
        "crystal_w",
        "heat in the crystal",
        "Drive level of the crystal, the worse of an ordinary one and of the worst.",
        lambda o: o.working.crystal_w,
        "W",
        source=SWING,
    ),
    _of(
        "output_dbm",
        "output",
        "Level behind the buffer, into its load.",
        lambda o: o.working.level_dbm,
        "dBm",
        source=SWING,
        places=1,
    ),
    _of(
        "current_a",
        "taken from the supply",
        "Current of oscillator and buffer at rest; as it swings it takes a little more.",
        lambda o: o.design.supply_a,
        "A",
        source="direct currents of the circuit",
    ),
    _of(
        "beside_hz",
        "could run beside it at",
        "Where the coil and the crystal's holder could oscillate without the crystal.",
        lambda o: o.beside and o.beside[0],
        "Hz",
        source=_BESIDE,
        absent="nowhere",
        listed=False,
    ),
    _of(
        "beside_margin",
        "margin there",
        "How many times the transistor gives back there what is lost; below 1 it cannot oscillate.",
        lambda o: o.beside and o.beside[1],
        "-",
        source=_BESIDE,
        listed=False,
    ),
)
