"""Capacitors on hand for a crystal oscillator: its divider, and what couples and blocks."""

from collections.abc import Mapping
from math import log

from core.circuits.resonator import in_series
from core.model.notebook.junk_box import FILTER_TYPES
from core.model.values.part_names import NAMES
from core.stages.crystal_oscillator.asked import Asked
from core.stages.crystal_oscillator.settled import OnHand, SolvedValues
from core.stages.crystal_oscillator.soldered import FAMILY
from core.stages.crystal_oscillator.values import crystal_of, needed_s, own_f
from core.stages.on_hand import first_on_hand
from core.stages.parts import Built, Key

#: A divider on hand may want so many times the transconductance of one that is bought [-], and load the
#: crystal by so much more or less [nepers], which trimmer and coil make up for: choices.
_NEEDS, _LOADS = 1.1, 0.15
_DIVIDER: tuple[Key, Key] = (("feedback_upper", None), ("feedback_lower", None))


def divider_on_hand(asked: Asked, bought: SolvedValues) -> OnHand:
    """Of the shelf what makes a divider that hardly asks for more of its transistor than the one bought, and
    loads the crystal about as much [F]; the transistor's current is found anew for it.
    """
    rows = {(role, which): (designed, taken) for role, which, designed, taken, _ in bought}
    crystal, own = crystal_of(asked, Built(FAMILY, ())), own_f(asked)

    def figures(farads: Mapping[str, float]) -> tuple[float, float]:
        """Transconductance wanted [S], and what the crystal is loaded with [F]."""
        divider = farads["upper"] + own, farads["lower"]
        return needed_s(asked, crystal, divider, asked.worst_ohm), float(in_series(*divider))

    names = dict(zip(("upper", "lower"), _DIVIDER, strict=True))
    bought_f = {name: rows[key][1] for name, key in names.items()}
    was_s, was_f = figures(bought_f)
    found_f = first_on_hand(
        {(name,): rows[key][0] for name, key in names.items()},
        bought_f,
        asked.shelf.of(*FILTER_TYPES),
        lambda farads: ((found := figures(farads))[0] / was_s, abs(log(found[1] / was_f))),
        (_NEEDS, _LOADS),
    )
    return tuple((key, found_f[name]) for name, key in names.items() if found_f[name] != bought_f[name])


def blocks_on_hand(asked: Asked, bought: SolvedValues, divider: OnHand = ()) -> OnHand:
    """Of what a divider leaves on the shelf all that couples and blocks as well as what is bought [F]."""
    wanted = {
        (role, which): designed
        for role, which, designed, _, _ in bought
        if NAMES[FAMILY][role].kind == "capacitor" and (role, which) not in _DIVIDER
    }
    left = asked.shelf.without(farad for _, farad in divider)
    return tuple(left.all_ample(wanted).items())
