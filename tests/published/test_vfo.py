"""The VFO against worked values and the theory of oscillators.

E4 and the worked figures: computed with code written apart from this project and cross-checked there by a
finite difference. Series-resonance and start conditions: general theory of Colpitts and Clapp oscillators.
Temperature codes: EIA-198, also IEC 60384-8.
"""

from itertools import pairwise

import numpy as np
import pytest

from core.model.files import load
from core.model.samples import sample_path
from core.model.stages.tank import Feedback, Tank, Trimmer, TuningCapacitor
from core.rig.analysis import Analysis
from core.stages.vfo import vfo
from core.stages.vfo.compensation import stilling_f
from core.stages.vfo.oscillator import ASSUMED_CAPACITOR_Q, operating
from core.stages.vfo.tank import WantedRange, capacitors, resonance, tuning_f
from core.stages.vfo.tank_design import design
from core.trade.temperature import coefficients

#: So small that the part is not there.
NOTHING = 1e-18
BARE = Tank(
    coil_h=6e-6,
    margin_hz=0,
    coil_self_f=NOTHING,
    stray_f=NOTHING,
    capacitors="exact",
    trimmer=Trimmer(low_f=NOTHING, high_f=2 * NOTHING),
    feedback=Feedback(coupling_f=NOTHING, input_f=NOTHING, drain_f=NOTHING),
)
E4 = (WantedRange("band", 5e6, 5.5e6),)
#: Where the variable capacitor of 10 to 100 pF stands at 34.8924 pF: 5.25 MHz.
MIDDLE = (100 - 34.8924) / 90


def test_padder_and_parallel_capacitor_of_a_five_megahertz_vfo():
    made = design(BARE, E4)
    assert made.values["CS"] == pytest.approx(61.0304e-12, rel=1e-4)
    assert made.values["CP"] == pytest.approx(130.9687e-12, rel=1e-4)
    assert made.limits == ()


@pytest.mark.parametrize(
    ("picofarad", "megahertz"),
    [(10, 5.5), (20, 5.3768), (40, 5.2167), (55, 5.1383), (70, 5.0803), (100, 5.0)],
)
def test_the_scale_of_that_vfo(picofarad, megahertz):
    made = design(BARE, E4)
    f = resonance(made, "band", np.array([(100 - picofarad) / 90])).f_hz[0]
    assert f == pytest.approx(megahertz * 1e6, abs=60)


def test_its_range_with_practical_parts():
    built = BARE.edited(("as_built",), {"padder": 62e-12, "parallel": 130e-12, "trimmer": NOTHING})
    cover = design(built, E4).ranges[0]
    assert cover.covers_high_hz == pytest.approx(5.51881e6, rel=1e-5)
    assert cover.covers_low_hz == pytest.approx(5.00886e6, rel=1e-5)


def test_its_drift_part_by_part():
    found = vfo.drift(design(BARE, E4), "band", MIDDLE)
    shares = {each.ref: each.share for each in found.contributions}
    assert shares["CS"] == pytest.approx(0.05272, abs=1e-5)
    assert shares["CV"] == pytest.approx(0.09222, abs=1e-5)
    assert shares["CP"] == pytest.approx(0.85506, abs=1e-5)
    assert found.ppm_per_k == pytest.approx(-21.383, rel=1e-3)
    assert found.hz_per_k == pytest.approx(-112.3, rel=1e-3)


def test_the_drift_is_what_a_degree_does():
    made = design(BARE, E4)
    table = coefficients()
    kinds = {"CS": "c0g", "CP": "c0g", "CV": "air_variable"}
    warm = {ref: made.values[ref] * (1 + 1e-6 * table[kinds[ref]].ppm) for ref in ("CS", "CP")}
    coil = 6e-6 * (1 + 1e-6 * table["air_coil"].ppm)
    tuning = 34.8924e-12

    def f(coil_h, cs, cp, cv):
        return 1 / (2 * np.pi * np.sqrt(coil_h * (cp + cs * cv / (cs + cv))))

    cold = f(6e-6, made.values["CS"], made.values["CP"], tuning)
    hot = f(coil, warm["CS"], warm["CP"], tuning * (1 + 1e-6 * table["air_variable"].ppm))
    assert vfo.drift(made, "band", MIDDLE).hz_per_k == pytest.approx(hot - cold, rel=1e-3)


@pytest.mark.parametrize(("kind", "picofarad"), [("n150", 43.67), ("n220", 29.78)])
def test_what_stills_it(kind, picofarad):
    tank = BARE.edited(("compensation_type",), kind)
    assert stilling_f(design(tank, E4), "band", MIDDLE) == pytest.approx(picofarad * 1e-12, rel=1e-3)


