"""Every part of the rig with its kind, its temperature coefficient and how many are alike: what to get."""

import csv
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from io import StringIO

from core.model.notebook.junk_box_table import guarded
from core.model.stages.filters import LadderFilter
from core.model.values.errors import DesignError
from core.model.values.notation import plain
from core.model.values.parts import TYPED
from core.model.values.quantities import spelled
from core.record import record
from core.rig.analysis import Analysis
from core.rig.bench import crystal_bench, crystals_in_ladder
from core.rig.figures.parts import part_value
from core.rig.paper.stock import Stock
from core.rig.rows import OSCILLATORS, RigPart
from core.rig.supply.soldered import supply_soldered
from core.rig.wound.windings import cores_of
from core.stages.crystals.crystal_choice import Placed
from core.stages.kinds.kind import FILTERS, Role
from core.stages.kinds.table import kind_of
from core.stages.outcome import PartRow, unused
from core.stages.vfo import vfo
from core.stages.vfo.tank import TankDesign
from core.trade.temperature import Coefficient, coefficients

#: The unit each SI unit's parts are spoken of in, and the power of ten between.
_SPOKEN = {"F": ("pF", 12), "H": ("µH", 6), "Hz": ("MHz", -6)}
#: For what capacitors are, by the role of their stage, that more will do for as well: they couple, block, or
#: keep a voltage still. The others decide a frequency, those that couple at audio the lowest.
_AT_RF = frozenset({"coupling", "bypass", "decoupling", "feedback_block", "swamping_block"})
_AMPLE: Mapping[Role, frozenset[str]] = {
    "amplifier": _AT_RF,
    "power_amplifier": _AT_RF,
    "audio": frozenset({"feed_bypass", "bias_bypass", "bootstrap"}),
}
#: Capacitors outside filters and VFO that are to stay as they are: of a crystal oscillator's divider, of a
#: power amplifier's match, against the trimmer of a modulator's balance.
_STEADY = frozenset({"feedback_upper", "feedback_lower", "match_capacitor", "balance_capacitor"})
_HEADS = (
    "stage",
    "bands",
    "part",
    "what",
    "kind",
    "ppm/K",
    "± ppm/K",
    "crystal",
    "designed",
    "preferred",
    "as built",
    "unit",
    "alike in the rig",
    "on hand",
    "to buy",
    "note",
)


@record(kw_only=True)
class ListedPart:
    """One part: its stage, the circuit it belongs to, its type (None: of no particular one), its crystal.

    `crystal` is the label of the measured crystal that stands there, `alike` how many parts of the rig have
    the same kind, type and fitted value. Of the pieces that it takes `on_hand` lie in the junk box and
    `to_buy` do not, those before it in the list served first; what is built wants none of either. `instead`
    are larger capacitors on hand that do for its value [F], and its trimmer may be on hand.
    """

    stage: str
    name: str
    bands: tuple[str, ...]
    index: int | None
    part: PartRow
    type: Coefficient | None
    crystal: str
    alike: int
    on_hand: int = 0
    to_buy: int = 0
    instead: tuple[float, ...] = ()
    trimmer_on_hand: bool = False

    @property
    def kind(self) -> str:
        """What kind to get, with its coefficient: `N150 (P2H), −150 ± 60 ppm/K`; empty where any will do."""
        if self.crystal:
            return f"crystal {self.crystal}"
        if self.instead:
            larger = " and ".join(part_value(each, "F") for each in dict.fromkeys(self.instead))
            return f"{larger} on hand will do"
        if self.type is None:
            return ""
        sign = "" if self.type.ppm == 0 else "+" if self.type.ppm > 0 else "−"
        return f"{self.type.name}, {sign}{abs(self.type.ppm):g} ± {self.type.tolerance_ppm:g} ppm/K"


