"""The bench log as plain data, and as text for a terminal."""

from collections.abc import Sequence
from typing import Any

from core.model.values.quantities import spelled
from core.model.values.wording import visible
from core.rig.log.bench_log import BenchLog, Entry, Progress
from core.rig.log.causes import Causes


def tolerance_text(entry: Entry) -> str:
    """How far a reading may be off, as it is written."""
    item = entry.item
    if item.value is None:
        return ""
    width = entry.plus_minus if entry.reading is not None else item.plus_minus
    told = item.spread_text(width)
    return f"≥ −{told}" if item.at_least else f"≤ +{told}" if item.at_most else f"±{told}"


def log_report(log: BenchLog, why: Sequence[tuple[Entry, Causes]], *, missing: bool) -> dict[str, Any]:
    """The log as plain data in SI units; what was not read only where `missing` is asked for."""
    reasons = {each.number: found for each, found in why}
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
                "why": reasons[each.number].words if each.number in reasons else None,
                "causes": [cause.words for cause in reasons[each.number].causes]
                if each.number in reasons
                else [],
            }
            for each in log.entries
            if missing or each.reading is not None
        ],
        "curves": [
            {
                "stage": each.stage,
                "band": each.band,
                "date": each.date,
                "file": each.label,
                "words": each.words,
            }
            for each in log.curves
        ],
    }


def _progress(of: Progress) -> dict[str, Any]:
    return {"name": of.name, "within": of.within, "out": of.out, "not_yet_measured": of.missing}


def log_text(log: BenchLog, why: Sequence[tuple[Entry, Causes]], *, missing: bool) -> str:
    """The log in lines: how far the rig has come, what was read, and why it is out."""
    reasons = {each.number: found for each, found in why}
    lines = [f"{log.whole.words} of what the rig is brought up by.", ""]
    for each in log.entries:
        item, reading = each.item, each.reading
        expected = "" if item.value is None else f" ({item.text(item.value)} {tolerance_text(each)} expected)"
        if reading is None:
            if missing:
                lines.append(f"{'not yet':9}{item.title}{expected}  [{item.code}]")
            continue
        note = f"; {visible(reading.note)}" if reading.note else ""
        verdict = "?" if each.verdict == "no longer expected" else each.verdict
        lines.append(
            f"{verdict:9}{visible(item.title)}: {each.read}{expected}, {visible(reading.date)}{note}"
        )
        found = reasons.get(each.number)
        if found is not None:
            lines += [f"{'':9}{found.words}", *(f"{'':11}{cause.words}" for cause in found.causes)]
    for swept in log.curves:
        on = f", {spelled(swept.band)}" if swept.band else ""
        lines.append(f"{'swept':9}{visible(swept.name)}{on}, {visible(swept.date)}: {swept.words}")
    if len(lines) == 2:
        lines.append(
            "Nothing was read yet; --missing lists what is expected, and --add CODE VALUE adds a reading."
        )
    return "\n".join(lines)
