"""Which transistor a stage is built of: one of the table, or one of the builder's own."""

from collections.abc import Sequence
from math import pi
from typing import Any

from core.circuits.circuit import THERMAL_V
from core.model.transistors import OwnTransistor
from core.model.values.notation import format_value
from core.stages.outcome import Unsolved
from core.trade.devices import BipolarRow, JfetRow, MosfetRow, Row, devices, spelled
from core.trade.power_devices import PowerRow, power_devices

#: Drift of the voltage that keeps a current in a transistor of the builder's own, V/K; an estimate.
_OWN_PER_K = -3e-3
#: What scatters of each kind, and the range of it in its row.
_RANGES = {
    "bipolar": {"current_gain": "current_gain_range"},
    "jfet": {"saturation_a": "saturation_range_a", "pinch_off_v": "pinch_off_range_v"},
    "mosfet": {"threshold_v": "threshold_range_v"},
}
_ROWS: dict[str, type[Row]] = {"bipolar": BipolarRow, "jfet": JfetRow, "mosfet": MosfetRow}


def own_row(own: OwnTransistor) -> Row:
    """A transistor of the builder's as a row of the table."""
    figures: dict[str, Any] = {name: getattr(own, name) for name in own.figures}
    for name, range_ in _RANGES[own.type].items():
        # Of what scatters by all of it a twentieth is left: nothing amplifies by zero.
        figures[range_] = (figures[name] * max(1 - own.scatter, 0.05), figures[name] * (1 + own.scatter))
    if own.type != "jfet":
        figures |= {"most_v": own.most_v, "most_a": own.most_a}
    return _ROWS[own.type](
        device=own.name,
        name=own.name,
        kind=own.type,
        most_watt=own.most_watt,
        source="figures typed in for this rig",
        status="as typed in",
        **figures,
    )


def _contradiction(own: OwnTransistor) -> str | None:
    """Why figures that are allowed one by one belong to no transistor together."""
    if own.type == "bipolar":
        most = (own.base_emitter_f + own.base_collector_f) * THERMAL_V / own.transition_at_a
        if 1 / (2 * pi * own.transition_hz) <= most:
            fastest = format_value(1 / (2 * pi * most), "Hz", 3)
            return (
                f"with these capacitances fT cannot be above {fastest} at that current; correct fT, its "
                "current or a capacitance."
            )
    if own.type == "mosfet" and own.transfer_f > min(own.input_f, own.output_f):
        return "Crss is a part of Ciss and of Coss and cannot be larger than either; correct one of them."
    return None


def transistor(name: str, own: Sequence[OwnTransistor]) -> Row | Unsolved:
    """The transistor of this name, the builder's own before the table's, or why there is none."""
    mine = next((each for each in own if each.name == name), None)
    if mine is not None:
        problem = _contradiction(mine)
        return own_row(mine) if problem is None else Unsolved(f"{mine.name}: {problem}")
    found = devices().get(name)
    if found is None:
        return Unsolved(
            f"No transistor is called {name}, in the table or among the rig's own; choose another, or add "
            f"{name} to the rig's own transistors.",
            "device",
        )
    return found


def choices(own: Sequence[OwnTransistor]) -> tuple[tuple[str, str], ...]:
    """Every transistor that a stage can be built of, by its name in the model and as it is spelled."""
    mine = tuple((each.name, f"{spelled(own_row(each))}, own") for each in own)
    return mine + tuple((name, spelled(row)) for name, row in devices().items())


def power_row(name: str, own: Sequence[OwnTransistor]) -> PowerRow | Unsolved:
    """What the transistor of this name bears and amplifies at power, or why nothing is known of it."""
    mine = next((each for each in own if each.name == name), None)
    if mine is not None:
        return PowerRow(
            device=mine.name,
            most_v=mine.most_v,
            most_control_v=mine.most_control_v,
            most_a=mine.most_a,
            junction_k_w=mine.junction_k_w,
            most_junction_c=mine.most_junction_c,
            control_per_k=_OWN_PER_K,
            gain_hz=(mine.power_gain_hz,),
            gain_db=(mine.power_gain_db,),
            source="figures typed in for this rig",
            status="as typed in",
        )
    found = power_devices().get(name)
    if found is None:
        known = ", ".join(devices()[each].name for each in power_devices())
        return Unsolved(
            f"What {name.upper()} bears as a power transistor is not in the table; choose one of {known}, or "
            "add it to the rig's own transistors."
        )
    return found