@pytest.mark.parametrize(("picofarad", "ppm", "hertz"), [(39, -2.287, -12.0), (33, -5.225, -27.4)])
def test_what_a_preferred_value_leaves(picofarad, ppm, hertz):
    tank = BARE.edited(("compensation_f",), picofarad * 1e-12)
    found = vfo.drift(design(tank, E4), "band", MIDDLE)
    assert found.ppm_per_k == pytest.approx(ppm, abs=0.003)
    assert found.hz_per_k == pytest.approx(hertz, abs=0.05)


def test_the_worst_case_of_the_zero_coefficient_capacitors():
    # +-30 ppm on all of them is +-71.5 Hz/K; coil and variable bring their own.
    found = vfo.drift(design(BARE, E4), "band", MIDDLE)
    table = coefficients()
    shares = {each.ref: each.share for each in found.contributions}
    zero = sum(share for ref, share in shares.items() if ref in ("CS", "CP")) * 30 / 2 * 5.25
    assert zero == pytest.approx(71.5, abs=0.05)
    others = (table["air_coil"].tolerance_ppm + shares["CV"] * table["air_variable"].tolerance_ppm) / 2 * 5.25
    assert found.worst_hz_per_k == pytest.approx(abs(found.hz_per_k) + zero + others, rel=1e-3)


def test_temperature_codes():
    # EIA-198: significant figure times multiplier, tolerance by the last letter.
    figures = {"C": 0.0, "B": 0.3, "U": 7.5, "M": 1.0, "P": 1.5, "R": 2.2, "S": 3.3, "T": 4.7}
    letters = {"G": 30, "H": 60, "J": 120, "K": 250}
    multipliers = {"0": -1, "1": -10, "2": -100, "3": -1000, "7": 100}
    codes = {
        "c0g": "C0G", "n030": "B2G", "n075": "U1G", "p100": "M7G", "n150": "P2H", "n220": "R2H",
        "n330": "S2H", "n470": "T2H", "n750": "U2J", "n1500": "P3K",
    }  # fmt: skip
    table = coefficients()
    for name, (figure, digit, letter) in codes.items():
        assert table[name].ppm == pytest.approx(figures[figure] * multipliers[digit]), name
        assert table[name].tolerance_ppm == letters[letter], name
    # From memory: a maker's table of powdered iron.
    assert [table[f"iron_{mix}"].ppm for mix in (2, 6, 7)] == [95, 35, 30]


#: A device whose bias parts load the tank with nothing worth counting.
UNLOADED = Feedback(gate_ohm=1e9, choke_h=1e3, load_ohm=None, input_f=NOTHING, drain_f=NOTHING)


def test_a_clapp_oscillators_start_condition():
    """gm > w^2 C1 C2 Rs: 6 uH with Q 150 at 5.25 MHz and 680/680 pF wants 0.664 mS."""
    feedback = UNLOADED.edited(("upper_f",), 680e-12).edited(("lower_f",), 680e-12)
    tank = Tank(
        tuned="series", coil_h=6e-6, coil_q=150, coil_self_f=NOTHING, stray_f=NOTHING, feedback=feedback
    )
    made = design(tank, (WantedRange("band", 5.24e6, 5.26e6),))
    position = float(np.interp(5.25e6, vfo.dial(made, "band").f_hz, np.linspace(0, 1, vfo.DIAL_POINTS)))
    least = 0.664e-3
    margin = vfo.start_margin(made, "band", position)
    # The capacitors' assumed Q loses a little besides the coil.
    with_capacitors = 1 + 150 / ASSUMED_CAPACITOR_Q
    assert margin * with_capacitors == pytest.approx(operating(feedback).transconductance_s / least, rel=2e-3)


def test_a_colpitts_oscillators_start_condition():
    """gm n (1 - n) > 1/Rp with n = C1/(C1 + C2), where the divider itself tunes the tank."""
    feedback = UNLOADED.edited(("upper_f",), 300e-12).edited(("lower_f",), 600e-12)
    feedback = feedback.edited(("coupling_f",), 1e-3)
    tank = BARE.edited(("feedback",), feedback).edited(("coil_h",), 3e-6)
    made = design(tank, (WantedRange("band", 5e6, 5.5e6),))
    f = resonance(made, "band", np.array([0.0])).f_hz[0]
    coil_ohm = tank.coil_q * 2 * np.pi * f * 3e-6
    parallel_ohm = coil_ohm / (1 + tank.coil_q / ASSUMED_CAPACITOR_Q)
    n = 300 / 900
    expected = operating(feedback).transconductance_s * n * (1 - n) * parallel_ohm
    assert vfo.start_margin(made, "band", 0.0) == pytest.approx(expected, rel=1e-3)


