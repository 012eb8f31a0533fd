"""Crystal ladder filter: from what is asked to the parts, and the figures of those parts.

What its meshes want stands in `ladder_meshes`, which capacitors are taken in `ladder_rounding`, how its ends
are matched in `ladder_match`.
"""

from dataclasses import replace
from functools import lru_cache
from math import inf, pi, sqrt
from statistics import median

from core.circuits.circuit import Part
from core.circuits.ladder import Network
from core.circuits.response import PassBand, pass_band
from core.model.stages.filters import Crystal, LadderFilter
from core.model.values.notation import format_value
from core.model.values.part_names import reference
from core.model.values.parts import Role
from core.record import record
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.filters.ladder_match import match_arms, paired
from core.stages.filters.ladder_meshes import (
    Meshes,
    bare_arms,
    crystal_reactance,
    ladder_arms,
    meshes,
)
from core.stages.filters.ladder_rounding import rounded_together
from core.stages.gate import gate
from core.stages.outcome import FilterDesign, FilterFigures, PartRow, Unsolved
from core.stages.parts import Built, part
from core.stages.steps import Steps, finished, kept
from core.trade.series import FURTHEST, in_parallel, nearest


@lru_cache(maxsize=64)
@gate("The ladder filter")
def design(asked: AskedLadder) -> FilterDesign | Unsolved:
    """The ladder's circuit on its resulting parts for the IF.

    References: X1.. the crystals (X1A and X1B where two are in parallel), C1.. the shunt capacitors, CS1..
    the series capacitor of each mesh that needs one. An as-built value replaces the preferred one; for a
    crystal it is its own series resonance, and `X1.lm`, `X1.c0`, `X1.q` are its other figures. The network
    includes the end match and stands between `system_ohm`.
    """
    if asked.fs_hz <= 0:
        return Unsolved(
            "The ladder's crystals would resonate below zero hertz; correct their offset from the IF."
        )
    counted = finished(counted_share(asked.for_choices))
    return _made(asked, counted, rounded_together(asked.for_choices, counted))


def _made(
    asked: AskedLadder, counted: float, rounded: tuple[tuple[str, float], ...]
) -> FilterDesign | Unsolved:
    """The circuit whose couplings count a share of the crystals' loss [-] and whose capacitors are those
    `rounded` [F].
    """
    ladder, fs = asked.ladder, asked.fs_hz
    solved = meshes(ladder, fs, counted)
    if isinstance(solved, Unsolved):
        return solved
    crystal, taken_f = ladder.crystal, dict(rounded)
    assert crystal is not None  # meshes() refuses a ladder without crystals
    middle_w = pi * (solved.low_hz + solved.high_hz)
    built = Built("ladder", ladder.as_built)
    rows: list[PartRow] = []

    def capacitor(role: Role, number: int, value: float) -> Part:
        taken = taken_f.get(reference("ladder", role, number), value)
        notes = ["in series"] if role == "series" else []
        row = built.row(role, number, value, taken, "; ".join([*notes, *paired(taken, ladder.capacitors)]))
        rows.append(replace(row, pieces=in_parallel(taken, ladder.capacitors)))
        return part("ladder", role, number, row.fitted)

    def fitted(place: int | str) -> Part:
        row = built.row("crystal", place, fs, fs)
        rows.append(row)
        return part(
            "ladder",
            "crystal",
            place,
            row.fitted,
            built.get("crystal", place, "q") or crystal.quality_factor,
            built.get("crystal", place, "lm") or crystal.motional_inductance_h,
            built.get("crystal", place, "c0") or crystal.holder_capacitance_f,
        )

    arms = ladder_arms(ladder, solved, fitted, capacitor)
    matched = match_arms(asked, solved.end_ohm, middle_w, rows)
    if isinstance(matched, Unsolved):
        return matched
    near, far, wound = matched
    lacking = _lacking(asked, rows)
    if lacking is not None:
        return lacking
    network = Network((*near, *arms, *far), ladder.system_ohm, ladder.system_ohm)
    moved, beyond = _moved_hz(network, crystal, fs, solved), 1.2 * ladder.bandwidth_hz
    span = (solved.low_hz + moved - beyond, solved.high_hz + moved + beyond)
    order = {"crystal": 0, "capacitor": 1}
    rows.sort(key=lambda row: (order.get(row.kind, 2), row.role == "series"))
    return FilterDesign(
        network=network,
        parts=tuple(rows),
        end_resistance_ohm=solved.end_ohm,
        span_hz=span,
        wound=tuple(wound.items()),
    )


