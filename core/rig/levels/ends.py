"""What an amplifier sees beside it and what its neighbours see through it, in a filter's pass-band and out.

A ladder shows its resistance inside its pass-band only. An amplifier whose ports hide each other's load keeps
gain and match all the same; a feedback stage passes on to the mixer what it sees. Derived here from the
two-ports; the formula of the gain is that of transducer gain in S-parameters, from memory.
"""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from core.circuits.active.along import along
from core.circuits.active.two_port import TwoPort, block, pad
from core.circuits.ladder import Array, ComplexArray, frozen
from core.model.project import Stage
from core.model.stages.stage import Way
from core.record import record
from core.rig.levels.blocks import Block
from core.stages.kinds.kind import FILTERS, NOMINAL_OHM, Place
from core.stages.kinds.table import kind_of
from core.stages.outcome import Design, FilterDesign, Unsolved

_POINTS = 161
#: How far beyond a filter's own span it is looked at, as a share of that to either side [-].
_BEYOND = 0.5
#: Where a filter has lost this much more than at its best its pass-band ends, dB; its stop-band begins, dB.
_EDGE_DB, _STOPS_DB = 1.0, 20.0


@record(eq=False, kw_only=True)
class Ends:
    """An amplifier among its neighbours on a grid of F frequencies around the filter nearest to it.

    `before` and `behind` are the names of what stands next to it, `beside` that of the filter. Impedances
    (F,) [ohm]: of the source before it, of the load behind it, what is seen into it with that load, and into
    its output with that source. `filter_ohm` is what would be seen without the amplifier on the filter's
    side. `gain_change_db` (F,) is its gain between these ends over that of a stage of the nominal resistance
    and the same S21 there. `passes` and `stops` (F,) tell where the filter does.
    """

    before: str
    behind: str
    beside: str
    f_hz: Array
    source_ohm: ComplexArray
    load_ohm: ComplexArray
    input_ohm: ComplexArray
    output_ohm: ComplexArray
    filter_ohm: ComplexArray
    gain_change_db: Array
    passes: Array
    stops: Array

    @property
    def faces_input(self) -> bool:
        """Whether the filter stands behind the amplifier, so that it is the input that may tell of it."""
        return self.filter_ohm is self.load_ohm

    @property
    def seen_ohm(self) -> ComplexArray:
        """What is seen through the amplifier from the side that the filter is not on, ohm, shape (F,)."""
        return self.input_ohm if self.faces_input else self.output_ohm


def return_loss_db(ohm: ComplexArray) -> Array:
    """How far what an impedance [ohm] reflects in the nominal resistance lies below what comes, dB."""
    with np.errstate(divide="ignore"):
        return frozen(-20 * np.log10(np.abs((ohm - NOMINAL_OHM) / (ohm + NOMINAL_OHM))))


def port_at(stage: Stage, at: Place, of: Block, f_hz: tuple[float, ...]) -> TwoPort:
    """A stage at its place as a two-port at frequencies [Hz]: its circuit, or a block of its figures."""
    made = kind_of(stage).two_port(stage, at, f_hz)
    if made is not None:
        return made
    grid = np.array(f_hz)
    if of.passive and of.gain_db <= 0:
        return pad(-of.gain_db, NOMINAL_OHM, grid)
    return block(of.gain_db, of.noise_figure_db, NOMINAL_OHM, grid, of.reverse_db)


def ends(
    path: Sequence[Stage],
    way: Way,
    designs: Sequence[Design | Unsolved],
    blocks: tuple[Block, ...],
    place: int,
) -> Ends | Unsolved:
    """What stands beside the stage at a place of a path in signal order, with the path's blocks."""
    mixers = [n for n, each in enumerate(blocks) if each.role == "mixer"]
    first = max((n + 1 for n in mixers if n < place), default=0)
    last = min((n for n in mixers if n > place), default=len(blocks))
    near = [n for n in range(first, last) if blocks[n].role in FILTERS]
    near = [n for n in near if isinstance(designs[n], FilterDesign)]
    if not near:
        return Unsolved(
            "No filter stands beside it up to the next mixer, so that its ends are the same all over."
        )
    # The ladder before any other, then the nearest.
    nearest = min(near, key=lambda n: (blocks[n].role != "channel_filter", abs(n - place)))
    made = designs[nearest]
    assert isinstance(made, FilterDesign)
    low, high = made.span_hz
    low, high = max(low - _BEYOND * (high - low), low / 2), high + _BEYOND * (high - low)
    f_hz = tuple(np.linspace(low, high, _POINTS).tolist())
    ports = []
    for n in range(first, last):
        design = designs[n]
        at = Place(zone=blocks[n].zone, way=way, design=None if isinstance(design, Unsolved) else design)
        ports.append(port_at(path[n], at, blocks[n], f_hz))
    ends_of_path = ("Antenna", "Speaker") if way == "receive" else ("Microphone", "Antenna")
    return _ends(
        tuple(ports),
        place - first,
        nearest - first,
        blocks[first - 1].output_ohm if first else NOMINAL_OHM,
        blocks[last].input_ohm if last < len(blocks) else NOMINAL_OHM,
        (
            blocks[place - 1].name if place else ends_of_path[0],
            blocks[nearest].name,
            blocks[place + 1].name if place + 1 < len(blocks) else ends_of_path[1],
        ),
    )


@lru_cache(maxsize=32)
def _ends(
    ports: tuple[TwoPort, ...],
    place: int,
    nearest: int,
    source_ohm: complex,
    load_ohm: complex,
    names: tuple[str, str, str],
) -> Ends:
    mine, f = ports[place], ports[place].f_hz
    before = along(ports[:place], source_ohm, NOMINAL_OHM, NOMINAL_OHM, len(f)).output_ohm
    behind = np.full(len(f), load_ohm, dtype=complex)
    for port in reversed(ports[place + 1 :]):
        behind = port.input_ohm(behind)
    behind = frozen(behind)
    (s11, s12), (s21, s22) = mine.s(NOMINAL_OHM)
    towards, away = ((ohm - NOMINAL_OHM) / (ohm + NOMINAL_OHM) for ohm in (before, behind))
    with np.errstate(divide="ignore"):
        change = -20 * np.log10(np.abs((1 - s11 * towards) * (1 - s22 * away) - s12 * s21 * towards * away))
        loss = -ports[nearest].gain_db(NOMINAL_OHM, NOMINAL_OHM)
    over = loss - loss.min()
    return Ends(
        before=names[0],
        beside=names[1],
        behind=names[2],
        f_hz=f,
        source_ohm=before,
        load_ohm=behind,
        input_ohm=mine.input_ohm(behind),
        output_ohm=mine.output_ohm(before),
        filter_ohm=behind if nearest > place else before,
        gain_change_db=frozen(change),
        passes=frozen(over <= _EDGE_DB),
        stops=frozen(over >= _STOPS_DB),
    )
