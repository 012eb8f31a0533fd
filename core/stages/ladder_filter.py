"""Crystal ladder filter: from what is asked to the parts, and the figures of those parts.

The textbook design by coupling coefficients (M. Dishal, Proc. IEEE 53 (1965) 1205) treats a crystal as a
series circuit whose reactance grows in proportion to the offset from resonance. The holder capacitance
bends that line upwards, so the textbook filter comes out narrow. The refined design solves the same
coupled-mesh equations with the crystal's exact reactance X(f) as the frequency variable: the response
then has its ripple, and its edges lie where they were asked, to the accuracy with which the coupling
capacitors' own reactance is constant over the pass-band (parts in ten thousand). Derived here.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from math import pi, sqrt
from statistics import median
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from core.circuits.ladder import Arm, Network, Part, Transformer, solve
from core.circuits.paired_ends import LEAST_POLES
from core.circuits.prototypes import couplings
from core.circuits.response import PassBand, pass_band
from core.model.filters import Crystal, LadderFilter
from core.model.notation import format_value
from core.stages.gate import gate
from core.stages.outcome import FilterDesign, FilterFigures, PartRow, Unsolved
from core.trade.series import FURTHEST, nearest, neighbours

#: Unloaded Q of the coil in an L-network end match; an ordinary powdered-iron toroid, from memory.
MATCH_COIL_Q = 150.0
#: An end resistance this near the resistance around needs no match (return loss above 34 dB).
_NEAR_ENOUGH = 1.04
_LARGEST_TURNS = 12


@dataclass(frozen=True, slots=True)
class Meshes:
    """What the coupled-mesh equations give.

    Coupling reactances [ohm] between meshes, series reactances [ohm] per mesh (0: no capacitor),
    end resistance [ohm], and the edges of the pass-band [Hz].
    """

    coupling_ohm: tuple[float, ...]
    series_ohm: tuple[float, ...]
    end_ohm: float
    low_hz: float
    high_hz: float


def crystal_reactance(f_hz: float, fs_hz: float, lm_h: float, c0_f: float) -> float:
    """Reactance [ohm] of a lossless crystal at `f_hz` [Hz]: its series arm with C0 across."""
    w, ws = 2 * pi * f_hz, 2 * pi * fs_hz
    motional = lm_h * (w - ws) * (w + ws) / w
    return motional / (1 - w * c0_f * motional)


def parallel_spacing_hz(fs_hz: float, crystal: Crystal) -> float:
    """Parallel less series resonance, Hz: fs (sqrt(1 + Cm/C0) − 1)."""
    motional_f = 1 / ((2 * pi * fs_hz) ** 2 * crystal.motional_inductance_h)
    ratio = motional_f / crystal.holder_capacitance_f
    return fs_hz * ratio / (1 + sqrt(1 + ratio))


def meshes(ladder: LadderFilter, fs_hz: float) -> Meshes | Unsolved:
    """Solve the mesh equations of `ladder` for crystals resonant at `fs_hz` [Hz].

    With k and q of the shape, every coupling reactance is k W and every end resistance W / q, where W is
    half the change of a crystal's reactance across the pass-band. The mesh with the largest sum of
    coupling reactances has no series capacitor and sets where the pass-band lies: its crystal cancels
    that sum in the middle of the reactance range. `Unsolved` when C0 does not allow the width.
    """
    crystal = ladder.crystal
    if crystal is None:
        return Unsolved("The ladder filter has no crystals; give it crystals in its editor.")
    if ladder.shape == "paired_ends" and ladder.poles < LEAST_POLES:
        return Unsolved(
            f"Paired end crystals want {LEAST_POLES} poles or more; ask for more poles or another shape."
        )
    shape = couplings(ladder.shape, ladder.poles, ladder.ripple_db)
    width = ladder.bandwidth_hz
    shares, sums = _mesh_sums(ladder)
    largest = max(sums)
    if not ladder.refine:
        half = 2 * pi * width * crystal.motional_inductance_h
        low = fs_hz + width * (largest - 1) / 2
    else:
        spacing = parallel_spacing_hz(fs_hz, crystal)
        limit = _greatest_width(spacing, largest)
        if width >= limit:
            return Unsolved(
                f"These crystals cannot make a ladder {width / 1e3:.3g} kHz wide: their holder capacitance "
                f"allows {limit / 1e3:.3g} kHz at most; ask for less or take crystals with less C0."
            )
        low = _lower_edge(fs_hz, crystal, width, largest, spacing)
        x_low, x_high = (
            crystal_reactance(f, fs_hz, crystal.motional_inductance_h, crystal.holder_capacitance_f)
            for f in (low, low + width)
        )
        half = (x_high - x_low) / 2
    if low <= 0:
        return Unsolved("The ladder's bandwidth is larger than its frequency; ask for a narrower filter.")
    coupling = tuple(k * half for k in shape.k)
    series = tuple(
        (largest - each) * half / share if largest - each > 1e-9 else 0.0
        for each, share in zip(sums, shares, strict=True)
    )
    return Meshes(coupling, series, half / shape.q_first, low, low + width)


def _mesh_sums(ladder: LadderFilter) -> tuple[list[int], list[float]]:
    """How many crystals each mesh has, and what its couplings k to both neighbours add up to."""
    k = couplings(ladder.shape, ladder.poles, ladder.ripple_db).k
    # Crystals in parallel share the reactance, so each must bring as many times what its mesh wants.
    shares = [len(refs) for refs in ladder.crystal_refs]
    sums = [
        share * sum(k[j] for j in (mesh - 1, mesh) if 0 <= j < ladder.poles - 1)
        for mesh, share in enumerate(shares)
    ]
    return shares, sums


def _greatest_width(spacing: float, largest: float) -> float:
    # At the limit itself the lower edge meets the parallel resonance; 2 % keep the parts finite.
    return 0.98 * spacing * (largest - sqrt(largest**2 - 1) if largest > 1 else 1.0)


def greatest_width_hz(ladder: LadderFilter, fs_hz: float) -> float:
    """The widest ladder of this shape that crystals resonant at `fs_hz` [Hz] can make, Hz; 0 without them.

    C0 sets it: the pass-band must lie between series and parallel resonance. Poles without their paired
    ends and the like are refused by `meshes`, not here.
    """
    if ladder.crystal is None:
        return 0.0
    return _greatest_width(parallel_spacing_hz(fs_hz, ladder.crystal), max(_mesh_sums(ladder)[1]))


def _lower_edge(fs_hz: float, crystal: Crystal, width: float, largest: float, spacing: float) -> float:
    """Lower edge [Hz] with X(low) (K + 1) = X(high) (K − 1), K the largest sum of couplings.

    The start takes X proportional to d / (1 − d/D), d the offset from series resonance and D the spacing
    to parallel resonance, which leaves a quadratic; a few secant steps then use the exact reactance.
    """

    def miss(offset: float) -> float:
        x_low, x_high = (
            crystal_reactance(fs_hz + d, fs_hz, crystal.motional_inductance_h, crystal.holder_capacitance_f)
            for d in (offset, offset + width)
        )
        return x_low * (largest + 1) - x_high * (largest - 1)

    room = spacing - width
    d = (room - sqrt(max(room**2 - 2 * (largest - 1) * width * spacing, 0.0))) / 2
    previous, before = d - 1e-3 * width, miss(d - 1e-3 * width)
    for _ in range(4):
        now = miss(d)
        if now == before or abs(d - previous) < 1e-9 * width:
            break
        previous, before, d = d, now, d - now * (d - previous) / (now - before)
    return fs_hz + d


@lru_cache(maxsize=64)
@gate("The ladder filter")
def design(ladder: LadderFilter, if_hz: float, on_hand: tuple[float, ...] = ()) -> FilterDesign | Unsolved:
    """The ladder's circuit on its resulting parts for an IF of `if_hz` [Hz].

    `on_hand` are the capacitors of the junk box [F], for a ladder that is made of them.

    References: X1.. the crystals (X1A and X1B where two are in parallel), C1.. the shunt capacitors, CS1..
    the series capacitor of each mesh that needs one. An as-built value replaces the preferred one; for a
    crystal it is its own series resonance, and `X1.lm`, `X1.c0`, `X1.q` are its other figures. The network
    includes the end match and stands between `system_ohm`.
    """
    crystal = ladder.crystal
    fs = if_hz + (0.0 if crystal is None else crystal.offset_hz)
    if fs <= 0:
        return Unsolved(
            "The ladder's crystals would resonate below zero hertz; correct their offset from the IF."
        )
    solved = meshes(ladder, fs)
    if isinstance(solved, Unsolved):
        return solved
    assert crystal is not None  # meshes() refuses a ladder without crystals
    middle_w = pi * (solved.low_hz + solved.high_hz)
    built = dict(ladder.as_built)
    # The choice hangs on the frequency so little that a turn of the IF need not repeat it.
    rounded = _rounded_together(ladder, float(f"{fs:.3g}"), on_hand)
    rows: list[PartRow] = []

    def capacitor(ref: str, reactance: float, note: str) -> Part:
        value = 1 / (middle_w * reactance)
        row = PartRow(ref, "capacitor", value, rounded.get(ref, value), built.get(ref), "F", note)
        rows.append(row)
        return Part(ref, "capacitor", row.fitted)

    def fitted(ref: str) -> Part:
        row = PartRow(ref, "crystal", fs, fs, built.get(ref), "Hz")
        rows.append(row)
        return Part(
            ref,
            "crystal",
            row.fitted,
            built.get(f"{ref}.q", crystal.quality_factor),
            built.get(f"{ref}.lm", crystal.motional_inductance_h),
            built.get(f"{ref}.c0", crystal.holder_capacitance_f),
        )

    arms: list[Arm | Transformer] = []
    for mesh, refs in enumerate(ladder.crystal_refs):
        arms.append(Arm("series", tuple(fitted(ref) for ref in refs), "in_parallel"))
        if solved.series_ohm[mesh] > 0:
            arms.append(Arm("series", (capacitor(f"CS{mesh + 1}", solved.series_ohm[mesh], "in series"),)))
        if mesh < ladder.poles - 1:
            arms.append(Arm("shunt", (capacitor(f"C{mesh + 1}", solved.coupling_ohm[mesh], ""),)))
    near, far = _match(ladder, solved.end_ohm, middle_w, rows, on_hand)
    lacking = _lacking(ladder, rows, on_hand)
    if lacking is not None:
        return lacking
    network = Network((*near, *arms, *far), ladder.system_ohm, ladder.system_ohm)
    moved, beyond = _moved_hz(network, crystal, fs, solved), 1.2 * ladder.bandwidth_hz
    span = (solved.low_hz + moved - beyond, solved.high_hz + moved + beyond)
    order = {"crystal": 0, "capacitor": 1}
    rows.sort(key=lambda row: (order.get(row.kind, 2), row.note == "in series"))
    return FilterDesign(network, tuple(rows), solved.end_ohm, span)


def _moved_hz(network: Network, crystal: Crystal, fs_hz: float, solved: Meshes) -> float:
    """How far the crystals that are fitted move the pass-band, Hz: zero for those of the design.

    The median of where each has the reactance that the design's has amid the pass-band. Of crystals for
    quite another frequency nobody expects a pass-band; they move nothing.
    """
    middle = (solved.low_hz + solved.high_hz) / 2
    x = crystal_reactance(middle, fs_hz, crystal.motional_inductance_h, crystal.holder_capacitance_f)
    moves = []
    for part in network.parts:
        if part.kind == "crystal":
            motional = x / (1 + 2 * pi * middle * part.holder_capacitance_f * x)
            # Lm (w² − ws²)/w = Xm, solved for w.
            half = motional / (4 * pi * part.motional_inductance_h)
            moves.append(half + sqrt(half**2 + part.value**2) - middle)
    moved = median(moves)
    return moved if abs(moved) < middle / 4 else 0.0


def _lacking(ladder: LadderFilter, rows: list[PartRow], on_hand: tuple[float, ...]) -> Unsolved | None:
    """The first capacitor for which the junk box has no stand-in; what is built already needs none."""
    if ladder.capacitors != "junk_box":
        return None
    for row in rows:
        if row.kind == "capacitor" and row.as_built is None and nearest(row.designed, on_hand) is None:
            return Unsolved(
                f"{row.ref} wants {format_value(row.designed, 'F', 3)} and the junk box has nothing within a "
                f"factor of {FURTHEST:g}; put a value into the junk box or take the capacitors from a series."
            )
    return None


def _choice(value: float, series: str, on_hand: tuple[float, ...]) -> tuple[float, float]:
    """The values below and above `value` that may be fitted; itself where nothing on hand comes near."""
    if series != "junk_box":
        return neighbours(value, series)
    return nearest(value, on_hand) or (value, value)


def _nearer(value: float, choice: tuple[float, float]) -> float:
    below, above = choice
    return below if value / below <= above / value else above


def _bare_arms(
    solved: Meshes, crystal: Crystal, fs_hz: float, refs: tuple[tuple[str, ...], ...]
) -> tuple[Arm, ...]:
    """The ladder without end match on its exact values, lossless crystals."""
    w = pi * (solved.low_hz + solved.high_hz)
    lm, c0 = crystal.motional_inductance_h, crystal.holder_capacitance_f
    arms = []
    for mesh, series_ohm in enumerate(solved.series_ohm):
        together = tuple(Part(ref, "crystal", fs_hz, None, lm, c0) for ref in refs[mesh])
        arms.append(Arm("series", together, "in_parallel"))
        if series_ohm > 0:
            arms.append(Arm("series", (Part(f"CS{mesh + 1}", "capacitor", 1 / (w * series_ohm)),)))
        if mesh < len(solved.coupling_ohm):
            arms.append(
                Arm("shunt", (Part(f"C{mesh + 1}", "capacitor", 1 / (w * solved.coupling_ohm[mesh])),))
            )
    return tuple(arms)


#: How far a rounded filter may lie off, and be wider or narrower, at no cost: shares of the width.
_FREE_SHIFTS = np.linspace(-0.1, 0.1, 7)
_FREE_WIDTHS = (0.97, 1.0, 1.03)


@lru_cache(maxsize=64)
def _rounded_together(ladder: LadderFilter, fs_hz: float, on_hand: tuple[float, ...]) -> Mapping[str, float]:
    """Preferred values chosen together: those that keep the response nearest to the exact one.

    Begins with the nearest values and moves one or two mirrored pairs of capacitors to their other
    neighbours as long as that brings |S21| over pass-band and corners nearer (fourth powers, so that the
    worst place counts). A small shift or another width of the whole costs nothing: the carrier follows.
    All moves of a round are one broadcast solution. `fs_hz` [Hz] needs few digits for the choice.
    """
    solved = meshes(ladder, fs_hz)
    if isinstance(solved, Unsolved) or ladder.crystal is None or ladder.capacitors == "exact":
        return MappingProxyType({})
    arms = _bare_arms(solved, ladder.crystal, fs_hz, ladder.crystal_refs)
    exact = {p.ref: p.value for arm in arms for p in arm.parts if p.kind == "capacitor"}
    pairs: dict[tuple[str, int], list[str]] = {}
    for ref in exact:
        name, number = ref.rstrip("0123456789"), int(ref.lstrip("CS"))
        last = ladder.poles if name == "CS" else ladder.poles - 1
        # That all capacitors are one value is what paired ends are built for.
        place = 0 if ladder.shape == "paired_ends" else min(number, last + 1 - number)
        pairs.setdefault((name, place), []).append(ref)
    groups = list(pairs.values())
    choices = [_choice(exact[group[0]], ladder.capacitors, on_hand) for group in groups]
    options = np.array(choices)
    nearer = np.array(
        [_nearer(exact[group[0]], choice) for group, choice in zip(groups, choices, strict=True)]
    )
    network = Network(arms, solved.end_ohm, solved.end_ohm)
    middle, width = (solved.low_hz + solved.high_hz) / 2, solved.high_hz - solved.low_hz
    f = middle + width * np.linspace(-0.7, 0.7, 31)
    variants = [
        (f - middle) / scale + middle - shift * width for scale in _FREE_WIDTHS for shift in _FREE_SHIFTS
    ]
    wanted = np.abs(solve(network, np.array(variants)).s21)
    upper = (nearer == options[:, 1]).astype(int)
    single = np.eye(len(groups), dtype=int)
    double = np.array(
        [single[i] + single[j] for i in range(len(groups)) for j in range(i)], dtype=int
    ).reshape(-1, len(groups))

    def costs(trials: NDArray[np.int64]) -> NDArray[np.float64]:
        chosen = options[np.arange(len(groups)), trials]
        values = {ref: chosen[:, [n]] for n, group in enumerate(groups) for ref in group}
        passed = np.abs(solve(network, f, values=values).s21)
        return np.asarray(np.mean(np.square(np.square(passed[:, None, :] - wanted)), axis=-1).min(axis=-1))

    best = float(costs(upper[None, :])[0])
    moves = single
    while moves.size:
        trials = upper ^ moves
        cost = costs(trials)
        pick = int(np.argmin(cost))
        if cost[pick] < best * (1 - 1e-9):
            best, upper, moves = float(cost[pick]), trials[pick], single
        elif moves is single:
            # No single move helps any more; two at once may.
            moves = double
        else:
            break
    values = options[np.arange(len(groups)), upper]
    return MappingProxyType({ref: float(values[n]) for n, group in enumerate(groups) for ref in group})


_Arms = list[Arm | Transformer]


def _match(
    ladder: LadderFilter, end_ohm: float, w: float, rows: list[PartRow], on_hand: tuple[float, ...]
) -> tuple[_Arms, _Arms]:
    """Arms that bring `end_ohm` to the resistance around, at the source and at the load side."""
    around, built = ladder.system_ohm, dict(ladder.as_built)
    high, low = max(end_ohm, around), min(end_ohm, around)
    if ladder.end_match == "none" or high / low < _NEAR_ENOUGH:
        return [], []
    if ladder.end_match == "transformer":
        outer, inner = _turns(sqrt(around / end_ohm))
        for ref, side in (("T1", "source"), ("T2", "load")):
            note = f"{side} end, turns {outer} to {inner} towards the filter"
            rows.append(PartRow(ref, "transformer", sqrt(around / end_ohm), outer / inner, None, "-", note))
        return [Transformer("T1", outer / inner)], [Transformer("T2", inner / outer)]
    q = sqrt(high / low - 1)
    inductance, capacitance = q * low / w, q / (w * high)
    ends: list[_Arms] = []
    for number in (1, 2):
        coil = PartRow(
            f"LM{number}", "inductor", inductance, inductance, built.get(f"LM{number}"), "H", "end match"
        )
        shunt = PartRow(
            f"CM{number}",
            "capacitor",
            capacitance,
            _nearer(capacitance, _choice(capacitance, ladder.capacitors, on_hand)),
            built.get(f"CM{number}"),
            "F",
            "end match",
        )
        rows += [coil, shunt]
        series_arm = Arm("series", (Part(coil.ref, "inductor", coil.fitted, MATCH_COIL_Q),))
        shunt_arm = Arm("shunt", (Part(shunt.ref, "capacitor", shunt.fitted),))
        # The shunt capacitor stands on the side of the higher resistance.
        towards_filter = [shunt_arm, series_arm] if around > end_ohm else [series_arm, shunt_arm]
        ends.append(list(towards_filter) if number == 1 else list(reversed(towards_filter)))
    return ends[0], ends[1]


def _turns(ratio: float) -> tuple[int, int]:
    """Small whole numbers of turns nearest to `ratio` [-], fewest turns among equals."""
    if not 1 / _LARGEST_TURNS <= ratio <= _LARGEST_TURNS:
        return (round(ratio), 1) if ratio > 1 else (1, round(1 / ratio))
    pairs = [(a, b) for a in range(1, _LARGEST_TURNS + 1) for b in range(1, _LARGEST_TURNS + 1)]
    return min(pairs, key=lambda p: (round(abs(p[0] / p[1] / ratio - 1), 2), p[0] + p[1]))


@gate("The ladder filter")
def mesh_reactances(
    ladder: LadderFilter, if_hz: float, on_hand: tuple[float, ...] = ()
) -> tuple[float, ...] | Unsolved:
    """The reactance [ohm] with which each crystal makes its mesh resonate: what real ones are placed by.

    From the capacitors as fitted, for an IF of `if_hz` [Hz], in the order of `crystal_refs`; each of two in
    parallel has to bring twice what their mesh wants.
    """
    made = design(ladder, if_hz, on_hand)
    if isinstance(made, Unsolved):
        return made
    w = pi * sum(made.span_hz)
    ohms = {part.ref: 1 / (w * part.value) for part in made.network.parts if part.kind == "capacitor"}
    wanted = []
    for mesh, refs in enumerate(ladder.crystal_refs):
        left = sum(ohms.get(ref, 0.0) for ref in (f"C{mesh}", f"C{mesh + 1}", f"CS{mesh + 1}"))
        wanted += [len(refs) * left] * len(refs)
    return tuple(wanted)


def asked_band_hz(ladder: LadderFilter, made: FilterDesign) -> tuple[float, float]:
    """Where the pass-band of a design lies as asked, before loss and rounding, Hz."""
    low, high = made.span_hz
    edge = (high - low - ladder.bandwidth_hz) / 2
    return low + edge, high - edge


@lru_cache(maxsize=64)
@gate("The ladder filter")
def band(ladder: LadderFilter, if_hz: float, on_hand: tuple[float, ...] = ()) -> PassBand | Unsolved:
    """Edges [Hz] and losses [dB] of the ladder's pass-band for an IF of `if_hz` [Hz], exactly."""
    made = design(ladder, if_hz, on_hand)
    if isinstance(made, Unsolved):
        return made
    low, high = made.span_hz
    reach = 8 * ladder.bandwidth_hz
    found = pass_band(made.network, max(low - reach, low / 2), high + reach)
    if None in found.edges_hz[3.0]:
        return Unsolved("The ladder's parts as built no longer make a pass-band; check the as-built values.")
    return found


@lru_cache(maxsize=64)
@gate("The ladder filter")
def figures(ladder: LadderFilter, if_hz: float, on_hand: tuple[float, ...] = ()) -> FilterFigures | Unsolved:
    """Centre, bandwidths, ripple and loss of the ladder at an IF of `if_hz` [Hz]."""
    found = band(ladder, if_hz, on_hand)
    if isinstance(found, Unsolved):
        return found
    low, high = found.edges_hz[3.0]
    assert low is not None  # band() refuses a curve without edges
    assert high is not None
    return FilterFigures(
        (low + high) / 2,
        found.bandwidth_hz(3.0),
        found.bandwidth_hz(6.0),
        found.bandwidth_hz(60.0),
        found.ripple_db,
        found.least_loss_db,
        found.return_loss_db,
    )
