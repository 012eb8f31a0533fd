"""Figures of a mixer at the drive that it gets, and of a modulator's balance."""

from collections.abc import Callable
from math import isfinite
from typing import Any

from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.figure import Figure, Table, label
from core.rig.levels.oscillator_drive import Step
from core.rig.mixer_facts import MixerFacts
from core.stages.mixers.design import MixerDesign
from core.stages.mixers.drive import Balance
from core.stages.mixers.figures import COMPUTED, MixerFigures
from core.stages.outcome import Unsolved
from core.trade.mixers import TABLE_BACKOFF_DB, typical

_LAW = (
    "the devices' exponential law at each phase of the oscillator, between 50 Ω at every frequency; typical "
    "of the type where its circuit is not computed; a reading replaces it"
)
_ESTIMATED = "an estimate: capacitances are left out"
_ARRAY_LAW = f"{_LAW}; of transistors {_ESTIMATED}"
#: Against their circuit solved over time (tests/published/test_mixer_circuits.py).
_GAIN_MISS = "gain up to 1.5 dB too high, as seen at 14 MHz with 2N3904 at 1 mA of tail current"
_ESTIMATE = (
    "an estimate of what devices and windings are asked to differ by; the defaults, 10 mV as they come, 2 mV "
    "matched, 1 %, are from memory"
)
#: As the figures of a mixer are called in words.
_NAMES = {
    "gain_db": "gain",
    "noise_figure_db": "noise figure",
    "iip3_dbm": "intercept",
    "p1db_in_dbm": "compression",
    "drive_dbm": "drive wanted",
    "oscillator_leak_db": "isolation",
}


def _at(key: str, title: str, what: str, get: Callable[[MixerFacts], Any], **how: Any) -> Figure[MixerFacts]:
    given: dict[str, Any] = {"unit": "dBm", "places": 1, "source": _LAW} | how
    return Figure(key=key, title=title, what=what, get=get, **given)


def _from(of: MixerFacts) -> str:
    if isinstance(of.figures.circuit, Unsolved):
        return of.figures.circuit.reason
    if of.at is None and not of.figures.estimated:
        return "readings"
    typical_ones = ", ".join(_NAMES[name] for name in of.figures.estimated)
    computed = "" if of.at is None else "its circuit"
    if of.at is not None and of.figures.type == "transistor_array":
        # Readings have nothing to be warned of.
        from_it = [name for name in COMPUTED if getattr(of.figures, name) == getattr(of.at, name)]
        warned = (_ESTIMATED if from_it else "", _GAIN_MISS if "gain_db" in from_it else "")
        computed = ", ".join(filter(None, (computed, *warned)))
    return "; ".join(filter(None, (computed, typical_ones and f"of the type: {typical_ones}")))


def _balance(key: str, title: str, what: str, get: Callable[[Balance], float | None]) -> Figure[MixerFacts]:
    return _at(
        key,
        title,
        what,
        lambda m: None if m.balance is None else get(m.balance),
        unit="dB",
        places=0,
        source=_ESTIMATE,
    )


_WINDING = (
    "inductance and leakage of its windings between 50 Ω; A_L from makers' tables, coupling 0.998 by common "
    "practice, no source"
)


def _of_transformers() -> Table[MixerFacts]:
    """What the transformers of a mixer of parts do where they work worst."""

    def on(get: Callable[[MixerDesign], float | None]) -> Callable[[MixerFacts], float | None]:
        return lambda m: get(m.made) if m.made is not None else None

    return (
        _at(
            "winding_ohm",
            "reactance of a winding",
            "Of the signal's transformer at the lowest frequency that it must pass, four times 50 Ω or more.",
            on(lambda made: made.first.reactance_ohm),
            unit="Ω",
            places=0,
            source=_WINDING,
        ),
        _at(
            "winding_lost_db",
            "lost there besides",
            "What the inductance of the signal's transformer takes at that frequency; counted in the levels.",
            on(lambda made: made.signal_lost_db(made.first.lowest_hz)),
            unit="dB",
            places=2,
            source=_WINDING,
        ),
        _at(
            "drive_lost_db",
            "drive lost likewise",
            "What that of the oscillator's transformer takes of the drive; counted in the levels.",
            on(lambda made: made.drive_lost_db or None),
            unit="dB",
            places=2,
            source=_WINDING,
        ),
    )


