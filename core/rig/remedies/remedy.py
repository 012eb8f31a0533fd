"""The edit that mends a finding: tried on the whole rig, and judged by what it does there."""

from collections.abc import Callable, Iterator
from itertools import islice

from core.model.project import Project
from core.rig.analysis import Analysis
from core.rig.findings import RULES, Edit, Finding
from core.rig.remedies import audio, drive, filters, gain, leaks, on_hand, parts, power, transistors
from core.stages.steps import Steps

#: Edits in the order in which they are tried: the least first.
_Trials = Callable[[Analysis, Finding], Iterator[Edit]]
_TRIALS: dict[str, _Trials] = {
    "power_short": gain.more_power,
    "overdriven": gain.less_drive,
    "two_tone": gain.cleaner_tones,
    "loud_audio": gain.softer,
    "overload": gain.less_ahead,
    "third_order": gain.fewer_products,
    "noise_above_own": gain.less_noise,
    "noise_heard": gain.louder,
    "image_noise": gain.filtered_image,
    "mixer_drive": drive.driven,
    "oscillator_at_antenna": leaks.less_at_antenna,
    "buffer_overdriven": drive.within_class_a,
    "buffer_ratings": drive.within_ratings,
    "carrier_suppression": leaks.better_balance,
    "transmit_product": leaks.fewer_sent,
    "mixer_termination": leaks.terminated,
    "loop_gain": gain.less_round,
    "transistor_hot": transistors.cooler,
    "transistor_volts": transistors.less_swing,
    "transistor_current": transistors.less_swing,
    "transistor_slow": transistors.another,
    "transistor_kind": transistors.another,
    "gain_unreached": transistors.reached,
    "amplifier_gain": parts.what_it_gives,
    "stage_lets_back": gain.less_of_it,
    "audio_gain": audio.what_audio_gives,
    "audio_input": audio.more_input,
    "microphone_loaded": audio.more_input,
    "crystal_bass": audio.more_input,
    "speech_cut": audio.wider_speech,
    "audio_clips": audio.unclipped,
    "audio_hot": audio.cooler_audio,
    "audio_load": audio.own_load,
    "hum_heard": audio.less_hum,
    "headphones_loud": audio.softer_headphones,
    "vfo_fast": parts.slower_dial,
    "crystals_off_if": parts.if_of_the_crystals,
    "harmonic_limit": filters.cleaner,
    "image_rejection": filters.more_rejection,
    "if_breakthrough": filters.more_rejection,
    "response_near": filters.more_rejection,
    "response_far": filters.more_rejection,
    "vfo_limit": filters.other_tank,
    "power_hot": power.cooler,
    "power_no_sink": power.less_heat,
    "power_mismatch_heat": power.cooler,
    "power_volts": power.fewer_volts,
    "power_current": power.less,
    "power_bias_above": power.lower_regulator,
    "power_runs_away": power.followed,
    "power_drifts": power.followed,
    "power_gain_short": power.rf_device,
    "power_drive_missing": power.more_drive,
    "power_most": power.more_output,
    "power_input": power.better_input,
    "power_core_flux": power.found_core,
    "power_core_low": power.found_core,
    "type_on_hand": on_hand.taken,
}
_NOTES_TO_MEND = ("image_noise", "audio_load", "type_on_hand")
#: Edits tried against one finding at most.
_MOST_TRIALS = 48

#: What a finding is about, whatever its number: rule and stage.
_About = tuple[str, str]


def may_have(finding: Finding) -> bool:
    """Whether a remedy of this finding can be computed at all; whether there is one is known when it was."""
    return bool(finding.edits) or (finding.rule in _TRIALS and _to_mend(finding))


def remedies(analysis: Analysis, finding: Finding) -> Steps[tuple[Edit, ...]]:
    """What mends the finding: the edits that its rule found good, or the first that mends it and brings no
    other fault or caution; where there is none, the first that mends it and brings no other fault.

    Empty where nothing tried does. A step is an edit tried.
    """
    project = analysis.project
    if finding.edits:
        return tuple(edit for edit in finding.edits if edit.tried_on(project) is not None)
    trials = _TRIALS.get(finding.rule)
    if trials is None:
        return ()
    before = yield from _told(project)
    second: tuple[Edit, ...] = ()
    for edit in islice(trials(analysis, finding), _MOST_TRIALS):
        changed = edit.tried_on(project)
        if changed is None or changed == project:
            continue
        after = yield from _told(changed)
        if any(_same(each, finding) for each in after):
            continue
        known = {_about(each) for each in before}
        brought = [each for each in after if _about(each) not in known and each.severity != "note"]
        if not brought:
            return (edit,)
        if not second and all(each.severity != "fault" for each in brought):
            second = (edit,)
    return second


def _told(project: Project) -> Steps[list[Finding]]:
    """Whatever a rig has to be mended."""
    analysis = Analysis(project)
    found = []
    for rule in RULES:
        found += [each for each in rule(analysis) if each is not None]
        yield
    return [each for each in found if _to_mend(each)]


def _to_mend(finding: Finding) -> bool:
    """Faults and cautions are; of the notes those that a remedy takes away."""
    return finding.severity != "note" or finding.rule in _NOTES_TO_MEND


def _same(other: Finding, finding: Finding) -> bool:
    """Whether the other one says the same of the same place, whatever bands it names together."""
    bands = {other.band, finding.band}
    return (
        _about(other) == _about(finding)
        and other.subject == finding.subject
        and (len(bands) == 1 or "" in bands)
    )


def _about(finding: Finding) -> _About:
    return finding.rule, finding.stage
