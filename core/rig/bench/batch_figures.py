"""What a batch of crystals comes to: how they scatter, and which lie far out."""

from collections.abc import Callable, Sequence

import numpy as np

from core.circuits.ladder import Array, frozen
from core.model.values.notation import format_value
from core.record import record
from core.rig.bench.crystal_bench import BatchRow
from core.stages.crystals.crystals import CrystalParameters

#: Further from the median than this many median deviations is an outlier, among so many or more, and only
#: when it matters: shares of fs, ratios of Lm and of Q (logarithms).
_OUTLIER_DEVIATIONS, _FEWEST_TO_JUDGE = 5.0, 5
_OUTLIER_SHARE_OF_FS, _OUTLIER_LM, _OUTLIER_LOSS = 5e-6, 0.04, 0.5


@record(kw_only=True)
class BatchFigures:
    """Mean and standard deviation over the crystals that may be chosen.

    `outliers` are the labels of those that lie far out, and in what.
    """

    count: int
    fs_hz: tuple[float, float]
    lm_h: tuple[float, float]
    q: tuple[float, float] | None
    spread_hz: float
    outliers: tuple[tuple[str, str], ...]


@record
class Histogram:
    """Series resonances in bins: edges (B + 1,) less the median [Hz], counts (B,), the median [Hz].

    Crystals beyond the outer edges are counted in the outermost bins, `below` and `above` of them.
    """

    edges_hz: Array
    counts: Array
    median_hz: float
    below: int
    above: int


#: The histogram reaches this many robust deviations to both sides; what lies further would flatten it.
_HISTOGRAM_DEVIATIONS = 4.0


#: Median deviations over standard deviation for a normal distribution.
_NORMAL = 1.4826


def histogram(batch: Sequence[BatchRow]) -> Histogram | None:
    """How series resonance scatters over the good crystals; None with fewer than two different ones."""
    fs = np.array([row.parameters.fs_hz for row in batch if row.parameters is not None])
    if fs.size < 2 or np.ptp(fs) == 0:
        return None
    median = float(np.median(fs))
    offset = fs - median
    reach = _HISTOGRAM_DEVIATIONS * _NORMAL * float(np.median(np.abs(offset)))
    inside = offset[np.abs(offset) <= reach] if reach > 0 else offset
    low, high = float(inside.min()), float(inside.max())
    if low == high:
        inside, low, high = offset, float(offset.min()), float(offset.max())
    counts, edges = np.histogram(inside, bins="auto")
    below, above = int(np.sum(offset < low)), int(np.sum(offset > high))
    counts[0] += below
    counts[-1] += above
    return Histogram(frozen(edges), frozen(counts.astype(float)), median, below, above)


def figures(batch: Sequence[BatchRow]) -> BatchFigures | None:
    """Statistics of the crystals of a batch that may be chosen; None when there is none.

    How far out a crystal lies is told of those too that are left out.
    """
    read = [row.parameters for row in batch if row.parameters is not None]
    good = [row.parameters for row in batch if row.parameters is not None and not row.left_out]
    if not good:
        return None
    fs, lm = np.array([c.fs_hz for c in good]), np.array([c.lm_h for c in good])
    q = np.array([c.q for c in good if c.q is not None])
    many = min(len(good) - 1, 1)
    return BatchFigures(
        count=len(good),
        fs_hz=(float(fs.mean()), float(fs.std(ddof=many))),
        lm_h=(float(lm.mean()), float(lm.std(ddof=many))),
        q=None if q.size == 0 else (float(q.mean()), float(q.std(ddof=min(q.size - 1, 1)))),
        spread_hz=float(np.ptp(fs)),
        outliers=_outliers(read),
    )


def c0_too_small(batch: Sequence[BatchRow]) -> str:
    """One sentence for all crystals whose C0, which nobody measured, is less than quartz allows; or none.

    It is a matter of the C0 assumed and not of the crystals, so no crystal's remark repeats it.
    """
    good = [row.parameters for row in batch if row.parameters is not None and not row.left_out]
    least = [each.least_c0_f for each in good if each.least_c0_f is not None]
    if not least:
        return ""
    whose = "The crystal" if len(good) == 1 else f"{len(least)} of {len(good)} crystals"
    verb = "has" if len(good) == 1 or len(least) == 1 else "have"
    return (
        f"{whose} {verb} a Cm that wants a C0 of {format_value(max(least), 'F', 2)} or more; measure C0 and "
        "give it."
    )


def _outliers(good: Sequence[CrystalParameters]) -> tuple[tuple[str, str], ...]:
    """Crystals far from the others, and in what; of a handful nobody can say which one is odd."""
    if len(good) < _FEWEST_TO_JUDGE:
        return ()
    found: dict[str, list[str]] = {}

    def judge(values: Array, least: float, say: Callable[[float], str], *, above_only: bool = False) -> None:
        """Note what lies more than five median deviations, and more than `least`, from the median."""
        offset = values - np.median(values)
        limit = max(_OUTLIER_DEVIATIONS * float(np.median(np.abs(offset))), least)
        for crystal, off in zip(good, offset, strict=True):
            if off > limit or (off < -limit and not above_only):
                found.setdefault(crystal.label, []).append(say(float(off)))

    fs = np.array([c.fs_hz for c in good])
    judge(fs, _OUTLIER_SHARE_OF_FS * float(np.median(fs)), lambda off: f"fs {off:+.0f} Hz".replace("-", "−"))
    lm = np.log([c.lm_h for c in good])
    judge(lm, _OUTLIER_LM, lambda off: f"Lm {100 * np.expm1(off):+.0f} %".replace("-", "−"))
    known = [c.half_width_hz for c in good if c.half_width_hz is not None]
    if len(known) >= _FEWEST_TO_JUDGE:
        usual = float(np.median(known))
        half = np.log([usual if c.half_width_hz is None else c.half_width_hz for c in good])
        judge(half, _OUTLIER_LOSS, lambda off: f"Q only {100 * np.exp(-off):.0f} % of usual", above_only=True)
    return tuple((label, ", ".join(what)) for label, what in sorted(found.items()))
