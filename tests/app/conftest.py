"""What the window's tests share: the sample on a bench, and settings that touch nobody's own."""

import os
from pathlib import Path

import pytest
from PySide6.QtCore import QCoreApplication, QEvent, QStandardPaths

from app.state.settings import Settings
from app.state.workbench import Workbench
from core.model.bands import Band
from core.model.project import Project
from core.rig.start.new_rig import new_rig

# Tests act on widgets that nobody needs to see.
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")


@pytest.fixture(autouse=True, scope="session")
def _nobodys_own_files():
    QStandardPaths.setTestModeEnabled(True)


@pytest.fixture(autouse=True)
def _nothing_outlives_a_test(qapp):
    yield
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


@pytest.fixture(autouse=True)
def _nothing_is_logged(request, caplog):
    """What the program catches and logs by itself must fail a test that does not expect it."""
    yield
    if "expects_log" not in request.keywords:
        records = [each for when in ("setup", "call") for each in caplog.get_records(when)]
        assert [each.getMessage() for each in records if each.name == "copperclad"] == []


@pytest.fixture(scope="session")
def rig() -> Project:
    """A rig for 20 m and 12 m around 19.6608 MHz."""
    bands = (
        Band(name="20m", low_hz=14.1e6, high_hz=14.35e6, scheme="if_minus_vfo"),
        Band(name="12m", low_hz=24.93e6, high_hz=24.99e6, scheme="sum"),
    )
    return new_rig(bands, 19.6608e6, "Tern 20/12")


@pytest.fixture
def bench(qapp, rig: Project) -> Workbench:
    return Workbench(rig)


@pytest.fixture
def settings(qapp, tmp_path: Path) -> Settings:
    return Settings(tmp_path / "settings.ini")
