"""What designing a stage gives: a circuit with its parts, or the reason why there is none."""

from collections.abc import Sequence
from typing import Protocol

from numpy.typing import ArrayLike

from core.circuits.circuit import Circuit, Part, Which
from core.circuits.ladder import Network, Response, Values, circuit_of, solve
from core.circuits.unsolved import Unsolved as Unsolved
from core.model.values.parts import NamedKind, crystal_keys, key
from core.record import record
from core.stages.wound import Wound


@record(kw_only=True)
class PartRow:
    """One part as computed, as preferred value, and as built (None when nothing was typed in).

    Values are in `unit`, SI. `note` says what the number does not (turns on a core, a trimmer). `role` and
    `which` are what it is for, as of a `Part`. A capacitor that is not one piece has its fixed `pieces`, in
    parallel, and the range `trimmer_f` of the trimmer beside them; with neither it is one of its value. A
    transistor, as whatever has a type instead of a value, has its `type`, a transformer of whole turns these.
    """

    ref: str
    kind: NamedKind
    designed: float
    preferred: float
    as_built: float | None
    unit: str
    note: str = ""
    role: str = "other"
    which: Which = None
    pieces: tuple[float, ...] = ()
    trimmer_f: tuple[float, float] | None = None
    type: str = ""

    @property
    def soldered(self) -> tuple[float, ...]:
        """Values of the fixed parts that it is made of; one as built is one part."""
        if self.as_built is None and (self.pieces or self.trimmer_f is not None):
            return self.pieces
        return (self.fitted,)

    @property
    def key(self) -> str:
        """By what its value as built is written in a file."""
        return key(self.role, self.which)

    @property
    def fitted(self) -> float:
        """The value the analysis runs on."""
        return self.preferred if self.as_built is None else self.as_built


def unused(as_built: tuple[tuple[str, float], ...], parts: tuple[PartRow, ...]) -> tuple[str, ...]:
    """Keys of values as built that no part of a design takes; a crystal takes its other figures too."""
    known = {row.key for row in parts if row.kind != "transformer"}
    known |= {each for row in parts if row.kind == "crystal" for each in crystal_keys(row.which)}
    return tuple(each for each, _ in as_built if each not in known)


class Drawable(Protocol):
    """What a schematic can be drawn of; app knows a drawing for each type of these."""

    @property
    def parts(self) -> Sequence[Part | PartRow]:
        """What is drawn, by reference."""


class Design(Protocol):
    """A stage's circuit on its resulting parts, whatever it is made of.

    `span_hz` is a sensible range to draw or analyse it over.
    """

    @property
    def circuit(self) -> Circuit:
        """Nodes and parts."""

    @property
    def parts(self) -> tuple[PartRow, ...]:
        """The parts as designed, preferred and as built."""

    @property
    def span_hz(self) -> tuple[float, float]:
        """Lowest and highest frequency of interest, Hz."""

    @property
    def drawing(self) -> Drawable:
        """What its schematic is drawn of."""

    def __hash__(self) -> int:
        """Designs come out of caches and are keys of others, by identity."""


class TwoPort(Design, Protocol):
    """A design whose response can be asked, with other values too: what a tolerance run is made of.

    `trimmed` are the parts that a trimmer sets once all is soldered.
    """

    @property
    def trimmed(self) -> tuple[str, ...]:
        """References of what a trimmer sets."""

    def response(self, f_hz: ArrayLike, values: Values | None = None) -> Response | Unsolved:
        """The response from its first port to its second on a grid (F,) [Hz].

        `values` overrides parts' values by reference, any shape (..., 1).
        """


@record(eq=False, kw_only=True)
class FilterDesign:
    """A filter's circuit on its resulting parts.

    Compared and hashed by identity: designs come out of caches, and as a key of further caches a hash over
    dozens of parts would cost more than what it saves.

    `network` includes the end match and stands between the resistances around the filter.
    `end_resistance_ohm` is what the bare filter wants to see at its ends. `span_hz` is a sensible
    frequency range to draw its pass-band over. `trimmed` are the parts that a trimmer sets once all is
    soldered. `wound` are the coils, by reference, whose core was chosen.
    """

    network: Network
    parts: tuple[PartRow, ...]
    end_resistance_ohm: float
    span_hz: tuple[float, float]
    trimmed: tuple[str, ...] = ()
    wound: tuple[tuple[str, Wound], ...] = ()

    @property
    def circuit(self) -> Circuit:
        """The network with its nodes."""
        return circuit_of(self.network)

    def response(self, f_hz: ArrayLike, values: Values | None = None) -> Response:
        """The exact response between the resistances around the filter, on a grid (F,) [Hz]."""
        return solve(self.network, f_hz, values=values)

    @property
    def drawing(self) -> Network:
        """A filter is drawn as the row of arms that was solved."""
        return self.network


@record(kw_only=True)
class FilterFigures:
    """Figures read off a filter's exact response; a bandwidth that the curve never reaches is None.

    Frequencies and bandwidths in Hz, losses in dB. A low-pass has no centre, and its bandwidths count from
    zero. `ripple_db` is over the inner 80 % of the −3 dB bandwidth; for a low-pass, whose coils lose more
    the higher the frequency, it is what its mismatch alone makes there, up to its cut-off at most.
    `insertion_loss_db` is the least loss, for a low-pass on the bands it serves. `return_loss_db` is the
    worst over the same inner 80 % (a low-pass: over the bands it serves).

    `served_loss_db` and `served_return_loss_db` are the worst on the dials of the bands that a filter
    serves; None where it serves none, and for a ladder.
    """

    centre_hz: float | None
    bandwidth_3db_hz: float | None
    bandwidth_6db_hz: float | None
    bandwidth_60db_hz: float | None
    ripple_db: float
    insertion_loss_db: float
    return_loss_db: float
    served_loss_db: float | None = None
    served_return_loss_db: float | None = None
