"""A supply on its resulting parts: what was really fitted in the place of what was asked."""

from functools import lru_cache

from core.model.supply.supply import Decoupling, Supply
from core.rig.supply.by_table import gives_v

#: Of a decoupling its parts, each to the field that asks for it.
_DECOUPLING = {
    "decoupling_resistor": "resistor_ohm",
    "decoupling_choke": "choke_h",
    "decoupling_capacitor": "capacitor_f",
}


@lru_cache(maxsize=16)
def fitted(supply: Supply) -> Supply:
    """The supply as its figures are of it: rating of the fuse, smoothing, what regulators give and
    decouplings as built. Values that no part of it takes count for nothing.
    """
    found, built = supply, dict(supply.as_built)
    if supply.fuse is not None and "fuse" in built:
        found = found.edited(("fuse", "rated_a"), built["fuse"])
    if supply.smoothing_f is not None and "smoothing" in built:
        found = found.edited(("smoothing_f",), built["smoothing"])
    for n, each in enumerate(supply.regulators):
        if each.as_built:
            found = found.edited(("regulators", n, "output_v"), gives_v(each))
    for n, load in enumerate(supply.loads):
        if load.decoupling is not None and load.decoupling.as_built:
            found = found.edited(("loads", n, "decoupling"), _decoupling(load.decoupling))
    return found


def _decoupling(asked: Decoupling) -> Decoupling:
    found = asked
    for key, value in asked.as_built:
        field = _DECOUPLING.get(key)
        if field is not None and getattr(asked, field) is not None:
            found = found.edited((field,), value)
    return found
