"""Rules on strong stations: beside the signal products of two of them and the VFO's noise, and what the
low-pass of the transmitter would keep out that lies far off.
"""

from collections.abc import Iterator
from math import ceil, floor

import numpy as np

from core.circuits.units import added_db
from core.model.stages.stage import StageBase
from core.model.values.quantities import spelled
from core.record import record
from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Edit, Finding, rule
from core.rig.levels.dynamic_range import DynamicRange
from core.rig.levels.receive import S9_DBM, ReceiveLevels
from core.rig.survey.terms import GOOD_REJECTION_DB
from core.stages.kinds.table import kind_of
from core.stages.vfo.noise import Quieter, quieter
from core.stages.vfo.tank import TankDesign

#: Stations of this spacing and strength that a receiver is to bear; of two at once, somewhat weaker ones.
_SPACING_HZ, _PAIR_OVER_S9_DB = 5e3, 30.0

#: Broadcasters that are strong enough to matter off their frequency: very high frequency, short wave [Hz];
#: ITU Radio Regulations, article 5, from memory.
_VHF_HZ = (87.5e6, 108e6)
_SHORT_WAVE_HZ = (
    (5.9e6, 6.2e6),
    (7.2e6, 7.45e6),
    (9.4e6, 9.9e6),
    (11.6e6, 12.1e6),
    (13.57e6, 13.87e6),
    (15.1e6, 15.8e6),
    (17.48e6, 17.9e6),
    (21.45e6, 21.85e6),
)
#: Broadcasters so near the dial are no filter's to keep out, a share of it [-]; those beyond are to be this
#: far down, lest they drive the first stages [dB]. Common practice, no source.
_NEAR, _SHORT_WAVE_DB = 0.15, 30.0
#: A signal held back by so much more is worth a filter [dB]; a choice.
_WORTH_DB = 3.0
_PLACES = 5


def _heard(analysis: Analysis) -> Iterator[tuple[str, ReceiveLevels, DynamicRange, float]]:
    """Every band with its levels, what it bears at the spacing, and all noise at the antenna [dBm]."""
    if not analysis.project.path("receive"):
        return
    for band in analysis.project.bands:
        levels = analysis.receive(band.name)
        at = next(each for each in analysis.dynamic_ranges(band.name) if each.spacing_hz == _SPACING_HZ)
        yield band.name, levels, at, added_db(levels.mds_dbm, levels.band_noise_dbm)


@rule
def reciprocal_mixing(analysis: Analysis) -> Iterator[Finding | None]:
    """A strong station nearby is turned into noise by that of the VFO."""
    for band, _, at, noise_dbm in _heard(analysis):
        if at.reciprocal_db is None:
            continue
        strongest = analysis.project.station.strongest_over_s9_db
        made_dbm = S9_DBM + strongest - at.reciprocal_db
        if made_dbm <= noise_dbm:
            continue
        remedy, edits = "", tuple[Edit, ...]()
        for each in _quieter(analysis, made_dbm - noise_dbm):
            yield None
            if each is not None:
                remedy, edits = each
        yield Finding(
            severity="caution",
            rule="reciprocal_mixing",
            stage="vfo",
            band=band,
            path=("vfo", "noise_dbc_hz"),
            words=(
                f"A station of S9 + {strongest:g} dB {_SPACING_HZ / 1e3:.0f} kHz away makes "
                f"<figure> of noise with the VFO's on {band}; all other noise is <limit>."
            ),
            figure=made_dbm,
            limit=noise_dbm,
            unit="dBm",
            shown=".0f",
            remedy=f"{remedy} Its noise is an estimate until measured.",
            edits=edits,
            source="the VFO's noise as stated, falling by 20 dB a decade; " + COMMON_PRACTICE,
        )


