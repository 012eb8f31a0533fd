"""How crystals are measured: what to connect, what to read, and how far off the figures may be.

What an error in the fixture does is computed by the same functions that read the crystals, on an ordinary
one, so that the words follow the fixture.
"""

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from math import log10, pi, sqrt

import numpy as np

from core.model.values.notation import format_value
from core.stages.crystals import crystal_sweep
from core.stages.crystals.crystals import (
    HOLDER_ERROR_F,
    LEVEL_ERROR_DB,
    RESISTANCE_ERROR,
    CrystalParameters,
    Fixture,
    Method,
    from_bandwidth,
    from_parallel_resonance,
    from_series_capacitor,
)
from core.stages.outcome import Unsolved

#: An ordinary crystal, on which the errors are tried; from memory.
ORDINARY = CrystalParameters(label="an ordinary one", fs_hz=9e6, lm_h=16e-3, c0_f=3.5e-12, rm_ohm=12.0)
#: What an oscillator loads its crystal with when nobody has measured it [F]; common practice, no source.
ORDINARY_LOAD_F = 200e-12


@lru_cache(maxsize=32)
def guidance(method: Method, fixture: Fixture) -> str:
    """What to connect and read for a method, and what errors to expect with this fixture."""
    try:
        with np.errstate(all="ignore"):
            cost = _COST[method](fixture)
    except (_NoCrystalError, ArithmeticError, np.linalg.LinAlgError):
        return f"{_WAY[method]} No ordinary crystal can be measured with this fixture; check its values."
    return f"{_WAY[method]} {cost}".strip()


_WAY: dict[Method, str] = {
    "bandwidth": "Put the crystal in series between two known resistances. Read the frequency of the peak, "
    "the distance of the −3 dB points, and the loss against a wire in its place.",
    "series_capacitor": "Put the crystal in an oscillator and read its frequency without and with the known "
    "capacitor in series. The loss is not found.",
    "parallel_capacitor": "Read series resonance (peak) and parallel resonance (dip), and the dip again with "
    "the known capacitor across the crystal, or give C0 from a capacitance meter. The loss at the peak, if "
    "you read it (column loss), gives Rm and Q.",
    "sweep": "Sweep S21 through the crystal in series between known resistances, from below series to above "
    "parallel resonance, with 100 points or more. It gives all four figures and how sure they are; a C0 in "
    "the table is kept. The resistances are those that a Touchstone file states, or those above.",
}


class _NoCrystalError(Exception):
    """The fixture reads not even an ordinary crystal."""


def _read(found: CrystalParameters | Unsolved) -> CrystalParameters:
    if isinstance(found, Unsolved):
        raise _NoCrystalError
    return found


def _off(found: CrystalParameters, wanted: CrystalParameters, name: str) -> str:
    """By how many per cent a figure of `found` lies beside that of `wanted`."""
    share = abs(getattr(found, name) / getattr(wanted, name) - 1)
    return f"{100 * share:.2g} %"


def _bandwidth(fixture: Fixture) -> str:
    around = fixture.around_ohm
    rm, lm = ORDINARY.rm_ohm or 0.0, ORDINARY.lm_h
    width, loss = (around + rm) / (2 * pi * lm), 20 * log10(1 + rm / around)
    true = _read(from_bandwidth("", ORDINARY.fs_hz, width, loss, fixture))
    louder = _read(from_bandwidth("", ORDINARY.fs_hz, width, loss + LEVEL_ERROR_DB, fixture))
    return (
        f"Lm is as good as the resistances and the width. {LEVEL_ERROR_DB:g} dB of error in the loss makes "
        f"Rm {_off(louder, true, 'rm_ohm')} and Q {_off(louder, true, 'q')} wrong ({rm:.0f} Ω at 9 MHz); "
        "less between lower resistances."
    )


def _series(fixture: Fixture) -> str:
    if fixture.load_capacitance_f is not None:
        return ""
    loaded = replace(fixture, load_capacitance_f=ORDINARY_LOAD_F)
    plain, shifted = (
        ORDINARY.fs_hz * sqrt(1 + ORDINARY.cm_f / (ORDINARY.c0_f + load))
        for load in (ORDINARY_LOAD_F, 1 / (1 / ORDINARY_LOAD_F + 1 / fixture.capacitor_f))
    )
    true = _read(from_series_capacitor("", plain, shifted, replace(loaded, c0_f=ORDINARY.c0_f)))
    found = _read(from_series_capacitor("", plain, shifted, replace(fixture, c0_f=ORDINARY.c0_f)))
    return (
        f"Give the oscillator's own load: without it, one of {format_value(ORDINARY_LOAD_F, 'F', 3)} makes "
        f"fs {found.fs_hz - true.fs_hz:.0f} Hz too high and Lm {_off(found, true, 'lm_h')} wrong at 9 MHz."
    )


def _parallel(fixture: Fixture) -> str:
    more = replace(fixture, c0_f=ORDINARY.c0_f + HOLDER_ERROR_F)
    off = _read(from_parallel_resonance("", ORDINARY.fs_hz, ORDINARY.fp_hz, more))
    return (
        f"{HOLDER_ERROR_F * 1e12:g} pF of holder or stray in C0 makes Lm {_off(off, ORDINARY, 'lm_h')} wrong."
    )


def _sweep(fixture: Fixture) -> str:
    f = ORDINARY.fs_hz + np.linspace(-6e3, 26e3, 401)
    fixture = replace(fixture, c0_measured=False)
    s21 = crystal_sweep.transmission(ORDINARY, f, fixture)
    louder = _read(crystal_sweep.from_sweep("", f, s21 * 10 ** (-LEVEL_ERROR_DB / 20), fixture))
    wrong = replace(
        fixture,
        source_ohm=fixture.source_ohm * (1 + RESISTANCE_ERROR),
        load_ohm=fixture.load_ohm * (1 + RESISTANCE_ERROR),
    )
    other = _read(crystal_sweep.from_sweep("", f, s21, wrong))
    return (
        f"{LEVEL_ERROR_DB:g} dB of error in the level makes Rm {_off(louder, ORDINARY, 'rm_ohm')} and Q "
        f"{_off(louder, ORDINARY, 'q')} wrong, {100 * RESISTANCE_ERROR:.0f} % in the resistances Lm "
        f"{_off(other, ORDINARY, 'lm_h')}."
    )


_COST: dict[Method, Callable[[Fixture], str]] = {
    "bandwidth": _bandwidth,
    "series_capacitor": _series,
    "parallel_capacitor": _parallel,
    "sweep": _sweep,
}
