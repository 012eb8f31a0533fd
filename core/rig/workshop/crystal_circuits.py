"""Crystal oscillators of a rig in outline: the crystal, and what brings it to its frequency."""

from core.model.values.quantities import spelled
from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.parts import part_value
from core.rig.figures.read_out import HELPER
from core.stages.crystal_oscillator.design import CrystalOscillatorDesign


@record(kw_only=True)
class CrystalCircuit:
    """A crystal as it is marked, with a trimmer [F] and a coil [H] in series, None where there is none; what
    its oscillator loads it with [F]; and where the signal goes.
    """

    title: str
    marked: str
    trimmer_f: float | None = None
    coil_h: float | None = None
    load_f: float | None = None
    goes_to: str = ""


def carrier_circuits(analysis: Analysis) -> tuple[CrystalCircuit, ...]:
    """The carrier of each sideband in use; none where its oscillator is drawn with its parts."""
    project = analysis.project
    if isinstance(analysis.carrier_circuit, CrystalOscillatorDesign):
        return ()
    return tuple(
        CrystalCircuit(
            title=f"for {' and '.join(map(spelled, row.bands))}",
            marked=part_value(project.if_hz, "Hz"),
            trimmer_f=row.pulling.trimmer_f,
            coil_h=row.pulling.coil_h or None,
            load_f=project.carrier.load_capacitance_f,
            goes_to="detector and modulator",
        )
        for row in analysis.carriers
        if row.pulling is not None
    )


def helper_circuit(analysis: Analysis) -> CrystalCircuit | None:
    """The read-out's helper; None where none is needed, or where it is drawn with its parts."""
    plan, made = analysis.read_out, analysis.helper_circuit
    if plan is None or plan.helper_hz is None or isinstance(made, CrystalOscillatorDesign):
        return None
    return CrystalCircuit(title="helper", marked=HELPER.text(plan), goes_to="mixer before the counter")
