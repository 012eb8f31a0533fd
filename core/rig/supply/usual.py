"""What builders usually begin with: currents that are not known yet, and a whole supply."""

from core.model.project import Project
from core.model.supply.source import Fuse
from core.model.supply.supply import Decoupling, Load, Regulator, Relay, Supply
from core.rig.analysis import Analysis
from core.rig.supply.consumers import USUAL_A, Consumer, Feeding, feeding
from core.rig.supply.polarity import fuse_facts
from core.stages.kinds.table import audio_of_parts

#: What is drawn by whoever stands in no table, A; common practice, no source.
_ANY_A = 10e-3
#: What audio stages of parts are fed with, which they are made for unless somebody says otherwise, V.
_AUDIO_V = 9.0
#: Who hangs on the oscillators' regulator.
_STEADY = ("vfo", "carrier", "helper")


def unknown(of: Feeding) -> tuple[Consumer, ...]:
    """Those of whom no current is known."""
    return tuple(each for each in of.consumers if each.origin == "unknown")


def with_usual_currents(of: Feeding) -> tuple[Load, ...]:
    """What is typed of the rig's consumers, with usual currents for those of whom nothing is known; a
    microphone amplifier gets a decoupling too, as it amplifies what comes by its supply. One that drives a
    speaker has none, which would take its peaks.
    """
    typed = list(of.asked.loads)
    for one in unknown(of):
        usual_a = USUAL_A.get(one.role, _ANY_A)
        old = next((each for each in typed if one.key == (each.of or each.name)), None)
        if old is not None:
            typed[typed.index(old)] = old.edited(("receive_a",), usual_a)
            continue
        taken = {each.name for each in typed}
        name = next(each for each in (one.name, one.key, f"Current of {one.key}"[:40]) if each not in taken)
        microphone = one.role == "audio" and not one.on("receive")
        made = Decoupling() if microphone else None
        typed.append(Load(name=name, of=one.key, receive_a=usual_a, decoupling=made))
    return tuple(typed)


def with_supply(project: Project) -> Project:
    """The rig with a battery, a fuse for what it draws, an antenna relay, 8 V for its oscillators, and 9 V
    for audio stages of parts.
    """
    audio = tuple(stage.id for stage in project.stages if audio_of_parts(stage) is not None and stage.in_path)
    known = {key for key, _ in project.can_be_fed}
    steady = [Regulator(feeds=tuple(key for key in _STEADY if key in known))]
    if audio:
        steady.append(Regulator(name="9 V", type="78", output_v=_AUDIO_V, feeds=audio))
    supply = Supply(regulators=tuple(steady), relays=(Relay(),))
    begun = project.edited(("supply",), supply)
    of = feeding(Analysis(begun))
    assert of is not None  # it was just given one
    begun = begun.edited(("supply", "loads"), with_usual_currents(of))
    of = feeding(Analysis(begun))
    rated = None if of is None else fuse_facts(of).proposed_a
    return begun if rated is None else begun.edited(("supply", "fuse"), Fuse(rated_a=rated))
