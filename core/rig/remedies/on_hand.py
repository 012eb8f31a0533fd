"""Edits that take types on hand, where the whole rig is hardly worse with them, for `remedy.py` to try."""

from collections.abc import Iterator
from math import log10

from core.rig.analysis import Analysis
from core.rig.findings import Edit, Finding
from core.rig.rules.bench.types_on_hand import others

#: What a type on hand may cost on any band: noise figure, gain and intercept in receive, power sent [dB]; a
#: choice.
_NOISE_DB, _GAIN_DB, _INTERCEPT_DB, _SENT_DB = 0.3, 1.0, 1.0, 0.3


def taken(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Each type on hand with which no band is heard or sent worse."""
    for asked, other in others(analysis, finding.path):
        edit = Edit(f"Take {other.type} for {asked.name}", ((finding.path, other.value),))
        changed = edit.tried_on(analysis.project)
        if changed is not None and as_good(analysis, Analysis(changed)):
            yield edit


def as_good(before: Analysis, after: Analysis) -> bool:
    """Whether a rig hears and sends as well as another one on each of its bands, or hardly less so."""
    for band in (each.name for each in before.project.bands):
        was, now = before.receive(band), after.receive(band)
        if now.noise_figure_db > was.noise_figure_db + _NOISE_DB or now.gain_db < was.gain_db - _GAIN_DB:
            return False
        if was.iip3_dbm is not None and (now.iip3_dbm or was.iip3_dbm) < was.iip3_dbm - _INTERCEPT_DB:
            return False
        sent = before.transmit(band).output_w, after.transmit(band).output_w
        if min(sent) > 0 and 10 * log10(sent[1] / sent[0]) < -_SENT_DB:
            return False
    return True