def _quieter(analysis: Analysis, by_db: float) -> Iterator[tuple[str, tuple[Edit, ...]] | None]:
    """What makes the VFO's noise so much less, in words and as the edit that was tried, or why nothing of its
    tank does; None after each try before it.
    """
    wanted, made, stated = f"{ceil(by_db)} dB less noise", analysis.tank, analysis.project.vfo.noise_dbc_hz
    if not isinstance(made, TankDesign) or stated is None:
        yield (
            f"{wanted} of the VFO are wanted, and no tank is known that could be changed: state one, or take "
            "a quieter VFO.",
            (),
        )
        return
    most: Quieter | None = None
    for tried in quieter(made):
        yield None
        if tried is None:
            continue
        if most is None or tried.less_db > most.less_db:
            most = tried
        if tried.less_db >= by_db:
            noise = floor(10 * (stated - tried.less_db)) / 10
            told = f"{tried.words}: {tried.less_db:.1f} dB less noise"
            change = ((("vfo", "tank"), tried.tank), (("vfo", "noise_dbc_hz"), noise))
            yield f"{told} at the same swing.", (Edit(told, change),)
            return
    best = (
        "no other coil of its tank is quieter and starts as surely"
        if most is None
        else f"a coil does at most {most.less_db:.1f} dB of that ({_lower(most.words)})"
    )
    yield (
        f"{wanted} of the VFO are wanted, and {best}: no edit of this rig mends it; build a VFO with more "
        "swing, or one that is mixed or divided down.",
        (),
    )


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:]


@rule
def third_order(analysis: Analysis) -> Iterator[Finding]:
    """Two strong stations nearby should not make a third one where there is none."""
    for band, _, at, noise_dbm in _heard(analysis):
        worst = at.products_by
        if at.iip3_dbm is None or worst is None:
            continue
        each_dbm = S9_DBM + _PAIR_OVER_S9_DB
        product_dbm = 3 * each_dbm - 2 * at.iip3_dbm
        if product_dbm <= noise_dbm:
            continue
        yield Finding(
            severity="caution",
            rule="third_order",
            stage=worst.stage,
            band=band,
            path=("stages", worst.stage),
            words=(
                f"Two stations of S9 + {_PAIR_OVER_S9_DB:.0f} dB {_SPACING_HZ / 1e3:.0f} and "
                f"{2 * _SPACING_HZ / 1e3:.0f} kHz away make a product of <figure> on {band}, most of it in "
                f"{worst.name}; the noise is <limit>."
            ),
            figure=product_dbm,
            limit=noise_dbm,
            unit="dBm",
            shown=".0f",
            remedy=(
                f"A pad of {ceil((product_dbm - noise_dbm) / 2)} dB at the antenna drowns it in noise while "
                f"they are there; for good take gain out ahead of {worst.name}, or raise its intercept."
            ),
            source="intercepts added by voltage, behind the ladder's selectivity; " + COMMON_PRACTICE,
        )


@record(kw_only=True)
class _Kept:
    """What is kept out of a band, dB below the signal, with a low-pass in the receive path and without."""

    name: str
    wanted_db: float
    with_db: float
    without_db: float

    @property
    def helped(self) -> bool:
        """Whether it lacks something without the low-pass, and much less with it."""
        return self.without_db < self.wanted_db and self.with_db > self.without_db + _WORTH_DB


@record(kw_only=True)
class _Either:
    """A band received through a low-pass and without: what is kept out, what the low-pass loses on the dial
    [dB]; noise figure, and how far band noise lies above the receiver's own, each (with, without) [dB].
    """

    band: str
    kept: tuple[_Kept, ...]
    loss_db: float
    noise_figure_db: tuple[float, float]
    noise_margin_db: tuple[float, float]
    wanted_margin_db: float

    @property
    def helped(self) -> tuple[_Kept, ...]:
        """What is helped, the worst without the low-pass first."""
        return tuple(
            sorted(
                (each for each in self.kept if each.helped), key=lambda each: each.without_db - each.wanted_db
            )
        )

    @property
    def deafened(self) -> bool:
        """Whether the low-pass's loss hides band noise that is heard without it."""
        through, without = self.noise_margin_db
        return through < self.wanted_margin_db <= without


def _either(through: Analysis, without: Analysis, band: str) -> _Either | None:
    """None where the band has no frequency plan."""
    plan = next((each for each in through.frequency_plan if each.band == band), None)
    if plan is None:
        return None
    dial = np.linspace(plan.dial_low_hz, plan.dial_high_hz, _PLACES)
    ranges = [
        ("image", GOOD_REJECTION_DB, (plan.image_low_hz, plan.image_high_hz)),
        ("IF", GOOD_REJECTION_DB, (plan.carrier_hz, plan.carrier_hz)),
        ("VHF broadcast", GOOD_REJECTION_DB, _VHF_HZ),
    ]
    for low, high in _SHORT_WAVE_HZ:
        if low > (1 + _NEAR) * plan.dial_high_hz or high < (1 - _NEAR) * plan.dial_low_hz:
            ranges.append((f"broadcast at {(low + high) / 2e6:.0f} MHz", _SHORT_WAVE_DB, (low, high)))
    f = np.concatenate([dial, *(np.linspace(*each, _PLACES) for _, _, each in ranges)])
    loss = [each.front_losses(band, "receive", f).reshape(-1, _PLACES) for each in (through, without)]
    least = [rows[1:].min(axis=1) - rows[0].max() for rows in loss]
    levels = [each.receive(band) for each in (through, without)]
    return _Either(
        band=band,
        kept=tuple(
            _Kept(name=name, wanted_db=wanted, with_db=float(one), without_db=float(other))
            for (name, wanted, _), one, other in zip(ranges, *least, strict=True)
        ),
        loss_db=float(loss[0][0].max() - loss[1][0].max()),
        noise_figure_db=(levels[0].noise_figure_db, levels[1].noise_figure_db),
        noise_margin_db=(levels[0].noise_margin_db, levels[1].noise_margin_db),
        wanted_margin_db=through.project.station.noise_margin_db,
    )