#: Shares of the crystals' loss that a ladder made for them may count [-]: the more is counted,
#: the finer its parts have to be.
_SHARES = (0.0, 0.2, 0.4, 0.55, 0.7, 1.0)
#: What a decibel of loss must buy in ripple, dB.
_WORTH_DB = 0.05


@kept(64)
def counted_share(asked: AskedLadder) -> Steps[float]:
    """The share [-] of its crystals' loss that a ladder counts: the one that comes out flattest on the parts
    that it gets, capacitors rounded and a transformer of whole turns, if that is worth what it loses.

    0 where such parts make it no flatter than the plain design. The IF need not be exact. A step is a
    share tried.
    """
    if asked.ladder.flatness == "as_designed":
        return 0.0
    best, least = 1.0, inf
    for share in _SHARES:
        cost = _cost_db(asked, share)
        if not isinstance(cost, Unsolved) and cost < least:
            best, least = share, cost
        yield
    return best


@gate("The ladder filter")
def _cost_db(asked: AskedLadder, counted: float) -> float | Unsolved:
    """Ripple, and what the loss counts beside it, of a ladder that counts a share of its crystals' [dB]."""
    made = _made(asked, counted, rounded_together(asked, counted))
    if isinstance(made, Unsolved):
        return made
    if asked.ladder.end_match == "none":
        # What stands around is told by a finding; it is no matter of flatness.
        ends = made.end_resistance_ohm
        made = replace(made, network=Network(made.network.arms, ends, ends))
    found = _measured(asked.ladder, made)
    return found if isinstance(found, Unsolved) else found.ripple_db + _WORTH_DB * found.least_loss_db


def _moved_hz(network: Network, crystal: Crystal, fs_hz: float, solved: Meshes) -> float:
    """How far the crystals that are fitted move the pass-band, Hz: zero for those of the design.

    The median of where each has the reactance that the design's has amid the pass-band. Of crystals for
    quite another frequency nobody expects a pass-band; they move nothing.
    """
    middle = (solved.low_hz + solved.high_hz) / 2
    x = crystal_reactance(middle, fs_hz, crystal.motional_inductance_h, crystal.holder_capacitance_f)
    moves = []
    for each in network.parts:
        if each.kind == "crystal":
            motional = x / (1 + 2 * pi * middle * each.holder_capacitance_f * x)
            # Lm (w² − ws²)/w = Xm, solved for w.
            half = motional / (4 * pi * each.motional_inductance_h)
            moves.append(half + sqrt(half**2 + each.value**2) - middle)
    moved = median(moves)
    return moved if abs(moved) < middle / 4 else 0.0


def _lacking(asked: AskedLadder, rows: list[PartRow]) -> Unsolved | None:
    """The first capacitor for which the junk box has no stand-in; what is built already needs none."""
    if asked.ladder.capacitors != "junk_box":
        return None
    for row in rows:
        if row.kind == "capacitor" and row.as_built is None and nearest(row.designed, asked.on_hand) is None:
            return Unsolved(
                f"{row.ref} wants {format_value(row.designed, 'F', 3)} and the junk box has nothing within a "
                f"factor of {FURTHEST:g}; put a value into the junk box or take the capacitors from a series."
            )
    return None


@gate("The ladder filter")
def mesh_reactances(asked: AskedLadder) -> tuple[float, ...] | Unsolved:
    """The reactance [ohm] with which each crystal makes its mesh resonate: what real ones are placed by.

    From the capacitors as fitted, in the order of `crystal_refs`; each of two in parallel has to bring twice
    what their mesh wants.
    """
    made = design(asked)
    if isinstance(made, Unsolved):
        return made
    w = pi * sum(made.span_hz)
    ohms = {(p.role, p.which): 1 / (w * p.value) for p in made.network.parts if p.kind == "capacitor"}
    wanted = []
    for number, places in enumerate(asked.ladder.crystal_places, start=1):
        around = (("coupling", number - 1), ("coupling", number), ("series", number))
        left = sum(ohms.get(key, 0.0) for key in around)
        wanted += [len(places) * left] * len(places)
    return tuple(wanted)


def asked_band_hz(ladder: LadderFilter, made: FilterDesign) -> tuple[float, float]:
    """Where the pass-band of a design lies as asked, before loss and rounding, Hz."""
    low, high = made.span_hz
    edge = (high - low - ladder.bandwidth_hz) / 2
    return low + edge, high - edge


