"""Figures of a crystal oscillator of parts, at each of its frequencies."""

from core.record import record
from core.rig.figures.figure import Figure, Table, label
from core.stages.crystal_oscillator.design import CrystalOscillatorDesign
from core.stages.crystal_oscillator.working import Working


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


_WHOLE = "the whole circuit on its fitted parts, node by node"
_SWING = (
    "the transistor's large-signal transconductance on the whole circuit; an estimate, within 1 dB of "
    "transient simulation where a bipolar transistor oscillates"
)

CRYSTAL_OSCILLATOR: Table[OscillatorAt] = (
    label("oscillator", "oscillator", lambda o: o.name),
    label("sideband", "sideband", lambda o: o.working.place.which or ""),
    Figure(
        key="frequency_hz",
        title="oscillates at",
        what="Where the crystal oscillates with the parts that are fitted.",
        source=_WHOLE,
        get=lambda o: o.working.f_hz,
        unit="Hz",
        places=6,
        prefix="M",
        absent="not at all",
    ),
    Figure(
        key="off_hz",
        title="beside what is asked",
        what="How far that lies above the frequency asked.",
        source=_WHOLE,
        get=lambda o: o.working.off_hz,
        unit="Hz",
        places=0,
        signed=True,
    ),
    Figure(
        key="start_margin",
        title="start-up margin, worst crystal",
        what="How many times the transistor gives back what is lost with the worst crystal; 1 is none.",
        source=_WHOLE,
        get=lambda o: o.working.margin,
        unit="-",
    ),
    Figure(
        key="usual_margin",
        title="with an ordinary crystal",
        what="The same with the loss resistance that the crystal's Q tells.",
        source=_WHOLE,
        get=lambda o: o.working.usual_margin,
        unit="-",
    ),
    Figure(
        key="crystal_w",
        title="heat in the crystal",
        what="Drive level of the crystal, the worse of an ordinary one and of the worst.",
        source=_SWING,
        get=lambda o: o.working.crystal_w,
        unit="W",
    ),
    Figure(
        key="output_dbm",
        title="output",
        what="Level behind the buffer, into its load.",
        source=_SWING,
        get=lambda o: o.working.level_dbm,
        unit="dBm",
        places=1,
    ),
    Figure(
        key="current_a",
        title="taken from the supply",
        what="Current of oscillator and buffer at rest; as it swings it takes a little more.",
        source="direct currents of the circuit",
        get=lambda o: o.design.supply_a,
        unit="A",
    ),
    Figure(
        key="beside",
        keys=("beside_hz", "beside_margin"),
        title="margin beside the crystal",
        what="Where the coil and the crystal's holder could oscillate without the crystal, and the margin.",
        source=f"{_WHOLE}; a coil's Q taken to rise with the root of frequency",
        get=lambda o: o.beside,
        unit="-",
        listed=False,
    ),
)
