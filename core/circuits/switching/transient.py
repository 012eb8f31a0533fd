"""A mixer's circuit as a netlist for a transient analysis, which tells its conversion gain.

What a mixer does shows in no AC analysis: oscillator and signal are both applied, and the converted signal is
read off by its Fourier integrals over a whole number of periods of everything that is there.
"""

from math import ceil, log10, sqrt

from core.circuits.circuit import GROUND, Circuit
from core.circuits.netlist import listed
from core.circuits.units import watts
from core.record import record

#: Steps in a period of the highest frequency that matters, the third harmonic of the highest applied [-]; how
#: many of the common periods pass before one is measured.
_STEPS, _HARMONIC, _SETTLE = 24, 3, 2


@record(kw_only=True)
class Applied:
    """A sine applied at one of a circuit's ports, by its node: frequency [Hz], available power [dBm]."""

    node: str
    f_hz: float
    dbm: float


def conversion_netlist(
    circuit: Circuit,
    title: str,
    *,
    oscillator: Applied,
    signal: Applied,
    wanted: str,
    wanted_hz: float,
    common_hz: float,
    remarks: tuple[str, ...] = (),
) -> str:
    """The circuit with an oscillator and a signal at two of its ports, and the converted signal measured at a
    third one, `wanted`, at `wanted_hz` [Hz].

    All frequencies are whole multiples of `common_hz` [Hz], so that the integrals are exact.
    """
    of = listed(circuit)
    ohm = {port.node: port.ohm for port in circuit.ports}
    for name, each in (("oscillator", oscillator), ("signal", signal)):
        behind, emf = of.inner(name), sqrt(8 * ohm[each.node] * watts(each.dbm))
        of.add("V", name, behind, GROUND, f"DC 0 SIN(0 {emf!r} {each.f_hz!r})")
        of.add("R", f"source_{name}", behind, of.nodes[each.node], ohm[each.node])
    out = of.nodes[wanted]
    of.add("R", "load", out, GROUND, ohm[wanted])
    for rail in circuit.rails:
        of.add("V", f"rail_{rail.node}", of.nodes[rail.node], GROUND, f"DC {rail.volt!r}")
    period, start = 1 / common_hz, _SETTLE / common_hz
    step = 1 / (_STEPS * _HARMONIC * max(oscillator.f_hz, signal.f_hz, wanted_hz))
    # A whole number of steps in the time that is measured.
    step = period / ceil(period / step)
    turn = f"6.283185307179586*{wanted_hz!r}*time"
    over = f"from={start!r} to={start + period!r}"
    # Of an amplitude A the two integrals' squares sum to A²/4; the power in the load is A²/2R.
    shift = 10 * log10(2 / ohm[wanted] / watts(signal.dbm))
    return "\n".join(
        [
            f"* {' '.join(title.split())}",
            *(f"* {' '.join(each.split())}" for each in remarks),
            "* gain_db is the conversion gain: power in the load over the power available from the signal.",
            *of.lines,
            ".options reltol=1e-5 abstol=1e-12",
            f".tran {step!r} {start + period!r} 0 {step!r}",
            f".meas tran in_phase AVG par('v({out})*cos({turn})') {over}",
            f".meas tran quadrature AVG par('v({out})*sin({turn})') {over}",
            f".meas tran gain_db PARAM='{shift!r}+10*log10(in_phase*in_phase+quadrature*quadrature)'",
            ".end",
            "",
        ]
    )
