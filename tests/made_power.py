"""Power amplifiers of parts that the tests ask for."""

from core.model.stages.built_power_amplifier import BuiltPowerAmplifier
from core.stages.power_amplifier.design import PowerDesign, design

DIALS = ((14.0e6, 14.35e6), (24.89e6, 24.99e6))


def stage(**fields):
    return BuiltPowerAmplifier(id="pa", name="PA", **fields)


def made(dials=DIALS, own=(), **fields):
    found = design(stage(**fields), own, dials)
    assert isinstance(found, PowerDesign), found
    return found
