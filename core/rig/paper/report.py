"""Every computed figure of a rig as plain data, and as text tables for a terminal."""

from collections.abc import Mapping, Sequence
from typing import Any

from core.model.values.quantities import spelled
from core.model.values.wording import visible
from core.rig.analysis import Analysis
from core.rig.bench.batch_figures import c0_too_small, figures
from core.rig.bench.crystal_bench import FIXTURE_ERRORS, BatchRow
from core.rig.figures.crystals import BATCH, CRYSTALS, INTERVALS, PLACED, PLACEMENT, RESPONSES
from core.rig.figures.figure import Row, Table, finite, label, lines, plain_row
from core.rig.figures.parts import DESIGNED, PARTS, PREFERRED
from core.rig.figures.read_out import REFUSED
from core.rig.figures.survey import CROSSINGS, SURVEY
from core.rig.figures.vfo import SOLVED, VFO
from core.rig.rules import inspect
from core.rig.sections.rig import LEVELS, SECTIONS, Section, vfo_on
from core.rig.survey.if_survey import SurveyRow, verdict
from core.rig.workshop.point_figures import POINTS
from core.rig.workshop.test_points import points_of
from core.stages.crystals.crystal_choice import Placement
from core.stages.vfo.tank import TankDesign

#: Every table of a report but levels and findings.
_SECTIONS = (*SECTIONS, Section("test_points", POINTS, points_of))


def report(analysis: Analysis) -> dict[str, Any]:
    """The figures as nested plain data in SI units; None stands for what does not exist."""
    data: dict[str, Any] = {"name": analysis.project.name}
    data |= {section.key: section.rows(analysis) for section in _SECTIONS}
    for row, other in zip(data["read_out"], analysis.read_out_options, strict=True):
        row["refused"] = [plain_row(REFUSED, each) for each in other.refused]
    data["levels"] = {section.key: section.rows(analysis) for section in LEVELS}
    data["findings"] = [
        {
            "severity": finding.severity,
            "rule": finding.rule,
            "stage": finding.stage,
            "band": finding.band,
            "subject": finding.subject,
            "path": list(finding.path),
            "figure": finite(finding.figure),
            "limit": finite(finding.limit),
            "unit": finding.unit,
            "text": finding.text,
            "remedy": finding.remedy,
            "source": finding.source,
        }
        for finding in inspect(analysis)
    ]
    return data


def as_text(data: Mapping[str, Any]) -> str:
    """The report as text tables: a heading and a table for each group of rows."""
    sections = [f"{visible(data['name'])}\n"]
    for section in _SECTIONS:
        rows = data[section.key]
        refused = [
            f"{spelled(r['band'])}, not: {e['scheme']}. {e['reason']}"
            for r in rows
            for e in r.get("refused", ())
        ]
        sections.append(_section(section.key.replace("_", " "), [*_table(section.table, rows), *refused]))
    for section in LEVELS:
        sections.append(_section(f"{section.key} levels", _table(section.table, data["levels"][section.key])))
    found = [f"{r['severity']:8}{r['text']} {r['remedy']}" for r in data["findings"]]
    sections.append(_section("findings", found))
    return "\n".join(filter(None, sections))


def _section(title: str, rows: Sequence[str]) -> str:
    return _lines([title.upper(), *rows, ""]) if rows else ""


def survey_report(rows: Sequence[SurveyRow]) -> list[Row]:
    """Survey rows as plain data, best first."""
    return [
        plain_row(SURVEY, row)
        | {
            "crossings": [plain_row(CROSSINGS, crossing) for crossing in row.crossings],
            "terms": [
                {"key": c.key, "title": c.title, "points": c.points, "words": c.words} for c in row.charges
            ],
        }
        for row in rows
    ]


def survey_text(rows: Sequence[SurveyRow], most: int = 20) -> str:
    """The best survey rows as a text table with the points of every term; first the verdict."""
    table = (*SURVEY, label("terms", "terms, with their points", lambda row: ""))
    shown = [
        data | {"terms": "; ".join(row.reasons)}
        for row, data in zip(rows[:most], survey_report(rows[:most]), strict=True)
    ]
    for data in shown:
        # What cannot be built has no place in the order by cost.
        data["cost"] = "—" if data["impossible"] else data["cost"]
    left = f"\n{len(rows) - most} further rows; --json prints them all." if len(rows) > most else ""
    advice = verdict(rows)
    return "\n".join(([advice, ""] if advice else []) + _table(table, shown)) + left


