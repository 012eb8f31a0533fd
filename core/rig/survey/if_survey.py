"""Which IF: every crystal with every pair of mixing schemes, the one that costs least first.

The cost is a sum of terms (`core.rig.survey.terms`), each shown with its points; what a term looks at on one
band is computed in `core.rig.survey.options`.
"""

from collections.abc import Sequence
from functools import lru_cache
from itertools import product

from core.model.bands import Band, Scheme
from core.model.stages.filters import LadderFilter
from core.record import record
from core.rig.survey.options import Product, options
from core.rig.survey.terms import Candidate, Charge, charges, ladder_impossible
from core.stages.filters.ladder_meshes import greatest_width_hz
from core.stages.ordinary import ordinary_ladder, typical_crystal

#: Below this no VFO is looked for, Hz; common practice, no source.
LOWEST_VFO_HZ = 1.5e6
#: A row that costs more than this is none to build; a choice, as the weights are.
WORTH_BUILDING = 50.0
_MIX_UP = "mix the VFO up from a lower one with a crystal oscillator"


@record(kw_only=True)
class SurveyRow:
    """One IF with one scheme a band.

    `vfo_low_hz` and `vfo_high_hz` span the VFO over all bands, `common_hz` is what the bands' VFO ranges
    share. `lowest_crossing_order` is None when no product up to the order asked meets the signal.
    `charges` are what the terms found, their points summed in `cost`; `impossible` says why such crystals
    cannot make the ladder.
    """

    if_hz: float
    crystal: str
    schemes: tuple[Scheme, ...]
    vfo_low_hz: float
    vfo_high_hz: float
    vfo_ratio: float
    common_hz: float
    lowest_crossing_order: int | None
    crossings: tuple[Product, ...]
    image_distance_hz: float
    sidebands_agree: bool
    in_junk_box: bool
    impossible: str | None
    charges: tuple[Charge, ...]
    cost: float

    @property
    def worth_building(self) -> bool:
        """Whether nothing spoils the row and its cost is bearable."""
        spoilt = self.impossible is not None or any(c.spoils for c in self.charges)
        return not spoilt and self.cost <= WORTH_BUILDING

    @property
    def reasons(self) -> tuple[str, ...]:
        """What the terms found in words, each with its points, in the order of the table of terms."""
        return tuple(f"{c.words} ({points_text(c.points)})" for c in self.charges)


def points_text(points: float) -> str:
    """Points to a tenth, `+4.0` or `−5.0`; `0` for what costs nothing."""
    return f"{points:+.1f}".replace("-", "−") if abs(points) >= 0.05 else "0"


def survey(
    bands: Sequence[Band],
    crystals_hz: Sequence[float],
    *,
    order: int = 9,
    max_vfo_hz: float | None = None,
    min_vfo_hz: float = LOWEST_VFO_HZ,
    junk_box: Sequence[float] = (),
    ladder: LadderFilter | None = None,
) -> tuple[SurveyRow, ...]:
    """Every crystal [Hz] with every combination of schemes that gives all bands a VFO, the cheapest first.

    `order` is the highest m + n of products looked at. `junk_box` are crystals on hand [Hz], surveyed
    too and preferred. `ladder` says what shape and width are wanted; None: those of a new rig. The carrier
    is taken at the crystal's frequency.
    """
    every = tuple(sorted({*crystals_hz, *junk_box}))
    if not every or not bands:
        return ()
    found = [
        options(b.name, b.low_hz, b.high_hz, b.sideband, every, order, min_vfo_hz, max_vfo_hz) for b in bands
    ]
    wanted = ladder or ordinary_ladder(every[0])
    rows = []
    for position, if_hz in enumerate(every):
        choices = [each[position] for each in found]
        if not all(choices):
            continue
        widest = _widest_hz(wanted, if_hz)
        for combination in product(*choices):
            rows.append(_row(Candidate(if_hz, combination, widest, wanted.bandwidth_hz, if_hz in junk_box)))
    return tuple(sorted(rows, key=lambda row: (row.impossible is not None, row.cost, row.if_hz)))


def verdict(rows: Sequence[SurveyRow]) -> str | None:
    """Why even the best of `rows` is none to build, in a sentence; None when it is."""
    if not rows:
        return f"Nothing here to recommend: no crystal gives these bands a VFO; {_MIX_UP}."
    best = rows[0]
    if best.worth_building:
        return None
    advice = f"{_MIX_UP}, or build two rigs" if len(best.schemes) > 1 else _MIX_UP
    worst = ", and ".join(charge.words for charge in _costliest(best.charges))
    return f"Nothing here to recommend: even with {best.crystal}, the best, {worst}; {advice}."


def _costliest(charges: Sequence[Charge]) -> list[Charge]:
    """Those that spoil a row by themselves, else those that cost at least half as much as the worst."""
    ordered = sorted(charges, key=lambda c: -c.points)
    spoiling = [c for c in ordered if c.spoils]
    return spoiling or [c for c in ordered if c.points >= ordered[0].points / 2]


@lru_cache(maxsize=512)
def _widest_hz(ladder: LadderFilter, if_hz: float) -> float:
    return greatest_width_hz(ladder.edited(("crystal",), typical_crystal(if_hz)), if_hz)


def _row(candidate: Candidate) -> SurveyRow:
    each = candidate.options
    low, high = candidate.vfo_hz
    shared = min(o.vfo_hz[1] for o in each) - max(o.vfo_hz[0] for o in each)
    crossings = tuple(sorted((c for o in each for c in o.crossings), key=lambda c: (c.order, c.band)))
    told = charges(candidate)
    return SurveyRow(
        if_hz=candidate.if_hz,
        crystal=f"{candidate.if_hz / 1e6:.9g} MHz",
        schemes=tuple(o.scheme for o in each),
        vfo_low_hz=low,
        vfo_high_hz=high,
        vfo_ratio=candidate.ratio,
        common_hz=max(0.0, shared),
        lowest_crossing_order=crossings[0].order if crossings else None,
        crossings=crossings,
        image_distance_hz=candidate.image_distance_hz,
        sidebands_agree=candidate.sidebands_agree,
        in_junk_box=candidate.on_hand,
        impossible=ladder_impossible(candidate),
        charges=told,
        cost=sum(c.points for c in told),
    )
