"""The held design against the present one, in figures."""

from typing import TypeVar

from app.style import words
from app.style.numbers import number_text
from core.model.project import Project
from core.model.values.quantities import Unit
from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.figure import Table, by_key
from core.rig.figures.filters import FILTER, FilterOn
from core.rig.figures.levels import TRANSMIT, sent
from core.rig.figures.plan import PLAN
from core.rig.figures.read_out import READ_OUT
from core.rig.figures.receive import RECEIVE
from core.rig.figures.vfo import VFO
from core.rig.rules import inspect
from core.rig.sections.rig import shown_on, vfo_on
from core.rig.sections.supply import BATTERY, TOTALS
from core.rig.supply.consumers import feeding
from core.rig.supply.state import battery_life, totals
from core.stages.outcome import Unsolved

T = TypeVar("T")
_NONE = "none"


@record
class Row:
    """One figure in both designs, as text, and what it is."""

    name: str
    held: str
    now: str
    tip: str = ""


@record
class Comparison:
    """The rows found last, and whether they are of the designs and the band on show: an edit's figures are
    compared when the hand rests.
    """

    rows: tuple[Row, ...]
    of: tuple[Project, Project, str]
    current: bool = True


def comparison(held: Analysis, now: Analysis, band: str) -> Comparison:
    """The held design against the present one."""
    return Comparison(differences(held, now, band), (held.project, now.project, band))


def differences(held: Analysis, now: Analysis, band: str) -> tuple[Row, ...]:
    """The figures that differ between two designs on a band, in the order of the signal."""
    before, after = (figures(analysis, band) for analysis in (held, now))
    rows = []
    for name, (_, tip) in (before | after).items():
        was, is_now = (each.get(name, (_NONE, ""))[0] for each in (before, after))
        if was != is_now:
            rows.append(Row(name, _without_unit(was, is_now), is_now, tip))
    return tuple(rows)


def _without_unit(text: str, other: str) -> str:
    """`text` without its unit, when `other` beside it has the same one."""
    number, space, unit = text.rpartition(" ")
    return number if space and other.rpartition(" ")[2] == unit and _is_unit(unit) else text


def _is_unit(word: str) -> bool:
    return bool(word) and not word[-1].isdigit()


#: What is compared of each table, in the order of the signal.
_PLAN = by_key(PLAN, "carrier_hz", "vfo", "image")
_FILTER = by_key(FILTER, "bandwidth_6db_hz", "insertion_loss_db")
_VFO = by_key(VFO, "covers", "worst_hz_per_turn", "drift_hz_per_degree", "start_margin")
_STORED = by_key(READ_OUT, "offset_hz")
_RECEIVE = by_key(RECEIVE, "noise_figure_db", "mds_dbm", "iip3_dbm", "speaker_noise_db_spl")
_SENT = by_key(TRANSMIT, "output_w")
_DRAWN = by_key(TOTALS, "receive_a", "full_a")
_LASTS = by_key(BATTERY, "hours")

_Texts = dict[str, tuple[str, str]]


def figures(analysis: Analysis, band: str) -> _Texts:
    """What a builder compares, by name, with its tip: frequencies, bandwidths, levels of a band."""
    project = analysis.project
    found: _Texts = {"IF": (number_text(round(project.if_hz), Unit("Hz", scaled=True)), "")}
    if all(each.name != band for each in project.bands):
        return found
    on = f", {words.band(band)}"
    found |= _texts(_PLAN, analysis.band_plan(band), after=on)
    crossing = [s for s in analysis.spurs(band, "receive") if s.crosses]
    lowest = min((s.order for s in crossing), default=None)
    found[f"first crossing{on}"] = ("none" if lowest is None else f"order {lowest}", "")
    for row in analysis.filters:
        if band in row.bands and not isinstance(row.figures, Unsolved):
            found |= _texts(_FILTER, FilterOn(analysis, row, band), before=f"{row.name}, ")
    for tuned in vfo_on(analysis):
        if tuned.cover.band == band:
            found |= _texts(_VFO, tuned, before="VFO, ")
    for shown in shown_on(analysis):
        if shown.row.band == band:
            found |= _texts(_STORED, shown, after=on)
    found |= _texts(_RECEIVE, analysis.receive(band))
    found |= _texts(_SENT, sent(analysis, band))
    found |= _fed(analysis)
    found["faults"] = (str(sum(finding.severity == "fault" for finding in inspect(analysis))), "")
    return found


def _fed(analysis: Analysis) -> _Texts:
    """What the rig draws at the nominal voltage, and how long its battery lasts; nothing without a supply."""
    of = feeding(analysis)
    if of is None:
        return {}
    nominal = next(each for each in totals(of) if each.of == "nominal")
    life = battery_life(of)
    return _texts(_DRAWN, nominal, before="supply, ") | ({} if life is None else _texts(_LASTS, life))


def _texts(table: Table[T], of: T, before: str = "", after: str = "") -> _Texts:
    """The figures of a result by their names; those that it has not are left out."""
    had = (figure for figure in table if figure.get(of) is not None)
    return {f"{before}{figure.title}{after}": (figure.text(of), figure.tip) for figure in had}
