"""The lossless band-pass of two or three coupled resonators by k and q, before any fitting.

After M. Dishal, Proc. IRE 37 (1949) 1050 (from memory): coupling K = k B/f0, loaded end Q_e = q f0/B; the end
coupling and the coupling capacitors are taken off the tank's capacitance. Exact for vanishing bandwidth only.
"""

from dataclasses import replace
from math import pi, sqrt

from core.circuits.circuit import Transformer
from core.circuits.ladder import Arm, Coupled, Network
from core.circuits.shapes.prototypes import couplings
from core.model.bands import Dials
from core.model.stages.filters import BandPassFilter
from core.model.values.notation import format_value, significant
from core.stages.outcome import Unsolved
from core.stages.parts import mirrored, part, transformer

#: Reactance [ohm] of a resonator's coil when none was asked for; ordinary practice on toroids.
USUAL_REACTANCE_OHM = 130.0


#: What a filter is a row of.
Arms = list[Arm | Transformer | Coupled]
#: A lossless first circuit: its network, and which references keep their ratio in the fit.
_First = tuple[Network, tuple[tuple[str, ...], ...]]


def centre_of(filter: BandPassFilter, dials: Dials) -> float | None:
    """Centre [Hz]: the one asked for, else the middle of the dial ranges (low, high) [Hz] it serves."""
    if filter.centre_hz is not None:
        return filter.centre_hz
    if not dials:
        return None
    return (min(low for low, _ in dials) + max(high for _, high in dials)) / 2


def first_design(filter: BandPassFilter, dials: Dials) -> _First | Unsolved:
    """The lossless network by coupled-resonator formulas, before any fitting.

    References: L1.. coils, C1.. tank capacitors, CC1.. couplings, CE1/CE2 end capacitors,
    CA/CB the upper and lower half of a tapped capacitor, T1/T2 links, K1 the coupling of two coils.
    """
    f0 = centre_of(filter, dials)
    if f0 is None:
        return Unsolved("A band-pass serves no band and has no centre; tick a band or give a centre.")
    if filter.bandwidth_hz > 0.4 * f0:
        width, centre = format_value(filter.bandwidth_hz, "Hz", 3), format_value(f0, "Hz", 3)
        return Unsolved(
            f"A band-pass {width} wide at {centre} is too wide for coupled resonators; ask for less than "
            "40 % of the centre."
        )
    if filter.coupling == "mutual_inductance" and filter.resonators != 2:
        return Unsolved(
            "Of three coils beside each other the outer two couple past the middle one, so that no distances "
            "give the response asked for; take 2 resonators, or couple three by capacitors."
        )
    shape = couplings(filter.shape, filter.resonators, filter.ripple_db)
    coupling = [k * filter.bandwidth_hz / f0 for k in shape.k]
    end_q = shape.q_first * f0 / filter.bandwidth_hz
    if filter.coupling == "shunt_capacitor":
        return _shunt_coupled(filter, 2 * pi * f0, coupling, end_q)
    return _parallel_tuned(filter, 2 * pi * f0, coupling, end_q)


def usual_inductance(w: float) -> float:
    """About 130 ohm at angular frequency `w` [rad/s], rounded to two digits [H]."""
    exact = USUAL_REACTANCE_OHM / w
    return significant(exact, 2)


def _parallel_tuned(
    filter: BandPassFilter, w: float, coupling: list[float], end_q: float
) -> _First | Unsolved:
    """Coupled by capacitors at the top, or by the coils' field, which takes no capacitance."""
    mutual = filter.coupling == "mutual_inductance"
    count, around = filter.resonators, filter.system_ohm
    inductance = filter.inductance_h or usual_inductance(w)
    total = 1 / (w**2 * inductance)
    across = end_q * w * inductance
    couplers = [0.0 if mutual else k * total for k in coupling]
    tanks = [total - sum(couplers[j] for j in (n - 1, n) if 0 <= j < count - 1) for n in range(count)]
    ends: Arms = []
    if filter.ends == "link" or (filter.ends == "tapped_coil" and across > around):
        ends = [transformer("band_pass", "link", 1, sqrt(around / across))]
    elif across <= 1.02 * around:
        return Unsolved(
            f"The band-pass's end resonators want {_ohm(across)}, no more than the {_ohm(around)} around; "
            "take a larger coil, a narrower filter, or link windings."
        )
    elif filter.ends == "series_capacitor":
        end = 1 / (w * sqrt(around * across - around**2))
        q = 1 / (w * end * around)
        for n in (0, count - 1):
            tanks[n] -= q / (1 + q**2) / (w * around)
        ends = [Arm("series", (part("band_pass", "end", 1, end),))]
    else:
        q_node = w * tanks[0] * across
        series_ohm = across / (1 + q_node**2)
        if tanks[0] <= 0 or series_ohm >= around:
            return Unsolved(
                "The band-pass's tapped capacitor cannot reach the resistance around; take a smaller coil."
            )
        q_low = sqrt(around / series_ohm - 1)
        upper_ohm = series_ohm * (q_node - q_low)
        if upper_ohm <= 0:
            return Unsolved("The band-pass's tapped capacitor would be negative; take a larger coil.")
        ends = [
            Arm("shunt", (part("band_pass", "tap_lower", 1, q_low / (w * around)),)),
            Arm("series", (part("band_pass", "tap_upper", 1, 1 / (w * upper_ohm)),)),
        ]
    if min(tanks) <= 0:
        return Unsolved(
            "The band-pass's couplings take more capacitance than its resonators have; take a "
            "smaller coil or a narrower filter."
        )
    arms = list(ends)
    if mutual:
        coils = (part("band_pass", "coil", n + 1, inductance) for n in range(count))
        tuned = [
            Arm("shunt", (part("band_pass", "resonator", n + 1, tanks[n]),))
            for n in range(count if filter.ends != "tapped_capacitor" else 0)
        ]
        between = Coupled((*coils, part("band_pass", "mutual", 1, coupling[0])))
        arms += [*tuned[:1], between, *tuned[1:], *_mirrored(ends)]
        return Network(tuple(arms), around, around), _ties(arms, count)
    for n in range(count):
        coil = part("band_pass", "coil", n + 1, inductance)
        tapped = filter.ends == "tapped_capacitor" and n in (0, count - 1)
        parts = (coil,) if tapped else (coil, part("band_pass", "resonator", n + 1, tanks[n]))
        arms.append(Arm("shunt", parts, "in_parallel"))
        if n < count - 1:
            arms.append(Arm("series", (part("band_pass", "coupling", n + 1, couplers[n]),)))
    arms += _mirrored(ends)
    return Network(tuple(arms), around, around), _ties(arms, count)


