"""What all tests share: Qt without a screen, repeatable hypothesis runs, and the sample projects."""

import os

import pytest
from hypothesis import settings

from core.model.files import load
from core.model.project import Project
from core.model.samples import sample_path
from core.model.supply.supply import Load
from tests.made_up import with_power_block

# Before any test imports Qt.
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

# Picofarads and femtofarads are smaller than pytest's absolute tolerance of 1e-12: anything would be near.
type(pytest.approx(0.0)).DEFAULT_ABSOLUTE_TOLERANCE = 1e-24

settings.register_profile("repeatable", derandomize=True, deadline=None, max_examples=60)
settings.load_profile("repeatable")


@pytest.fixture(scope="session")
def sample() -> Project:
    """The dual-band sample as it is."""
    return load(sample_path("tern-20-12"))


@pytest.fixture(scope="session")
def tern(sample: Project) -> Project:
    """The dual-band sample with mixers that are typical of their type, driven as it is stated, crystal
    oscillators that are blocks, and a power amplifier of typed-in figures: what the numbers of the tests were
    worked out for.
    """
    rig = sample.with_stages(tuple(s for s in sample.stages if s.direction not in ("vfo", "carrier")))
    for path, value in {
        ("stages", "mixer", "figures_from"): "type",
        ("stages", "detector", "figures_from"): "type",
        ("stages", "mixer", "diode"): "1n4148",
        ("stages", "detector", "diode"): "1n4148",
        ("stages", "pre_driver", "gain_db"): 17.5,
        ("stages", "microphone_amplifier", "gain_db"): 24.2,
        ("vfo", "output_dbm"): 7.0,
        ("carrier", "output_dbm"): 7.0,
        ("carrier", "circuit"): None,
        ("read_out", "helper"): None,
        ("supply", "regulators", "8 V", "feeds"): ("vfo", "carrier"),
        ("supply", "loads"): (
            Load(name="Carrier oscillator", of="carrier", receive_a=5e-3),
            *sample.supply.loads,
        ),
    }.items():
        rig = rig.edited(path, value)
    return with_power_block(rig)


@pytest.fixture(scope="session")
def muddle() -> Project:
    """The sample with deliberate mistakes."""
    return load(sample_path("muddle-40-20"))
