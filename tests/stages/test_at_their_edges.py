"""Stages at the edge of what can be: without a supply, and into an input that gives power back."""

import numpy as np
import pytest

from core.circuits.active.along import along
from core.model.stages.oscillators import Vfo
from core.model.stages.tank import Tank
from core.stages.kinds.draw import vfo_draw


@pytest.mark.parametrize("device", ["j310", "2n3904"])
@pytest.mark.parametrize("supply_v", [0.0, 1e-6, 0.5e-3])
def test_a_vfo_without_a_supply_draws_nothing(supply_v, device):
    vfo = Vfo(tank=Tank()).edited(("tank", "feedback", "device"), device)
    assert vfo_draw(vfo, supply_v).rest_a < 2e-6


def test_a_level_into_a_resistance_that_gives_power_back_is_how_much_flows():
    """4 R |Re Z|/|R + Z|² of what the source could give: 15 times as much flows from 50 into −30 ohm."""
    found = along((), 50.0, -30.0, -30.0, 1)
    assert found.gain_db[0, 0] == pytest.approx(10 * np.log10(15))
