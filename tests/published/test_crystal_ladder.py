"""The crystal ladder against worked examples and scikit-rf.

No worked numbers of the ladder articles could be read (Dishal, Proc. IEEE 53 (1965) 1205, citation from
memory); the examples here were computed by nodal analysis and by scikit-rf's cascade of two-ports, which
agreed to 1e-14.
"""

import numpy as np
import pytest

from core.circuits.ladder import Arm, Network, Part, solve
from core.circuits.response import pass_band
from core.circuits.shapes.prototypes import three_db_edge
from core.model.stages.filters import Crystal, LadderFilter
from core.stages.filters import carrier_oscillator, ladder_filter
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.outcome import FilterDesign
from core.trade.series import VALUES
from tests.published.reference import scattering

FS = 9e6
#: Crystal X of the examples: 9 MHz, Lm 16 mH, C0 4.5 pF, Rm 12 ohm.
LM, C0, RM = 16e-3, 4.5e-12, 12.0


def network(shunt_pf, series_pf, ohm, c0=C0, rm=RM) -> Network:
    """Identical crystals X; `series_pf` holds a capacitor (0: none) for each mesh."""
    q = 2 * np.pi * FS * LM / rm if rm else None
    arms = []
    for mesh, series in enumerate(series_pf):
        arms.append(Arm("series", (Part(f"X{mesh}", "crystal", FS, q, LM, c0),)))
        if series:
            arms.append(Arm("series", (Part(f"S{mesh}", "capacitor", series * 1e-12),)))
        if mesh < len(shunt_pf):
            arms.append(Arm("shunt", (Part(f"C{mesh}", "capacitor", shunt_pf[mesh] * 1e-12),)))
    return Network(tuple(arms), ohm, ohm)


def mirrored(half):
    return [*half, *half[-2::-1]]


E1 = network(mirrored([86.04, 114.16, 118.67]), [114.16, 0, 312.96, 312.96, 0, 114.16], 225.3)
E1_TABLE = """
-4000 83.941 0.03
-2000 64.884 0.09
-1000 49.295 0.19
-500 38.116 0.33
0 22.189 0.92
300 9.013 3.99
411 5.112 9.69
500 3.623 17.89
700 2.678 19.19
1000 2.274 18.81
1300 2.107 25.55
1561 2.139 18.80
1800 2.186 21.27
2200 2.546 18.27
2500 3.279 18.96
2685 5.093 13.89
2800 9.462 5.01
3000 21.008 1.42
3500 43.244 0.41
4000 58.935 0.21
5000 82.023 0.09
8000 128.051 0.02
"""


def test_the_worked_six_pole_point_by_point():
    table = np.array([[float(v) for v in line.split()] for line in E1_TABLE.strip().splitlines()])
    response = solve(E1, FS + table[:, 0])
    low = table[:, 1] < 60
    np.testing.assert_allclose(response.loss_db[low], table[low, 1], atol=0.01)
    np.testing.assert_allclose(response.loss_db[~low], table[~low, 1], atol=0.05)
    np.testing.assert_allclose(response.return_loss_db, table[:, 2], atol=0.01)


def test_the_worked_six_poles_edges():
    found = pass_band(E1, FS - 12e3, FS + 14e3)
    assert found.least_loss_db == pytest.approx(2.092, abs=0.001)
    for depth, low, high in ((3.0, 411.4, 2685.4), (6.0, 322.0, 2772.4), (60.0, -1788.5, 4117.4)):
        assert np.subtract(found.edges_hz[depth], FS) == pytest.approx([low, high], abs=1.0)


@pytest.mark.parametrize(
    ("shunt", "series", "ohm", "c0", "rm", "edges"),
    [
        ([102.567, 136.082, 141.458], [136.082, 0, 373.07], 188.99, 1e-20, 0, (303.7, 2703.6)),
        ([102.567, 136.082, 141.458], [136.082, 0, 373.07], 188.99, C0, 0, (299.0, 2375.0)),
        ([86.043, 114.158, 118.668], [114.158, 0, 312.96], 225.28, C0, 0, (355.4, 2766.5)),
        ([86.043, 114.158, 118.668], [114.158, 0, 312.96], 225.28, C0, RM, (411.4, 2685.4)),
        ([62.695, 121.118, 141.559], [121.118, 0, 112.537], 466.11, 1e-20, 0, (928.7, 3328.6)),
        ([497.318, 628.405], [628.405, 0], 38.593, C0, 0, (58.5, 558.5)),
        ([497.318, 628.405], [628.405, 0], 38.593, C0, RM, (93.8, 518.4)),
        ([94.358, 116.417, 120.681, 121.586], [116.417, 0, 432.59, 373.577], 159.52, C0, 0, (267.3, 2678.3)),
    ],
)
def test_edges_of_worked_designs(shunt, series, ohm, c0, rm, edges):
    ladder = network(mirrored(shunt), [*series, *reversed(series)], ohm, c0, rm)
    found = pass_band(ladder, FS - 3e3, FS + 8e3, depths_db=(3.0103,))
    assert np.subtract(found.edges_hz[3.0103], FS) == pytest.approx(edges, abs=1.5)


def asked(**changes) -> LadderFilter:
    crystal = Crystal(motional_inductance_h=14.7e-3, holder_capacitance_f=3.5e-12, quality_factor=1e8)
    fields = {
        "crystal": crystal,
        "capacitors": "exact",
        "end_match": "none",
        "bandwidth_hz": 2400.0,
        **changes,
    }
    return between_its_own_ends(LadderFilter(id="ladder", name="Ladder", **fields))


