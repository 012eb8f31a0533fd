"""A ladder's mesh equations solved for its crystals: couplings, series reactances, ends and edges.

The textbook design by coupling coefficients (M. Dishal, Proc. IEEE 53 (1965) 1205) treats a crystal as a
series circuit whose reactance grows in proportion to the offset from resonance. The holder capacitance
bends that line upwards, so the textbook filter comes out narrow. The refined design solves the same
coupled-mesh equations with the crystal's exact reactance X(f) as the frequency variable: the response
then has its ripple, and its edges lie where they were asked, to the accuracy with which the coupling
capacitors' own reactance is constant over the pass-band (parts in ten thousand). Derived here.
"""

from collections.abc import Callable
from math import log, pi, sqrt

from core.circuits.circuit import Part
from core.circuits.ladder import Arm
from core.circuits.shapes.flat_couplings import FlatCouplings, flat_couplings
from core.circuits.shapes.paired_ends import LEAST_POLES
from core.circuits.shapes.prototypes import couplings
from core.model.stages.filters import Crystal, LadderFilter
from core.model.values.notation import format_value
from core.model.values.parts import Role
from core.record import record
from core.stages.outcome import Unsolved
from core.stages.parts import part

#: Normalised loss of the crystals [-] beyond which no couplings keep any of these ladders flat at a loss
#: that a receiver could bear (10 dB and more from six poles on).
MOST_DISSIPATION = 0.12


@record(kw_only=True)
class Meshes:
    """What the coupled-mesh equations give.

    Coupling reactances [ohm] between meshes, series reactances [ohm] per mesh (0: no capacitor),
    end resistance [ohm], the edges of the pass-band [Hz], and half the change of a crystal's reactance
    between them [ohm].
    """

    coupling_ohm: tuple[float, ...]
    series_ohm: tuple[float, ...]
    end_ohm: float
    low_hz: float
    high_hz: float
    half_ohm: float


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


def meshes(ladder: LadderFilter, fs_hz: float, counted: float = 1.0) -> Meshes | Unsolved:
    """Solve the mesh equations of `ladder` for crystals resonant at `fs_hz` [Hz].

    A ladder made for its crystals has couplings that count this share [-] of their loss.

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
    made = _spread(ladder, crystal, fs_hz, _plain(ladder))
    if ladder.flatness == "as_designed" or isinstance(made, Unsolved):
        return made
    loss = dissipation(ladder, crystal, fs_hz)
    if loss > MOST_DISSIPATION:
        return Unsolved(
            f"A Q of {crystal.quality_factor:.3g} is too low to keep "
            f"{format_value(ladder.bandwidth_hz, 'Hz')} "
            f"flat at {format_value(fs_hz, 'Hz', 3)}, where "
            f"{fs_hz / (MOST_DISSIPATION * ladder.bandwidth_hz):.3g} "
            "is the least; ask for more width, take better crystals, or design for crystals without loss."
        )
    if counted == 0:
        return made
    # The second time with the reactance that the couplings found the first time lead to.
    for _ in range(2):
        flat = _flat(ladder, crystal, fs_hz, made.half_ohm, counted)
        if flat is None:
            return made
        made = _spread(ladder, crystal, fs_hz, flat)
        if isinstance(made, Unsolved):
            return made
    return made


def _plain(ladder: LadderFilter) -> FlatCouplings:
    """The couplings for crystals without loss."""
    shape = couplings(ladder.shape, ladder.poles, ladder.ripple_db)
    return FlatCouplings(shape.k, shape.q_first, (0.0,) * ladder.poles)


def dissipation(ladder: LadderFilter, crystal: Crystal, fs_hz: float) -> float:
    """The crystals' loss against the width asked: fs / (Q B) [-], fs in Hz, 1 over their normalised Q."""
    return fs_hz / (crystal.quality_factor * ladder.bandwidth_hz)


