"""What was measured on the bench: a batch of crystals."""

from typing import Literal

from core.model.base import Model
from core.model.quantities import Farad, Ohm, stated

#: How a batch of crystals was measured.
CrystalMethod = Literal["bandwidth", "series_capacitor", "parallel_capacitor", "sweep"]


class CrystalBatch(Model):
    """Readings of a bag of crystals, as the table they were noted in, and the fixture used."""

    method: CrystalMethod = stated("bandwidth", "Method", "How the crystals were measured.")
    source_ohm: Ohm = stated(
        50.0, "Source resistance", "Resistance that the crystal sees on one side.", "12.5 or 50 Ω"
    )
    load_ohm: Ohm = stated(
        50.0, "Load resistance", "Resistance that it sees on the other side.", "12.5 or 50 Ω"
    )
    capacitor_f: Farad = stated(
        33e-12, "Known capacitor", "The capacitor put in series or across.", "10 to 47 pF, measured"
    )
    oscillator_load_f: Farad | None = stated(
        None, "Oscillator's load", "Load capacitance of the oscillator itself; empty: very large."
    )
    c0_f: Farad = stated(3.5e-12, "Holder capacitance", "C0 where the table does not give it.", "2.5 to 6 pF")
    table: str = stated(
        "", "Readings", "CSV with a header row; a unit may stand in brackets.", max_length=200_000
    )
