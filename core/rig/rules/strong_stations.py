"""Rules on strong stations beside the signal: products of two of them, and the VFO's noise."""

from collections.abc import Iterator
from math import ceil

from core.circuits.units import added_db
from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Finding, rule
from core.rig.levels.dynamic_range import DynamicRange
from core.rig.levels.receive import S9_DBM, ReceiveLevels

#: Stations of this spacing and strength that a receiver is to bear; of two at once, somewhat weaker ones.
_SPACING_HZ, _PAIR_OVER_S9_DB = 5e3, 30.0


def _heard(analysis: Analysis) -> Iterator[tuple[str, ReceiveLevels, DynamicRange, float]]:
    """Every band with its levels, what it bears at the spacing, and all noise at the antenna [dBm]."""
    if not analysis.project.path("receive"):
        return
    for band in analysis.project.bands:
        levels = analysis.receive(band.name)
        at = next(each for each in analysis.dynamic_ranges(band.name) if each.spacing_hz == _SPACING_HZ)
        yield band.name, levels, at, added_db(levels.mds_dbm, levels.band_noise_dbm)


@rule
def reciprocal_mixing(analysis: Analysis) -> Iterator[Finding]:
    """A strong station nearby is turned into noise by that of the VFO."""
    for band, _, at, noise_dbm in _heard(analysis):
        if at.reciprocal_db is None:
            continue
        strongest = analysis.project.station.strongest_over_s9_db
        made_dbm = S9_DBM + strongest - at.reciprocal_db
        if made_dbm <= noise_dbm:
            continue
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
            remedy=(
                f"Make the VFO quieter by {ceil(made_dbm - noise_dbm)} dB: more swing at its tank, a coil of "
                "higher Q. Its noise is an estimate until measured."
            ),
            source="the VFO's noise as stated, falling by 20 dB a decade; " + COMMON_PRACTICE,
        )


@rule
def third_order(analysis: Analysis) -> Iterator[Finding]:
    """Two strong stations nearby should not make a third one where there is none."""
    for band, levels, at, noise_dbm in _heard(analysis):
        if at.iip3_dbm is None:
            continue
        each_dbm = S9_DBM + _PAIR_OVER_S9_DB
        product_dbm = 3 * each_dbm - 2 * at.iip3_dbm
        if product_dbm <= noise_dbm:
            continue
        worst = next(block for block in levels.blocks if block.name == at.products_by)
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
