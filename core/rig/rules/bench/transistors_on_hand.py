"""Rules on what lies in the junk box: transistors that do as well as those asked for."""

from collections import Counter
from collections.abc import Iterator

from core.model.notebook.junk_box import TransistorOnHand
from core.model.stages.kinds import Stage
from core.rig.analysis import Analysis
from core.rig.circuits import member_on
from core.rig.findings import Edit, Finding, rule
from core.stages.amplifiers.figures import AmplifierFigures, figures, stability
from core.stages.amplifiers.pair import amplifiers_in
from core.stages.amplifiers.stress import SHARE_OF_HEAT
from core.stages.kinds.table import kind_of
from core.stages.outcome import Unsolved
from core.stages.transistors import transistor
from core.trade.devices import devices

#: What a transistor on hand may cost: gain either way, noise figure and intercept, and of the return loss
#: what is more than ordinary, dB; a choice.
_GAIN_DB, _NOISE_DB, _INTERCEPT_DB, _ORDINARY_RETURN_LOSS_DB = 1.0, 1.0, 3.0, 14.0


@rule
def transistor_on_hand(analysis: Analysis) -> Iterator[Finding | None]:
    """A transistor on hand that does as well as the one that an amplifier is to be built of."""
    box, own = analysis.project.junk_box, analysis.project.transistors
    counts: Counter[str] = Counter()
    for each in box.parts if box.first else ():
        if isinstance(each, TransistorOnHand):
            counts[each.device.strip().casefold()] += each.count
    if not counts:
        return
    names = [each.name for each in own] + list(devices())
    for stage in analysis.project.stages:
        device = getattr(stage, "device", "")
        now = _judged(analysis, stage) if device else None
        asked = transistor(device, own)
        if now is None or isinstance(asked, Unsolved) or counts[asked.name.casefold()] >= now.pieces:
            continue
        fit: list[tuple[float, str, str]] = []
        for name in names:
            found = transistor(name, own)
            if isinstance(found, Unsolved) or found.kind != asked.kind:
                continue
            if counts[found.name.casefold()] < now.pieces:
                continue
            changed = stage.tried(("device",), name)
            then = None if changed is None else _judged(analysis, changed)
            yield None
            if then is not None and then.does_for(now):
                fit.append((abs(then.figures[0].gain_db - now.figures[0].gain_db), name, found.name))
        if not fit:
            continue
        _, name, spelled = min(fit)
        path = ("stages", stage.id, "device")
        yield Finding(
            severity="note",
            rule="transistor_on_hand",
            stage=stage.id,
            path=path,
            words=f"{stage.name} is asked for with {asked.name}, of which <limit> are wanted and <figure> on "
            f"hand; {spelled}, which is on hand, does as well.",
            figure=float(counts[asked.name.casefold()]),
            limit=float(now.pieces),
            at_least=True,
            remedy=f"Build it of {spelled}; its resistors then are others.",
            edits=(Edit(f"Build {stage.name} of {spelled}", ((path, name),)),),
            source="both circuits solved: gain and noise within 1 dB, intercept within 3 dB; a choice",
        )


class _Judged:
    """An amplifier's figures in each direction that it has, and how many transistors it takes."""

    def __init__(
        self, found: list[AmplifierFigures], steady: bool, share_of_heat: float, pieces: int
    ) -> None:
        self.figures, self.steady, self.share_of_heat, self.pieces = found, steady, share_of_heat, pieces

    def does_for(self, other: "_Judged") -> bool:
        """Whether it does as well as another, or hardly less so."""
        return (
            (self.steady or not other.steady)
            and self.share_of_heat <= max(SHARE_OF_HEAT, other.share_of_heat)
            and all(_near(one, asked) for one, asked in zip(self.figures, other.figures, strict=True))
        )


def _near(one: AmplifierFigures, asked: AmplifierFigures) -> bool:
    returned = (
        (one.input_return_loss_db, asked.input_return_loss_db),
        (one.output_return_loss_db, asked.output_return_loss_db),
    )
    return (
        abs(one.gain_db - asked.gain_db) <= _GAIN_DB
        and one.noise_figure_db <= asked.noise_figure_db + _NOISE_DB
        and one.oip3_dbm >= asked.oip3_dbm - _INTERCEPT_DB
        and all(then >= min(now, _ORDINARY_RETURN_LOSS_DB) for then, now in returned)
    )


def _judged(analysis: Analysis, stage: Stage) -> _Judged | None:
    making, member = kind_of(stage).making, member_on(stage, analysis.project.bands[0].name)
    if making is None or isinstance(member, Unsolved):
        return None
    found = amplifiers_in(making.design(member.asked, analysis.surroundings))
    got = [figures(each, each.asked_at_hz) for each in found]
    known = [each for each in got if isinstance(each, AmplifierFigures)]
    if not found or len(known) < len(got):
        return None
    steady = [stability(each) for each in found]
    heat = max(point.watt for each in found for point in each.rest.transistors.values())
    return _Judged(
        known,
        all(not isinstance(each, Unsolved) and each.least_mu >= 1 for each in steady),
        heat / found[0].transistor.most_watt,
        len({ref for each in found for ref in each.rest.transistors}),
    )
