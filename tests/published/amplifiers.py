"""Nine amplifiers as decks of a circuit simulator, with what ngspice 39 computes of them.

Transistors are rounded figures of a class of device, not of a maker's model. Small signal and noise by `ac`
and `noise` at 300.15 K, the source at 290 K and the load noiseless; bias by `op`; intercept and compression
by transient analyses: two tones at 13.5 and 14.5 MHz, 30 and 35 dB below the intercept, and a single one.
"""

from dataclasses import dataclass
from math import sqrt

import numpy as np

from core.circuits.active.operating import Bias, bias
from core.circuits.active.two_port import TwoPort, two_port
from core.circuits.circuit import (
    Bipolar,
    Branch,
    Circuit,
    CoupledCoils,
    Part,
    Port,
    Rail,
    SquareLaw,
    Transistor,
)

BJTS = Bipolar(
    saturation_a=1e-14,
    current_gain=150,
    transition_hz=300e6,
    transition_at_a=10e-3,
    feedback_f=3.5e-12,
    emitter_f=5e-12,
    base_ohm=20,
    early_v=80,
)
BJTP = Bipolar(
    saturation_a=1e-14,
    current_gain=80,
    transition_hz=1.2e9,
    transition_at_a=50e-3,
    feedback_f=2.5e-12,
    emitter_f=8e-12,
    base_ohm=5,
    early_v=60,
)
J310X = SquareLaw(
    slope_a_v2=2.1875e-3, threshold_v=-4.0, channel_per_v=0.01, gate_source_f=4.5e-12, gate_drain_f=2.2e-12
)
DEVICES = {"BJTS": BJTS, "BJTP": BJTP, "J310X": J310X}


@dataclass(frozen=True, kw_only=True)
class Amplifier:
    """A deck, and rows of MHz, S21, S11, S22, S12 [dB], Zin, Zout [ohm], noise figure [dB]; bias as reference
    to collector or drain current [A], Vbe or Vgs and Vce or Vds [V].
    """

    deck: str
    rows: tuple[tuple[float | complex, ...], ...]
    bias: dict[str, tuple[float, float, float]]
    ohm: float = 50.0


def circuit_of(deck: str, ohm: float = 50.0) -> Circuit:
    """The circuit of a deck: R, C, L, Q, J and V elements, and windings LTxa, LTxb with their K."""
    lines = [line.split() for line in deck.split("\n") if line.strip()]
    windings = {w[0]: w for w in lines if w[0].startswith("LT")}
    branches, rails = [], []
    for w in lines:
        kind = {"R": "resistor", "C": "capacitor", "L": "inductor"}.get(w[0][0])
        if w[0] in windings:
            continue
        if kind:
            branches.append(Branch(Part(w[0], kind, float(w[3])), (w[1], w[2])))
        elif w[0][0] == "K":
            one, two = windings[w[1]], windings[w[2]]
            coils = CoupledCoils(w[0], float(one[3]), float(two[3]), float(w[3]))
            branches.append(Branch(coils, (*one[1:3], *two[1:3])))
        elif w[0][0] == "V":
            rails.append(Rail(w[1], float(w[3])))
        else:
            branches.append(Branch(Transistor(w[0], DEVICES[w[4]]), (w[1], w[2], w[3])))
    return Circuit(tuple(branches), (Port("in", ohm), Port("out", ohm)), tuple(rails))


