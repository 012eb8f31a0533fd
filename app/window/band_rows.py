"""Bands added to the rig and taken from it, as rows of a menu."""

from functools import partial

from app.state.workbench import Workbench
from app.style import words
from app.style.plain import on_button
from app.window.menus import Row
from core.model.bands import Band
from core.trade.allocations import Allocation, allocations

_MOST = 4


def bands_to_add(bench: Workbench) -> list[Row]:
    """The bands that the rig lacks; none when it has all that it may have."""
    have = {band.name for band in bench.current.bands}
    if len(have) >= _MOST:
        return []
    lacking = (each for each in allocations() if each.band not in have)
    return [Row(on_button(words.band(each.band)), partial(_add, bench, each)) for each in lacking]


def remove_band(bench: Workbench) -> None:
    """Take the band looked at from the rig."""
    name = bench.band_name
    bench.change(lambda project: project.band_removed(name), label=f"removing {words.band(name)}")


def _add(bench: Workbench, allocation: Allocation) -> None:
    from core.rig.start.new_rig import best_scheme, with_band

    low, high = allocation.phone_hz
    band = Band(name=allocation.band, low_hz=low, high_hz=high, sideband=allocation.sideband)
    band = band.edited(("scheme",), best_scheme(band, bench.current.if_hz))
    label = f"adding {words.band(band.name)}"
    if bench.change(lambda project: with_band(project, band), label=label) is None:
        bench.look_at_band(band.name)
