"""The receiver on paper: a section a band with its noise, what it bears, and every S level."""

from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.receive import Noisy, noise_on
from core.rig.levels.dynamic_range import DynamicRange
from core.rig.levels.s_meter import SLevel


@record
class ReceiverSection:
    """The receiver on one band, with the dial in its middle."""

    band: str
    noise: tuple[Noisy, ...]
    ranges: tuple[DynamicRange, ...]
    stations: tuple[SLevel, ...]


def receiver_sections(analysis: Analysis) -> tuple[ReceiverSection, ...]:
    """A section a band; none where no stage works in receive."""
    if not analysis.project.path("receive"):
        return ()
    return tuple(
        ReceiverSection(
            band.name,
            tuple(noise_on(analysis, band.name)),
            analysis.dynamic_ranges(band.name),
            analysis.s_meter(band.name),
        )
        for band in analysis.project.bands
    )