AMPLIFIERS = {
    # feedback amplifier, collector choke
    "a1": Amplifier(
        deck="""
C1 in b 1e-07
R1 vcc b 2200
R2 b 0 820
RF b f 470
CF f c 1e-07
Q1 c b e BJTP
RE1 e x 4.7
RE2 x 0 100
CE x 0 1e-07
LC vcc c 4.7e-05
C2 c out 1e-07
Vvcc vcc 0 12.0
""",
        rows=(
            (1.0, 17.036, -15.0, -17.27, -20.44, 46.20 - 16.95j, 65.87 - 0.09j, 2.878),
            (3.5, 17.129, -22.25, -18.87, -20.66, 46.17 - 6.38j, 62.83 - 0.58j, 2.873),
            (7.0, 17.125, -22.74, -19.0, -20.67, 45.94 - 5.72j, 62.61 - 0.77j, 2.874),
            (14.0, 17.088, -20.31, -19.04, -20.67, 45.06 - 7.76j, 62.50 - 1.32j, 2.883),
            (21.0, 17.025, -17.84, -19.05, -20.67, 43.67 - 10.30j, 62.39 - 1.91j, 2.897),
            (28.0, 16.937, -15.82, -19.07, -20.66, 41.90 - 12.63j, 62.25 - 2.49j, 2.917),
        ),
        bias={
            "Q1": (0.022476, 0.73205, 9.6212),
        },
    ),
    # feedback amplifier, collector resistor
    "a2": Amplifier(
        deck="""
C1 in b 1e-07
R1 vcc b 2200
R2 b 0 820
RF b f 390
CF f c 1e-07
Q1 c b e BJTP
RE1 e x 4.7
RE2 x 0 100
CE x 0 1e-07
RC vcc c 220
C2 c out 1e-07
Vvcc vcc 0 12.0
""",
        rows=(
            (1.0, 15.134, -18.22, -18.89, -20.68, 46.58 - 11.44j, 43.53 - 8.49j, 3.061),
            (3.5, 15.269, -23.7, -21.81, -20.85, 45.85 - 4.70j, 42.87 - 2.47j, 3.054),
            (7.0, 15.27, -23.51, -22.11, -20.86, 45.61 - 4.64j, 42.83 - 1.28j, 3.056),
            (14.0, 15.24, -20.96, -22.21, -20.87, 44.86 - 6.79j, 42.84 - 0.72j, 3.064),
            (21.0, 15.187, -18.5, -22.26, -20.87, 43.70 - 9.24j, 42.86 - 0.58j, 3.078),
            (28.0, 15.113, -16.49, -22.31, -20.88, 42.18 - 11.52j, 42.90 - 0.54j, 3.098),
        ),
        bias={
            "Q1": (0.022343, 0.7338, 4.7178),
        },
    ),
    # feedback amplifier, 4:1 output transformer
    "b": Amplifier(
        deck="""
C1 in b 1e-07
R1 vcc b 2200
R2 b 0 820
RF b f 1000
CF f c 1e-07
Q1 c b e BJTP
RE1 e x 8.2
RE2 x 0 100
CE x 0 1e-07
LT1a vcc c 4.8e-05
LT1b 0 t 1.2e-05
KT1 LT1a LT1b 0.998
C2 t out 1e-07
Vvcc vcc 0 12.0
""",
        rows=(
            (1.0, 18.163, -10.44, -12.36, -22.0, 46.42 - 30.17j, 37.49 + 17.50j, 2.936),
            (3.5, 18.442, -18.47, -22.98, -21.84, 46.64 - 11.11j, 45.58 + 5.16j, 2.932),
            (7.0, 18.444, -19.3, -26.97, -21.8, 46.10 - 9.72j, 45.88 + 1.22j, 2.934),
            (14.0, 18.384, -16.59, -24.52, -21.71, 43.95 - 12.66j, 44.70 - 1.89j, 2.943),
            (21.0, 18.277, -13.96, -21.24, -21.56, 40.79 - 16.02j, 42.72 - 3.41j, 2.958),
            (28.0, 18.129, -11.89, -18.72, -21.37, 37.08 - 18.59j, 40.31 - 3.99j, 2.979),
        ),
        bias={
            "Q1": (0.021797, 0.73126, 9.6159),
        },
    ),
    # three-transistor termination-insensitive amplifier, 13 dB
    "c12": Amplifier(
        deck="""
C1 in b 1e-07
RB1 e2 b 4700
RB2 b 0 4700
RF b f 510
CF f e2 1e-07
Q1 c b e BJTS
RE1 e x 22
RE2 x 0 220
CE x 0 1e-07
RC vcc c 220
Q2 vcc c e2 BJTS
RE3 e2 0 1000
Q3 vcc c e3 BJTS
RE4 e3 0 330
RO e3 y 43
C2 y out 1e-07
Vvcc vcc 0 12.0
""",
        rows=(
            (1.0, 13.028, -25.22, -25.18, -55.52, 46.20 - 3.67j, 44.91 - 1.18j, 4.47),
            (3.5, 13.019, -27.95, -25.35, -50.4, 46.39 + 1.36j, 44.97 + 1.02j, 4.479),
            (7.0, 12.95, -25.09, -24.72, -45.3, 47.07 + 4.55j, 45.18 + 2.70j, 4.519),
            (14.0, 12.676, -20.42, -22.87, -39.7, 49.80 + 9.55j, 45.97 + 5.61j, 4.677),
            (21.0, 12.243, -17.53, -21.05, -36.49, 54.22 + 13.30j, 47.20 + 8.18j, 4.93),
            (28.0, 11.677, -15.65, -19.54, -34.34, 60.03 + 15.34j, 48.80 + 10.41j, 5.267),
        ),
        bias={
            "Q1": (0.013299, 0.72046, 5.7874),
            "Q2": (0.0091803, 0.71152, 3.6868),
            "Q3": (0.024947, 0.73737, 3.7146),
        },
    ),
    # three-transistor termination-insensitive amplifier, 22 dB
    "c22": Amplifier(
        deck="""
C1 in b 1e-07
RB1 e2 b 4700
RB2 b 0 4700
RF b f 1800
CF f e2 1e-07
Q1 c b e BJTS
RE1 e x 5.6
RE2 x 0 220
CE x 0 1e-07
RC vcc c 220
Q2 vcc c e2 BJTS
RE3 e2 0 1000
Q3 vcc c e3 BJTS
RE4 e3 0 330
RO e3 y 43
C2 y out 1e-07
Vvcc vcc 0 12.0
""",
        rows=(
            (1.0, 22.679, -17.6, -25.13, -64.74, 43.06 - 10.20j, 44.90 - 1.26j, 2.782),
            (3.5, 22.663, -21.85, -25.36, -59.73, 43.06 - 2.90j, 44.96 + 0.89j, 2.789),
            (7.0, 22.422, -22.81, -24.88, -54.62, 43.43 - 1.57j, 45.17 + 2.47j, 2.821),
            (14.0, 21.545, -24.21, -23.38, -48.98, 44.47 - 1.81j, 45.93 + 5.08j, 2.951),
            (21.0, 20.337, -24.13, -21.8, -45.69, 45.18 - 3.44j, 47.02 + 7.33j, 3.161),
            (28.0, 18.987, -22.16, -20.4, -43.45, 45.10 - 5.58j, 48.34 + 9.28j, 3.445),
        ),
        bias={
            "Q1": (0.013921, 0.72166, 5.7298),
            "Q2": (0.0090335, 0.71106, 3.8222),
            "Q3": (0.024539, 0.73691, 3.85),
        },
    ),
    # common-gate JFET, 16:1 output transformer
    "d": Amplifier(
        deck="""
C1 in s 1e-07
LS s k 4.7e-05
RS k 0 100
CS k 0 1e-07
J1 d 0 s J310X
LT1a vcc d 0.00016
LT1b 0 t 1e-05
KT1 LT1a LT1b 0.998
C2 t out 1e-07
Vvcc vcc 0 12.0
""",
        rows=(
            (1.0, 7.249, -10.69, -0.75, -31.79, 78.47 + 25.56j, 5.41 + 61.37j, 3.301),
            (3.5, 8.928, -10.74, -1.14, -30.12, 89.79 + 8.31j, 83.22 + 233.44j, 3.263),
            (7.0, 9.064, -10.74, -1.18, -29.98, 90.82 + 2.73j, 569.88 + 309.08j, 3.261),
            (14.0, 9.091, -10.73, -1.19, -29.95, 90.95 - 1.66j, 236.85 - 340.38j, 3.261),
            (21.0, 9.084, -10.72, -1.18, -29.96, 90.76 - 4.48j, 79.17 - 222.80j, 3.262),
            (28.0, 9.064, -10.7, -1.18, -29.98, 90.43 - 6.89j, 40.05 - 159.95j, 3.263),
        ),
        bias={
            "J1": (0.015048, -1.5048, 10.495),
        },
    ),
    # emitter follower
    "e": Amplifier(
        deck="""
C1 in b 1e-07
R1 vcc b 22000
R2 b 0 22000
Q1 vcc b e BJTS
RE e 0 1000
C2 e out 1e-07
Vvcc vcc 0 12.0
""",
        rows=(
            (1.0, 5.003, -0.18, -1.96, -38.11, 4115.32 - 1753.30j, 5.61 - 1.39j, 1.868),
            (3.5, 5.004, -0.18, -1.96, -32.58, 1590.06 - 2249.99j, 5.62 + 0.28j, 1.871),
            (7.0, 4.995, -0.19, -1.97, -27.34, 556.16 - 1483.24j, 5.66 + 1.25j, 1.883),
            (14.0, 4.958, -0.23, -2.03, -21.58, 184.76 - 806.16j, 5.82 + 2.83j, 1.931),
            (21.0, 4.897, -0.3, -2.11, -18.17, 108.74 - 546.46j, 6.09 + 4.31j, 2.009),
            (28.0, 4.814, -0.4, -2.23, -15.79, 81.53 - 412.45j, 6.46 + 5.75j, 2.114),
        ),
        bias={
            "Q1": (0.0049388, 0.69446, 7.0307),
        },
    ),
    # JFET source follower
    "f": Amplifier(
        deck="""
C1 in g 1e-07
RG g 0 100000
J1 vdd g s J310X
RS s 0 2200
C2 s out 1e-07
Vvdd vdd 0 9.0
""",
        rows=(
            (1.0, -10.339, -0.01, -3.65, -52.61, 6494.17 - 24757.07j, 241.46 - 2.94j, 7.372),
            (3.5, -10.336, -0.01, -3.65, -41.73, 581.19 - 7515.21j, 241.36 - 5.16j, 7.37),
            (7.0, -10.328, -0.01, -3.65, -35.71, 160.62 - 3773.36j, 241.02 - 9.63j, 7.362),
            (14.0, -10.296, -0.01, -3.65, -29.7, 54.93 - 1888.74j, 239.69 - 18.78j, 7.334),
            (21.0, -10.242, -0.02, -3.66, -26.18, 35.34 - 1259.50j, 237.50 - 27.76j, 7.288),
            (28.0, -10.168, -0.03, -3.67, -23.7, 28.47 - 944.79j, 234.53 - 36.39j, 7.224),
        ),
        bias={
            "J1": (0.0014575, -3.2064, 5.7936),
        },
    ),
    # audio pair, 600 ohm
    "g": Amplifier(
        deck="""
C1 in b 1e-05
RF e1 b 100000
Q1 c b e BJTS
RE1 e 0 47
RE2 e1 0 1000
RC vcc c 4700
Q2 vcc c e2 BJTS
RE3 e2 e1 1000
CE1 e1 0 0.0001
C2 e2 out 0.0001
Vvcc vcc 0 9.0
""",
        rows=(
            (0.0001, 40.827, -1.11, -1.29, -97.94, 9368.29 + 650.26j, 44.34 - 15.68j, 1.042),
            (0.0003, 40.821, -1.1, -1.28, -106.4, 9453.93 + 186.20j, 44.29 - 5.23j, 1.021),
            (0.001, 40.82, -1.1, -1.28, -110.86, 9462.24 - 59.77j, 44.29 - 1.58j, 1.019),
            (0.003, 40.82, -1.1, -1.28, -108.06, 9449.20 - 358.52j, 44.28 - 0.56j, 1.019),
            (0.01, 40.82, -1.1, -1.28, -99.38, 9294.00 - 1242.00j, 44.28 - 0.27j, 1.019),
            (0.1, 40.773, -1.13, -1.28, -79.62, 3405.61 - 4425.66j, 44.16 - 1.16j, 1.019),
        ),
        bias={
            "Q1": (0.0011462, 0.65774, 3.5161),
            "Q2": (0.0014482, 0.663, 6.0929),
        },
        ohm=600.0,
    ),
}


