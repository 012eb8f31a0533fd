"""Tolerance run of an amplifier: many of them with scattered parts and transistors, and what comes of them.

Resistors, capacitors and coils scatter evenly within their tolerance, a transistor's figures over the range
that its data sheet lets through. Every trial has its own bias; the trials of a chunk are solved together.
"""

import numpy as np

from core.circuits.active.large_signal import UNFED_V, intercepts_dbm
from core.circuits.active.linear import around
from core.circuits.active.many import at_rest, only
from core.circuits.active.operating import Bias
from core.circuits.active.two_port import TwoPort, of_linear
from core.circuits.circuit import Circuit, CoupledCoils, Part, Transistor
from core.circuits.ladder import Array, frozen
from core.model.bands import Dials
from core.model.bench import Scatter
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.amplifiers.figures import TONES
from core.stages.amplifiers.pair import amplifiers_in
from core.stages.outcome import Design, Unsolved
from core.stages.tolerance.judging import (
    Judging,
    Limits,
    Measured,
    Spreads,
    ToleranceRun,
    Watch,
    figure,
    share,
)
from core.trade.devices import Row

#: Trials solved at once.
_CHUNK = 25
#: Gain is looked at over this range, Hz.
_RANGE_HZ = (1e6, 60e6)
#: What a good amplifier keeps where nothing is typed in: gain [dB], return loss [dB], current [-], intercept
#: [dB]. Common practice, no source.
_GAIN_DB, _MATCHED_DB, _CURRENT, _INTERCEPT_DB = 1.0, 10.0, 0.2, 2.0


def draw(
    circuit: Circuit, of: Row, spreads: Spreads, trials: int, seed: int = 0
) -> tuple[dict[str, Array], dict[str, Array]]:
    """How many times as large the values of `trials` scattered amplifiers are, (T,) by their keys among the
    `Times`; and by each part's reference what was drawn for it, from −1 to 1.

    A transistor stands at one place of its type's ranges, as far below what the table has for it as above, by
    ratio: as its data sheet tells no more, all places are as likely.
    """
    generator = np.random.default_rng(seed)
    times: dict[str, Array] = {}
    drawn: dict[str, Array] = {}
    for part in (branch.part for branch in circuit.branches):
        place = generator.uniform(-1, 1, trials)
        if isinstance(part, Transistor):
            at = spreads.transistor * place
            for name, (low, high) in of.spread.items():
                times[f"{part.ref}.{name}"] = np.where(at < 0, low**-at, high**at)
        elif isinstance(part, Part | CoupledCoils):
            kind = part.kind if isinstance(part, Part) else "inductor"
            within = {"resistor": spreads.resistor, "capacitor": spreads.capacitor}.get(kind, spreads.coil)
            times[part.ref] = 1 + within * place
        drawn[part.ref] = place
    # What does not scatter needs no solution of its own.
    return {key: each for key, each in times.items() if np.ptp(each) > 0}, drawn