@rule
def low_pass_in_receive(analysis: Analysis) -> Iterator[Finding | None]:
    """Whether the receiver should listen through the transmitter's low-pass too, at this site."""
    project = analysis.project
    if not project.path("receive"):
        return
    for stage in project.path("transmit"):
        if kind_of(stage).role != "low_pass":
            continue
        other = "transmit" if stage.works_in("receive") else "both"
        edit = Edit("", ((("stages", stage.id, "direction"), other),))
        changed = project.tried(*edit.changes[0])
        if changed is None:
            continue
        pair = (analysis, Analysis(changed)) if other == "transmit" else (Analysis(changed), analysis)
        bands: list[_Either] = []
        for band in project.bands:
            found = _either(*pair, band.name)
            if found is not None:
                bands.append(found)
            yield None
        if bands:
            yield _worth_it(stage, bands)


def _worth_it(stage: StageBase, bands: list[_Either]) -> Finding:
    deaf = [each for each in bands if each.deafened]
    helped = [each for each in bands if each.helped]
    worth = bool(helped) and not deaf
    listens = stage.works_in("receive")
    alike = deaf or helped or bands
    told = min(
        alike,
        key=lambda each: (each.helped[0].without_db if each.helped else 0.0, -each.noise_figure_db[0]),
    )
    first = (told.helped or told.kept)[0]
    rest = ", ".join(
        f"{each.name} {each.with_db:.0f} instead of {each.without_db:.0f}" for each in _others(told, first)
    )
    (with_db, without_db), (through, bare) = told.noise_figure_db, told.noise_margin_db
    words = (
        f"Received through {stage.name} the {first.name} on {told.band} is {first.with_db:.0f} dB down "
        f"instead of {first.without_db:.0f}, where {first.wanted_db:.0f} are wanted ({rest}). It loses "
        f"{told.loss_db:.1f} dB: the noise figure is {with_db:.1f} dB instead of {without_db:.1f}, band "
        f"noise <figure> above the receiver's own instead of {bare:.1f}. That is "
    )
    if worth:
        words += "worth it here."
        remedy = "Nothing to do." if listens else "Let it work in both directions."
    else:
        why = "as it hides the band noise" if deaf else "as all this is far enough down without it"
        words += f"not worth it here, {why}."
        remedy = "Let it work in transmit alone." if listens else "Nothing to do."
    others = [spelled(each.band) for each in alike if each is not told]
    if others:
        words += f" So it is on {' and '.join(others)}."
    settled = worth == listens
    change = (("stages", stage.id, "direction"), "transmit" if listens else "both")
    return Finding(
        severity="note",
        rule="low_pass_in_receive" if settled else "low_pass_direction",
        stage=stage.id,
        band="" if others else told.band,
        path=("stages", stage.id, "direction"),
        words=words,
        figure=through,
        limit=told.wanted_margin_db,
        at_least=True,
        unit="dB",
        shown=".1f",
        remedy=remedy,
        edits=() if settled else (Edit(remedy.removesuffix("."), (change,)),),
        source=(
            "ITU-R P.372 median noise; rejection by the front filters alone, wiring leaks more; "
            + COMMON_PRACTICE
        ),
    )


def _others(told: _Either, first: _Kept) -> list[_Kept]:
    """What is named besides: image, IF and VHF, and the broadcasters that are down least without it."""
    fixed = [each for each in told.kept[:3] if each is not first]
    waves = [each for each in told.kept[3:] if each is not first]
    return fixed + sorted(waves, key=lambda each: each.without_db)[:1]
