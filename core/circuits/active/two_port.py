"""Two-ports with their noise: of a circuit by one adjoint solve, joined by their chain matrices.

Chain matrix with noise correlation after H. Hillbrand and P. Russer, IEEE Trans. CAS-23 (1976) 235, from
memory; the algebra was derived again. One solution of the transposed equations with the two ports on the
right side gives every port impedance and how every noise current reaches the ports.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from core.circuits.active.linear import Linear, linear
from core.circuits.circuit import TEMPERATURE_K, Circuit
from core.circuits.ladder import Array, ComplexArray, Network, chain, frozen
from core.circuits.units import BOLTZMANN, T0_KELVIN
from core.circuits.unsolved import Unsolved
from core.record import record

#: Why a circuit of ideal parts has no two-port.
NO_ANSWER = "The circuit has no single answer at some frequency; give its ideal parts a loss."


@record(eq=False, slots=False)
class TwoPort:
    """`chain` (2, 2, F): voltage and current at the input from those at the output [-, ohm, S, -].

    `noise` (2, 2, F): correlation of the noise voltage and current at the input [V²/Hz, VA/Hz, A²/Hz],
    one-sided. Arrays are read-only, frequency last; of T circuits together (2, 2, T, F).
    """

    f_hz: Array
    chain: ComplexArray
    noise: ComplexArray

    def input_ohm(self, load_ohm: ArrayLike) -> ComplexArray:
        """Input impedance [ohm] with a load [ohm], shape (F,) or a number."""
        a, b, c, d = self._abcd()
        load = np.asarray(load_ohm)
        return frozen((a * load + b) / (c * load + d))

    def output_ohm(self, source_ohm: ArrayLike) -> ComplexArray:
        """Output impedance [ohm] with a source [ohm]."""
        a, b, c, d = self._abcd()
        source = np.asarray(source_ohm)
        return frozen((d * source + b) / (c * source + a))

    def gain_db(self, source_ohm: ArrayLike, load_ohm: ArrayLike) -> Array:
        """Transducer gain [dB]: power in the load over what the source could give at best."""
        a, b, c, d = self._abcd()
        source, load = np.asarray(source_ohm), np.asarray(load_ohm)
        over = np.abs(a * load + b + c * source * load + d * source) ** 2
        with np.errstate(divide="ignore"):
            return frozen(10 * np.log10(4 * source.real * load.real / over))

    def noise_figure_db(self, source_ohm: ArrayLike) -> Array:
        """Noise figure [dB] with a source [ohm] at 290 K."""
        source = np.asarray(source_ohm)
        (vv, vi), (_, ii) = self.noise
        added = vv.real + np.abs(source) ** 2 * ii.real + 2 * (np.conj(source) * vi).real
        return frozen(10 * np.log10(1 + added / (4 * BOLTZMANN * T0_KELVIN * source.real)))

    def s(self, ohm: float) -> ComplexArray:
        """S-parameters referred to `ohm` [ohm] at both ports, shape (2, 2, F)."""
        a, b, c, d = self._abcd()
        over = a + b / ohm + c * ohm + d
        return frozen(
            np.array(
                [
                    [(a + b / ohm - c * ohm - d) / over, 2 * (a * d - b * c) / over],
                    [2 / over, (-a + b / ohm - c * ohm + d) / over],
                ]
            )
        )

    def stability(self, ohm: float = 50.0) -> tuple[Array, Array]:
        """Rollett's K [-] and the factor mu [-] (M. L. Edwards, J. H. Sinsky, IEEE Trans. MTT-40 (1992) 2303,
        from memory): stable with any passive source and load where mu is above 1.
        """
        (s11, s12), (s21, s22) = self.s(ohm)
        delta = s11 * s22 - s12 * s21
        both = np.abs(s12 * s21)
        with np.errstate(divide="ignore"):
            k = (1 - np.abs(s11) ** 2 - np.abs(s22) ** 2 + np.abs(delta) ** 2) / (2 * both)
            mu = (1 - np.abs(s11) ** 2) / (np.abs(s22 - np.conj(s11) * delta) + both)
        return frozen(k), frozen(mu)

    def admittances(self) -> ComplexArray:
        """Currents into the ports from the voltages at them [S], shape (F, 2, 2)."""
        a, b, c, d = self._abcd()
        return frozen(np.moveaxis(np.array([[d / b, c - a * d / b], [-1 / b, a / b]]), -1, 0))

    def _abcd(self) -> tuple[ComplexArray, ComplexArray, ComplexArray, ComplexArray]:
        (a, b), (c, d) = self.chain
        return a, b, c, d


def two_port(circuit: Circuit, f_hz: ArrayLike) -> TwoPort | Unsolved:
    """The two-port between a circuit's first and second port on a grid (F,) [Hz], with its noise."""
    around = linear(circuit)
    return around if isinstance(around, Unsolved) else of_linear(around, f_hz)


