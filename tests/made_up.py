"""Made-up analyses for the rules, and what they read of one."""

from types import SimpleNamespace

from core.model.bands import Band
from core.model.stages.amplifiers import PowerAmplifier
from core.rig.plan.frequency_plan import band_plan
from core.rig.spurs.spurs import Spur

TWENTY = Band(name="20m", low_hz=14.0e6, high_hz=14.4e6, sideband="upper", scheme="sum")
PLAN = band_plan(TWENTY, 9.0e6)


def with_power_block(rig, **figures):
    """A rig whose power amplifier is a block of typed-in figures."""
    block = PowerAmplifier(
        id="power_amplifier", name="Power amplifier", direction="transmit", **{"rated_w": 8.0} | figures
    )
    return rig.with_stages(tuple(block if each.id == block.id else each for each in rig.stages))


def with_typical_mixers(rig):
    """A rig whose mixers are typical of their type."""
    for each in rig.stages:
        if each.kind == "mixer":
            rig = rig.edited(("stages", each.id, "figures_from"), "type")
    return rig


def project(tern, **others):
    """The sample's project with bands of our own."""
    given = {
        "station": tern.station,
        "read_out": tern.read_out,
        "bands": (TWENTY,),
        "stages": tern.stages,
        "path": tern.path,
        "speaker": tern.speaker,
        "carrier": tern.carrier,
        "vfo": tern.vfo,
    }
    return SimpleNamespace(**given | others)


def spur(level, kind="receive", products="3 signal − 4 VFO", *, crosses=False, away=(1e6, 1.2e6), **others):
    given = {
        "band": "20m",
        "kind": kind,
        "products": products,
        "m": 2,
        "n": 1,
        "order": 3,
        "dial_hz": 14.21e6,
        "crosses": crosses,
        "level_dbc": level,
        "moves": 2.0,
        "offset_low_hz": away[0],
        "offset_high_hz": away[1],
    }
    return Spur(**given | others)


def analysis(tern, *found, **others):
    def spurs(band, way=None):
        return [each for each in found if way is None or (each.kind == "transmit") == (way == "transmit")]

    return SimpleNamespace(project=project(tern), spurs=spurs, frequency_plan=(PLAN,), **others)
