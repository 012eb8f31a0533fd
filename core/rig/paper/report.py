"""Every computed figure of a rig as plain data, and as text tables for a terminal."""

from collections.abc import Mapping, Sequence
from math import isfinite
from typing import Any

from core.model.values.notation import format_value
from core.model.values.wording import visible
from core.rig.analysis import Analysis
from core.rig.bench.crystal_bench import FIXTURE_ERRORS, BatchRow, c0_too_small, figures
from core.rig.rows import FilterRow
from core.rig.rules import inspect
from core.rig.survey.if_survey import SurveyRow, verdict
from core.stages.crystals.crystal_choice import Placement
from core.stages.crystals.crystals import FIGURES
from core.stages.filters import ladder_figures
from core.stages.filters.carrier_oscillator import CarrierPlace, group_delay_spread_s
from core.stages.kinds.table import KINDS
from core.stages.outcome import FilterDesign, FilterFigures, Unsolved
from core.stages.vfo.tank import TankDesign

Row = dict[str, Any]


def report(analysis: Analysis) -> dict[str, Any]:
    """The figures as nested plain data in SI units; None stands for what does not exist."""
    bands = [band.name for band in analysis.project.bands]
    return {
        "name": analysis.project.name,
        "frequency_plan": [_plan_row(plan) for plan in analysis.frequency_plan],
        "spurs": [
            {
                "band": spur.band,
                "kind": spur.kind,
                "products": spur.products,
                "order": spur.order,
                "dial_hz": spur.dial_hz,
                "crosses": spur.crosses,
                "level_dbc": _number(spur.level_dbc),
                "level": spur.level,
                "moves": spur.moves,
            }
            for name in bands
            for spur in analysis.spurs(name)
        ],
        "filters": [
            _filter_row(analysis, row, band) for row in analysis.filters for band in row.bands or ("",)
        ],
        "carrier": [
            {
                "sideband": row.sideband,
                "bands": list(row.bands),
                "frequency_hz": row.place.frequency_hz,
                "reachable_low_hz": row.pulling and row.pulling.reachable_low_hz,
                "reachable_high_hz": row.pulling and row.pulling.reachable_high_hz,
                "trimmer_f": row.pulling and row.pulling.trimmer_f,
                "coil_h": row.pulling and row.pulling.coil_h,
                "carrier_suppression_db": row.place.suppression_db + analysis.project.carrier.balance_db,
                "unwanted_sideband_300hz_db": row.place.unwanted_sideband_300hz_db,
                "unwanted_sideband_1khz_db": row.place.unwanted_sideband_1khz_db,
                "unwanted_sideband_2khz_db": row.place.unwanted_sideband_2khz_db,
                "lowest_audio_hz": row.place.lowest_audio_hz,
            }
            for row in analysis.carriers
        ],
        "vfo": _vfo_rows(analysis),
        "read_out": _read_out_rows(analysis),
        "levels": {
            "receive": [_receive_row(analysis, name) for name in bands if analysis.project.path("receive")],
            "transmit": [
                _transmit_row(analysis, name) for name in bands if analysis.project.path("transmit")
            ],
        },
        "findings": [
            {
                "severity": finding.severity,
                "rule": finding.rule,
                "stage": finding.stage,
                "band": finding.band,
                "subject": finding.subject,
                "path": list(finding.path),
                "figure": _number(finding.figure),
                "limit": _number(finding.limit),
                "unit": finding.unit,
                "text": finding.text,
                "remedy": finding.remedy,
                "source": finding.source,
            }
            for finding in inspect(analysis)
        ],
        "parts": [
            {
                "stage": row.stage,
                "bands": list(row.bands),
                "ref": row.part.ref,
                "kind": row.part.kind,
                "designed": row.part.designed,
                "preferred": row.part.preferred,
                "as_built": row.part.as_built,
                "unit": row.part.unit,
                "note": row.part.note,
                "peak_voltage_v": row.stress and row.stress.peak_v,
                "rms_current_a": row.stress and row.stress.rms_a,
                "lost_w": row.stress and row.stress.loss_w,
            }
            for row in analysis.parts
        ],
    }