#: What is plotted over the drive, by the name that `OverDrive` has for it.
OVER_DRIVE: Table[MixerFacts] = (
    _at(
        "gain_db",
        "conversion gain",
        "What the mixer gives over what it takes; negative for a loss.",
        lambda m: m.figures.gain_db,
        unit="dB",
        source=f"{_ARRAY_LAW}, {_GAIN_MISS}",
    ),
    _at(
        "noise_figure_db",
        "noise figure",
        "Single-sideband, with 290 K at the image too; of diodes at least the loss.",
        lambda m: m.figures.noise_figure_db,
        unit="dB",
        source=_ARRAY_LAW,
    ),
    _at(
        "iip3_dbm",
        "third-order intercept, input",
        "Where two tones' third-order products would be as strong as they.",
        lambda m: m.figures.iip3_dbm,
        signed=True,
        source=_ARRAY_LAW,
    ),
)
MIXER: Table[MixerFacts] = (
    label("type", "type", lambda m: typical(m.figures.type).name),
    _at(
        "figures_from",
        "figures from",
        "Which figures are computed, typical or read.",
        _from,
        unit="",
        places=None,
        source="the mixer's settings",
    ),
    _at(
        "delivered_dbm",
        "drive",
        "What its oscillator delivers to it.",
        lambda m: m.drive.delivered_dbm,
        signed=True,
        source="oscillator's output along what stands behind it, split between its mixers",
    ),
    _at(
        "peak_v",
        "drive as a voltage, peak",
        "The same in 50 Ω.",
        lambda m: m.drive.peak_v,
        unit="V",
        places=2,
        source="the level in 50 Ω",
    ),
    _at(
        "drive_range",
        "drive that will do",
        "From 1 dB short of full switching to what its devices bear; of a type 3 dB either way.",
        lambda m: (m.drive.least_dbm, m.drive.most_dbm),
        signed=True,
        keys=("least_dbm", "most_dbm"),
    ),
    *OVER_DRIVE,
    _at(
        "p1db_in_dbm",
        "1 dB compression, input",
        "Input at which the gain has fallen by 1 dB.",
        lambda m: m.figures.p1db_in_dbm,
        signed=True,
        source=_ARRAY_LAW,
    ),
    _at(
        "input_ohm",
        "input impedance",
        "To the signal, at its own frequency.",
        lambda m: m.at and m.at.input_ohm,
        unit="Ω",
        places=0,
    ),
    _at(
        "output_ohm",
        "output impedance",
        "To the converted signal.",
        lambda m: m.at and m.at.output_ohm,
        unit="Ω",
        places=0,
    ),
    _at(
        "largest_a",
        "diodes' largest current",
        "On the peaks of the drive.",
        lambda m: m.at and m.at.largest_a,
        unit="A",
        places=None,
        digits=2,
    ),
    *_of_transformers(),
    _at(
        "oscillator_leak_db",
        "oscillator isolation",
        "Oscillator at the signal's port below the drive.",
        lambda m: m.figures.oscillator_leak_db,
        unit="dB",
        places=0,
        source="its circuit at the drive that it gets, with what devices and windings differ by; stray "
        "capacitances are left out, so that a real one may be some 6 dB worse; typical of the type, from "
        "memory, where that is not computed; a reading replaces it",
    ),
    _at(
        "at_antenna_dbm",
        "VFO at the antenna, receive",
        "The strongest of its multiples there, through what stands before the mixer.",
        # Through a stage that lets nothing back nothing leaves.
        lambda m: m.at_antenna.level_dbm if m.at_antenna and isfinite(m.at_antenna.level_dbm) else None,
        places=0,
        signed=True,
        source="isolation, filters at that frequency, and stages backwards",
    ),
    _balance(
        "devices_db",
        "carrier, by its devices",
        "Below one sideband on speech peaks, for what devices differ by.",
        lambda b: b.devices_db,
    ),
    _balance(
        "transformer_db",
        "carrier, by its transformer",
        "The same for halves of the winding that differ.",
        lambda b: b.transformer_db,
    ),
    _balance(
        "untrimmed_db",
        "balance, untrimmed",
        "How far the carrier lies below one sideband on speech peaks.",
        lambda b: b.untrimmed_db,
    ),
    _balance(
        "balance_db",
        "balance, as trimmed",
        "The same with what the trimming gains, or as measured.",
        lambda b: b.counts_db,
    ),
)
#: The same with the stage's name before it, a row a mixer.
MIXERS: Table[MixerFacts] = (label("stage", "stage", lambda m: m.name), *MIXER)


