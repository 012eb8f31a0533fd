"""What was measured on the bench, and how far parts scatter."""

from array import array
from functools import cached_property
from hashlib import sha256
from itertools import pairwise
from typing import Literal, Self

from pydantic import model_validator

from core.model.readings import MOST_CRYSTALS, MOST_LETTERS, CrystalReading
from core.model.values.base import Model
from core.model.values.quantities import (
    Decibel,
    DecibelLoss,
    Degrees,
    Farad,
    Hertz,
    HertzSpan,
    Name,
    Ohm,
    Share,
    stated,
)

#: How a batch of crystals was measured.
CrystalMethod = Literal["bandwidth", "series_capacitor", "parallel_capacitor", "sweep"]
#: What a sweep's 0 dB stands for, and whose resistances stand at the crystal.
ZeroDecibel = Literal["wire", "available_power"]
Resistances = Literal["of_file", "of_fixture"]


class Sweep(Model):
    """One measured sweep of S21, kept with the project so that it does not hang on a file elsewhere."""

    label: Name = stated(..., "File", "The name that the readings' column `file` gives.", max_length=400)
    f_hz: tuple[Hertz, ...] = stated(
        ..., "Frequencies", "Where it was measured, ascending.", min_length=2, max_length=20_001
    )
    s21_db: tuple[Decibel, ...] = stated(..., "S21", "Magnitude of S21 at each frequency.")
    s21_degrees: tuple[Degrees, ...] = stated((), "Phase", "Phase of S21; empty: magnitude only.")
    reference_ohm: Ohm | None = stated(
        None, "Reference resistance", "Resistance of both ports that its file states; empty: none stated."
    )

    @cached_property
    def digest(self) -> str:
        """Digest of the whole sweep, the same for equal ones; worked out once."""
        numbers = array("d", (*self.f_hz, *self.s21_db, *self.s21_degrees))
        head = (self.label, self.reference_ohm, len(self.f_hz))
        return sha256(repr(head).encode() + numbers.tobytes()).hexdigest()

    @model_validator(mode="after")
    def _matched(self) -> Self:
        if len(self.s21_db) != len(self.f_hz) or len(self.s21_degrees) not in (0, len(self.f_hz)):
            raise ValueError("a sweep wants as many readings as frequencies; read its file again")
        if any(b <= a for a, b in pairwise(self.f_hz)):
            raise ValueError("the frequencies of a sweep must ascend; read its file again")
        return self

    # Thousands of numbers: what is cached on a bag of sweeps would hash them at every look.
    @cached_property
    def _digest(self) -> int:
        return hash((self.label, self.f_hz, self.s21_db, self.s21_degrees, self.reference_ohm))

    def __hash__(self) -> int:
        return self._digest


class CrystalBatch(Model):
    """Readings of a bag of crystals, and the fixture used."""

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
    sweep_resistances: Resistances = stated(
        "of_file",
        "Sweep between",
        "Resistances at the crystal in a sweep: those that its file states, or source and load above, for a "
        "fixture with pads or transformers. A file that states none always takes those above.",
    )
    sweep_zero: ZeroDecibel = stated(
        "wire",
        "Sweep's 0 dB",
        "What 0 dB of a sweep is: a wire in the crystal's place, or the available power. They differ only "
        "between unequal resistances.",
    )
    readings: tuple[CrystalReading, ...] = stated(
        (), "Readings", "What was read of each crystal.", max_length=MOST_CRYSTALS
    )
    draft: str = stated(
        "",
        "Draft",
        "Readings as typed that are no table yet, for want of a row that names the columns.",
        max_length=MOST_LETTERS,
    )
    left_out: tuple[str, ...] = stated(
        (), "Left out", "Labels of crystals that are not to be chosen.", max_length=1000
    )
    sweeps: tuple[Sweep, ...] = stated(
        (), "Sweeps", "The measured curves that the readings name.", max_length=400
    )

    @cached_property
    def digest(self) -> str:
        """Digest of the whole batch, the same for equal ones; worked out once."""
        text = self.model_dump_json(exclude={"sweeps"})
        return sha256("\n".join([text, *(sweep.digest for sweep in self.sweeps)]).encode()).hexdigest()

    @model_validator(mode="after")
    def _one_of_two(self) -> Self:
        if self.readings and self.draft:
            raise ValueError("there are readings and a draft of readings; take one of them out")
        return self


