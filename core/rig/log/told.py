"""The bench log as plain data, and as text for a terminal."""

from collections.abc import Mapping
from typing import Any

from core.model.values.wording import visible
from core.rig.log.bench_log import BenchLog, Entry, Progress
from core.rig.log.causes import Causes, Why
from core.rig.log.item import Verdict


def tolerance_text(entry: Entry) -> str:
    """How far a reading may be off, as it is written."""
    item = entry.item
    if item.value is None:
        return ""
    width = entry.plus_minus if entry.reading is not None else item.plus_minus
    told = item.spread_text(width)
    return f"≥ −{told}" if item.at_least else f"≤ +{told}" if item.at_most else f"±{told}"


def log_report(log: BenchLog, why: Why, *, missing: bool) -> dict[str, Any]:
    """The log as plain data in SI units; what was not read only where `missing` is asked for."""
    return {
        "progress": _progress(log.whole),
        "stages": [_progress(each) for each in log.stages],
        "readings": [
            {
                "code": each.item.code,
                "title": each.item.title,
                "expected": each.item.value,
                "unit": each.item.unit,
                "plus_minus": each.plus_minus if each.reading else each.item.plus_minus,
                "read": each.reading and each.reading.value,
                "read_unit": each.reading and each.reading.unit,
                "date": each.reading and each.reading.date,
                "note": each.reading and each.reading.note,
                "verdict": each.verdict,
                **_reasons(why.readings, each.number),
            }
            for each in log.entries
            if missing or each.reading is not None
        ],
        "curves": [
            {
                "stage": each.curve.stage,
                "band": each.curve.band,
                "direction": each.curve.way,
                "date": each.curve.date,
                "file": each.curve.label,
                "note": each.curve.note,
                "verdict": each.verdict,
                "words": each.words,
                **_reasons(why.curves, each.number),
            }
            for each in log.curves
        ],
    }


def _reasons(why: Mapping[int, Causes], number: int | None) -> dict[str, Any]:
    found = None if number is None else why.get(number)
    return {
        "why": found and found.words,
        "causes": [] if found is None else [cause.words for cause in found.causes],
    }


def _progress(of: Progress) -> dict[str, Any]:
    return {"name": of.name, "within": of.within, "out": of.out, "not_yet_measured": of.missing}


def _verdict(verdict: Verdict) -> str:
    return "?" if verdict == "no longer expected" else verdict


def log_text(log: BenchLog, why: Why, *, missing: bool) -> str:
    """The log in lines: how far the rig has come, what was read, and why it is out."""
    lines = [f"{log.whole.words} of what the rig is brought up by.", ""]
    for each in log.entries:
        item, reading = each.item, each.reading
        expected = "" if item.value is None else f" ({item.text(item.value)} {tolerance_text(each)} expected)"
        if reading is None:
            if missing:
                lines.append(f"{'not yet':9}{item.title}{expected}  [{item.code}]")
            continue
        note = f"; {visible(reading.note)}" if reading.note else ""
        lines.append(
            f"{_verdict(each.verdict):9}{visible(item.title)}: "
            f"{each.read}{expected}, {visible(reading.date)}{note}"
        )
        found = None if each.number is None else why.readings.get(each.number)
        if found is not None:
            lines += [f"{'':9}{found.words}", *(f"{'':11}{cause.words}" for cause in found.causes)]
    for swept in log.curves:
        curve = swept.curve
        note = f"; {visible(curve.note)}" if curve.note else ""
        lines.append(
            f"{_verdict(swept.verdict):9}{visible(swept.title)}, {visible(curve.date)}: {swept.words}{note}"
        )
        if swept.number in why.curves:
            lines.append(f"{'':9}{why.curves[swept.number].words}")
    if len(lines) == 2:
        lines.append(
            "Nothing was read yet; --missing lists what is expected, and --add CODE VALUE adds a reading."
        )
    return "\n".join(lines)
