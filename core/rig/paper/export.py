"""Two-port responses of filters and amplifiers as Touchstone or CSV text, and circuits as netlists."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from core.circuits.active.oscillation import parts_of
from core.circuits.active.two_port import TwoPort, two_port
from core.circuits.ladder import Array, ComplexArray, Network, group_delay_s, solve
from core.circuits.netlist import Oscillates, direct_netlist, netlist
from core.circuits.switching.transient import Applied, conversion_netlist
from core.model.stages.stage import Way
from core.model.values.errors import DesignError
from core.model.values.quantities import spelled
from core.rig.analysis import Analysis
from core.rig.plan.frequency_plan import dial_for, sideband_at_if
from core.rig.rows import OSCILLATORS
from core.rig.supply.rails import LINES
from core.rig.supply.soldered import supply_soldered
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.amplifiers.pair import PairDesign, amplifiers_in
from core.stages.crystal_oscillator.soldered import circuit_on
from core.stages.mixers.board import OSCILLATOR
from core.stages.mixers.design import MixerDesign
from core.stages.outcome import Unsolved
from core.stages.vfo.tank import TANK, TankDesign, circuit, resonance


def scattering(network: Network, f_hz: Array, reference_ohm: float | None = None) -> ComplexArray:
    """S-matrix on a grid `f_hz` (F,) [Hz], shape (2, 2, F), referred to `reference_ohm` [ohm] at both ports.

    None refers it to the network's own source and load resistance. Re-terminating the network gives the
    renormalised parameters directly, so no matrix formula is needed.
    """
    ends = (
        network
        if reference_ohm is None
        else replace(network, source_ohm=reference_ohm, load_ohm=reference_ohm)
    )
    forward, backward = solve(ends, f_hz), solve(ends.reversed(), f_hz)
    return np.array([[forward.s11, backward.s21], [forward.s21, backward.s11]])


def response_touchstone(network: Network, f_hz: Array, reference_ohm: float | None, title: str) -> str:
    """Touchstone 1.1 text of a filter, S in real and imaginary parts, frequency in Hz, shape (F,).

    The format knows one reference for both ports: a network between unequal resistances is referred to
    its source's, and a comment says so.
    """
    unequal = reference_ohm is None and network.source_ohm != network.load_ohm
    reference = network.source_ohm if reference_ohm is None else reference_ohm
    remarks = []
    if unequal:
        remarks.append(
            f"Designed between {network.source_ohm:g} and {network.load_ohm:g} ohm; referred to the first."
        )
    return _touchstone(scattering(network, f_hz, reference), f_hz, reference, title, remarks)


def _touchstone(s: ComplexArray, f_hz: Array, ohm: float, title: str, remarks: Sequence[str] = ()) -> str:
    lines = [f"! {' '.join(title.split())}", *(f"! {each}" for each in remarks), f"# Hz S RI R {ohm:.12g}"]
    # Touchstone's order for two ports: S11 S21 S12 S22.
    columns = [f_hz]
    for row, column in ((0, 0), (1, 0), (0, 1), (1, 1)):
        columns += [s[row, column].real, s[row, column].imag]
    lines += [" ".join(f"{value:.15g}" for value in line) for line in np.column_stack(columns)]
    return "\n".join(lines) + "\n"


def _amplified(made: AmplifierDesign, f_hz: Array) -> TwoPort:
    port = two_port(made.circuit, f_hz)
    if isinstance(port, Unsolved):
        raise DesignError(port.reason)
    return port


def amplifier_touchstone(made: AmplifierDesign, f_hz: Array, reference_ohm: float | None, title: str) -> str:
    """Touchstone 1.1 text of an amplifier of parts with all four parameters, shape (F,) [Hz]; referred to its
    system resistance where no other reference [ohm] is given. `DesignError` where it has no answer.
    """
    ohm = made.circuit.ports[0].ohm if reference_ohm is None else reference_ohm
    return _touchstone(_amplified(made, f_hz).s(ohm), f_hz, ohm, title)


def amplifier_csv(made: AmplifierDesign, f_hz: Array, reference_ohm: float | None = None) -> str:
    """CSV text with a header row and units: frequency, gain, reverse gain, return losses and noise figure in
    dB, between equal resistances [ohm], shape (F,) [Hz]. `DesignError` where it has no answer.
    """
    ohm = made.circuit.ports[0].ohm if reference_ohm is None else reference_ohm
    port = _amplified(made, f_hz)
    (s11, s12), (s21, s22) = 20 * np.log10(np.abs(port.s(ohm)))
    table = np.column_stack([f_hz, s21, s12, -s11, -s22, port.noise_figure_db(ohm)])
    rows = [
        "frequency (Hz),gain (dB),reverse gain (dB),return loss at the input (dB),"
        "return loss at the output (dB),noise figure (dB)"
    ]
    return "\n".join([*rows, *(",".join(f"{value:.12g}" for value in line) for line in table)]) + "\n"


def response_of(
    analysis: Analysis,
    stage: str,
    band: str,
    span_hz: tuple[float | None, float | None],
    points: int,
    *,
    reference_ohm: float | None,
    form: Literal["s2p", "csv"],
    way: Way = "receive",
) -> str:
    """The response of a stage that is a filter or an amplifier of parts, as text, between two frequencies
    [Hz] of its own where one is None; of a bilateral pair in the direction `way`.

    `DesignError` when there is no such stage or band, or nothing could be designed.
    """
    project = analysis.project
    project.band(band)
    made = analysis.design(stage, band)
    amplifiers = [each for each in amplifiers_in(made) if each.way in (None, way)]
    design = amplifiers[0] if amplifiers else analysis.filter_design(stage, band)
    if isinstance(design, Unsolved):
        raise DesignError(design.reason)
    low, high = (own if given is None else given for own, given in zip(design.span_hz, span_hz, strict=True))
    if not low < high:
        raise DesignError("The response would end before it begins; give a --to above --from.")
    f, title = np.linspace(low, high, points), f"{project.name}: {project.stage(stage).name}, {spelled(band)}"
    if isinstance(design, AmplifierDesign):
        if design.way is not None:
            title = f"{title}, {way}"
        if form == "s2p":
            return amplifier_touchstone(design, f, reference_ohm, title)
        return amplifier_csv(design, f, reference_ohm)
    if form == "s2p":
        return response_touchstone(design.network, f, reference_ohm, title)
    return response_csv(design.network, f, reference_ohm)


def response_csv(network: Network, f_hz: Array, reference_ohm: float | None = None) -> str:
    """CSV text with a header row and units: frequency, loss and return loss in dB, phase, group delay.

    `f_hz` has shape (F,) [Hz]. An infinite loss is an empty cell.
    """
    ends = (
        network
        if reference_ohm is None
        else replace(network, source_ohm=reference_ohm, load_ohm=reference_ohm)
    )
    response = solve(ends, f_hz)
    phase = np.degrees(np.unwrap(np.angle(response.s21)))
    delay = group_delay_s(ends, f_hz)
    rows = ["frequency (Hz),loss (dB),return loss (dB),phase (degree),group delay (s)"]
    table = np.column_stack([f_hz, response.loss_db, response.return_loss_db, phase, delay])
    rows += [",".join(f"{value:.12g}" if np.isfinite(value) else "" for value in row) for row in table]
    return "\n".join(rows) + "\n"


#: What the netlists of the VFO and the supply are named by where no stage has that key.
VFO, SUPPLY = "vfo", "supply"
#: How far beyond what the tank tunes its netlist is analysed, a share of the frequency [-].
_BEYOND = 0.03


def netlist_of(analysis: Analysis, stage: str, band: str, way: Way = "receive") -> str:
    """A stage's circuit on a band as a netlist, or by the names `vfo`, `carrier`, `helper` and `supply` one
    of those.

    A crystal oscillator is run over time, a mixer with its oscillator and a signal in the direction `way`
    applied. A bilateral pair is written as it is fed and driven in that direction, a supply as it is switched
    then, with everybody as a resistor that takes what it takes at rest.

    `DesignError` when there is no such stage or band, or nothing could be designed.
    """
    project = analysis.project
    project.band(band)
    if stage == VFO and all(each.id != VFO for each in project.stages):
        return _tank_netlist(analysis, band)
    if stage == SUPPLY and all(each.id != SUPPLY for each in project.stages):
        return _supply_netlist(analysis, way)
    if stage in OSCILLATORS and all(each.id != stage for each in project.stages):
        return _crystal_netlist(analysis, stage, band)
    design = analysis.design(stage, band)
    if isinstance(design, Unsolved):
        raise DesignError(design.reason)
    title = f"{project.name}: {project.stage(stage).name}, {spelled(band)}"
    if isinstance(design, MixerDesign):
        return _mixer_netlist(analysis, design, stage, band, way)
    if isinstance(design, PairDesign):
        remark = f"In {way}: the other half is not fed."
        return netlist(design.on(way).circuit, f"{title}, {way}", design.span_hz, remarks=(remark,))
    return netlist(design.circuit, title, design.span_hz)


#: What the frequencies in a mixer's netlist are rounded to, so that all are multiples of one: between dial
#: and IF, and with audio, which is that tone [Hz]; the signal applied, well below the oscillator [dBm].
_COMMON_HZ, _TONE_HZ, _TEST_DBM = 100e3, 10e3, -30.0


def _mixer_netlist(analysis: Analysis, design: MixerDesign, stage: str, band: str, way: Way) -> str:
    """A mixer driven as it is in the rig; the conversion gain is measured by the netlist itself."""
    project, plan = analysis.project, analysis.band_plan(band)
    drive = next((each for each in analysis.drives if each.stage == stage), None)
    if drive is None:
        raise DesignError(f"{project.stage(stage).name} is switched out of the path; switch it in first.")
    common = _COMMON_HZ if design.oscillator == "vfo" else _TONE_HZ
    # Carrier and VFO are rounded, and the dial follows by the band's scheme.
    carrier = common * max(round(plan.carrier_hz / common), 2)
    at, other, oscillator = carrier + _TONE_HZ, _TONE_HZ, carrier
    if design.oscillator == "vfo":
        middle = plan.vfo_at(project.band(band).centre_hz)
        oscillator = common * max(round(middle / common), 1)
        at, other = abs(dial_for(plan.scheme, carrier, oscillator)), carrier
    if min(at, other) <= 0:
        raise DesignError(f"On {spelled(band)} the VFO would pass zero; choose another mixing scheme or IF.")
    into, out = design.ends(way)
    into_hz, out_hz = (at, other) if way == "receive" else (other, at)
    return conversion_netlist(
        design.circuit,
        f"{project.name}: {project.stage(stage).name}, {spelled(band)}, {way}",
        oscillator=Applied(node=OSCILLATOR, f_hz=oscillator, dbm=drive.delivered_dbm),
        signal=Applied(node=into, f_hz=into_hz, dbm=_TEST_DBM),
        wanted=out,
        wanted_hz=out_hz,
        common_hz=common,
        remarks=(
            "Frequencies are rounded, so that all are multiples of one and the integrals are exact.",
            "Resistors called core stand for what the transformers' cores turn into heat.",
        ),
    )


def _tank_netlist(analysis: Analysis, band: str) -> str:
    made = analysis.tank
    if not isinstance(made, TankDesign):
        reason = "" if made is None else made.reason
        raise DesignError(reason or "The VFO is a block without a tank; give it a tank in its editor.")
    cover = made.range_of(band)
    if cover is None:
        raise DesignError(f"On {spelled(band)} the VFO would pass zero; choose another mixing scheme or IF.")
    low = float(resonance(made, band, np.array([0.0])).f_hz[0])
    remarks = (
        f"The tuning capacitor is meshed: without losses this resonates at {low!r} Hz. Open it is "
        f"{made.tank.variable.span_f[0]!r} F.",
        "The transistor gives nothing back here; what its bias draws and its capacitances are in the list.",
    )
    reach = (low * (1 - _BEYOND), low * (1 + _BEYOND))
    title = f"{analysis.project.name}: VFO, {spelled(band)}"
    return netlist(circuit(made, band), title, reach, points=1001, drive=TANK, remarks=remarks)


#: How long a crystal oscillator is run, in time constants of its crystal, and at what share of its current
#: that is set going [-].
_CONSTANTS, _SET_GOING = 5.0, 0.5
#: Turns that it is run at least.
_LEAST_RUN = 5000.0


def _crystal_netlist(analysis: Analysis, key: str, band: str) -> str:
    row = analysis.oscillator(key)
    if row is None:
        raise DesignError(
            f"The {OSCILLATORS[key].lower()} is a block without parts, or not needed; give it a circuit."
        )
    design = row.design
    if isinstance(design, Unsolved):
        raise DesignError(design.reason)
    side = sideband_at_if(analysis.project.band(band))
    working = next((each for each in design.places if each.place.which in (None, side)), design.places[0])
    if working.f_hz is None or working.current_a is None:
        raise DesignError(f"The {row.name.lower()} does not oscillate; see what is found about it.")
    circuit_, parts = circuit_on(design.asked, working.place.which, design.fitted)
    run = Oscillates(
        f_hz=working.f_hz,
        start_a=_SET_GOING * working.current_a,
        for_s=max(_CONSTANTS * working.settles_s, _LEAST_RUN / working.f_hz),
    )
    names = ", ".join(part.ref for part in parts_of(parts))
    remarks = (
        f"Switched in: {names}. Expected are {working.f_hz!r} Hz and "
        f"{2 * working.peak_v(design.asked.port_ohm)!r} V from peak to peak.",
        "It takes a few minutes to run.",
    )
    title = f"{analysis.project.name}: {row.name}, {spelled(band)}"
    return netlist(circuit_, title, design.span_hz, oscillates=run, remarks=remarks)


def _supply_netlist(analysis: Analysis, way: Way) -> str:
    made = supply_soldered(analysis)
    if made is None:
        raise DesignError("No supply is planned for this rig; plan one on its page.")
    title = f"{analysis.project.name}: supply, {way}"
    remarks = (
        "Everybody who is fed is a resistor that takes what it takes at rest; each line is high in its way.",
        "Diodes that conduct only when something is wrong are in the list, Zener diodes as plain ones.",
    )
    circuit_, volt = made.on(way), made.feeding.nominal_v
    lines = {node: volt if each == way else 0.0 for each, node in LINES.items()}
    return direct_netlist(circuit_, title, volt, lines, remarks=remarks)