def least_transconductance(made, band: str, position: float) -> float:
    """Transconductance [S] at which the whole circuit with its losses just oscillates: the nodal matrix with
    every part at its place has a determinant of zero at a real frequency. Nothing of the tank's own formulas.
    """
    tank, feedback = made.tank, made.tank.feedback
    device = operating(feedback)
    mode = resonance(made, band, np.array([position]))
    parts = [
        (c.a, c.b, float(np.ravel(c.farad)[0]))
        for c in capacitors(made, band, tuning_f(tank.variable, np.array([position])))
    ]
    nodes = 1 + max(max(a, b) for a, b, _ in parts)
    coil = (1, 0) if tank.tuned == "parallel" else (1, 2)

    def matrix(f, gm):
        s = 2j * np.pi * f
        y = np.zeros((nodes, nodes), dtype=complex)

        def put(a, b, admittance):
            y[a, a] += admittance
            y[b, b] += admittance
            y[a, b] -= admittance
            y[b, a] -= admittance

        for a, b, farad in parts:
            put(a, b, s * farad * (1 - 1j / ASSUMED_CAPACITOR_Q))
        put(*coil, 1 / (s * made.coil_h * (1 - 1j / tank.coil_q)))
        bias_ohm = feedback.bias_ohm + (s * feedback.choke_h * (1 - 1j / 50) if feedback.choke_h else 0)
        put(3, 0, 1 / bias_ohm + (1 / feedback.load_ohm if feedback.load_ohm else 0))
        put(2, 0, device.bias_s)
        put(2, 3, device.input_s)
        y[3, 2] -= gm
        y[3, 3] += gm
        return y[1:, 1:]

    from scipy.optimize import fsolve

    f0, gm0 = float(mode.f_hz[0]), 1e-3
    scale = np.abs(np.linalg.det(matrix(f0 * 1.01, gm0)))

    def both(x):
        found = np.linalg.det(matrix(f0 * x[0], gm0 * x[1])) / scale
        return [found.real, found.imag]

    x, _, success, _ = fsolve(both, [1.0, 1.0], full_output=True)
    assert success == 1
    return gm0 * x[1]


@pytest.mark.parametrize("tuned", ["parallel", "series"])
@pytest.mark.parametrize(
    "feedback",
    [
        Feedback(),
        Feedback(bias_ohm=2200, choke_h=None, load_ohm=None),
        Feedback(gate_ohm=10e3, load_ohm=2e3),
        Feedback(device="bf245b", bias_ohm=220),
        Feedback(device="2n3904", base_lower_ohm=4.7e3, bias_ohm=2200),
    ],
    ids=["choke", "bare resistor", "loaded", "smaller JFET", "bipolar"],
)
def test_the_start_margin_against_the_circuits_own_determinant(tuned, feedback):
    coil = 2.7e-6 if tuned == "parallel" else 8e-6
    tank = Tank(tuned=tuned, coil_h=coil, feedback=feedback)
    made = design(tank, (WantedRange("20m", 5.31e6, 5.56e6),))
    least = least_transconductance(made, "20m", 0.5)
    expected = operating(feedback).transconductance_s / least
    assert vfo.start_margin(made, "20m", 0.5) == pytest.approx(expected, rel=0.02)


def test_a_bias_that_cannot_be_is_not_counted():
    # 2.2 kilohm at the source leave a J310 1.45 mA: the sample's tank then gives back 1.8 times, not 3.4.
    rig = load(sample_path("tern-20-12"))
    feedback = Feedback(bias_ohm=2200, choke_h=None, load_ohm=None)
    starved = Analysis(rig.edited(("vfo", "tank", "feedback"), feedback)).tank
    assert min(vfo.figures(starved, "20m").start) == pytest.approx(1.80, abs=0.02)
    assert min(vfo.figures(Analysis(rig).tank, "20m").start) > 3.5


def test_a_straight_frequency_capacitor_tunes_evenly_by_itself():
    # What the law means: with nothing else across it, frequency runs straight with rotation.
    variable = TuningCapacitor(low_f=15e-12, high_f=365e-12, law="straight_frequency")
    f = 1 / np.sqrt(tuning_f(variable, np.linspace(0, 1, 11)))
    np.testing.assert_allclose(np.diff(f), np.diff(f)[0], rtol=1e-9)
    straight = TuningCapacitor(low_f=15e-12, high_f=365e-12)
    np.testing.assert_allclose(np.diff(tuning_f(straight, np.linspace(0, 1, 11))), -35e-12)


def test_padding_equations_hold_between_any_two_ends():
    # f ratio r needs Cmax/Cmin = r^2 of the whole tank.
    for low, high in pairwise([3e6, 3.3e6, 3.5e6, 4e6]):
        made = design(BARE.edited(("coil_h",), 10e-6), (WantedRange("band", low, high),))
        assert not made.limits
        c = resonance(made, "band", np.array([0.0, 1.0])).capacitance_f
        assert c[0] / c[1] == pytest.approx((high / low) ** 2, rel=1e-9)