def _flat(
    ladder: LadderFilter, crystal: Crystal, fs_hz: float, half_ohm: float, counted: float
) -> FlatCouplings | None:
    """Couplings that count the crystals' loss; in steps, so that a turn of the IF seldom needs a new fit."""
    w = 2 * pi * fs_hz
    loss_ohm = counted * w * crystal.motional_inductance_h / crystal.quality_factor
    return flat_couplings(
        ladder.shape,
        ladder.poles,
        ladder.ripple_db,
        stepped(loss_ohm / half_ohm, 0.02),
        stepped(w * crystal.holder_capacitance_f * half_ohm, 0.02),
    )


def stepped(value: float, step: float) -> float:
    """The nearest of a row of values (any unit) each `step` [-] above the one before."""
    return float((1 + step) ** round(log(value) / log(1 + step)))


def _spread(ladder: LadderFilter, crystal: Crystal, fs_hz: float, shape: FlatCouplings) -> Meshes | Unsolved:
    """Couplings and offsets of a shape as reactances of crystals resonant at `fs_hz` [Hz]."""
    width = ladder.bandwidth_hz
    shares, sums = _mesh_sums(ladder, shape)
    largest = max(sums)
    if not ladder.refine:
        half = 2 * pi * width * crystal.motional_inductance_h
        low = fs_hz + width * (largest - 1) / 2
    else:
        spacing = parallel_spacing_hz(fs_hz, crystal)
        limit = _greatest_width(spacing, largest)
        if width >= limit:
            return Unsolved(
                f"These crystals cannot make a ladder {format_value(width, 'Hz', 3)} wide: their holder "
                "capacitance "
                f"allows {format_value(limit, 'Hz', 3)} at most; ask for less or take crystals with less C0."
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
    return Meshes(
        coupling_ohm=coupling,
        series_ohm=series,
        end_ohm=half / shape.q,
        low_hz=low,
        high_hz=low + width,
        half_ohm=half,
    )


def _mesh_sums(ladder: LadderFilter, shape: FlatCouplings) -> tuple[list[int], list[float]]:
    """How many crystals each mesh has, and what its couplings to both neighbours and its offset add up to."""
    # Crystals in parallel share the reactance, so each must bring as many times what its mesh wants.
    shares = [len(refs) for refs in ladder.crystal_refs]
    sums = [
        share * (sum(shape.k[j] for j in (mesh - 1, mesh) if 0 <= j < ladder.poles - 1) + shape.offsets[mesh])
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
    sums = _mesh_sums(ladder, _plain(ladder))[1]
    return _greatest_width(parallel_spacing_hz(fs_hz, ladder.crystal), max(sums))


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


def ladder_arms(
    ladder: LadderFilter,
    solved: Meshes,
    crystal: Callable[[int | str], Part],
    capacitor: Callable[[Role, int, float], Part],
) -> list[Arm]:
    """The ladder between its end matches: what is soldered where.

    `crystal` makes the one of a place, `capacitor` the one of a role and number with this exact value [F].
    """
    w = pi * (solved.low_hz + solved.high_hz)
    arms = []
    for number, (places, series_ohm) in enumerate(
        zip(ladder.crystal_places, solved.series_ohm, strict=True), start=1
    ):
        arms.append(Arm("series", tuple(crystal(place) for place in places), "in_parallel"))
        if series_ohm > 0:
            arms.append(Arm("series", (capacitor("series", number, 1 / (w * series_ohm)),)))
        if number <= len(solved.coupling_ohm):
            ohm = solved.coupling_ohm[number - 1]
            arms.append(Arm("shunt", (capacitor("coupling", number, 1 / (w * ohm)),)))
    return arms


def bare_arms(ladder: LadderFilter, solved: Meshes, fs_hz: float) -> tuple[Arm, ...]:
    """The ladder without end match on its exact values, of crystals resonant at `fs_hz` [Hz]."""
    crystal = ladder.crystal
    assert crystal is not None  # meshes() refuses a ladder without crystals
    lm, c0, q = crystal.motional_inductance_h, crystal.holder_capacitance_f, crystal.quality_factor
    return tuple(
        ladder_arms(
            ladder,
            solved,
            lambda place: part("ladder", "crystal", place, fs_hz, q, lm, c0),
            lambda role, number, value: part("ladder", role, number, value),
        )
    )
