"""What the program knows of a kind of stage, and what a stage may know of the rig around it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import field
from typing import Any, Generic, Literal, TypeVar

from core.circuits.active.swing import Swing
from core.circuits.active.two_port import TwoPort as NoisyTwoPort
from core.model.bands import Band, Dials
from core.model.stages.audio import AudioPower, BuiltAudio
from core.model.stages.filters import LadderFilter, SwitchedFilter
from core.model.stages.gain_control import GainControl
from core.model.stages.stage import StageBase, Way
from core.model.transistors import OwnTransistor
from core.record import record
from core.stages.filters.stress import PartStress
from core.stages.kinds.draw import NOTHING, Draw
from core.stages.loss import port_ohm
from core.stages.mixers.drive import Balance, OverDrive
from core.stages.mixers.figures import MixerFigures
from core.stages.on_hand import ALL_BOUGHT, Shelf
from core.stages.outcome import Design, FilterDesign, FilterFigures, Unsolved
from core.stages.tolerance.judging import Judging

#: The frequency that a stage takes its input at; for a mixer that of its input.
Zone = Literal["rf", "if", "audio"]
#: What a mixer is driven by.
Driver = Literal["vfo", "carrier"]
#: What a stage is there for, whatever it is made of.
Role = Literal[
    "band_pass",
    "low_pass",
    "channel_filter",
    "pad",
    "gain_control",
    "amplifier",
    "power_amplifier",
    "mixer",
    "audio",
]
#: Filters between antenna and mixer, which are judged on the dial.
FRONT: frozenset[Role] = frozenset({"band_pass", "low_pass"})
FILTERS: frozenset[Role] = FRONT | {"channel_filter"}
#: Roles that add no noise beyond their loss.
PASSIVE: frozenset[Role] = FILTERS | {"pad", "gain_control"}

#: The tone at which a channel filter's loss to speech is taken, Hz.
SPEECH_TONE_HZ = 1000.0
#: What stands beside a stage of which no more is known, ohm.
NOMINAL_OHM = 50.0

S = TypeVar("S", bound=StageBase)

#: Of a stage whose gain is one field, whichever way the signal goes.
ONE_GAIN: Mapping[Way, str] = {"receive": "gain_db", "transmit": "gain_db"}


@record(kw_only=True)
class Surroundings:
    """What a stage is designed for: the IF [Hz], the bands, the junk box's capacitors [F], transistors of the
    builder's own, the shelf of capacitors that are taken before any is bought where a frequency hangs on
    them, and `every` capacitor that is, of whatever kind.
    """

    if_hz: float
    bands: tuple[Band, ...]
    capacitors_f: tuple[float, ...]
    transistors: tuple[OwnTransistor, ...] = ()
    shelf: Shelf = ALL_BOUGHT
    every: Shelf = ALL_BOUGHT

    def dials(self, names: Sequence[str]) -> Dials:
        """The dial ranges (low, high) [Hz] of those of the bands `names` that the rig has."""
        return tuple((b.low_hz, b.high_hz) for b in self.bands if b.name in names)


@record(kw_only=True)
class Place:
    """Where a stage stands in a path, for its block figures.

    `dial_hz` is the signal at RF, `speech_hz` a tone of speech at the IF, None where the carrier has no
    place, and the images are what the next mixer would fold onto each. `drive_dbm` is what its oscillator
    delivers to a mixer. `design` is the stage's own circuit, if it has one that can be made; `before` and
    `behind` are those of its neighbours in the direction of the signal, where these are filters.
    """

    zone: Zone
    way: Way = "receive"
    dial_hz: float = 0.0
    speech_hz: float | None = None
    dial_image_hz: float | None = None
    speech_image_hz: float | None = None
    drive_dbm: float | None = None
    design: Design | None = None
    before: FilterDesign | None = None
    behind: FilterDesign | None = None

    @property
    def signal_hz(self) -> float | None:
        """The frequency that the stage takes in, Hz; None at an IF where the carrier has no place."""
        return {"rf": self.dial_hz, "if": self.speech_hz, "audio": SPEECH_TONE_HZ}[self.zone]

    @property
    def source_ohm(self) -> complex:
        """The impedance before the stage at `signal_hz`, ohm."""
        return self._beside(self.before, far_end=self.way == "receive")

    @property
    def load_ohm(self) -> complex:
        """The impedance behind the stage at `signal_hz`, ohm; a mixer's is taken to be nominal."""
        return self._beside(self.behind, far_end=self.way == "transmit")

    def _beside(self, neighbour: FilterDesign | None, *, far_end: bool) -> complex:
        if neighbour is None or self.signal_hz is None:
            return NOMINAL_OHM
        return port_ohm(neighbour, self.signal_hz, far_end=far_end)


