"""Edits of audio stages, the least first, for `remedy.py` to try."""

from collections.abc import Iterator
from math import floor, log10

from core.model.project import Stage
from core.model.values.notation import format_value, significant
from core.rig.analysis import Analysis
from core.rig.findings import Edit, Finding
from core.stages.kinds.table import audio_of_parts, kind_of

#: Steps of a corner and of a supply [-], and how many of each are tried.
_CORNER, _SUPPLY, _STEPS = 1.25, 1.1, 8
#: Resistors in series with headphones that are tried, ohm.
_SERIES_OHM = (22.0, 47.0, 100.0, 150.0, 220.0, 330.0, 470.0, 680.0, 1e3, 1.5e3, 2.2e3, 3.3e3, 4.7e3, 6.8e3)
#: Resistors in a stage's supply that are tried, ohm.
_FEED_OHM = (100.0, 220.0, 470.0, 1e3, 2.2e3, 4.7e3)
#: What is held of what the last stage gives [-]; gains beside the one that keeps the level, dB.
_HELD, _GAINS_DB = 0.8, (0.0, 2.0, 4.0, 6.0, 10.0)


def what_audio_gives(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """The preferred values, or the gain that the circuit has."""
    stage = analysis.project.stage(finding.stage)
    yield from _as_preferred(stage)
    if finding.figure is not None:
        gain_db = floor(2 * finding.figure) / 2
        yield Edit(f"Ask {gain_db:g} dB of {stage.name}", ((("stages", stage.id, "gain_db"), gain_db),))


def _as_preferred(stage: Stage) -> Iterator[Edit]:
    """The preferred values, where others are fitted."""
    if stage.at(("as_built",)):
        yield Edit(f"Take the preferred values in {stage.name}", ((("stages", stage.id, "as_built"), ()),))


def more_input(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """A higher input resistance: of the stage as it is, of a JFET or an operational amplifier; where its
    figures are typed in, those.
    """
    project = analysis.project
    spoken = analysis.microphone
    wanted = 1e6
    if finding.rule == "microphone_loaded" and spoken is not None:
        wanted = max(2 * spoken.source_ohm, spoken.input_ohm)
    if finding.rule == "audio_input" and finding.limit is not None:
        wanted = finding.limit
    told = format_value(wanted, "Ω", 2)
    if finding.path[0] == "microphone":
        for times in (1, 2, 5):
            ohm = significant(wanted * times, 2)
            yield Edit(
                f"Give the amplifier an input of {format_value(ohm, 'Ω', 2)}",
                ((("microphone", "input_ohm"), ohm),),
            )
        return
    asked_of = project.stage(finding.stage)
    stage = kind_of(asked_of).voltage_audio(asked_of)
    if stage is None:
        return
    at = ("stages", stage.id)
    asked = ((*at, "input_ohm"), significant(wanted, 2))
    # What the divider no longer loses is too much for what follows.
    gains = [stage.gain_db]
    if finding.rule != "audio_input" and spoken is not None:
        kept = abs(wanted / (spoken.source_at_tone + wanted))
        more_db = 20 * log10(kept * spoken.open_v / spoken.input_v)
        gains = [floor(2 * (stage.gain_db - more_db)) / 2 + up for up in _GAINS_DB]
    for gain_db in (each for each in gains if each >= 0):
        gain = ((*at, "gain_db"), gain_db)
        told_gain = "" if gain_db == stage.gain_db else f", and {gain_db:g} dB"
        yield Edit(f"Ask {told} of the input of {stage.name}{told_gain}", (asked, gain))
        for chip, name in (("ne5532", "NE5532"), ("tl072", "TL072")):
            built = (((*at, "topology"), "operational"), ((*at, "chip"), chip), asked, gain)
            yield Edit(f"Build {stage.name} with a {name}, of {told} at its input{told_gain}", built)
    if finding.rule == "audio_input" and finding.figure is not None:
        has = format_value(finding.figure, "Ω", 2)
        path = (*at, "input_ohm")
        yield Edit(f"Ask {has} of the input of {stage.name}", ((path, significant(finding.figure, 2)),))


def wider_speech(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Corners further out: of the stage that is the narrowest, then of all audio stages of its direction."""
    project, field = analysis.project, str(finding.path[-1])
    first = project.stage(finding.stage)
    yield from _as_preferred(first)
    others = [
        stage
        for stage in project.stages
        if stage.direction == first.direction and field in type(stage).model_fields and stage.id != first.id
    ]
    others = [stage for stage in others if audio_of_parts(stage) is not None]
    for stages in ([first], [first, *others]):
        for step in range(1, _STEPS + 1):
            changes = []
            for stage in stages:
                path = ("stages", stage.id, field)
                factor = _CORNER ** (-step if field == "low_hz" else step)
                changes.append((path, significant(stage.at((field,)) * factor, 2)))
            names = " and ".join(stage.name for stage in stages)
            hz = format_value(float(changes[0][1]), "Hz", 2)
            yield Edit(f"Move the corner of {names} to {hz}", tuple(changes))


def unclipped(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """A higher supply of the last stage, then less that is held."""
    project = analysis.project
    stage = project.stage(finding.stage)
    for step in range(1, _STEPS + 1):
        volt = significant(stage.at(("supply_v",)) * _SUPPLY**step, 2)
        yield Edit(
            f"Feed {stage.name} with {format_value(volt, 'V', 2)}",
            ((("stages", stage.id, "supply_v"), volt),),
        )
    if finding.limit is not None:
        watt = significant(finding.limit * _HELD, 1)
        yield Edit(
            f"Hold {format_value(watt, 'W', 1)} of a loud station",
            ((("stages", finding.subject, "held_w"), watt),),
        )


def cooler_audio(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """A lower supply of the last stage."""
    stage = analysis.project.stage(finding.stage)
    for step in range(1, _STEPS + 1):
        volt = significant(stage.at(("supply_v",)) / _SUPPLY**step, 2)
        yield Edit(
            f"Feed {stage.name} with {format_value(volt, 'V', 2)}",
            ((("stages", stage.id, "supply_v"), volt),),
        )


def less_hum(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """A larger resistor in the supply of the stage that lets most through, a regulator that the rig has, then
    a supply of less ripple.
    """
    project = analysis.project
    stage = project.stage(finding.stage)
    fed = kind_of(stage).voltage_audio(stage)
    if fed is not None:
        for ohm in (each for each in _FEED_OHM if each > fed.feed_ohm):
            yield Edit(
                f"Put {format_value(ohm, 'Ω', 2)} in the supply of {stage.name}",
                ((("stages", stage.id, "feed_ohm"), ohm),),
            )
    supply = project.supply
    rails = () if supply is None else supply.regulators
    for place, rail in enumerate(rails):
        if not any(stage.id in each.feeds for each in rails):
            path = ("supply", "regulators", place, "feeds")
            yield Edit(f"Feed {stage.name} from the {rail.name}", ((path, (*rail.feeds, stage.id)),))
    for step in range(1, 2 * _STEPS + 1):
        volt = significant(project.station.ripple_v / 2**step, 2)
        yield Edit(
            f"Feed the rig from a supply of {format_value(volt, 'V', 2)} of ripple",
            ((("station", "ripple_v"), volt),),
        )


def softer_headphones(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """A resistor in series with them."""
    asked_of = analysis.project.stage(finding.stage)
    stage = kind_of(asked_of).power_audio(asked_of)
    if stage is None:
        return
    for ohm in _SERIES_OHM:
        if ohm > (stage.series_ohm or 0.0):
            yield Edit(
                f"Put {format_value(ohm, 'Ω', 2)} in series with the headphones",
                ((("stages", stage.id, "series_ohm"), ohm),),
            )


def own_load(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """The load that there is."""
    if finding.figure is not None:
        yield Edit(f"Make it for {format_value(finding.figure, 'Ω', 2)}", ((finding.path, finding.figure),))