def _vfo_rows(analysis: Analysis) -> list[Row]:
    """A row a band; none where the VFO has no tank or its range is none."""
    made = analysis.tank
    if not isinstance(made, TankDesign):
        return []
    rows = []
    for cover in made.ranges:
        of = analysis.vfo_on(cover.band)
        known = None if isinstance(of, Unsolved) else of
        rows.append(
            {
                "band": cover.band,
                "wanted_low_hz": cover.wanted_low_hz,
                "wanted_high_hz": cover.wanted_high_hz,
                "covers_low_hz": cover.covers_low_hz,
                "covers_high_hz": cover.covers_high_hz,
                "worst_hz_per_turn": known and known.dial.worst_hz_per_turn,
                "scale_error_hz": known and known.dial.worst_scale_error_hz,
                "drift_hz_per_degree": known and [each.hz_per_k for each in known.drift],
                "worst_drift_hz_per_degree": known and max(d.worst_hz_per_k for d in known.drift),
                "start_margin": known and min(known.start),
            }
        )
    return rows


def _read_out_rows(analysis: Analysis) -> list[Row]:
    plan = analysis.read_out
    if plan is None:
        return []
    rows = []
    for row, other in zip(plan.bands, analysis.read_out_options, strict=True):
        r = None if isinstance(row.reading, Unsolved) else row.reading
        rows.append(
            {
                "band": row.band,
                "scheme": r and r.scheme,
                "offset_hz": r and r.offset_hz,
                "direction": r and r.direction,
                "helper_hz": r and r.helper_hz,
                "counted_low_hz": r and min(r.counted_hz),
                "counted_high_hz": r and max(r.counted_hz),
                "shows_low_hz": r and r.shows_hz[0],
                "shows_high_hz": r and r.shows_hz[1],
                "resolution_hz": plan.resolution_hz,
                "error_hz": row.error and row.error.hz,
                "error_measured_hz": row.error and row.error.measured_hz,
                "unmeasured": [] if row.error is None else list(row.error.unmeasured),
                "filter": r and r.filter,
                "programme": row.programme,
                "refused": [{"scheme": each.scheme, "reason": each.reason} for each in other.refused],
            }
        )
    return rows


def _plan_row(plan: Any) -> Row:
    return {
        "band": plan.band,
        "scheme": plan.scheme,
        "dial_low_hz": plan.dial_low_hz,
        "dial_high_hz": plan.dial_high_hz,
        "vfo_low_hz": plan.vfo_low_hz,
        "vfo_high_hz": plan.vfo_high_hz,
        "image_low_hz": plan.image_low_hz,
        "image_high_hz": plan.image_high_hz,
        "carrier_hz": plan.carrier_hz,
        "sideband_inverted": plan.sideband_inverted,
    }


def _filter_row(analysis: Analysis, row: FilterRow, band: str) -> Row:
    figures = row.figures if isinstance(row.figures, FilterFigures) else None
    design = row.design if isinstance(row.design, FilterDesign) else None
    return {
        "stage": row.stage,
        "kind": row.kind,
        "band": band,
        "centre_hz": figures and figures.centre_hz,
        "bandwidth_3db_hz": figures and figures.bandwidth_3db_hz,
        "bandwidth_6db_hz": figures and figures.bandwidth_6db_hz,
        "bandwidth_60db_hz": figures and figures.bandwidth_60db_hz,
        "ripple_db": figures and _number(figures.ripple_db),
        "insertion_loss_db": figures and _number(figures.insertion_loss_db),
        "served_loss_db": figures and _optional(figures.served_loss_db),
        "served_return_loss_db": figures and _optional(figures.served_return_loss_db),
        "end_resistance_ohm": design and design.end_resistance_ohm,
        "return_loss_db": None if figures is None else _number(figures.return_loss_db),
        **_of_a_ladder(analysis, row, band),
    }