def _shunt_coupled(
    filter: BandPassFilter, w: float, coupling: list[float], end_q: float
) -> _First | Unsolved:
    count, around = filter.resonators, filter.system_ohm
    direct = filter.ends == "series_capacitor" and filter.inductance_h is None
    inductance = around * end_q / w if direct else filter.inductance_h or usual_inductance(w)
    wanted = w * inductance / end_q
    couplers_ohm = [k * w * inductance for k in coupling]
    # Each mesh: coil against its own capacitor and the couplers on both sides.
    own_ohm = [
        w * inductance - sum(couplers_ohm[j] for j in (n - 1, n) if 0 <= j < count - 1) for n in range(count)
    ]
    if filter.ends == "tapped_coil":
        return Unsolved(
            "The coils of a band-pass coupled by shunt capacitors lie in the line, where a tap is no end; "
            "take link windings."
        )
    ends: Arms = []
    if filter.ends == "link":
        ends = [transformer("band_pass", "link", 1, sqrt(around / wanted))]
    elif not direct:
        if wanted >= 0.98 * around:
            return Unsolved(
                f"The band-pass's end resonators want {_ohm(wanted)}, not below the {_ohm(around)} around; "
                "take a smaller coil, or link windings."
            )
        q = sqrt(around / wanted - 1)
        ends = [Arm("shunt", (part("band_pass", "end", 1, q / (w * around)),))]
        for n in (0, count - 1):
            own_ohm[n] -= wanted * q
    if min(own_ohm) <= 0:
        return Unsolved(
            "The band-pass's couplings take more reactance than its coils have; take a narrower filter."
        )
    arms = list(ends)
    for n in range(count):
        coil = part("band_pass", "coil", n + 1, inductance)
        arms.append(Arm("series", (coil, part("band_pass", "resonator", n + 1, 1 / (w * own_ohm[n])))))
        if n < count - 1:
            arms.append(Arm("shunt", (part("band_pass", "coupling", n + 1, 1 / (w * couplers_ohm[n])),)))
    arms += _mirrored(ends)
    return Network(tuple(arms), around, around), _ties(arms, count)


def _mirrored(ends: Arms) -> Arms:
    """The same end for the load side."""
    result: Arms = []
    for arm in reversed(ends):
        if isinstance(arm, Transformer):
            result.append(transformer("band_pass", "link", 2, 1 / arm.ratio))
        elif isinstance(arm, Arm):
            result.append(replace(arm, parts=tuple(mirrored("band_pass", p, 2) for p in arm.parts)))
    return result


def _ties(arms: Arms, count: int) -> tuple[tuple[str, ...], ...]:
    """What is fitted, capacitors and couplings: those that mirror each other, grouped."""
    parts = [p for arm in arms if not isinstance(arm, Transformer) for p in arm.parts]
    groups: dict[tuple[str, int], list[str]] = {}
    for each in (p for p in parts if p.kind in ("capacitor", "coupling")):
        assert isinstance(each.which, int)
        last = {"resonator": count, "coupling": count - 1, "mutual": 1}.get(each.role, 2)
        groups.setdefault((each.role, min(each.which, last + 1 - each.which)), []).append(each.ref)
    return tuple(tuple(group) for group in groups.values())


def _ohm(value: float) -> str:
    return format_value(value, "Ω", 3)
