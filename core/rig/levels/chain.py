"""A receiver's path as what it is soldered from: runs of two-ports between mixers, each with its noise.

Inside a run every stage sees the impedances that really stand beside it, so that mismatch counts in gain and
noise. A stage of which figures are all that is known is a matched block, a pad where it is passive; an
amplifier among them lets back what is stated of it, and nothing without a word. A mixer ends a run with the
impedance of its port and begins the next one with the other's; its figures hold between nominal resistances.
Where nothing but one-way blocks stands in the path the sum is Friis' (`own_noise.py`).

A mixer's single-sideband noise figure counts a resistor at 290 K on its image. What it gets there beyond
that is folded onto the signal: an RF stage behind the band-pass brings its noise twice, an IF amplifier
behind the ladder at the detector. Both are taken at one frequency; what leaves the first mixer is taken to
be as noisy on the other side of the carrier. Derived here.

In audio nothing is matched, and levels are the power that really flows into what stands behind; a stage's
compression is that of its output's swing into its real load.
"""

from dataclasses import replace
from functools import lru_cache
from math import inf, log, log10

import numpy as np

from core.circuits.active import two_port
from core.circuits.active.along import Along, along
from core.circuits.active.swing import least
from core.circuits.active.two_port import TwoPort
from core.circuits.ladder import Array, ComplexArray, frozen
from core.circuits.units import added_db, dbm, ratio
from core.record import record
from core.rig.levels.blocks import IMAGE, SIGNAL, TONES, Block
from core.stages.kinds.kind import NOMINAL_OHM, Role

_NEPER = log(10) / 10
#: A part of the noise further below the whole is told of nobody, dB.
_LEAST_DB = -60.0


@record(eq=False, kw_only=True)
class Chain:
    """A path of n stages, in signal order.

    `blocks` are its stages with the gain that each has at its place; intercept and compression at its output
    stay. `passed_db` (n + 1, TONES) is the gain from the antenna to each place at the `tones` of its zone
    [dB], into the nominal resistance inside a run and into the mixer's port at its end. `own_db` (n + 1,) is
    the noise there over k T0 B, the antenna at 290 K included [dB]; `excess_db` (n,) what each stage adds
    by itself and `folded_db` (n,) what a mixer folds in from its image, both referred to the antenna over
    k T0 B [dB], −∞ for nothing.
    """

    blocks: tuple[Block, ...]
    passed_db: Array
    own_db: Array
    excess_db: Array
    folded_db: Array

    @property
    def noise_figure_db(self) -> float:
        """Of the whole path with all images [dB]."""
        return float(_together(np.concatenate([[0.0], self.excess_db, self.folded_db])))

    def image_db(self, zone: str) -> float:
        """How much lower the noise figure would be without what mixers that take in `zone` fold in [dB]."""
        kept = [each for each, block in zip(self.folded_db, self.blocks, strict=True) if block.zone != zone]
        return self.noise_figure_db - float(_together(np.array([0.0, *self.excess_db, *kept])))


def _together(levels_db: Array, axis: int = 0) -> Array:
    """Levels [dB] of independent powers together; no power is formed, so that none is too large."""
    return np.asarray(np.logaddexp.reduce(_NEPER * levels_db, axis=axis) / _NEPER)


@lru_cache(maxsize=512)
def _matched(
    gain_db: float, noise_figure_db: float, passive: bool, reverse_db: float | None = None
) -> TwoPort:
    grid = np.ones(TONES)
    if passive and gain_db <= 0:
        return two_port.pad(-gain_db, NOMINAL_OHM, grid)
    return two_port.block(gain_db, noise_figure_db, NOMINAL_OHM, grid, reverse_db)


def _port(block: Block) -> TwoPort:
    if block.port is not None:
        return block.port
    return _matched(block.gain_db, block.noise_figure_db, block.passive, block.reverse_db)


#: An impedance at all tones [ohm], or one at each of them.
Ohms = complex | tuple[complex, ...]


@lru_cache(maxsize=128)
def _run(ports: tuple[TwoPort, ...], source_ohm: Ohms, load_ohm: complex) -> Along:
    """Stages between two mixers; those that an edit does not touch stay, and bands share what is alike."""
    return along(ports, source_ohm, load_ohm, NOMINAL_OHM, TONES)


