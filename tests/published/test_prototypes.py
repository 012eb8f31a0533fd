"""Prototypes against printed tables and scipy.signal.

Tables: Matthaei, Young, Jones, *Microwave Filters* (1964) sec. 4.05 and Zverev, *Handbook of Filter
Synthesis* (1967), four digits; the 0.01 and 0.1 dB rows read in a reprint, the others from closed forms
(section numbers from memory). k and q: Dishal, Proc. IRE 37 (1949) 1050 and Zverev ch. 6 (citations from
memory).
"""

import numpy as np
import pytest
from scipy import signal

from core.circuits.ladder import Arm, Network, Part, solve
from core.circuits.shapes.prototypes import attenuation_db, couplings, prototype, three_db_edge

BUTTERWORTH = """
1.4142 1.4142
1.0000 2.0000 1.0000
0.7654 1.8478 1.8478 0.7654
0.6180 1.6180 2.0000 1.6180 0.6180
0.5176 1.4142 1.9319 1.9319 1.4142 0.5176
0.4450 1.2470 1.8019 2.0000 1.8019 1.2470 0.4450
0.3902 1.1111 1.6629 1.9616 1.9616 1.6629 1.1111 0.3902
0.3473 1.0000 1.5321 1.8794 2.0000 1.8794 1.5321 1.0000 0.3473
0.3129 0.9080 1.4142 1.7820 1.9754 1.9754 1.7820 1.4142 0.9080 0.3129
"""
# Ripple, then g1 .. gN and the load.
CHEBYSHEV = """
0.01 0.4489 0.4078 1.1007
0.01 0.6292 0.9703 0.6292 1
0.01 0.7129 1.2004 1.3213 0.6476 1.1007
0.01 0.7563 1.3049 1.5773 1.3049 0.7563 1
0.01 0.7814 1.3600 1.6897 1.5350 1.4970 0.7098 1.1007
0.01 0.7969 1.3924 1.7481 1.6331 1.7481 1.3924 0.7969 1
0.01 0.8145 1.4271 1.8044 1.7125 1.9058 1.7125 1.8044 1.4271 0.8145 1
0.1 0.8430 0.6220 1.3554
0.1 1.0316 1.1474 1.0316 1
0.1 1.1088 1.3062 1.7704 0.8181 1.3554
0.1 1.1468 1.3712 1.9750 1.3712 1.1468 1
0.1 1.1681 1.4040 2.0562 1.5171 1.9029 0.8618 1.3554
0.1 1.1812 1.4228 2.0967 1.5734 2.0967 1.4228 1.1812 1
0.1 1.1898 1.4347 2.1199 1.6010 2.1699 1.5641 1.9445 0.8778 1.3554
0.1 1.1957 1.4426 2.1346 1.6167 2.2054 1.6167 2.1346 1.4426 1.1957 1
0.1 1.1999 1.4482 2.1444 1.6266 2.2253 1.6419 2.2046 1.5822 1.9628 0.8853 1.3554
0.2 1.2275 1.1525 1.2275 1
0.2 1.3028 1.2844 1.9762 0.8468 1.5386
0.2 1.3394 1.3370 2.1661 1.3370 1.3394 1
0.2 1.3723 1.3782 2.2757 1.5002 2.2757 1.3782 1.3723 1
0.5 1.4029 0.7071 1.9841
0.5 1.5963 1.0967 1.5963 1
0.5 1.6703 1.1926 2.3661 0.8419 1.9841
0.5 1.7058 1.2296 2.5408 1.2296 1.7058 1
0.5 1.7254 1.2479 2.6064 1.3137 2.4758 0.8696 1.9841
0.5 1.7373 1.2582 2.6383 1.3443 2.6383 1.2582 1.7373 1
1.0 2.0236 0.9941 2.0236 1
1.0 2.1349 1.0911 3.0009 1.0911 2.1349 1
1.0 2.1546 1.1041 3.0634 1.1518 2.9367 0.8101 2.6597
1.0 2.1666 1.1115 3.0936 1.1735 3.0936 1.1115 2.1666 1
1.0 2.1836 1.1213 3.1286 1.1933 3.1890 1.1990 3.1738 1.1763 2.9824 0.8210 2.6597
"""
# Shape (b, or the ripple), N, q, then half of the symmetric k; normalised to the −3 dB width.
COUPLINGS = """
b 2 1.4142 0.7071
b 3 1.0000 0.7071
b 4 0.7654 0.8409 0.5412
b 5 0.6180 1.0000 0.5559
b 6 0.5176 1.1688 0.6050 0.5176
b 8 0.3902 1.5187 0.7357 0.5537 0.5098
0.1 2 1.6382 0.7106
0.1 3 1.4328 0.6618
0.1 4 1.3451 0.6850 0.5421
0.1 5 1.3013 0.7028 0.5355
0.1 6 1.2767 0.7145 0.5385 0.5180
0.1 7 1.2615 0.7223 0.5421 0.5155
0.1 8 1.2515 0.7276 0.5451 0.5160 0.5100
0.5 2 1.9497 0.7225
0.5 3 1.8636 0.6474
0.5 4 1.8258 0.6482 0.5446
0.5 5 1.8069 0.6519 0.5341
0.5 6 1.7962 0.6547 0.5326 0.5191
0.5 8 1.7852 0.6580 0.5333 0.5145 0.5106
"""
# N, outer −3 dB point = q, k.
EQUAL = """
2 1.4142 0.7071
3 1.5214 0.6573
4 1.6529 0.6050
5 1.7458 0.5728
6 1.8082 0.5530
7 1.8509 0.5403
8 1.8811 0.5316
10 1.9196 0.5209
"""