@record(kw_only=True)
class BlockFigures:
    """What the levels count with: gain and noise figure [dB], input intercept and output compression [dBm].

    None where a passive stage has none. `image_gain_db` counts for passive stages only: their gain at the
    image of the next mixer, None where nothing is known of it, so that nothing passes. `input_ohm` and
    `output_ohm` are what the neighbours see [ohm], each at its side's own frequency, `reverse_db` what of a
    signal at the output comes back at the input [dB], None where nothing is known to. `swings` are the limits
    of an output whose load is not known yet; by `beyond_db` above them a decibel of gain is lost [dB].
    `electret_ohm` is the resistor [ohm] through which an audio stage feeds an electret capsule.
    """

    gain_db: float
    noise_figure_db: float
    iip3_dbm: float | None = None
    p1db_out_dbm: float | None = None
    image_gain_db: float | None = None
    input_ohm: complex = NOMINAL_OHM
    output_ohm: complex = NOMINAL_OHM
    reverse_db: float | None = None
    swings: tuple[Swing, ...] = ()
    beyond_db: float = 0.0
    electret_ohm: float | None = None


def passive(loss_db: float, image_loss_db: float | None = None) -> BlockFigures:
    """Figures of a passive stage of these losses [dB] at 290 K: its noise figure is its loss."""
    return BlockFigures(
        gain_db=-loss_db,
        noise_figure_db=loss_db,
        image_gain_db=None if image_loss_db is None else -image_loss_db,
    )


@record(kw_only=True, slots=False)
class Making:
    """How the circuits of a kind are made: one a stage, or one a filter that is switched in on its bands.

    `design` gives circuit and parts, of a stage or of one such filter; `fresh` makes the filter of a new
    band. A filter has `figures`; with `judging` a tolerance run can be made of its designs, each of a filter
    a `TwoPort`. What stands behind the power amplifier may have `stress`, for an output [W]. All are asked
    often, so what takes long is cached by them.
    """

    design: Callable[[Any, Surroundings], Design | Unsolved]
    fresh: Callable[[Band], SwitchedFilter] | None = None
    figures: Callable[[Any, Surroundings], FilterFigures | Unsolved] | None = None
    judging: Judging | None = None
    stress: Callable[[Any, Surroundings, float], tuple[PartStress, ...]] | None = None


@record(kw_only=True)
class Sending:
    """What a power amplifier sends: its largest output [W], and harmonics 2 to 5 before any filter [dBc] with
    where they come from.
    """

    rated_w: float
    harmonics_dbc: tuple[float, ...]
    source: str


def _has_no_power(stage: StageBase, design: Design | None) -> None:
    """What a kind says that is no power amplifier."""


#: What is soldered, its value or type, and how many.
Bought = tuple[str, str, int]


def _buys_nothing(stage: StageBase) -> tuple[Bought, ...]:
    """What a kind says whose parts all stand in its circuit, or of which none are known."""
    return ()


def _is_none(stage: StageBase) -> None:
    """What most kinds say when they are asked for something that few are."""


def _has_none(stage: StageBase, at: Place, f_hz: tuple[float, ...]) -> None:
    """A kind of which figures are all that is known."""


def _mixes_nothing(stage: StageBase, drive_dbm: float | None, second_dbc: float) -> None:
    """What a kind says that is no mixer."""


def _balances_nothing(stage: StageBase, drive_dbm: float, audio_dbm: float) -> None:
    """What a kind says that is no modulator."""


def draws_nothing(stage: StageBase, around: Surroundings, way: Way, supply_v: float) -> Draw:
    """What a kind says that needs no supply."""
    return NOTHING