@lru_cache(maxsize=128)
def _inputs(ports: tuple[TwoPort, ...], load_ohm: complex) -> ComplexArray:
    """What is seen before each two-port of a row and behind the last [ohm], shape (n + 1, TONES)."""
    found = [np.full(TONES, load_ohm, dtype=complex)]
    for port in reversed(ports):
        found.append(port.input_ohm(found[-1]))
    return frozen(np.array(found[::-1]))


@lru_cache(maxsize=128)
def _audio_run(ports: tuple[TwoPort, ...], source_ohm: Ohms, load_ohm: complex) -> Along:
    """Stages in audio, with levels at what they really work into."""
    return along(ports, source_ohm, load_ohm, _inputs(ports, load_ohm), TONES)


def input_ohm(blocks: tuple[Block, ...], load_ohm: complex = NOMINAL_OHM) -> complex:
    """What a path's source sees at the signal [ohm], with a load [ohm] where no mixer ends the first run."""
    end = next((n for n, each in enumerate(blocks) if each.role == "mixer"), len(blocks))
    load = load_ohm if end == len(blocks) else blocks[end].input_ohm
    return complex(_inputs(tuple(map(_port, blocks[:end])), load)[0, SIGNAL])


@lru_cache(maxsize=64)
def chain(
    blocks: tuple[Block, ...], source_ohm: Ohms = NOMINAL_OHM, load_ohm: complex = NOMINAL_OHM
) -> Chain:
    """A path in signal order, from an antenna of the nominal resistance at 290 K, or from another source
    [ohm], into a load [ohm].
    """
    count = len(blocks)
    passed, own = np.zeros((count + 1, TONES)), np.zeros(count + 1)
    excess, folded = np.full(count, -inf), np.full(count, -inf)
    loads = [complex(NOMINAL_OHM)] * count
    source: Ohms = source_ohm
    begin, noise_db = 0, 0.0
    while True:
        end = next((n for n in range(begin, count) if blocks[n].role == "mixer"), count)
        load = load_ohm if end == count else blocks[end].input_ohm
        ports = tuple(map(_port, blocks[begin:end]))
        if begin < end and blocks[begin].zone == "audio":
            run = _audio_run(ports, source, load)
            loads[begin:end] = [complex(each) for each in _inputs(ports, load)[1:, SIGNAL]]
        else:
            run = _run(ports, source, load)
        before_db = passed[begin].copy()
        passed[begin + 1 : end + 1] = before_db + run.gain_db[1:]
        excess[begin:end] = run.excess_db[:, SIGNAL] - before_db[SIGNAL]
        # Noise at the source, and of the first so many stages, all referred to the source.
        added = np.vstack([np.full((1, TONES), noise_db), run.excess_db])
        gathered = np.logaddexp.accumulate(_NEPER * added) / _NEPER
        delivered = run.gain_db + gathered
        own[begin + 1 : end + 1] = delivered[1:, SIGNAL]
        if end == count:
            break
        mixer, at_port_db = blocks[end], before_db + run.gain_db[-1]
        nominal = _match(NOMINAL_OHM, mixer.input_ohm)
        mine_db = _mixers_own_db(mixer, nominal, float(run.match[SIGNAL]))
        image_db = _beyond(float(delivered[-1, IMAGE]), float(run.match[IMAGE]))
        excess[end], folded[end] = mine_db - at_port_db[SIGNAL], image_db - at_port_db[SIGNAL]
        # Conversion from what the port takes in to what is available behind.
        converts_db = mixer.gain_db - 10 * log10(nominal * _match(NOMINAL_OHM, mixer.output_ohm))
        noise_db = converts_db + added_db(added_db(float(delivered[-1, SIGNAL]), mine_db), image_db)
        passed[end + 1], own[end + 1] = at_port_db + converts_db, noise_db
        source, begin = mixer.output_ohm, end + 1
    placed = tuple(
        _at_its_place(block, float(passed[n + 1, SIGNAL] - passed[n, SIGNAL]), loads[n])
        for n, block in enumerate(blocks)
    )
    return Chain(
        blocks=placed,
        passed_db=frozen(passed),
        own_db=frozen(own),
        excess_db=frozen(excess),
        folded_db=frozen(folded),
    )