@record(eq=False, kw_only=True)
class SolvedLadder:
    """A ladder as asked, with its circuit and the pass-band that this has.

    `low_hz` and `high_hz` are the −3 dB edges, which every solved ladder has. It comes out of a cache and is
    compared by identity, so that what follows from it is kept on it alone.
    """

    asked: AskedLadder
    design: FilterDesign
    band: PassBand
    low_hz: float
    high_hz: float


@lru_cache(maxsize=64)
def solved(asked: AskedLadder) -> SolvedLadder | Unsolved:
    """The ladder designed and measured, or the one reason why it cannot be."""
    made = design(asked)
    if isinstance(made, Unsolved):
        return made
    found = _measured(asked.ladder, made)
    if isinstance(found, Unsolved):
        return found
    low, high = found.edges_hz[3.0]
    if low is None or high is None:
        return Unsolved(no_pass_band(asked.ladder))
    return SolvedLadder(asked=asked, design=made, band=found, low_hz=low, high_hz=high)


@gate("The ladder filter")
def _measured(ladder: LadderFilter, made: FilterDesign) -> PassBand:
    low, high = made.span_hz
    reach = 8 * ladder.bandwidth_hz
    middle = (low + high) / 2
    inner = (middle - ladder.bandwidth_hz, middle + ladder.bandwidth_hz)
    return pass_band(made.network, max(low - reach, low / 2), high + reach, inner_hz=inner)


#: Unloaded Q [-] that stands for no loss.
_LOSSLESS_Q = 1e8


def ideal(asked: AskedLadder) -> PassBand | Unsolved:
    """The pass-band of a ladder as it would be with lossless crystals, exact capacitors and the ends that it
    wants: what its other figures are held against.
    """
    ladder, crystal = asked.ladder, asked.ladder.crystal
    if crystal is None:
        return Unsolved("The ladder filter has no crystals; give it crystals in its editor.")
    # What it does not hang on is left out, so that ladders which differ in that alone share it.
    lossless = LadderFilter(
        id="ladder",
        name="Ladder",
        shape=ladder.shape,
        poles=ladder.poles,
        ripple_db=ladder.ripple_db,
        bandwidth_hz=ladder.bandwidth_hz,
        crystal=crystal.edited(("quality_factor",), _LOSSLESS_Q),
    )
    return _ideal(AskedLadder(lossless, asked.if_hz))


@lru_cache(maxsize=64)
@gate("The ladder without loss")
def _ideal(asked: AskedLadder) -> PassBand | Unsolved:
    lossless, fs, width = asked.ladder, asked.fs_hz, asked.ladder.bandwidth_hz
    solved = meshes(lossless, fs)
    if isinstance(solved, Unsolved):
        return solved
    arms = bare_arms(lossless, solved, fs)
    inner = (solved.low_hz - width / 2, solved.high_hz + width / 2)
    network = Network(arms, solved.end_ohm, solved.end_ohm)
    return pass_band(
        network, max(inner[0] - 4 * width, inner[0] / 2), inner[1] + 4 * width, (3.0, 6.0), inner_hz=inner
    )


def no_pass_band(ladder: LadderFilter) -> str:
    """Why a ladder that could be designed has no −3 dB edges."""
    if ladder.as_built:
        return "The ladder's parts as built no longer make a pass-band; check the as-built values."
    return (
        "The ladder's response has no edges 3 dB down: its ends are far from the resistance around or its "
        "crystals lose too much; match the ends, ask for another width, or take other crystals."
    )


@lru_cache(maxsize=64)
@gate("The ladder filter")
def figures(asked: AskedLadder) -> FilterFigures | Unsolved:
    """Centre, bandwidths, ripple and loss of the ladder."""
    made = solved(asked)
    if isinstance(made, Unsolved):
        return made
    found = made.band
    return FilterFigures(
        centre_hz=(made.low_hz + made.high_hz) / 2,
        bandwidth_3db_hz=found.bandwidth_hz(3.0),
        bandwidth_6db_hz=found.bandwidth_hz(6.0),
        bandwidth_60db_hz=found.bandwidth_hz(60.0),
        ripple_db=found.ripple_db,
        insertion_loss_db=found.least_loss_db,
        return_loss_db=found.return_loss_db,
    )


def figures_in_steps(asked: AskedLadder) -> Steps[FilterFigures | Unsolved]:
    """`figures`, a step for every share of its crystals' loss that a ladder may count."""
    if asked.fs_hz > 0:
        yield from counted_share(asked.for_choices)
    return figures(asked)