def rows(table: str) -> list[list[str]]:
    return [line.split() for line in table.strip().splitlines()]


@pytest.mark.parametrize("row", rows(BUTTERWORTH), ids=len)
def test_butterworth_table(row):
    found = prototype("butterworth", len(row))
    assert [f"{g:.4f}" for g in found.g] == row
    assert found.load == 1


@pytest.mark.parametrize("row", rows(CHEBYSHEV), ids=lambda row: f"{row[0]}dB-{len(row) - 2}")
def test_chebyshev_table(row):
    ripple, *values = (float(each) for each in row)
    found = prototype("chebyshev", len(values) - 1, ripple)
    np.testing.assert_allclose([*found.g, found.load], values, atol=1.01e-4)


def test_the_misprints_of_a_circulated_reprint_are_not_reproduced():
    assert abs(prototype("chebyshev", 5, 0.01).g[0] - 0.7653) > 5e-4
    assert abs(prototype("chebyshev", 7, 0.1).g[3] - 1.5374) > 5e-3


@pytest.mark.parametrize("row", rows(COUPLINGS), ids=lambda row: f"{row[0]}-{row[1]}")
def test_coupling_table(row):
    shape, count = ("butterworth", 0.1) if row[0] == "b" else ("chebyshev", float(row[0])), int(row[1])
    found = couplings(shape[0], count, shape[1])
    # The table counts to the −3 dB width, the function to the ripple width for Chebyshev.
    edge = 1.0 if row[0] == "b" else three_db_edge(count, shape[1])
    half = [float(each) for each in row[3:]]
    np.testing.assert_allclose([found.q_first * edge, found.q_last * edge], float(row[2]), atol=1.01e-4)
    np.testing.assert_allclose(np.array(found.k[: len(half)]) / edge, half, atol=1.01e-4)
    np.testing.assert_allclose(found.k, found.k[::-1])


@pytest.mark.parametrize("row", rows(EQUAL), ids=lambda row: row[0])
def test_equal_coupling_table(row):
    found = couplings("equal_coupling", int(row[0]))
    np.testing.assert_allclose([found.q_first, found.k[0]], [float(row[1]), float(row[2])], atol=1.01e-4)
    assert len(set(found.k)) == 1


@pytest.mark.parametrize(
    ("ripple", "values"),
    [
        (0.01, "3.3036 1.8772 1.4669 1.2912 1.1994 1.1453 1.1106 1.0871 1.0703"),
        (0.1, "1.9432 1.3890 1.2131 1.1347 1.0929 1.0680 1.0519 1.0410 1.0331"),
        (0.5, "1.3897 1.1675 1.0931 1.0593 1.0410 1.0301 1.0230 1.0182 1.0147"),
        (1.0, "1.2176 1.0949 1.0530 1.0338 1.0234 1.0172 1.0132 1.0104 1.0084"),
    ],
)
def test_three_db_points(ripple, values):
    assert [f"{three_db_edge(n, ripple):.4f}" for n in range(2, 11)] == values.split()


@pytest.mark.parametrize("order", range(2, 11))
@pytest.mark.parametrize("shape", ["butterworth", "chebyshev"])
def test_prototype_networks_have_the_response_of_scipys_filters(shape, order):
    ripple = 0.25
    proto = prototype(shape, order, ripple)
    w = np.linspace(0.05, 4, 200)
    # Shunt capacitor first; an even Chebyshev then ends in a series coil and a load of 1/g.
    arms = tuple(
        Arm("shunt", (Part(f"C{n}", "capacitor", g),))
        if n % 2 == 0
        else Arm("series", (Part(f"L{n}", "inductor", g),))
        for n, g in enumerate(proto.g)
    )
    load = proto.load if order % 2 else 1 / proto.load
    loss = solve(Network(arms, 1.0, load), w / (2 * np.pi)).loss_db
    if shape == "butterworth":
        b, a = signal.butter(order, 1, analog=True)
    else:
        b, a = signal.cheby1(order, ripple, 1, analog=True)
    _, h = signal.freqs(b, a, w)
    np.testing.assert_allclose(loss, -20 * np.log10(np.abs(h)), atol=2e-6)
    np.testing.assert_allclose(loss, [attenuation_db(shape, order, float(x), ripple) for x in w], atol=2e-6)


STOP_BAND = """
b 3 10.93 15.44 18.13 23.89 28.63 36.12 41.94
b 5 17.68 25.54 30.11 39.79 47.71 60.21 69.90
b 7 24.67 35.74 42.14 55.71 66.80 84.29 97.86
0.01 5 9.88 19.46 24.82 35.65 44.16 57.22 67.17
0.01 7 26.13 40.14 47.68 62.87 74.78 93.07 106.99
0.1 3 4.60 9.29 12.24 18.54 23.60 31.42 37.39
0.1 5 19.50 29.46 34.85 45.70 54.21 67.27 77.21
0.1 7 36.17 50.18 57.72 72.91 84.83 103.11 117.03
0.5 5 26.65 36.65 42.04 52.89 61.40 74.46 84.40
0.5 7 43.36 57.37 64.92 80.11 92.02 110.30 124.23
"""


@pytest.mark.parametrize("row", rows(STOP_BAND), ids=lambda row: f"{row[0]}-{row[1]}")
def test_stop_band_table(row):
    shape, ripple = ("butterworth", 0.1) if row[0] == "b" else ("chebyshev", float(row[0]))
    found = [attenuation_db(shape, int(row[1]), x, ripple) for x in (1.5, 1.8, 2, 2.5, 3, 4, 5)]
    np.testing.assert_allclose(found, [float(each) for each in row[2:]], atol=0.0051)