def ends_ohm(
    blocks: tuple[Block, ...],
    place: int,
    source_ohm: complex = NOMINAL_OHM,
    load_ohm: complex = NOMINAL_OHM,
) -> tuple[complex, complex]:
    """What a stage of a path sees before and behind itself at the signal [ohm], with a source and a load at
    the path's ends [ohm].
    """
    mixers = [n for n, each in enumerate(blocks) if each.role == "mixer"]
    begin = max((n + 1 for n in mixers if n < place), default=0)
    end = min((n for n in mixers if n > place), default=len(blocks))
    source = source_ohm if begin == 0 else blocks[begin - 1].output_ohm
    load = load_ohm if end == len(blocks) else blocks[end].input_ohm
    for each in blocks[begin:place]:
        source = complex(_port(each).output_ohm(source)[SIGNAL])
    for each in reversed(blocks[place + 1 : end]):
        load = complex(_port(each).input_ohm(load)[SIGNAL])
    return source, load


def _match(one_ohm: complex, other_ohm: complex) -> float:
    """Share of what is available from one impedance that the other takes [-]."""
    return 4 * one_ohm.real * other_ohm.real / abs(one_ohm + other_ohm) ** 2


def _mixers_own_db(mixer: Block, nominal: float, match: float) -> float:
    """A mixer's own noise at its input over k T0 [dB], from its noise figure in nominal resistances.

    `nominal` and `match` are the shares of what is available that its port takes from the nominal resistance
    and from what stands before it [-]. As a resistor at 290 K would, it gets back of its own port's noise
    what is not taken.
    """
    own = (10 ** (mixer.noise_figure_db / 10) - 1) * nominal + max(nominal - match, 0.0)
    return 10 * log10(own) if own > 0 else -inf


def _beyond(delivered_db: float, match: float) -> float:
    """What of noise over k T0 [dB] a resistor at 290 K would not deliver with this match [-], in dB."""
    share = 1 - match * 10 ** (min(-delivered_db, 300.0) / 10)
    return delivered_db + 10 * log10(share) if share > 0 else -inf


def _at_its_place(block: Block, gain_db: float, load_ohm: complex) -> Block:
    """The block with the gain it has at its place; what limits it is its output, by its swing into the load
    [ohm] where that is known.
    """
    lost_db = block.gain_db - gain_db
    most_dbm = _swing_dbm(block, load_ohm) if block.swings else block.p1db_out_dbm
    if lost_db == 0 and most_dbm == block.p1db_out_dbm:
        return block
    iip3_dbm = None if block.iip3_dbm is None else block.iip3_dbm + lost_db
    return replace(block, gain_db=gain_db, iip3_dbm=iip3_dbm, p1db_out_dbm=most_dbm)


def _swing_dbm(block: Block, load_ohm: complex) -> float | None:
    """The power into a load [ohm] at which a stage of known swing loses a decibel [dBm]; None for none."""
    _, most_v = least(block.swings, load_ohm)
    most_w = most_v**2 * (1 / load_ohm).real / 2
    return dbm(most_w) + block.beyond_db if 0 < most_w < inf else None


@record(kw_only=True)
class NoiseShare:
    """A part of the receiver's own noise: of a stage by itself, or what a mixer folds in from its `image`.

    `share` is what it alone brings to the output over what all bring [-], `alone_db` the noise figure that
    the receiver would have if nothing else in it made noise [dB].
    """

    stage: str
    name: str
    role: Role
    image: bool
    share: float
    alone_db: float


def noise_shares(chain: Chain) -> tuple[NoiseShare, ...]:
    """The parts of the receiver's own noise along the path, a mixer's image before itself; together they are
    one. Those too small for a millionth are left out.
    """
    whole_db = float(_together(np.concatenate([chain.excess_db, chain.folded_db])))
    found = []
    for n, block in enumerate(chain.blocks):
        for image, level_db in ((True, chain.folded_db[n]), (False, chain.excess_db[n])):
            if level_db - whole_db > _LEAST_DB:
                found.append(
                    NoiseShare(
                        stage=block.stage,
                        name=block.name,
                        role=block.role,
                        image=image,
                        share=ratio(float(level_db) - whole_db),
                        alone_db=added_db(0.0, float(level_db)),
                    )
                )
    return tuple(found)