def _of_a_ladder(analysis: Analysis, row: FilterRow, band: str) -> Row:
    """What is told of a ladder alone: the spread of its group delay over 300 to 2700 Hz of speech, the least
    loss of its far stop-band over its least loss at all, and how its ends meet the resistance around.
    """
    figures: Row = dict.fromkeys(("group_delay_spread_s", "ultimate_attenuation_db", "end_match"))
    ladder = KINDS[row.kind].ladder(analysis.project.stage(row.stage))
    solved = None if ladder is None else analysis.solved(ladder)
    if ladder is not None and isinstance(row.design, FilterDesign):
        figures["end_match"] = ladder_figures.end_match(ladder, row.design)
    if solved is None or isinstance(solved, Unsolved):
        return figures
    place = analysis.carrier(band) if band else None
    if isinstance(place, CarrierPlace):
        spread = group_delay_spread_s(solved, place)
        figures["group_delay_spread_s"] = None if isinstance(spread, Unsolved) else spread
    stop = ladder_figures.stop_band(solved)
    figures["ultimate_attenuation_db"] = None if isinstance(stop, Unsolved) else _number(stop.ultimate_db)
    return figures


def _receive_row(analysis: Analysis, band: str) -> Row:
    r = analysis.receive(band)
    return {
        "band": band,
        "gain_db": r.gain_db,
        "noise_figure_db": r.noise_figure_db,
        "image_noise_db": r.image_noise_db,
        "detector_image_noise_db": r.detector_image_noise_db,
        "noise_bandwidth_hz": r.bandwidth_hz,
        "iip3_dbm": r.iip3_dbm,
        "iip3_to_filter_dbm": r.iip3_to_filter_dbm,
        "mds_dbm": r.mds_dbm,
        "band_noise_dbm": r.band_noise_dbm,
        "noise_margin_db": r.noise_margin_db,
        "noise_above_own": r.noise_above_own,
        "noise_heard": r.noise_heard,
        "speaker_noise_db_spl": r.speaker_noise_db_spl,
    }


def _transmit_row(analysis: Analysis, band: str) -> Row:
    t = analysis.transmit(band)
    harmonics = analysis.harmonics(band)
    return {
        "band": band,
        "output_w": t.output_w,
        "worst_headroom_db": t.worst_headroom_db,
        "worst_harmonic_dbc": _number(max(h.result_dbc for h in harmonics)) if harmonics else None,
    }


def _number(value: float | None) -> float | None:
    """None for an infinite figure (a response that passes nothing at all), which JSON cannot say."""
    return value if value is not None and isfinite(value) else None


def _optional(value: float | None) -> float | None:
    return None if value is None else _number(value)


def survey_report(rows: Sequence[SurveyRow]) -> list[Row]:
    """Survey rows as plain data, best first."""
    return [
        {
            "if_hz": row.if_hz,
            "crystal": row.crystal,
            "schemes": list(row.schemes),
            "vfo_low_hz": row.vfo_low_hz,
            "vfo_high_hz": row.vfo_high_hz,
            "vfo_ratio": row.vfo_ratio,
            "lowest_crossing_order": row.lowest_crossing_order,
            "crossings": [
                {"band": c.band, "products": c.products, "order": c.order, "dial_hz": c.dial_hz}
                for c in row.crossings
            ],
            "image_distance_hz": row.image_distance_hz,
            "sidebands_agree": row.sidebands_agree,
            "in_junk_box": row.in_junk_box,
            "cost": row.cost,
            "impossible": row.impossible,
            "worth_building": row.worth_building,
            "terms": [
                {"key": c.key, "title": c.title, "points": c.points, "words": c.words} for c in row.charges
            ],
        }
        for row in rows
    ]


