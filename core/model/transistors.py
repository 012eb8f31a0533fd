"""Transistors that a builder has and the table of devices lacks, by their data sheets' figures."""

from typing import Literal

from core.model.values.base import Model
from core.model.values.quantities import (
    BreakdownVolt,
    Celsius,
    CurrentGain,
    DeviceAmpere,
    DeviceFarad,
    DeviceHertz,
    DeviceOhm,
    DeviceSiemens,
    DeviceVolt,
    DeviceWatt,
    EarlyVolt,
    KelvinPerWatt,
    Name,
    Share,
    StageGain,
    stated,
)

#: Kinds of transistor.
TransistorKind = Literal["bipolar", "jfet", "mosfet"]
_FIELDS: dict[str, frozenset[str]] = {
    "bipolar": frozenset(
        {
            "current_gain",
            "transition_hz",
            "transition_at_a",
            "base_emitter_f",
            "base_collector_f",
            "base_ohm",
            "early_v",
        }
    ),
    "jfet": frozenset({"saturation_a", "pinch_off_v", "gate_source_f", "gate_drain_f"}),
    "mosfet": frozenset(
        {
            "transconductance_s",
            "transconductance_at_a",
            "threshold_v",
            "input_f",
            "transfer_f",
            "output_f",
        }
    ),
}
#: What counts at power.
_AT_POWER = frozenset(
    {
        "most_v",
        "most_control_v",
        "most_a",
        "junction_k_w",
        "most_junction_c",
        "power_gain_db",
        "power_gain_hz",
    }
)
_EVERY = frozenset().union(*_FIELDS.values())


class OwnTransistor(Model):
    """A transistor of the builder's own, n-channel or npn."""

    name: Name = stated(
        "My transistor", "Name", "What it is called where one is chosen.", min_length=1, max_length=24
    )
    type: TransistorKind = stated(
        "bipolar", "Type", "Bipolar (npn), junction FET or enhancement MOSFET (n-channel)."
    )
    most_watt: DeviceWatt = stated(
        0.5, "Heat in still air", "Largest dissipation without a sink.", "0.35 W in a small plastic case"
    )
    scatter: Share = stated(
        0.0,
        "Specimens scatter by",
        "How far current gain, IDSS and pinch-off, or threshold of specimens lie to either side of these "
        "figures; 0 for ones that were measured.",
        "50 % as bought",
    )
    current_gain: CurrentGain = stated(150.0, "Current gain", "hFE at the current of use.", "50 to 300")
    transition_hz: DeviceHertz = stated(
        300e6, "Transition frequency", "fT as the data sheet states it.", "100 MHz to 5 GHz"
    )
    transition_at_a: DeviceAmpere = stated(
        10e-3, "fT stated at", "Collector current at which fT is stated.", "5 to 50 mA"
    )
    base_emitter_f: DeviceFarad = stated(
        5e-12, "Cib", "Capacitance of the base-emitter junction.", "2 to 25 pF"
    )
    base_collector_f: DeviceFarad = stated(3e-12, "Cob", "Capacitance from collector to base.", "1 to 8 pF")
    base_ohm: DeviceOhm = stated(20.0, "Base resistance", "Resistance of the base itself.", "5 to 60 Ω")
    early_v: EarlyVolt = stated(
        80.0, "Early voltage", "Slope of the collector current: where its lines meet.", "50 to 100 V"
    )
    saturation_a: DeviceAmpere = stated(10e-3, "IDSS", "Drain current at zero gate voltage.", "2 to 60 mA")
    pinch_off_v: DeviceVolt = stated(
        3.0, "Pinch-off", "Magnitude of the gate voltage at which the current ends.", "1 to 6 V"
    )
    gate_source_f: DeviceFarad = stated(4e-12, "Cgs", "Capacitance from gate to source.", "2 to 5 pF")
    gate_drain_f: DeviceFarad = stated(2e-12, "Cgd", "Capacitance from gate to drain.", "1 to 3 pF")
    transconductance_s: DeviceSiemens = stated(
        0.2, "Transconductance", "gfs as the data sheet states it.", "0.1 to 2 S"
    )
    transconductance_at_a: DeviceAmpere = stated(
        0.25, "gfs stated at", "Drain current at which gfs is stated.", "0.2 to 3 A"
    )
    threshold_v: DeviceVolt = stated(
        2.0, "Threshold", "Gate voltage at which the current begins.", "1 to 4 V"
    )
    input_f: DeviceFarad = stated(40e-12, "Ciss", "Input capacitance, drain grounded.", "20 to 200 pF")
    transfer_f: DeviceFarad = stated(5e-12, "Crss", "Capacitance from gate to drain.", "2 to 20 pF")
    output_f: DeviceFarad = stated(15e-12, "Coss", "Output capacitance, gate grounded.", "10 to 100 pF")
    most_v: BreakdownVolt = stated(
        40.0,
        "Breakdown",
        "Largest voltage at drain or collector.",
        "40 to 100 V",
    )
    most_control_v: DeviceVolt = stated(
        20.0, "Gate bears", "Largest voltage at gate, or backwards at the base.", "20 V, a base 3 to 6 V"
    )
    most_a: DeviceAmpere = stated(1.0, "Largest current", "Of drain or collector.", "0.2 to 10 A")
    junction_k_w: KelvinPerWatt = stated(
        50.0, "Junction to case", "Thermal resistance from junction to case.", "1 to 80 K/W"
    )
    most_junction_c: Celsius = stated(150.0, "Junction bears", "Highest temperature inside.", "150 to 200 °C")
    power_gain_db: StageGain = stated(
        16.0, "Power gain", "Of the data sheet's amplifier; above falls by 6 dB an octave.", "10 to 20 dB"
    )
    power_gain_hz: DeviceHertz = stated(30e6, "Stated at", "Frequency of that gain.", "30 MHz")

    @property
    def figures(self) -> frozenset[str]:
        """The fields that this kind of transistor has."""
        return _FIELDS[self.type]

    @property
    def idle_fields(self) -> frozenset[str]:
        """What the other kinds are asked for."""
        return (_EVERY - self.figures) | (_AT_POWER if self.type == "jfet" else frozenset())
