"""Blocks of a signal path with one figure each, and what such a path receives."""

from core.model.stages.audio import Speaker
from core.model.station import Station
from core.rig.levels import receive
from core.rig.levels.blocks import Block


def stage(name, gain, noise=0.0, *, iip3=None, p1db=None, kind="amplifier", zone="if", **more) -> Block:
    """A block of one figure each."""
    return Block(
        stage=name,
        name=name,
        kind=kind,
        zone=zone,
        gain_db=gain,
        noise_figure_db=noise,
        iip3_dbm=iip3,
        p1db_out_dbm=p1db,
        **more,
    )


def received(*blocks, turned=(), speaker=None, bandwidth=2400.0):
    """Receive levels of a path at 20 m."""
    room = speaker or Speaker()
    return receive.receive(blocks, "20m", 14.2e6, bandwidth, Station(), room, tuple(turned))