@record(kw_only=True)
class Multiple:
    """A multiple of the oscillator in a mixer, `sending` in one that works in transmit alone."""

    name: str
    figures: MixerFigures
    times: int
    sending: bool

    def below_db(self, order: int) -> float:
        """How far its product with so many times the signal lies below the wanted one [dB]."""
        return float(self.figures.suppression_db(self.times, order, sending=self.sending))


def products_of(facts: MixerFacts) -> list[Multiple]:
    """The multiples of a mixer's oscillator that are told."""
    return [
        Multiple(name=facts.name, figures=facts.figures, times=m, sending=facts.sending)
        for m in range(_MULTIPLES)
    ]


_MULTIPLES = 7
PRODUCTS: Table[Multiple] = (
    Figure[Multiple](
        key="times",
        title="oscillator ×",
        what="So many times the oscillator; 0 is what of the signal passes unconverted.",
        source="the number of the row",
        get=lambda m: m.times,
        unit="-",
        places=0,
    ),
    *(
        Figure[Multiple](
            key=f"order_{order}_db",
            title=f"with {order} × signal",
            what=f"How far the product of that with {order} times the signal lies below the wanted one, for "
            f"a signal {TABLE_BACKOFF_DB:.0f} dB under compression; a decibel less of signal takes a decibel "
            "more off for each order above the first.",
            source="its circuit at the drive that it gets, with what devices and windings differ by and the "
            "drive's second harmonic; stray capacitances are left out, so that a real one may be some 6 dB "
            "worse; typical of the type, from memory, some 10 dB either way, where that is not computed",
            get=lambda m, order=order: m.below_db(order),  # type: ignore[misc]
            unit="dB",
            places=0,
        )
        for order in (1, 2, 3)
    ),
)
#: The same with the stage's name before it.
MIXER_PRODUCTS: Table[Multiple] = (label("stage", "stage", lambda m: m.name), *PRODUCTS)


@record(kw_only=True)
class Behind:
    """A stage behind an oscillator, with that one's name."""

    oscillator: str
    step: Step


def behind_oscillators(analysis: Analysis) -> list[Behind]:
    """What stands between the oscillators and their mixers, in the order of the rig."""
    names = {"vfo": "VFO", "carrier": "carrier oscillator"}
    return [
        Behind(oscillator=names[driver], step=step)
        for driver, of in analysis.driven.items()
        for step in of.steps
    ]


def _behind(
    key: str, title: str, what: str, get: Callable[[Step], float | None], **how: Any
) -> Figure[Behind]:
    given: dict[str, Any] = {"unit": "dBm", "places": 1, "signed": True, "source": _ALONG} | how
    return Figure(key=key, title=title, what=what, get=lambda of: get(of.step), **given)


_ALONG = "the oscillator's output along the gains of these stages, compression counted"
#: An amplifier or a pad between an oscillator and its mixers.
BEHIND: Table[Behind] = (
    label("oscillator", "behind", lambda of: of.oscillator),
    label("stage", "stage", lambda of: of.step.name),
    _behind(
        "gain_db", "gain", "At the oscillator's frequency.", lambda s: s.gain_db, unit="dB", signed=False
    ),
    _behind("output_dbm", "gives", "What leaves it.", lambda s: s.output_dbm),
    _behind(
        "p1db_dbm",
        "1 dB compression, output",
        "Where it has lost 1 dB; of a circuit its class A limits and 1.5 dB, ±0.5 dB.",
        lambda s: s.p1db_dbm,
        absent="none",
    ),
    _behind(
        "in_hand_db",
        "in hand",
        "How far it is driven below that; negative beyond.",
        lambda s: None if s.p1db_dbm is None else -s.over_db,
        unit="dB",
        signed=False,
        absent="all",
    ),
)
