"""Plans of bands drawn by chance, and what tests of products ask of a rig."""

import numpy as np
from hypothesis import assume
from hypothesis import strategies as st

from core.model.bands import SCHEMES, Band
from core.model.stages.mixers import Mixer
from core.rig.analysis import Analysis
from core.rig.plan.frequency_plan import band_plan
from core.rig.spurs.product_levels import Worked
from core.rig.start.new_rig import _with_drive_set, new_rig
from core.stages.mixers.figures import figures
from tests.made_up import with_power_block, with_typical_mixers

RING = figures(Mixer(id="m", name="m"))
WORKED = Worked(vfo_dbm=7.0, wanted_dbm=-9.0, backoff_db=10.0)


def no_loss(f_hz):
    return np.zeros_like(f_hz)


def of(analysis, band, kind, products):
    """The one product of that name."""
    (spur,) = [s for s in analysis.spurs(band) if s.kind == kind and s.products == products]
    return spur


def forty_and_fifteen():
    """A rig with the VFO just below the dial of both bands."""
    bands = (
        Band(name="40m", low_hz=7.05e6, high_hz=7.2e6, scheme="if_minus_vfo", sideband="lower"),
        Band(name="15m", low_hz=21.151e6, high_hz=21.45e6, scheme="sum", sideband="upper"),
    )
    return Analysis(_with_drive_set(with_typical_mixers(with_power_block(new_rig(bands, 14e6)))))


@st.composite
def plans(draw):
    """Any scheme with a VFO above zero that keeps off the IF."""
    scheme = draw(st.sampled_from(SCHEMES))
    carrier = draw(st.floats(2e6, 25e6))
    low = draw(st.floats(1.8e6, 29e6))
    band = Band(name="x", low_hz=low, high_hz=low + draw(st.floats(20e3, 400e3)), scheme=scheme)
    plan = band_plan(band, carrier)
    assume(plan.vfo_low_hz > 100e3)
    assume(plan.vfo_high_hz < carrier - 50e3 or plan.vfo_low_hz > carrier + 50e3)
    return plan


def wanted_at_if(plan, f_hz, dial_hz):
    """The IF that an input makes with the VFO set for a dial, signs written out."""
    vfo = plan.vfo_at(dial_hz)
    return {"sum": f_hz - vfo, "if_minus_vfo": f_hz + vfo, "vfo_minus_if": vfo - f_hz}[plan.scheme]
