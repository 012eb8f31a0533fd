"""What all tests share: Qt without a screen, repeatable hypothesis runs, and the sample projects."""

import os

import pytest
from hypothesis import settings

from core.model.files import load
from core.model.project import Project
from core.model.samples import sample_path

# Before any test imports Qt.
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

# Picofarads and femtofarads are smaller than pytest's absolute tolerance of 1e-12: anything would be near.
type(pytest.approx(0.0)).DEFAULT_ABSOLUTE_TOLERANCE = 1e-24

settings.register_profile("repeatable", derandomize=True, deadline=None, max_examples=60)
settings.load_profile("repeatable")


@pytest.fixture(scope="session")
def tern() -> Project:
    """The dual-band sample."""
    return load(sample_path("tern-20-12"))


@pytest.fixture(scope="session")
def muddle() -> Project:
    """The sample with deliberate mistakes."""
    return load(sample_path("muddle-40-20"))
