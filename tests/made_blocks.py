"""Blocks of a signal path with one figure each, and what such a path receives."""

from core.model.stages.audio import Speaker
from core.model.station import Station
from core.rig.levels import receive
from core.rig.levels.blocks import Block


def stage(name, gain, iip3=None, p1db=None, kind="amplifier", zone="if", **more) -> Block:
    """A block of one figure each, without noise."""
    return Block(
        stage=name,
        name=name,
        kind=kind,
        zone=zone,
        gain_db=gain,
        noise_figure_db=more.pop("noise", 0.0),
        iip3_dbm=iip3,
        p1db_out_dbm=p1db,
        **more,
    )


def received(*blocks, turned=()):
    """Receive levels of a path at 20 m in 2400 Hz."""
    return receive.receive(blocks, "20m", 14.2e6, 2400.0, Station(), Speaker(), tuple(turned))