def between_its_own_ends(ladder: LadderFilter) -> LadderFilter:
    made = ladder_filter.design(AskedLadder(ladder, FS))
    assert isinstance(made, FilterDesign)
    return ladder.edited(("system_ohm",), made.end_resistance_ohm)


def test_the_textbook_design_comes_out_about_a_tenth_narrow():
    width = ladder_filter.figures(AskedLadder(asked(refine=False), FS)).bandwidth_3db_hz
    assert 0.87 < width / (2400 * three_db_edge(8, 0.1)) < 0.91


@pytest.mark.parametrize("poles", [4, 6, 8, 10])
def test_the_refined_chebyshev_has_the_ideal_width_and_ripple(poles):
    found = ladder_filter.figures(AskedLadder(asked(poles=poles), FS))
    assert found.bandwidth_3db_hz == pytest.approx(2400 * three_db_edge(poles, 0.1), rel=0.01)
    assert found.ripple_db == pytest.approx(0.1, abs=0.05)


@pytest.mark.parametrize("poles", [4, 6, 8, 10])
def test_the_refined_butterworth_has_the_ideal_width(poles):
    found = ladder_filter.figures(AskedLadder(asked(poles=poles, shape="butterworth"), FS))
    assert found.bandwidth_3db_hz == pytest.approx(2400, rel=0.01)
    # No ripple at all: the loss falls to one place and rises from there.
    made = ladder_filter.design(AskedLadder(asked(poles=poles, shape="butterworth"), FS))
    low, high = ladder_filter.solved(AskedLadder(asked(poles=poles, shape="butterworth"), FS)).band.edges_hz[
        3.0
    ]
    loss = solve(made.network, np.linspace(low, high, 401)).loss_db
    least = int(np.argmin(loss))
    assert np.all(np.diff(loss[: least + 1]) < 5e-4)
    assert np.all(np.diff(loss[least:]) > -5e-4)


@pytest.mark.parametrize("shape", ["chebyshev", "butterworth", "equal_coupling"])
def test_without_holder_capacitance_refining_changes_nothing_worth_a_part(shape):
    bare = Crystal(motional_inductance_h=14.7e-3, holder_capacitance_f=1e-18, quality_factor=1e8)
    plain, refined = (
        ladder_filter.design(AskedLadder(asked(shape=shape, crystal=bare, refine=refine), FS))
        for refine in (False, True)
    )
    for first, second in zip(plain.parts, refined.parts, strict=True):
        assert second.designed == pytest.approx(first.designed, rel=0.01)
        assert {first.kind} <= {"capacitor", "crystal"}
    assert min(b / a for a, b in zip(VALUES["E24"], VALUES["E24"][1:], strict=False)) > 1.01


@pytest.mark.parametrize(
    ("poles", "edge"), [(4, 1.6529), (6, 1.8082), (8, 1.8811)], ids=lambda value: str(value)
)
def test_equal_coupling_ends_match_their_coupling_capacitor(poles, edge):
    # S. B. Cohn, Proc. IRE 47 (1959) 1342 (from memory): q k = 1, so R is the coupling's reactance.
    ladder = asked(poles=poles, shape="equal_coupling")
    made = ladder_filter.design(AskedLadder(ladder, FS))
    coupling = next(p for p in made.parts if p.ref == "C1")
    middle = sum(made.span_hz) / 2
    assert made.end_resistance_ohm == pytest.approx(1 / (2 * np.pi * middle * coupling.designed), rel=1e-3)
    low, high = ladder_filter.solved(AskedLadder(ladder, FS)).band.edges_hz[6.0]
    assert high - low > 2400


@pytest.mark.parametrize("end_match", ["none", "transformer", "l_network"])
def test_the_response_is_scikit_rfs_on_the_same_parts(end_match):
    ladder = asked(poles=6, capacitors="E24").edited(("end_match",), end_match).edited(("system_ohm",), 50.0)
    ladder = ladder.edited(("crystal", "quality_factor"), 75e3)
    made = ladder_filter.design(AskedLadder(ladder, FS))
    f = np.linspace(*made.span_hz, 201)
    ours, theirs = solve(made.network, f), scattering(made.network, f)
    np.testing.assert_allclose(ours.s21, theirs[:, 1, 0], atol=1e-9)
    np.testing.assert_allclose(ours.s11, theirs[:, 0, 0], atol=1e-9)


def test_the_carrier_lies_where_the_worked_example_says():
    # E1 again, through the stage: 20 dB down at fs + 2.4 Hz (upper sideband) or + 3019.7 Hz (lower sideband).
    crystal = Crystal(
        motional_inductance_h=LM, holder_capacitance_f=C0, quality_factor=2 * np.pi * FS * LM / RM
    )
    built = {
        "coupling:1": 86.04,
        "coupling:2": 114.16,
        "coupling:3": 118.67,
        "coupling:4": 114.16,
        "coupling:5": 86.04,
    }
    built |= {"series:1": 114.16, "series:3": 312.96, "series:4": 312.96, "series:6": 114.16}
    ladder = LadderFilter(
        id="ladder",
        name="Ladder",
        poles=6,
        bandwidth_hz=2400 / three_db_edge(6, 0.1),
        crystal=crystal,
        end_match="none",
        system_ohm=225.3,
        as_built={ref: pf * 1e-12 for ref, pf in built.items()},
    )
    below = carrier_oscillator.place(ladder_filter.solved(AskedLadder(ladder, FS)), "upper", 20.0)
    above = carrier_oscillator.place(ladder_filter.solved(AskedLadder(ladder, FS)), "lower", 20.0)
    assert below.frequency_hz - FS == pytest.approx(2.4, abs=1)
    assert above.frequency_hz - FS == pytest.approx(3019.7, abs=1)
    assert (below.side, above.side) == ("below", "above")
