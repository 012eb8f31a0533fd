"""What a crystal oscillator is asked for."""

from math import pi

from core.model.stages.filters import Crystal
from core.model.stages.oscillators import CrystalCircuit
from core.record import record
from core.stages.on_hand import ALL_BOUGHT, Shelf


@record(kw_only=True)
class Place:
    """A frequency [Hz] that the oscillator is switched to, by the name of its row of parts: of a sideband, or
    None where it is the only one.
    """

    which: str | None
    wanted_hz: float


@record(kw_only=True)
class Asked:
    """All that a crystal oscillator is made from: its crystal's series resonance [Hz], trimmer from and to,
    what the divider loads the crystal with [F], a series coil that was typed [H] and the core it is wound on,
    and the level wanted [dBm] into a load [ohm]; what is written on the crystal [Hz] where that is not the
    IF. What is on the `shelf` is taken where it does as well.
    """

    circuit: CrystalCircuit
    crystal: Crystal
    fs_hz: float
    places: tuple[Place, ...]
    trimmer_f: tuple[float, float]
    load_f: float
    level_dbm: float
    coil_h: float | None = None
    core: str = ""
    port_ohm: float = 50.0
    marked_hz: float | None = None
    shelf: Shelf = ALL_BOUGHT

    @property
    def loss_ohm(self) -> float:
        """The crystal's loss resistance, ohm: w Lm/Q."""
        return 2 * pi * self.fs_hz * self.crystal.motional_inductance_h / self.crystal.quality_factor

    @property
    def worst_ohm(self) -> float:
        """The largest that it may have, ohm; twice that of its Q where nobody said, an assumption."""
        return self.circuit.worst_ohm or 2 * self.loss_ohm
