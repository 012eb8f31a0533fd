"""A mixer's figures: the builder's readings where there are any, else what its circuit does at the drive it
gets, or what is typical of its type.
"""

from functools import lru_cache
from math import isfinite

import numpy as np
from numpy.typing import ArrayLike

from core.circuits.ladder import Array
from core.model.stages.mixers import READINGS, Mixer
from core.record import record
from core.stages.mixers.drive import PORT_OHM, AtDrive, OverDrive, at_drive, over_drive
from core.stages.mixers.products import Port, Products, products_of
from core.stages.outcome import Unsolved
from core.trade.mixers import TABLE_BACKOFF_DB, Mixing, suppression_db, typical

#: How far a drive may miss the one wanted without a word where nothing more is known, dB.
DRIVE_MISS_DB = 3.0
#: To a hundredth of a decibel drives are alike: a turn of the IF computes nothing afresh.
_DRIVE_PLACES = 2
#: Second harmonic of an oscillator that nothing is known of, dBc; common practice, no source.
USUAL_SECOND_DBC = -30.0
#: The figures that the circuit gives at a drive.
COMPUTED = ("gain_db", "noise_figure_db", "iip3_dbm", "p1db_in_dbm")


@record(kw_only=True)
class MixerFigures(Mixing):
    """A mixer's figures as they count; `estimated` names those taken from the type. `reverse_db` is the
    conversion gain backwards [dB], `drive_range_dbm` the least drive that will do and the most that it bears,
    `circuit` what its circuit does at the drive it gets, None where only the type counts; `products` are then
    its circuit's too. `starved_db` is how far the drive falls short of that for which a type's products hold.
    """

    type: str
    estimated: tuple[str, ...]
    reverse_db: float
    drive_range_dbm: tuple[float, float]
    circuit: AtDrive | Unsolved | None = None
    products: Products | None = None
    starved_db: float = 0.0

    @property
    def input_ohm(self) -> complex:
        """Impedance of the input to the signal at its frequency, ohm; nominal where nothing is known."""
        return self.circuit.input_ohm if isinstance(self.circuit, AtDrive) else PORT_OHM

    @property
    def output_ohm(self) -> complex:
        """Impedance of the output to the converted signal, ohm; nominal where nothing is known."""
        return self.circuit.output_ohm if isinstance(self.circuit, AtDrive) else PORT_OHM

    def suppression_db(
        self, m: ArrayLike, n: ArrayLike, backoff_db: float = TABLE_BACKOFF_DB, sending: bool = False
    ) -> Array:
        """How far m x oscillator ± n x signal lies below the wanted product, dB; an estimate.

        `m` >= 0, `n` >= 1 [-] broadcast; the signal is `backoff_db` under the mixer's compression and comes
        in at the input of transmit when `sending`. Of a type a decibel less of drive counts as one more of
        signal, as a mixer compresses so much sooner (customary).
        """
        usual = suppression_db(typical(self.type), m, n, backoff_db - self.starved_db)
        if self.products is None:
            return usual
        signal_dbm = self.p1db_in_dbm - max(backoff_db, 0.0)
        found = self.products.suppression_db(m, n, signal_dbm, sending)
        return np.where(np.isfinite(found), found, usual)

    def leak_dbm(self, oscillator_dbm: float, m: ArrayLike, port: Port) -> Array:
        """Level of m x oscillator [-] at a port, dBm, for `oscillator_dbm` [dBm] delivered; an estimate.

        By the circuit; by the isolation and harmonics as 1/m of it where that is a reading, or typical of
        the type, or at the input of an array, which its wiring decides.
        """
        times = np.maximum(np.asarray(m, dtype=int), 1)
        if self.products is None or (port == "antenna" and self.type == "transistor_array"):
            return np.asarray(oscillator_dbm - self.oscillator_leak_db - 20 * np.log10(times))
        below = self.products.alone_db(times, port)
        if port != "if":
            # A reading of the fundamental tells of its harmonics too.
            below = below + self.oscillator_leak_db - float(self.products.alone_db(1, "sent"))
        return np.asarray(oscillator_dbm - below)


@lru_cache(maxsize=64)
def figures(
    mixer: Mixer, drive_dbm: float | None = None, second_dbc: float = USUAL_SECOND_DBC
) -> MixerFigures:
    """Resolve a mixer's figures at a drive [dBm], the one it wants unless one is given, whose second harmonic
    is known [dBc].
    """
    usual = typical(mixer.type)
    values: dict[str, float | None] = {name: getattr(mixer, name) for name in READINGS}
    over = over_drive(mixer) if mixer.figures_from == "circuit" else None
    wanted = values["drive_dbm"]
    if wanted is None:
        wanted = over.wanted_dbm if isinstance(over, OverDrive) else usual.drive_dbm
    range_dbm = (wanted - DRIVE_MISS_DB, wanted + DRIVE_MISS_DB)
    made: AtDrive | Unsolved | None = over if isinstance(over, Unsolved) else None
    products: Products | None = None
    if isinstance(over, OverDrive):
        made = at_drive(mixer, round(wanted if drive_dbm is None else drive_dbm, _DRIVE_PLACES))
        if values["drive_dbm"] is None:
            range_dbm, values["drive_dbm"] = (over.least_dbm, over.most_dbm), wanted
    if isinstance(made, AtDrive):
        values |= {name: getattr(made, name) for name in COMPUTED if values[name] is None}
        products = products_of(mixer, made.drive_dbm, second_dbc)
        if values["oscillator_leak_db"] is None and mixer.type != "transistor_array":
            isolation_db = float(products.alone_db(1, "sent"))
            values["oscillator_leak_db"] = isolation_db if isfinite(isolation_db) else None
    chosen = {name: getattr(usual, name) if value is None else value for name, value in values.items()}
    return MixerFigures(
        type=mixer.type,
        **chosen,
        estimated=tuple(name for name in READINGS if values[name] is None),
        # Diodes convert alike in both directions; a transistor array sends back what its wiring lets pass.
        reverse_db=chosen["gain_db"] if usual.passive else -usual.oscillator_leak_db,
        drive_range_dbm=range_dbm,
        circuit=made,
        products=products,
        starved_db=0.0 if drive_dbm is None else max(chosen["drive_dbm"] - drive_dbm, 0.0),
    )