def crystals_report(batch: Sequence[BatchRow], placement: Placement | None) -> dict[str, Any]:
    """A batch of measured crystals, its statistics and placement as plain data; None: not known."""
    rows = [
        plain_row(CRYSTALS, row)
        | {
            "confidence": dict(row.parameters.whole_spread) if row.parameters else {},
            "confidence_of_readings": dict(row.parameters.spread) if row.parameters else {},
        }
        for row in batch
    ]
    found = figures(batch)
    data: dict[str, Any] = {"crystals": rows, "statistics": None, "placement": None}
    if found is not None:
        data["statistics"] = plain_row(BATCH, found) | {
            "outliers": [{"label": each, "in": what} for each, what in found.outliers],
            "c0_doubt": c0_too_small(batch) or None,
        }
    if placement is not None:
        data["placement"] = [plain_row(PLACED, each) for each in placement.placed]
        data["placement_error"] = plain_row(PLACEMENT, placement)
        data["placement_responses"] = [plain_row(RESPONSES, each) for each in placement.figures]
        data["placement_doubt"] = placement.doubt or None
    return data


def crystals_text(data: Mapping[str, Any]) -> str:
    """The batch as text tables."""
    if not data["crystals"]:
        return "No crystals in the table."
    far = {each["label"]: each["in"] for each in (data["statistics"] or {}).get("outliers", ())}
    shown, intervals = [], []
    for row in data["crystals"]:
        remarks = (row["refused"], "left out" if row["left_out"] else "", far.get(row["label"]), row["doubt"])
        shown.append(row | {"remark": "; ".join(filter(None, remarks)) or None})
        for of, key in (("readings", "confidence_of_readings"), ("at worst", "confidence")):
            if row[key]:
                none = dict.fromkeys(figure.key for figure in INTERVALS)
                intervals.append(none | row[key] | {"label": row["label"], "of": of})
    text = _table((*CRYSTALS, _NOTED["remark"]), shown)
    if (data["statistics"] or {}).get("c0_doubt"):
        text += ["", data["statistics"]["c0_doubt"]]
    if intervals:
        text += ["", f"95 % intervals of the readings; at worst with a fixture off by {FIXTURE_ERRORS}", ""]
        text += _table((_NOTED["label"], _NOTED["of"], *INTERVALS), intervals)
    if data["placement"]:
        rms, ordered, random = (figure.read(data["placement_error"]) for figure in PLACEMENT)
        text += ["", *_table(PLACED, data["placement"]), ""]
        text.append(f"meshes {rms} rms apart; closest crystals merely sorted {ordered}, at random {random}")
        if data["placement_responses"]:
            text += ["", *_table(RESPONSES, data["placement_responses"])]
        text += ["", data["placement_doubt"]] if data["placement_doubt"] else []
    return _lines(text)


#: Columns of words beside the figures of crystals.
_NOTED: dict[str, Any] = {
    key: label(key, title, lambda row: "")
    for key, title in (("label", "label"), ("of", "±"), ("remark", "remark"))
}


def vfo_text(analysis: Analysis, made: TankDesign) -> str:
    """The VFO as text: parts, what was fixed and what found, figures a band, what stands in the way."""
    parts = [
        {"ref": p.ref, "designed": p.designed, "preferred": p.fitted, "unit": p.unit, "note": p.note}
        for p in made.parts
    ]
    words = [figure for figure in PARTS if figure.key in ("ref", "note")]
    text = [*_table((words[0], DESIGNED, PREFERRED, words[1]), parts), ""]
    text += [*(f"{each.title}: {each.text(made)}" for each in reversed(SOLVED)), ""]
    return _lines(
        [*text, *_table(VFO, [plain_row(VFO, each) for each in vfo_on(analysis)]), *map(str, made.limits)]
    )


def _lines(rows: Sequence[str]) -> str:
    """Lines one below the other; a name that holds a line break or more does not break or steer them."""
    return "\n".join(visible(row) for row in rows)


def _table(table: Table[Any], rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """Rows of JSON as aligned columns below the figures' titles; nothing for no rows."""
    cells = [[visible(text) for text in line] for line in lines(table, rows)] if rows else []
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    return [
        "  ".join(text.ljust(width) for text, width in zip(line, widths, strict=True)).rstrip()
        for line in cells
    ]
