"""Whatever is typed into tank and counter, the report is figures or sentences, never an exception or NaN."""

import json

from hypothesis import given, settings
from hypothesis import strategies as st

from core.model.readout import Counter
from core.model.stages.tank import Feedback, Tank, Trimmer, TuningCapacitor
from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.report import as_text, report, vfo_text
from core.rig.rules import inspect
from core.stages.vfo.tank import TankDesign

FARAD = st.sampled_from([1e-18, 1e-15, 1e-12, 1e-11, 5e-11, 1e-10, 1e-9, 1e-7, 1.0])
HENRY = st.sampled_from([1e-12, 1e-8, 1e-7, 3e-6, 1e-5, 1e-3, 1e3])


def checked(model, **fields):
    """The model, or None when it refuses the values with a sentence."""
    try:
        return model.checked(**fields)
    except DesignError:
        return None


@settings(max_examples=120)
@given(data=st.data())
def test_no_tank_breaks_the_report(tern, data):
    draw = data.draw
    variable = checked(
        TuningCapacitor,
        low_f=draw(FARAD),
        high_f=draw(FARAD),
        law=draw(st.sampled_from(["straight_capacitance", "straight_frequency"])),
    )
    trimmer = checked(Trimmer, low_f=draw(FARAD), high_f=draw(FARAD))
    feedback = checked(
        Feedback,
        upper_f=draw(FARAD),
        lower_f=draw(FARAD),
        coupling_f=draw(FARAD),
        device=draw(st.sampled_from(["j310", "2n3904"])),
        bias_ohm=draw(st.sampled_from([1e-3, 470.0, 1e9])),
        choke_h=draw(st.sampled_from([None, 1e-12, 1e-3, 1e4])),
        base_upper_ohm=draw(st.sampled_from([1e-3, 22e3, 1e9])),
        supply_v=draw(st.sampled_from([1e-3, 8.0, 1e4])),
    )
    if variable is None or trimmer is None or feedback is None:
        return
    tank = Tank(
        tuned=draw(st.sampled_from(["parallel", "series"])),
        find=draw(st.sampled_from(["padder_and_parallel", "coil_and_parallel", "coil_and_padder"])),
        coil_h=draw(HENRY),
        coil_self_f=draw(FARAD),
        stray_f=draw(FARAD),
        padder_f=draw(st.one_of(st.none(), FARAD)),
        parallel_f=draw(FARAD),
        compensation_f=draw(st.one_of(st.none(), FARAD)),
        differential_f=draw(st.one_of(st.none(), FARAD)),
        capacitors=draw(st.sampled_from(["exact", "E12"])),
        variable=variable,
        trimmer=trimmer,
        feedback=feedback,
    )
    shift = draw(st.sampled_from(["none", "parallel", "series"]))
    rig = tern.edited(("vfo", "tank"), tank).edited(("bands", "12m", "vfo_shift"), shift)
    analysis = Analysis(rig)
    whole = report(analysis)
    json.dumps(whole, allow_nan=False)
    assert "nan" not in as_text(whole)
    assert inspect(analysis)
    assert build_sheet(analysis).vfo is not None
    made = analysis.tank
    if isinstance(made, TankDesign):
        assert "nan" not in vfo_text(analysis, made)
        assert all(cover.covers for cover in made.ranges) or made.limits


@settings(max_examples=60)
@given(
    lowest=st.sampled_from([1.0, 1e5, 1e7]),
    highest=st.sampled_from([2.0, 3e6, 5e7, 1e9]),
    gate=st.sampled_from([1e-6, 0.1, 100.0]),
    prescaler=st.integers(1, 1000),
    digits=st.integers(3, 12),
    programmes=st.integers(1, 16),
    inputs=st.integers(1, 2),
    adds=st.booleans(),
    subtracts=st.booleans(),
    clock=st.sampled_from([1.0, 1e4, 4e6, 19.6608e6, 1e9]),
)
def test_no_counter_breaks_the_report(tern, clock, lowest, highest, gate, **rest):
    counter = checked(Counter, lowest_hz=lowest, highest_hz=highest, gate_s=gate, clock_hz=clock, **rest)
    if counter is None:
        return
    analysis = Analysis(tern.edited(("read_out", "counter"), counter))
    json.dumps(report(analysis), allow_nan=False)
    assert analysis.read_out_options
    for row, options in zip(analysis.read_out.bands, analysis.read_out_options, strict=True):
        assert row.band == options.band