def crystals_report(batch: Sequence[BatchRow], placement: Placement | None) -> dict[str, Any]:
    """A batch of measured crystals, its statistics and placement as plain data; None: not known."""
    rows = []
    for row in batch:
        p = row.parameters
        rows.append(
            {
                "label": row.label,
                "fs_hz": p and p.fs_hz,
                "lm_h": p and p.lm_h,
                "cm_f": p and p.cm_f,
                "rm_ohm": p and p.rm_ohm,
                "c0_f": p and p.c0_f,
                "q": p and p.q,
                "refused": row.refused or None,
                "doubt": (p and p.doubt) or None,
                "left_out": row.left_out,
                "confidence": dict(p.whole_spread) if p else {},
                "confidence_of_readings": dict(p.spread) if p else {},
            }
        )
    found = figures(batch)
    data: dict[str, Any] = {"crystals": rows, "statistics": None, "placement": None}
    if found is not None:
        data["statistics"] = {
            "count": found.count,
            "fs_mean_hz": found.fs_hz[0],
            "fs_deviation_hz": found.fs_hz[1],
            "lm_mean_h": found.lm_h[0],
            "lm_deviation_h": found.lm_h[1],
            "spread_hz": found.spread_hz,
            "outliers": [{"label": label, "in": what} for label, what in found.outliers],
            "c0_doubt": c0_too_small(batch) or None,
        }
    if placement is not None:
        data["placement"] = [
            {"mesh": each.mesh, "label": each.label, "error_hz": each.error_hz} for each in placement.placed
        ]
        data["placement_error"] = {
            "rms_hz": placement.rms_hz,
            "sorted_rms_hz": placement.sorted_rms_hz,
            "random_rms_hz": placement.random_rms_hz,
        }
        data["placement_responses"] = [
            {"choice": f.way, "loss_db": f.loss_db, "worst_db": f.worst_db, "width_3db_hz": f.width_hz}
            for f in placement.figures
        ]
        data["placement_doubt"] = placement.doubt or None
    return data


#: Units of `FIGURES`.
_FIGURE_UNITS = ("Hz", "H", "F", "Ω", "F", "")


def crystals_text(data: Mapping[str, Any]) -> str:
    """The batch as text tables."""
    if not data["crystals"]:
        return "No crystals in the table."
    far = {each["label"]: each["in"] for each in (data["statistics"] or {}).get("outliers", ())}
    shown, intervals = [], []
    for row in data["crystals"]:
        remarks = (row["refused"], "left out" if row["left_out"] else "", far.get(row["label"]), row["doubt"])
        shown.append(
            {name: row[name] for name in ("label", *FIGURES)}
            | {"remark": "; ".join(filter(None, remarks)) or None}
        )
        for of, spread in (
            ("readings", row["confidence_of_readings"]),
            ("at worst", row["confidence"]),
        ):
            if spread:
                # Two digits of an interval say all.
                known = {
                    name: format_value(spread[name], unit, 2) if name in spread else None
                    for name, unit in zip(FIGURES, _FIGURE_UNITS, strict=True)
                }
                intervals.append({"label": row["label"], "±": of} | known)
    lines = _table(shown)
    if (data["statistics"] or {}).get("c0_doubt"):
        lines += ["", data["statistics"]["c0_doubt"]]
    if intervals:
        lines += [
            "",
            f"95 % intervals of the readings; at worst with a fixture off by {FIXTURE_ERRORS}",
            "",
            *_table(intervals),
        ]
    if data["placement"]:
        error = data["placement_error"]
        lines += ["", *_table(data["placement"]), ""]
        lines.append(
            f"meshes {error['rms_hz']:.0f} Hz rms apart; closest crystals merely sorted "
            f"{error['sorted_rms_hz']:.0f} Hz, at random {error['random_rms_hz']:.0f} Hz"
        )
        if data["placement_responses"]:
            lines += ["", *_table(data["placement_responses"])]
        lines += ["", data["placement_doubt"]] if data["placement_doubt"] else []
    return _lines(lines)


def _lines(lines: Sequence[str]) -> str:
    """Lines one below the other; a name that holds a line break or more does not break or steer them."""
    return "\n".join(visible(line) for line in lines)


#: Endings of a column's name to the unit that its numbers are shown in.
_UNITS = {
    "_hz_per_degree": "Hz/K",
    "_hz_per_turn": "Hz/turn",
    "_s": "s",
    "_h": "H",
    "_f": "F",
    "_hz": "Hz",
    "_db": "dB",
    "_dbm": "dBm",
    "_dbc": "dBc",
    "_w": "W",
    "_v": "V",
    "_a": "A",
    "_ohm": "Ω",
    "_db_spl": "dB SPL",
}


