"""What a fit to a measured curve is told of a stage, and what it tells of its parts."""

from collections.abc import Callable

import numpy as np

from core.circuits.ladder import Array, Response
from core.record import record
from core.stages.outcome import PartRow


@record(kw_only=True)
class FittedPart:
    """A part as the curve has it: the value it was taken for and the fitted one with its 95 % interval ±, in
    its unit, and by how much it is off: a share [-], or hertz for a crystal.

    `determined`: the curve narrows its tolerance down to less than half. `trimmed`: a trimmer sets it.
    """

    row: PartRow
    taken: float
    value: float
    plus_minus: float
    off: float
    determined: bool
    is_off: bool
    trimmed: bool = False


@record(eq=False, kw_only=True)
class CurveFit:
    """What a measured curve tells of a filter.

    Arrays have shape (F,): frequencies [Hz], the loss [dB] measured, of the filter as it was taken to be, and
    as fitted, between the fixture's resistances. Misses are rms over what lies within 40 dB of the top [dB].
    `q_factor` is by what coils' (a ladder: crystals') Q is off [-], with its 95 % interval. `alone` are the
    parts one of which alone explains the curve, the likeliest first, with the value it then has; `as_taken`:
    the curve is that of the filter with no part off. `with_phase`: S11 was measured too. `moves` are what was
    moved, in standard deviations.
    """

    f_hz: Array
    measured_db: Array
    taken_db: Array
    fitted_db: Array
    parts: tuple[FittedPart, ...]
    miss_before_db: float
    miss_db: float
    q_factor: float
    q_plus_minus: float
    as_taken: bool
    alone: tuple[FittedPart, ...]
    with_phase: bool
    moves: Array

    def of(self, ref: str) -> FittedPart:
        """The part of a reference."""
        return next(each for each in self.parts if each.row.ref == ref)

    @property
    def off(self) -> tuple[FittedPart, ...]:
        """The parts that are off: the one that alone explains the curve, else those of the whole fit."""
        if self.as_taken:
            return ()
        return self.alone if len(self.alone) == 1 else tuple(each for each in self.parts if each.is_off)

    @property
    def fitted(self) -> tuple[FittedPart, ...]:
        """The parts whose values make the measured curve: the one that alone does, else all of them."""
        return self.off if len(self.alone) == 1 else self.parts


@record
class Variable:
    """What is moved by a standard deviation `scale`: values by reference, of a kind."""

    refs: tuple[str, ...]
    taken: tuple[float, ...]
    scale: float
    #: Hertz are added, everything else is multiplied.
    added: bool = False

    def at(self, moves: Array) -> dict[str, Array]:
        """Values by reference for moves (rows,) in standard deviations; each of shape (rows, 1)."""
        step = self.scale * moves[:, np.newaxis]
        return {
            ref: taken + step if self.added else taken * np.exp(step)
            for ref, taken in zip(self.refs, self.taken, strict=True)
        }


@record(kw_only=True)
class Subject:
    """What was measured, as far as a fit must know it.

    `solve` gives what it does between the fixture's resistances at frequencies (F,) [Hz]: as it was taken to
    be, or for moves of `variables` (rows, variables) in standard deviations. `q_place` is the variable that
    is the coils' or crystals' Q, None where there is none; `trimmed` are references of what a trimmer sets,
    `what` says what sort of stage it is, `zero_db` how far the 0 dB of what measures it may be off [dB], and
    so many `points` of the curve are fitted.
    """

    rows: tuple[PartRow, ...]
    variables: tuple[Variable, ...]
    trimmed: tuple[str, ...]
    span_hz: tuple[float, float]
    what: str
    solve: Callable[[Array, Array | None], Response]
    q_place: int | None
    zero_db: float
    points: int