#: What a tolerance run is made of.
Scattered = Literal["ladder", "front_filter", "amplifier"]
_CRYSTALS = {"crystal_hz", "lm_spread", "c0_spread", "q_spread"}
_LADDERS_LIMITS = {"width_low_hz", "width_high_hz", "ripple_db", "loss_db"}
_AMPLIFIERS_LIMITS = {"gain_within_db", "return_loss_db", "current_within", "intercept_less_db"}
#: Limits typed in, by which a run is judged anew without being made again.
LIMITS = frozenset(_LADDERS_LIMITS | _AMPLIFIERS_LIMITS)
_ANY = {"capacitor_tolerance", "coil_tolerance", "trials"}
#: The fields of `Scatter` that count for each.
SCATTER_OF: dict[Scattered, frozenset[str]] = {
    "ladder": frozenset(_ANY | {"coupling_tolerance"} | _CRYSTALS | _LADDERS_LIMITS),
    "front_filter": frozenset(_ANY | {"coupling_tolerance"}),
    "amplifier": frozenset(_ANY | {"resistor_tolerance", "transistor_share"} | _AMPLIFIERS_LIMITS),
}


class Scatter(Model):
    """How far parts scatter, and what a ladder or an amplifier must keep to be called good."""

    capacitor_tolerance: Share = stated(
        0.05,
        "Capacitor tolerance",
        "Capacitors scatter evenly within ± this share.",
        "1 to 10 %",
    )
    coil_tolerance: Share = stated(
        0.05, "Coil tolerance", "Coils scatter evenly within ± this share.", "2 % measured, 10 % by count"
    )
    coupling_tolerance: Share = stated(
        0.1,
        "Coupling tolerance",
        "How far a coupling of two coils by their field is set off, evenly within ± this share.",
        "10 % by the distance of their peaks",
    )
    crystal_hz: HertzSpan = stated(
        50.0, "Crystal spread", "Standard deviation of the crystals' series resonance.", "20 to 200 Hz"
    )
    lm_spread: Share = stated(0.02, "Spread of Lm", "Standard deviation of Lm as a share.", "1 to 3 %")
    c0_spread: Share = stated(0.03, "Spread of C0", "Standard deviation of C0 as a share.", "2 to 5 %")
    q_spread: Share = stated(0.2, "Spread of Q", "Standard deviation of Q as a share.", "10 to 30 %")
    resistor_tolerance: Share = stated(
        0.05, "Resistor tolerance", "Resistors scatter evenly within ± this share.", "1 or 5 %"
    )
    transistor_share: Share = stated(
        1.0,
        "Transistors' spread",
        "How much they scatter of what their data sheet lets through; 0 for ones picked to its middle.",
        "100 % as bought, 30 % of one batch",
    )
    trials: int = stated(1000, "Trials", "Number of filters or amplifiers tried.", "1000", ge=50, le=20_000)
    width_low_hz: Hertz | None = stated(
        None,
        "Width at least",
        "Least −6 dB width of a good ladder; empty: 12 % under the design's.",
        "2.2 kHz",
    )
    width_high_hz: Hertz | None = stated(
        None,
        "Width at most",
        "Largest −6 dB width of a good ladder; empty: 12 % over the design's.",
        "2.8 kHz",
    )
    ripple_db: DecibelLoss | None = stated(
        None,
        "Ripple at most",
        "Over the inner 80 % of a ladder's −3 dB width; empty: 2 dB more than the design's.",
        "2 to 4 dB",
    )
    loss_db: DecibelLoss | None = stated(
        None, "Loss at most", "Least loss of a good ladder; empty: 2 dB more than the design's.", "4 to 8 dB"
    )
    gain_within_db: DecibelLoss | None = stated(
        None,
        "Gain within ±",
        "How far a good amplifier's gain may lie from the one asked; empty: 1 dB.",
        "0.5 to 2 dB",
    )
    return_loss_db: DecibelLoss | None = stated(
        None,
        "Return loss at least",
        "Of a good amplifier's input; empty: 10 dB, or what the design has where that is less.",
        "10 to 15 dB",
    )
    current_within: Share | None = stated(
        None,
        "Current within ±",
        "Of the first transistor at rest, of the design's; empty: 20 %.",
        "10 to 30 %",
    )
    intercept_less_db: DecibelLoss | None = stated(
        None,
        "Intercept less by at most",
        "How far a good amplifier's intercept may lie below the design's; empty: 2 dB.",
        "1 to 3 dB",
    )

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        low, high = self.width_low_hz, self.width_high_hz
        if low is not None and high is not None and low >= high:
            raise ValueError("the largest width must be above the least; correct one of them")
        return self
