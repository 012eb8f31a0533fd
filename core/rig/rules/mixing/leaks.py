"""Rules on what a mixer lets through besides what it converts."""

from collections.abc import Iterator

from core.model.values.notation import megahertz, signed
from core.model.values.quantities import spelled
from core.rig.analysis import Analysis
from core.rig.findings import Finding, rule
from core.rig.mixer_facts import vfo_at_antenna
from core.rig.spurs.received_out import RECEIVER_LIMIT_DBM
from core.rig.spurs.spurs import combination


@rule
def oscillator_at_antenna(analysis: Analysis) -> Iterator[Finding]:
    """A receiver should not be a transmitter on its VFO's frequency."""
    for band in analysis.project.bands:
        leaves = vfo_at_antenna(analysis, band.name)
        if leaves is None or leaves[1].level_dbm <= RECEIVER_LIMIT_DBM:
            continue
        mixer, found = leaves
        yield Finding(
            severity="caution",
            rule="oscillator_at_antenna",
            stage=mixer,
            band=band.name,
            path=("stages", mixer, "oscillator_leak_db"),
            words=(
                f"In receive on {spelled(band.name)} {combination(((found.times, 'VFO'),))} leaves by the "
                f"antenna with <figure> at {megahertz(found.f_hz)}; <limit> is allowed."
            ),
            figure=found.level_dbm,
            limit=RECEIVER_LIMIT_DBM,
            unit="dBm",
            remedy=(
                f"The mixer lets {signed(found.at_mixer_dbm, 0, 'dBm')} through, of which the filters take "
                f"{found.filters_db:.0f} dB: match its devices, put a stage that isolates before it, or add "
                "a resonator."
            ),
            source="the mixer's isolation at its drive, filters at that frequency, stages backwards; 2 nW by "
            "CEPT/ERC Recommendation 74-01, from memory",
        )