def of_linear(around: Linear, f_hz: ArrayLike) -> TwoPort | Unsolved:
    """The same of a circuit that was made linear, or of several together, on a grid (F,) [Hz]."""
    if len(around.ports) != 2:
        return Unsolved("A two-port has two ports; name an input and an output of the circuit.")
    f = np.asarray(f_hz, dtype=float)
    with np.errstate(all="ignore"):
        impedances, correlation = _at_ports(around, f)
    if impedances is None:
        return Unsolved(NO_ANSWER)
    return _from_ports(f, impedances, correlation, around.port_ohm)


def _at_ports(around: Linear, f: Array) -> tuple[ComplexArray | None, ComplexArray]:
    """Port impedances and noise voltages' correlation, shape (..., F, 2, 2) each, ports closed by theirs."""
    passive = around.passive_at(f)
    whole = passive + around.active_at(f)
    ends = np.zeros((len(around.nodes), 2))
    for n, (port, ohm) in enumerate(zip(around.ports, around.port_ohm, strict=True)):
        whole[..., port, port] += 1 / ohm
        ends[port, n] = 1.0
    try:
        reach = np.linalg.solve(np.swapaxes(whole, -1, -2), ends)
    except np.linalg.LinAlgError:
        return None, passive
    # Passive parts make the noise of the real part of their admittances; the ports' own is not the circuit's.
    currents = 4 * BOLTZMANN * TEMPERATURE_K * passive.real
    correlation = np.swapaxes(reach, -1, -2) @ currents @ reach.conj()
    if around.noise:
        padded = np.concatenate([reach, np.zeros((*reach.shape[:-2], 1, 2))], axis=-2)
        ones, others, densities = zip(*around.noise, strict=True)
        steps = padded[..., ones, :] - padded[..., others, :]
        # A density a source, of several circuits for each of them: (..., 1, S, 1).
        density = np.stack(np.broadcast_arrays(*densities), axis=-1)[..., None, :, None]
        correlation = correlation + np.swapaxes(steps * density, -1, -2) @ steps.conj()
    impedances = np.swapaxes(reach[..., list(around.ports), :], -1, -2)
    return (impedances if np.isfinite(impedances).all() else None), correlation


def _from_ports(
    f: Array, impedances: ComplexArray, correlation: ComplexArray, ohm: tuple[float, ...]
) -> TwoPort:
    closed = np.linalg.inv(impedances)
    currents = closed @ correlation @ np.swapaxes(closed, -1, -2).conj()
    return _from_admittances(f, closed - np.diag(1 / np.array(ohm)), currents)


def _from_admittances(f: Array, y: ComplexArray, currents: ComplexArray) -> TwoPort:
    """A two-port from its admittances and noise currents' correlation, shape (..., F, 2, 2) each."""
    (y11, y12), (y21, y22) = np.moveaxis(y, (-2, -1), (0, 1))
    a, b, c, d = -y22 / y21, -1 / y21, -(y11 * y22 - y12 * y21) / y21, -y11 / y21
    turn = np.zeros_like(y, dtype=complex)
    turn[..., 0, 1], turn[..., 1, 0], turn[..., 1, 1] = b, 1.0, d
    noise = turn @ currents @ np.swapaxes(turn, -1, -2).conj()
    chain = np.array([[a, b], [c, d]])
    return TwoPort(frozen(f.copy()), frozen(chain), frozen(np.moveaxis(noise, (-2, -1), (0, 1))))


def _admittances(of: TwoPort) -> tuple[ComplexArray, ComplexArray]:
    """Its admittances and its noise currents' correlation, shape (F, 2, 2) each."""
    y = of.admittances()
    turn = np.zeros_like(y)
    turn[:, 0, 0], turn[:, 0, 1], turn[:, 1, 0] = -y[:, 0, 0], 1.0, -y[:, 1, 0]
    return y, turn @ np.moveaxis(of.noise, -1, 0) @ np.swapaxes(turn, -1, -2).conj()


