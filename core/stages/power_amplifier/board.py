"""How power amplifiers are soldered: their parts between nodes, by role and number."""

from collections.abc import Iterator

from core.circuits.circuit import GROUND
from core.model.stages.built_power_amplifier import BuiltPowerAmplifier
from core.model.values.parts import Role, Which

#: What is held at a voltage: the supply, and what the bias is taken from.
SUPPLY, REGULATOR = "supply", "regulator"
#: Where the bias arrives, and the two ends.
BIAS, INPUT, OUTPUT = "bias", "in", "out"
Key = tuple[Role, Which]
#: A place on the board: role and number, and the nodes it is soldered between (of a transistor drain, gate,
#: source; of a transformer both ends of either winding).
Slot = tuple[Role, Which, tuple[str, ...]]


def electrodes(stage: BuiltPowerAmplifier) -> tuple[tuple[str, str, str], ...]:
    """Drain, gate and source (or collector, base and emitter) of each transistor."""
    sources = ("s1", "s2") if stage.degeneration_ohm > 0 else (GROUND, GROUND)
    if stage.topology == "push_pull":
        return ("d1", "g1", sources[0]), ("d2", "g2", sources[1])
    both = tuple(("d", "g", source) for source in sources)
    return both if stage.topology == "parallel" else both[:1]


def board(stage: BuiltPowerAmplifier, *, bipolar: bool, trackers: int, below_ohm: bool) -> tuple[Slot, ...]:
    """All places, with so many transistors as diodes on the sink; `below_ohm`: the load is less than what
    stands at the output, so that an L has its capacitor there.
    """
    return (
        *_input(stage, bipolar=bipolar),
        *_bias(stage, trackers),
        *_transistors(stage),
        *_output(stage, below_ohm=below_ohm),
    )


def _once(nodes: tuple[tuple[str, str, str], ...], place: int) -> list[str]:
    return list(dict.fromkeys(each[place] for each in nodes))


def _input(stage: BuiltPowerAmplifier, *, bipolar: bool) -> Iterator[Slot]:
    gates = _once(electrodes(stage), 1)
    starts = [INPUT]
    if stage.topology == "push_pull":
        starts = ["ia", "ib"]
        yield "input_transformer", None, (INPUT, GROUND, "ia", "ib")
    elif stage.input_turns > 1:
        starts = ["ia"]
        yield "input_transformer", None, (INPUT, GROUND, "ia", GROUND)
    for which, (start, gate) in enumerate(zip(starts, gates, strict=True), 1):
        yield "coupling", which, (start, gate)
        if bipolar:
            # A base takes current, which a swamping resistor in its way would drop.
            yield "swamping", which, (gate, f"w{which}")
            yield "swamping_block", which, (f"w{which}", GROUND)
            yield "bias_choke", which, (BIAS, gate)
        else:
            yield "swamping", which, (gate, BIAS)


def _bias(stage: BuiltPowerAmplifier, trackers: int) -> Iterator[Slot]:
    if stage.bias_from == "trimmer":
        # The trimmer stands in the upper arm: where its wiper loses contact, the bias falls.
        yield "bias_upper", None, (REGULATOR, "u")
        yield "bias_trimmer", None, ("u", BIAS)
    else:
        yield "bias_upper", None, (REGULATOR, BIAS)
    yield "bias_lower", None, (BIAS, "t1" if trackers else GROUND)
    for which in range(1, trackers + 1):
        top, foot = f"t{which}", GROUND if which == trackers else f"t{which + 1}"
        yield "tracker", which, (top, top, foot)
    if stage.tracking == "thermistor":
        yield "thermistor", None, (BIAS, GROUND)
    yield "bypass", None, (BIAS, GROUND)


def _transistors(stage: BuiltPowerAmplifier) -> Iterator[Slot]:
    nodes = electrodes(stage)
    for which, leads in enumerate(nodes, 1):
        yield "transistor", which, leads
        if leads[2] != GROUND:
            yield "degeneration", which, (leads[2], GROUND)
    drains, gates = _once(nodes, 0), _once(nodes, 1)
    for which, (drain, gate) in enumerate(zip(drains, gates, strict=True), 1):
        if stage.feedback_ohm is not None:
            yield "feedback", which, (gate, f"f{which}")
            yield "feedback_block", which, (f"f{which}", drain)
        yield "choke", which, (SUPPLY, drain)
    yield "decoupling", None, (SUPPLY, GROUND)


def _output(stage: BuiltPowerAmplifier, *, below_ohm: bool) -> Iterator[Slot]:
    if stage.topology == "push_pull":
        # Keeps out of the core what two unlike transistors' currents differ by.
        yield "coupling", 3, ("d1", "p")
        yield "output_transformer", None, ("p", "d2", OUTPUT, GROUND)
        return
    yield "coupling", 2, ("d", "p")
    if stage.match == "transformer":
        yield "output_transformer", None, ("p", GROUND, OUTPUT, GROUND)
        return
    if stage.match == "pi" or not below_ohm:
        yield "match_capacitor", 1, ("p", GROUND)
    yield "match_coil", None, ("p", OUTPUT)
    if stage.match == "pi" or below_ohm:
        yield "match_capacitor", 2, (OUTPUT, GROUND)
