"""A filter's exact two-port response as Touchstone or CSV text, and circuits as netlists."""

from dataclasses import replace

import numpy as np

from core.circuits.ladder import Array, ComplexArray, Network, group_delay_s, solve
from core.circuits.netlist import netlist
from core.model.stages.stage import Way
from core.model.values.errors import DesignError
from core.model.values.quantities import spelled
from core.rig.analysis import Analysis
from core.stages.amplifiers.pair import PairDesign
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
    """Touchstone 1.1 text of a two-port, S in real and imaginary parts, frequency in Hz, shape (F,).

    The format knows one reference for both ports: a network between unequal resistances is referred to
    its source's, and a comment says so.
    """
    unequal = reference_ohm is None and network.source_ohm != network.load_ohm
    reference = network.source_ohm if reference_ohm is None else reference_ohm
    s = scattering(network, f_hz, reference)
    lines = [f"! {' '.join(title.split())}"]
    if unequal:
        lines.append(
            f"! Designed between {network.source_ohm:g} and {network.load_ohm:g} ohm; referred to the first."
        )
    lines.append(f"# Hz S RI R {reference:.12g}")
    # Touchstone's order for two ports: S11 S21 S12 S22.
    columns = [f_hz]
    for row, column in ((0, 0), (1, 0), (0, 1), (1, 1)):
        columns += [s[row, column].real, s[row, column].imag]
    lines += [" ".join(f"{value:.15g}" for value in line) for line in np.column_stack(columns)]
    return "\n".join(lines) + "\n"


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


#: What the netlists of the VFO are named by where no stage has that key.
VFO = "vfo"
#: How far beyond what the tank tunes its netlist is analysed, a share of the frequency [-].
_BEYOND = 0.03


def netlist_of(analysis: Analysis, stage: str, band: str, way: Way = "receive") -> str:
    """A stage's circuit on a band as a netlist, or the VFO's by the name `vfo`.

    A bilateral pair is written as it is fed and driven in the direction `way`.

    `DesignError` when there is no such stage or band, or nothing could be designed.
    """
    project = analysis.project
    project.band(band)
    if stage == VFO and all(each.id != VFO for each in project.stages):
        return _tank_netlist(analysis, band)
    design = analysis.design(stage, band)
    if isinstance(design, Unsolved):
        raise DesignError(design.reason)
    title = f"{project.name}: {project.stage(stage).name}, {spelled(band)}"
    if isinstance(design, PairDesign):
        remark = f"In {way}: the other half is not fed."
        return netlist(design.on(way).circuit, f"{title}, {way}", design.span_hz, remarks=(remark,))
    return netlist(design.circuit, title, design.span_hz)


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
