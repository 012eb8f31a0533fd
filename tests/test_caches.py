"""What a cache hands out cannot be changed by whoever reads it, so nobody spoils it for the next reader."""

from collections.abc import Mapping
from dataclasses import FrozenInstanceError, fields, is_dataclass

import numpy as np
import pytest

from core.circuits.shapes.flat_couplings import flat_couplings
from core.rig.analysis import Analysis
from core.rig.bag import bag_of, placement_of
from core.rig.rules import inspect
from core.stages.filters import ladder_figures, ladder_filter
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.filters.ladder_rounding import rounded_together
from core.stages.vfo import vfo
from core.stages.vfo.compensation import compensation
from core.stages.vfo.tank import resonance
from core.trade.devices import devices
from core.trade.tables import rows
from core.trade.temperature import coefficients


def refuses(found):
    """Whether a dataclass lets nobody write to it, the very value that it has least of all."""
    name = fields(found)[0].name
    try:
        setattr(found, name, getattr(found, name))
    except FrozenInstanceError:
        return True
    return False


def changeable(found, path=""):
    """Places inside a result that somebody could write to."""
    if isinstance(found, np.ndarray):
        return [path] if found.flags.writeable else []
    if isinstance(found, list | dict | set):
        return [path]
    if isinstance(found, Mapping):
        return [place for key, value in found.items() for place in changeable(value, f"{path}[{key}]")]
    if isinstance(found, tuple):
        return [place for n, value in enumerate(found) for place in changeable(value, f"{path}[{n}]")]
    if is_dataclass(found):
        inner = [
            place
            for field in fields(found)
            for place in changeable(getattr(found, field.name), f"{path}.{field.name}")
        ]
        return inner if refuses(found) else [path, *inner]
    return []


def test_every_result_is_frozen_to_its_last_value(tern):
    analysis = Analysis(tern)
    ladder, if_hz = analysis.ladder, tern.if_hz
    tank = analysis.tank
    results = {
        "filters": analysis.filters,
        "tank": tank,
        "VFO": vfo.figures(tank, "20m"),
        "resonance": resonance(tank, "20m", np.array([0.0, 1.0])),
        "pass-band": ladder_filter.solved(AskedLadder(ladder, if_hz)).band,
        "stop-band": ladder_figures.stop_band(ladder_filter.solved(AskedLadder(ladder, if_hz))),
        "rounded": rounded_together(AskedLadder(ladder, if_hz)),
        "carriers": analysis.carriers,
        "plan": analysis.frequency_plan,
        "read-out": (analysis.read_out, analysis.read_out_options),
        "spurs": analysis.spurs("20m"),
        "levels": (analysis.receive("20m"), analysis.transmit("20m"), analysis.harmonics("20m")),
        "parts": analysis.parts,
        "findings": inspect(analysis),
        "tables": (devices(), coefficients(), rows("crystals")),
        "bag": (bag_of(analysis), placement_of(analysis)),
        "ladder's facts": ladder_figures.flatness(AskedLadder(ladder, if_hz)),
        "compensation": compensation(tank),
        "couplings": flat_couplings("chebyshev", 6, 0.5, 0.1, 0.0),
    }
    assert {name: places for name, found in results.items() if (places := changeable(found, name))} == {}


def test_a_tanks_values_refuse_to_be_written(tern):
    with pytest.raises(TypeError):
        Analysis(tern).tank.values["CT"] = 99.0
