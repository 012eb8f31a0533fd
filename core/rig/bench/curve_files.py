"""Measured curves of stages in files."""

from datetime import date
from pathlib import Path

import numpy as np

from core.circuits.ladder import Array, ComplexArray
from core.model.measured import MOST_POINTS, MeasuredCurve
from core.model.values.errors import DesignError, FileError
from core.rig.bench.sweep_files import read_sweep

#: What stands for no transmission at all, dB.
_FLOOR_DB = -200.0


def read_curve(path: Path, stage: str, band: str, way: str = "") -> MeasuredCurve:
    """The curve in a file, Touchstone of two ports or CSV, as measured of a stage on a band, in a direction.

    More than `MOST_POINTS` are thinned out evenly. `FileError` with one sentence.
    """
    found = read_sweep(path)
    f, order = np.unique(np.round(found.f_hz, 3), return_index=True)
    some = np.unique(np.linspace(0, f.size - 1, MOST_POINTS).astype(int))
    f, order = f[some], order[some]
    level = _db(found.s21[order])
    if level.max() > 60:
        raise FileError(f"{path.name} has an S21 of {level.max():.3g} dB; check that it is in dB.")
    back = None if found.s11 is None else found.s11[order]
    try:
        return MeasuredCurve.checked(
            stage=stage,
            band=band,
            way=way,
            label=path.name,
            date=date.fromtimestamp(path.stat().st_mtime).isoformat(),
            source_ohm=found.reference_ohm,
            load_ohm=found.reference_ohm,
            f_hz=tuple(f.tolist()),
            s21_db=tuple(level.tolist()),
            s11_db=() if back is None else tuple(_db(back).tolist()),
            s11_degrees=() if back is None else tuple(np.round(np.degrees(np.angle(back)), 3).tolist()),
        )
    except DesignError as error:
        raise FileError(f"{path.name}: {error}") from None


def _db(s: ComplexArray) -> Array:
    with np.errstate(all="ignore"):
        return np.asarray(np.round(np.maximum(20 * np.log10(np.abs(s)), _FLOOR_DB), 4))