def run(
    made: Design,
    judging: Judging,
    dials: Dials,
    spreads: Spreads,
    *,
    trials: int = 1000,
    points: int = 41,
    seed: int = 0,
    watch: Watch | None = None,
) -> ToleranceRun | Unsolved | None:
    """Scatter the parts of an amplifier and measure every trial where its gain is wanted, its gain on
    `points` frequencies too; arguments as those of a filter's run.
    """
    assert isinstance(made, AmplifierDesign)
    circuit, ohm = made.circuit, made.circuit.ports[0].ohm
    times, drawn = draw(circuit, made.transistor, spreads, trials, seed)
    if not times:
        return Unsolved("No part of the amplifier scatters; give resistors or transistors some tolerance.")
    # The last trial is the amplifier itself.
    times = {key: np.append(each, 1.0) for key, each in times.items()}
    grid = np.linspace(*_RANGE_HZ, points)
    f = np.append(grid, made.asked_at_hz)
    first = _first_fed(made.rest)
    gain_db = np.full((trials + 1, f.size), np.nan)
    others = {key: np.full(trials + 1, np.nan) for key in ("match", "current", "intercept")}
    for begin in range(0, trials + 1, _CHUNK):
        if watch is not None and not watch(begin / trials):
            return None
        rows = np.arange(begin, min(begin + _CHUNK, trials + 1))
        some = {key: each[rows] for key, each in times.items()}
        rests, settled = at_rest(circuit, made.rest, some)
        if not settled.any():
            continue
        kept, rows = only(some, settled), rows[settled]
        linear = around(circuit, rests, kept)
        if isinstance(linear, Unsolved):
            return linear
        port = of_linear(linear, f)
        if isinstance(port, Unsolved):
            return port
        gain_db[rows] = port.gain_db(ohm, ohm)
        others["match"][rows] = _return_loss_db(port, ohm)
        others["current"][rows] = np.abs(rests.transistors[first].output_a)
        others["intercept"][rows] = intercepts_dbm(linear, *(each * made.asked_at_hz for each in TONES))
    measured = _measured(made, first, gain_db[:, -1], others)
    shares = [(ref, share(each, measured[0].values)) for ref, each in drawn.items()]
    low, high = np.nanpercentile(-gain_db[:trials, :points], [5, 95], axis=0)
    return ToleranceRun(
        f_hz=frozen(grid),
        nominal_db=frozen(-gain_db[trials, :points]),
        low_db=frozen(low),
        high_db=frozen(high),
        measured=measured,
        shares=tuple(sorted(shares, key=lambda pair: -pair[1])),
    )


def _first_fed(rest: Bias) -> str:
    """The first transistor that is fed: of a pair that of the half in use."""
    return next(ref for ref, point in rest.transistors.items() if abs(point.output_v) > UNFED_V)


def _return_loss_db(port: TwoPort, ohm: float) -> Array:
    """At the last frequency."""
    into = port.input_ohm(ohm)[..., -1]
    found: Array = -20 * np.log10(np.abs((into - ohm) / (into + ohm)))
    return found


def _measured(
    made: AmplifierDesign, first: str, gain_db: Array, others: dict[str, Array]
) -> tuple[Measured, ...]:
    at, match = "where the gain is wanted", others["match"]
    aim = float(gain_db[-1]) if made.asked_db is None else made.asked_db
    return (
        figure(
            "gain",
            "gain",
            "dB",
            f"Power gain between equal resistances {at}; limits lie about the gain asked, a follower's about "
            "what it has.",
            gain_db,
            below=_GAIN_DB,
            above=_GAIN_DB,
            aim=aim,
        ),
        figure(
            "match",
            "input return loss",
            "dB",
            f"How far what the input reflects {at} lies below what comes.",
            match,
            below=float(match[-1]) - min(_MATCHED_DB, float(match[-1])),
        ),
        figure(
            "current",
            f"current of {first}",
            "A",
            "Collector or drain current of the first transistor at rest.",
            others["current"],
            below=_CURRENT,
            above=_CURRENT,
            relative=True,
        ),
        figure(
            "intercept",
            "third-order intercept",
            "dBm",
            f"At the output {at}.",
            others["intercept"],
            below=_INTERCEPT_DB,
        ),
    )


def _asked(scatter: Scatter, measured: dict[str, Measured]) -> Limits:
    """Limits typed in, about what the design aims at."""
    found: dict[str, tuple[float | None, float | None]] = {}
    if scatter.gain_within_db is not None:
        aim = measured["gain"].centre
        found["gain"] = (aim - scatter.gain_within_db, aim + scatter.gain_within_db)
    if scatter.return_loss_db is not None:
        found["match"] = (scatter.return_loss_db, None)
    if scatter.current_within is not None:
        rest_a, off_a = measured["current"].nominal, scatter.current_within * measured["current"].nominal
        found["current"] = (rest_a - off_a, rest_a + off_a)
    if scatter.intercept_less_db is not None:
        found["intercept"] = (measured["intercept"].nominal - scatter.intercept_less_db, None)
    return found


def _subjects(made: Design) -> tuple[tuple[str, Design], ...]:
    """An amplifier, or the two that a pair is, by the direction."""
    return tuple((each.way or "", each) for each in amplifiers_in(made))


AMPLIFIER = Judging(
    of="amplifier", counted="amplifiers", run=run, asked=_asked, on_the_dial=False, subjects=_subjects
)