def as_text(data: Mapping[str, Any]) -> str:
    """The report as text tables: a heading and a table for each group of rows."""
    sections = [f"{visible(data['name'])}\n"]
    groups = {key: value for key, value in data.items() if isinstance(value, list)}
    groups["receive levels"] = data["levels"]["receive"]
    groups["transmit levels"] = data["levels"]["transmit"]
    for title, rows in groups.items():
        if not rows:
            continue
        if title == "findings":
            lines = [f"{r['severity']:8}{r['text']} {r['remedy']}" for r in rows]
        elif title == "read_out":
            lines = _table([{name: value for name, value in r.items() if name != "refused"} for r in rows])
            lines += [f"{r['band']}, not: {e['scheme']}. {e['reason']}" for r in rows for e in r["refused"]]
        elif title == "spurs":
            lines = _table([{name: value for name, value in r.items() if name != "level_dbc"} for r in rows])
        else:
            lines = _table(rows)
        sections.append(_lines([title.replace("_", " ").upper(), *lines, ""]))
    return "\n".join(sections)


def vfo_text(analysis: Analysis, made: TankDesign) -> str:
    """The VFO as text: parts, what was fixed and what found, figures a band, what stands in the way."""
    parts = [
        {"ref": p.ref, "designed": p.designed, "fitted": p.fitted, "unit": p.unit, "note": p.note}
        for p in made.parts
    ]
    lines = [*_table(parts), "", "fixed: " + "; ".join(made.fixed), "found: " + "; ".join(made.found), ""]
    return _lines([*lines, *_table(_vfo_rows(analysis)), *map(str, made.limits)])


def survey_text(rows: Sequence[SurveyRow], most: int = 20) -> str:
    """The best survey rows as a text table with the points of every term; first the verdict."""
    shown = [
        {
            "cost": "—" if row.impossible else f"{row.cost:.1f}",
            "if": row.crystal,
            "schemes": ", ".join(s.replace("_", " ") for s in row.schemes),
            "vfo_low_hz": row.vfo_low_hz,
            "vfo_high_hz": row.vfo_high_hz,
            "first crossing": "none"
            if row.lowest_crossing_order is None
            else f"order {row.lowest_crossing_order}",
            "terms, with their points": "; ".join(row.reasons),
        }
        for row in rows[:most]
    ]
    left = f"\n{len(rows) - most} further rows; --json prints them all." if len(rows) > most else ""
    advice = verdict(rows)
    return "\n".join(([advice, ""] if advice else []) + _table(shown)) + left


def _table(rows: Sequence[Row]) -> list[str]:
    names = list(rows[0])
    cells = [[visible(_cell(name, row[name], row.get("unit", ""))) for name in names] for row in rows]
    heads = [_heading(name) for name in names]
    widths = [max(len(head), *(len(line[i]) for line in cells)) for i, head in enumerate(heads)]
    return [
        "  ".join(text.ljust(width) for text, width in zip(line, widths, strict=True)).rstrip()
        for line in [heads, *cells]
    ]


def _heading(name: str) -> str:
    for ending in sorted(_UNITS, key=len, reverse=True):
        if name.endswith(ending):
            return name.removesuffix(ending).replace("_", " ")
    return name.replace("_", " ")


#: Frequencies that are set or stored, and so wanted to the hertz.
_TO_THE_HERTZ = ("fs_hz", "carrier_hz", "frequency_hz", "offset_hz")


def _digits(name: str, ending: str) -> int:
    if name in _TO_THE_HERTZ:
        return 9
    return 7 if ending == "_hz" else 3


def _cell(name: str, value: Any, unit: str) -> str:
    if value is None:
        return "-"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return " ".join(_cell(name, each, unit) for each in value)
    if not isinstance(value, float):
        return str(value)
    for ending in sorted(_UNITS, key=len, reverse=True):
        if name.endswith(ending):
            return format_value(value, _UNITS[ending], _digits(name, ending))
    return format_value(value, unit if name in ("designed", "preferred", "as_built", "fitted") else "", 4)
