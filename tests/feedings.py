"""Supplies with made-up consumers, for checks by hand."""

from core.rig.supply.consumers import Consumer, Current, Feeding


def constant(ampere, full_a=None):
    """A current that is the same at any voltage."""
    return Current((1.0,), (ampere,), (ampere if full_a is None else full_a,))


def consumer(key="load", *, rest_a=0.0, full_a=None, works=(True, True), powered=None, rail="", **others):
    given = {
        "key": key,
        "name": key,
        "role": "load",
        "rail": rail,
        "works": works,
        "powered": works if powered is None else powered,
        "receive": constant(rest_a, full_a),
        "transmit": constant(rest_a, full_a),
        "origin": "typed",
    }
    return Consumer(**given | others)


def feeding_of(supply, *, load_a=0.0, **others):
    """A supply of 13.8 V with one load on whatever regulator it has, in a rig of 5 W for 20 m."""
    rail = supply.regulators[0].name if supply.regulators else ""
    given = {
        "nominal_v": 13.8,
        "ripple_v": 0.0,
        "consumers": (consumer(rest_a=load_a, rail=rail),),
        "sends_dbm": 37.0,
        "top_hz": 14.35e6,
    }
    return Feeding(supply=supply, asked=supply, **given | others)