def draws_what_is_typed(stage: StageBase, around: Surroundings, way: Way, supply_v: float) -> None:
    """What a kind says that cannot tell what it draws, so that somebody has to type it."""


def _sends_nothing(stage: StageBase, around: Surroundings, supply_v: float) -> None:
    """What a kind says that is no power amplifier, or whose output is typed in whatever its supply."""


def _as_it_is(stage: S, was_hz: float, if_hz: float) -> S:
    return stage


@record(kw_only=True, slots=False)
class Kind(Generic[S]):
    """One kind of stage.

    `name` is what a new stage is called, `spelled` the kind in full, `short` its word below the level
    diagram, by zone and direction; `gain_is` tells what its gain is where that may be taken for another.
    `default` is a stage as it is added to a rig of some bands with an IF [Hz], `at_if` a stage moved from one
    IF to another. `block` are its figures at a place of a path, `two_port` the stage there with its noise at
    some frequencies [Hz], that of the signal first; None where figures are all that is known. What some
    stages are besides, they are asked for as such: `driver` of a mixer with its `mixing` at a drive [dBm]
    of a second harmonic [dBc],
    `power` of a power amplifier with its circuit, `ladder` of a crystal ladder, `control` of one that
    takes gain out for loud stations, `voltage_audio` and `power_audio` of audio stages of parts. Of a
    mixer that is computed of its circuit `over_drive` is what it does over drives, and `balance` that of
    a modulator at a drive with speech peaks [dBm]. `draws` is what a stage draws in a direction from a
    supply [V], by its circuit's direct currents where it has one; None where only a builder can tell.
    `largest_w` is the most that a power amplifier sends on a supply [V], None where it cannot tell.
    `gains` are the fields of a gain that is a builder's choice, by direction, `measured_gains` those of a
    reading that counts in its place, `measured` those of readings of other figures, by the figures' keys.
    `bought` is what a stage is soldered of that stands in no circuit.
    """

    model: type[S]
    name: str
    spelled: str
    short: Callable[[Zone, Way], str]
    role: Role
    default: Callable[[Sequence[Band], float], S]
    block: Callable[[S, Place], BlockFigures]
    two_port: Callable[[S, Place, tuple[float, ...]], NoisyTwoPort | None] = _has_none
    making: Making | None = None
    gain_is: str = ""
    gains: Mapping[Way, str] = field(default_factory=dict)
    measured_gains: Mapping[Way, str] = field(default_factory=dict)
    measured: Mapping[str, str] = field(default_factory=dict)
    at_if: Callable[[S, float, float], S] = _as_it_is
    driver: Callable[[S], Driver | None] = _is_none
    mixing: Callable[[S, float | None, float], MixerFigures | None] = _mixes_nothing
    over_drive: Callable[[S], OverDrive | Unsolved | None] = _is_none
    balance: Callable[[S, float, float], Balance | Unsolved | None] = _balances_nothing
    power: Callable[[S, Design | None], Sending | None] = _has_no_power
    bought: Callable[[S], tuple[Bought, ...]] = _buys_nothing
    draws: Callable[[S, Surroundings, Way, float], Draw | None] = draws_what_is_typed
    largest_w: Callable[[S, Surroundings, float], float | None] = _sends_nothing
    ladder: Callable[[S], LadderFilter | None] = _is_none
    control: Callable[[S], GainControl | None] = _is_none
    voltage_audio: Callable[[S], BuiltAudio | None] = _is_none
    power_audio: Callable[[S], AudioPower | None] = _is_none

    def readings(self, stage: S, way: Way) -> dict[str, float]:
        """What was read of a stage in a direction and counts in the place of what is computed, by key."""
        found = {key: getattr(stage, field) for key, field in self.measured.items()}
        found["gain_db"] = self.measured_gain_db(stage, way)
        return {key: value for key, value in found.items() if value is not None}

    def measured_gain_db(self, stage: S, way: Way) -> float | None:
        """A stage's gain in a direction as read on the bench [dB], None where nobody has."""
        field = self.measured_gains.get(way)
        return None if field is None else getattr(stage, field)