def amplifier(name):
    return circuit_of(AMPLIFIERS[name].deck, AMPLIFIERS[name].ohm)


def solved(circuit, f):
    found = two_port(circuit, f)
    assert isinstance(found, TwoPort), found
    return found


def at_rest(circuit):
    found = bias(circuit)
    assert isinstance(found, Bias), found
    return found


def single(device, *parts, volt):
    """One transistor T of nodes c, b, e with resistors between nodes, on a rail v."""
    branches = [Branch(Transistor("T", device), ("c", "b", "e"))]
    branches += [Branch(Part(f"R{n}", "resistor", ohm), (a, b)) for n, (a, b, ohm) in enumerate(parts)]
    return Circuit(tuple(branches), (), (Rail("v", volt),))


WIRE = 1e-6


def ladder_of_six():
    """Six crystals of 9 MHz, 18 mH, 12 ohm, 3.5 pF; 88.42 pF; 200 ohm inside, 1:4 windings at both ends."""
    farad, series = 8.841941282883076e-11, 1 / (0.018 * 1.73733168111e-14)
    fs = sqrt(series) / (2 * np.pi)
    branches = [
        Branch(CoupledCoils("KTA", 25e-6, 100e-6, 0.999), ("in", "0", "a0", "0")),
        Branch(Part("CS0", "capacitor", farad), ("a0", "m0")),
    ]
    for n in range(1, 7):
        crystal = Part(f"X{n}", "crystal", fs, sqrt(series) * 0.018 / 12, 0.018, 3.5e-12)
        branches.append(Branch(crystal, (f"m{n - 1}", f"m{n}")))
        if n < 6:
            branches.append(Branch(Part(f"CK{n}", "capacitor", farad), (f"m{n}", "0")))
    branches += [
        Branch(Part("CS1", "capacitor", farad), ("m6", "b0")),
        Branch(CoupledCoils("KTB", 100e-6, 25e-6, 0.999), ("b0", "0", "out", "0")),
    ]
    return Circuit(tuple(branches), (Port("in", 50.0), Port("out", 50.0)))
