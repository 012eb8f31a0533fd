"""Edits of single parts and places, the least first, for `remedy.py` to try."""

from collections.abc import Iterator
from math import floor
from statistics import median

from core.model.values.notation import format_value, significant
from core.rig.analysis import Analysis
from core.rig.findings import Edit, Finding

#: Suppression by the ladder's skirt is asked in steps of so much, dB, at most so many.
_SKIRT_STEP_DB, _SKIRT_STEPS = 2.0, 10
#: A transistor's current is lowered by so much at a time [-], at most so often.
_LESS_CURRENT, _LESS_OFTEN = 0.85, 10
#: Two planetary drives in series, 6:1 and 10:1, and three of 6:1 [-]; from memory.
_REDUCTIONS = (36.0, 60.0, 216.0)


def further_down_the_skirt(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """The carrier further away from the pass-band."""
    path = ("carrier", "edge_suppression_db")
    for step in range(1, _SKIRT_STEPS + 1):
        asked_db = analysis.project.at(path) + step * _SKIRT_STEP_DB
        yield Edit(f"Place the carrier where the ladder takes {asked_db:g} dB", ((path, asked_db),))


def cooler(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Less current through the stage."""
    path = ("stages", finding.stage, "current_a")
    for step in range(1, _LESS_OFTEN + 1):
        current_a = significant(analysis.project.at(path) * _LESS_CURRENT**step, 2)
        name = analysis.project.stage(finding.stage).name
        yield Edit(f"Give {name} {format_value(current_a, 'A', 2)}", ((path, current_a),))


def what_it_gives(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Ask for what the circuit gives, or take the one that has more."""
    stage = analysis.project.stage(finding.stage)
    if finding.figure is not None:
        gain_db = floor(2 * finding.figure) / 2
        yield Edit(f"Ask {gain_db:g} dB of {stage.name}", ((("stages", stage.id, "gain_db"), gain_db),))
    yield Edit(
        f"Build {stage.name} of three transistors", ((("stages", stage.id, "topology"), "three_transistors"),)
    )


def slower_dial(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """More reduction between knob and tuning capacitor."""
    path = ("vfo", "tank", "variable", "reduction")
    for ratio in _REDUCTIONS:
        if ratio > analysis.project.at(path):
            yield Edit(f"Drive the tuning capacitor {ratio:g} to 1", ((path, ratio),))


def if_of_the_crystals(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """The IF that the crystals fitted are for."""
    for row in analysis.filters:
        ladder = analysis.ladder
        if row.stage != finding.stage or ladder is None or ladder.crystal is None:
            continue
        made = analysis.filter_design(row.stage, row.bands[0])
        fitted = [part.fitted for part in getattr(made, "parts", ()) if part.role == "crystal"]
        if fitted:
            if_hz = round(median(fitted) - ladder.crystal.offset_hz)
            yield Edit(f"Set the IF to {if_hz / 1e6:.6g} MHz", ((("if_hz",), float(if_hz)),))