def of_ladder(network: Network, f_hz: ArrayLike, *, temperature_k: float = TEMPERATURE_K) -> TwoPort:
    """The two-port of a ladder network [Hz] with its parts at `temperature_k` [K]."""
    f = np.asarray(f_hz, dtype=float)
    return passive(f, chain(network, f), temperature_k)


def passive(f_hz: Array, chain: ComplexArray, temperature_k: float) -> TwoPort:
    """A passive reciprocal two-port of a chain matrix (2, 2, F) on a grid [Hz], at a temperature [K].

    The noise currents of its admittances, 4 k T Re Y (H. Nyquist, 1928), carried to the input: 2 k T times
    AB* + A*B and CD* + C*D on the diagonal, AD* + BC* − 1 beside it, in which nothing is divided by.
    """
    (a, b), (c, d) = chain
    beside = a * np.conj(d) + b * np.conj(c) - 1
    noise = np.array([[2 * (a * np.conj(b)).real, beside], [np.conj(beside), 2 * (c * np.conj(d)).real]])
    return TwoPort(frozen(f_hz.copy()), chain, frozen(2 * BOLTZMANN * temperature_k * noise))


def pad(loss_db: float, ohm: float, f_hz: Array) -> TwoPort:
    """A matched attenuator [dB] between resistances [ohm] at 290 K, on a grid (F,) [Hz]."""
    root = 10 ** (loss_db / 20)
    a, b = (root + 1 / root) / 2, (root - 1 / root) / 2
    one = np.ones(f_hz.size, dtype=complex)
    return passive(f_hz, frozen(np.array([[a * one, b * ohm * one], [b / ohm * one, a * one]])), T0_KELVIN)


def block(
    gain_db: float, noise_figure_db: float, ohm: float, f_hz: Array, reverse_db: float | None = None
) -> TwoPort:
    """A matched stage of a gain and a noise figure [dB], on a grid (F,) [Hz]; `reverse_db` [dB] is what comes
    back from its output to its input, None for nothing. Its phase is not known: it is taken as a pad's.

    Its input sends out the noise of a resistor at 290 K, as that of a pad or a mixer does; what it adds
    travels forward and does not depend on the source. So whatever stands before it, it delivers G F k T0.
    """
    forth, back = 10 ** (gain_db / 20), 0.0 if reverse_db is None else 10 ** (reverse_db / 20)
    one = np.ones(f_hz.size, dtype=complex)
    # S11 = S22 = 0: A = D = (1 + S12 S21)/(2 S21), B = R (1 − S12 S21)/(2 S21), C = B/R².
    along, across = (1 + back * forth) / (2 * forth) * one, (1 - back * forth) / (2 * forth) * one
    factor = np.full(f_hz.size, 10 ** (noise_figure_db / 10))
    # Wave sent out and wave added, of k T0 and (F − 1) k T0, as voltage and current at the input.
    noise = np.array([[factor * ohm, factor - 2], [factor - 2, factor / ohm]], dtype=complex)
    return TwoPort(
        frozen(f_hz.copy()),
        frozen(np.array([[along, ohm * across], [across / ohm, along]])),
        frozen(BOLTZMANN * T0_KELVIN * noise),
    )


def parallel(one: TwoPort, other: TwoPort) -> TwoPort:
    """Two two-ports on one grid, input soldered to input and output to output: their admittances add."""
    (y, currents), (others_y, others_currents) = _admittances(one), _admittances(other)
    return _from_admittances(one.f_hz, y + others_y, currents + others_currents)


def cascade(stages: Sequence[TwoPort]) -> TwoPort:
    """Two-ports on one grid in a row, the first one's input the whole's."""
    first = stages[0]
    chain, noise = np.moveaxis(first.chain, -1, 0), np.moveaxis(first.noise, -1, 0)
    for stage in stages[1:]:
        noise = noise + chain @ np.moveaxis(stage.noise, -1, 0) @ np.swapaxes(chain, -1, -2).conj()
        chain = chain @ np.moveaxis(stage.chain, -1, 0)
    return TwoPort(first.f_hz, frozen(np.moveaxis(chain, 0, -1)), frozen(np.moveaxis(noise, 0, -1)))