def parts_list(analysis: Analysis, stock: Stock | None = None) -> tuple[ListedPart, ...]:
    """Every part of every circuit that could be designed, of the VFO and of the supply, in the order of the
    path.

    The VFO's are all that its schematic draws. Capacitors of filters are C0G, as everything that decides a
    frequency, a match or a balance is unless it compensates; the VFO's are of the types chosen there. For
    coupling and bypass any kind will do. What they take of the junk box is taken out of `stock`.
    """
    known = coefficients()
    names = (
        {stage.id: stage.name for stage in analysis.project.stages}
        | OSCILLATORS
        | {"vfo": "VFO", "supply": "Supply"}
    )
    tank = analysis.project.vfo.tank
    found: list[ListedPart] = []
    labels: dict[tuple[str, str], str] = {}
    filters = {stage.id for stage in analysis.project.stages if kind_of(stage).role in FILTERS}
    for stage in analysis.project.stages:
        ladder = kind_of(stage).ladder(stage)
        if ladder is not None:
            labels |= {(stage.id, each.ref): each.label for each in placement(analysis, ladder)}
    fed = supply_soldered(analysis)
    of_supply = () if fed is None else (RigPart("supply", (), None, part) for part in fed.parts)
    for each in (*analysis.parts, *of_supply):
        part, name = each.part, None
        if part.kind == "coupling":
            # What two coils share is no part to get.
            continue
        if each.stage == "vfo" and tank is not None:
            name = vfo.type_of(part.role, tank)
        elif part.kind == "capacitor" and (each.stage in filters or part.role in _STEADY):
            name = "c0g"
        type_ = None if name is None else known[name]
        if each.stage == "vfo" and part.role == "coil" and isinstance(analysis.tank, TankDesign):
            type_ = analysis.tank.coil_kind
        crystal = labels.get((each.stage, part.ref), "")
        found.append(
            ListedPart(
                stage=each.stage,
                name=names[each.stage],
                bands=each.bands,
                index=each.index,
                part=part,
                type=type_,
                crystal=crystal,
                alike=1,
            )
        )
    counts, stock = Counter(map(sort_of, found)), stock or Stock(analysis.project.junk_box)
    first = analysis.project.junk_box.first
    ample = {s.id: _AMPLE.get(kind_of(s).role, frozenset()) for s in analysis.project.stages}
    cores = cores_of(analysis)
    listed = []
    for row in found:
        core = cores.get((row.stage, row.bands, row.part.ref), "")
        taken = stock.taken_for(
            row.part,
            row.type,
            core,
            measured=bool(row.crystal),
            ample=first and row.part.role in ample.get(row.stage, ()),
        )
        listed.append(
            replace(
                row,
                alike=counts[sort_of(row)],
                on_hand=taken.on_hand,
                to_buy=taken.to_buy,
                instead=taken.instead,
                trimmer_on_hand=taken.trimmer,
            )
        )
    return tuple(listed)


def sort_of(each: ListedPart) -> tuple[str, str, str]:
    """What parts are alike by: kind, type and value; transformers and what has a type by that."""
    name = "" if each.type is None else each.type.type
    if each.part.kind in (*TYPED, "transformer"):
        return each.part.kind, name, each.part.type or each.part.note
    return each.part.kind, name, f"{each.part.fitted:.{_digits(each.part)}g} {each.part.unit}"


def _digits(part: PartRow) -> int:
    """Significant digits of a part's value: crystals to the hertz, others to what can be measured."""
    return 10 if part.unit == "Hz" else 5


def placement(analysis: Analysis, ladder: LadderFilter) -> tuple[Placed, ...]:
    """The measured crystals that a ladder is built of; empty when it is not."""
    batch = analysis.project.crystal_batch
    if not ladder.as_built or not batch.readings:
        return ()
    try:
        rows = crystal_bench.batch_of(batch)
    except DesignError:
        return ()
    return crystals_in_ladder.fitted(rows, analysis.asked(ladder))


def parts_csv(analysis: Analysis) -> str:
    """The list as CSV with a header row, a line a part; values in the unit named beside them."""
    text = StringIO()
    lines = csv.writer(text)
    lines.writerow(_HEADS)
    for each in parts_list(analysis):
        part = each.part
        unit, power = _SPOKEN.get(part.unit, (part.unit, 0))
        values = (part.designed, part.preferred, part.as_built)
        lines.writerow(
            (
                guarded(each.name),
                guarded(" ".join(spelled(band) for band in each.bands)),
                guarded(part.ref),
                part.kind,
                "" if each.type is None else each.type.name,
                "" if each.type is None else f"{each.type.ppm:g}",
                "" if each.type is None else f"{each.type.tolerance_ppm:g}",
                guarded(each.crystal),
                *("" if value is None else plain(value, _digits(part), power) for value in values),
                unit,
                each.alike,
                each.on_hand,
                each.to_buy,
                guarded(part.note),
            )
        )
    return text.getvalue()


def idle_values(as_built: tuple[tuple[str, float], ...], parts: tuple[PartRow, ...]) -> tuple[str, ...]:
    """Keys of values as built that no part of a design takes."""
    return unused(as_built, parts)
