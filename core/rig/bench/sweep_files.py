"""Measured sweeps in files: found beside a table that names them, read as text, made part of the project."""

import io
import re
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

import numpy as np

from core.circuits.ladder import Array, ComplexArray
from core.model.bench import Sweep
from core.model.disk import read_text
from core.model.values.errors import CopperError, DesignError, FileError
from core.model.values.notation import parse
from core.model.values.tables import read_table

#: A sweep file beyond this is none: the largest that is kept is half as long in every format.
LARGEST_BYTES = 8_000_000
#: Sweeps, points of one and points of all that a project takes; with these its file stays readable.
MOST_SWEEPS, MOST_POINTS, MOST_POINTS_IN_ALL = 400, 20_001, 200_000
#: What stands for no transmission at all in a stored sweep, dB.
_FLOOR_DB = -200.0
#: No field of a project holds a higher frequency.
_HIGHEST_HZ = 10e9
#: Resistances of ports between which a crystal may be measured [ohm].
_LEAST_OHM, _MOST_OHM = 0.1, 1e5
_WHAT = "a sweep"


class Measured(NamedTuple):
    """A measured sweep: frequency [Hz] (F,), S21 (F,), whether only its magnitude is known, the resistance of
    both ports that the file states [ohm], and S11 (F,) where it has one.
    """

    f_hz: Array
    s21: ComplexArray
    magnitude_only: bool
    reference_ohm: float | None = None
    s11: ComplexArray | None = None


def collect(
    names: Iterable[str], folder: Path, kept: Iterable[Sweep] = ()
) -> tuple[tuple[Sweep, ...], dict[str, str]]:
    """The sweeps of these names, read from `folder`, and the reason for each that cannot be used.

    Only what lies inside the folder is looked at. A sweep of `kept` stands in for a file that cannot be
    read.
    """
    known = {sweep.label: sweep for sweep in kept}
    sweeps: list[Sweep] = []
    refused: dict[str, str] = {}
    points = 0
    for name in dict.fromkeys(filter(None, names)):
        try:
            sweep = stored(name, inside(folder, name))
        except CopperError as error:
            refused[name] = str(error)
            if name not in known:
                continue
            sweep = known[name]
        points += len(sweep.f_hz)
        if len(sweeps) == MOST_SWEEPS or points > MOST_POINTS_IN_ALL:
            points -= len(sweep.f_hz)
            refused[name] = (
                f"A project takes at most {MOST_SWEEPS} sweeps of {MOST_POINTS_IN_ALL} points in all, and "
                "this one is beyond; sweep with fewer points or use another project."
            )
            continue
        sweeps.append(sweep)
    return tuple(sweeps), refused


def inside(folder: Path, name: str) -> Path:
    """The file of that name inside `folder`; `FileError` when it would lie anywhere else.

    A table comes from anywhere; it must not choose what is read from the rest of the machine, neither by
    its words nor through a link.
    """
    asked = Path(name)
    if asked.drive or asked.root or ".." in asked.parts:
        raise FileError(f"The sweep {name} lies outside the table's folder; copy it there and name it so.")
    try:
        home = folder.resolve()
        found = (home / asked).resolve()
    except (OSError, ValueError, RuntimeError):
        raise FileError(f"There is no sweep {name}; check its name.") from None
    if not found.is_relative_to(home):
        raise FileError(f"The sweep {name} is a link out of the table's folder; copy the file there.")
    return found


def stored(name: str, path: Path) -> Sweep:
    """A sweep file as it is kept in a project; `CopperError` with one sentence when it is none."""
    f, s21, magnitude_only, reference_ohm, _ = read_sweep(path)
    # As many digits as any instrument has; more would only swell the file. A point read twice counts once.
    f, order = np.unique(np.round(f, 3), return_index=True)
    s21 = s21[order]
    with np.errstate(all="ignore"):
        level = np.maximum(20 * np.log10(np.abs(s21)), _FLOOR_DB)
    if f[0] < 1 or f[-1] > _HIGHEST_HZ:
        raise FileError(
            f"{path.name} runs from {f[0]:.3g} Hz to {f[-1]:.3g} Hz; no crystal is there, check its unit."
        )
    if level.max() > -_FLOOR_DB:
        raise FileError(f"{path.name} has an S21 of {level.max():.3g} dB; check that it is in dB.")
    return Sweep.checked(
        label=name,
        f_hz=tuple(f.tolist()),
        s21_db=tuple(np.round(level, 4).tolist()),
        s21_degrees=() if magnitude_only else tuple(np.round(np.degrees(np.angle(s21)), 3).tolist()),
        reference_ohm=reference_ohm,
    )


def read_sweep(path: Path) -> Measured:
    """The sweep in a file.

    Touchstone of two ports (.s2p) or CSV with the columns frequency, S21 in dB, and phase in degrees if
    there is one. `FileError` with one sentence.
    """
    text = read_text(path, LARGEST_BYTES, _WHAT)
    kind = path.suffix.lower()
    if kind == ".s2p":
        found = _touchstone(text, path.name)
    elif re.fullmatch(r"\.s\d+p|\.ts", kind):
        raise FileError(
            f"{path.name} is not Touchstone of two ports, which alone has an S21; sweep S21 and save it as "
            ".s2p."
        )
    else:
        found = _from_table(text, path.name)
    f, s21 = found.f_hz, found.s21
    if not (np.all(np.isfinite(f)) and np.all(np.isfinite(s21))):
        raise FileError(f"{path.name} holds values beyond all measure; save the sweep again.")
    if not 2 <= f.size <= MOST_POINTS:
        raise FileError(f"{path.name} has {f.size} points, not 2 to {MOST_POINTS}; sweep again.")
    return found


def _touchstone(text: str, name: str) -> Measured:
    """The sweep in a two-port Touchstone text.

    scikit-rf opens a file of whatever name as a pickle first, which runs what the file says. So it gets
    text in memory, and its Touchstone reader alone.
    """
    lines = [line for line in (each.partition("!")[0].strip() for each in text.splitlines()) if line]
    ports = [line.split("]")[-1].strip() for line in lines if line.lower().startswith("[number of ports]")]
    if ports not in ([], ["2"]):
        raise FileError(f"{name} is not of two ports; save the sweep as a two-port file, .s2p.")
    if len(lines) > 5 * MOST_POINTS:
        raise FileError(f"{name} has more than {MOST_POINTS} points; sweep with fewer.")
    stream = io.StringIO("\n".join(_ascending(lines)) + "\n")
    # The reader takes the number of ports from the ending.
    stream.name = "sweep.s2p"
    import skrf

    network = skrf.Network()
    try:
        with np.errstate(all="ignore"):
            network.read_touchstone(stream)
            f, s21 = np.asarray(network.f, dtype=float), np.asarray(network.s[:, 1, 0], dtype=complex)
            s11 = np.asarray(network.s[:, 0, 0], dtype=complex)
    except Exception:  # The library raises what its parser meets.
        raise FileError(f"{name} cannot be read as Touchstone of two ports; save it again.") from None
    ports_ohm = np.unique(np.asarray(network.z0))
    if ports_ohm.size == 0:
        raise FileError(f"{name} has 0 points; sweep again.")
    if ports_ohm.size > 1 or ports_ohm[0].imag != 0:
        raise FileError(
            f"{name} states ports that are not one real resistance; save the sweep for 50 Ω at both ports."
        )
    reference_ohm = float(ports_ohm[0].real)
    if not _LEAST_OHM <= reference_ohm <= _MOST_OHM:
        raise FileError(
            f"{name} states ports of {reference_ohm:.3g} Ω, between which nothing is measured; correct "
            "its line that begins with #."
        )
    # Some instruments write noughts for what they did not sweep.
    return Measured(f, s21, False, reference_ohm, s11 if np.all(np.isfinite(s11)) and s11.any() else None)


#: Numbers of one point of a two-port on one line: frequency, and two for each S-parameter.
_NUMBERS = 9


def _ascending(lines: list[str]) -> list[str]:
    """The lines, those of points in ascending order where a sweep ran downwards.

    A reader takes a lower frequency than the one before for the start of a table of noise figures.
    """
    points = [line for line in lines if line[0] not in "#["]
    try:
        f = [float(line.split()[0]) for line in points]
    except ValueError:
        return lines
    if not f or f[0] <= f[-1] or any(len(line.split()) != _NUMBERS for line in points):
        return lines
    order = sorted(range(len(points)), key=f.__getitem__)
    return [line for line in lines if line[0] in "#["] + [points[n] for n in order]


def _from_table(text: str, name: str) -> Measured:
    try:
        rows = read_table(text, {"frequency": "Hz", "s21": "dB", "?phase": ""}, MOST_POINTS)
        for row in rows:
            if row.beyond:
                raise DesignError(
                    f"line {row.line} has more cells than the first row names; part columns by semicolons "
                    "where commas are decimal marks."
                )
        f = np.array([parse(row.cells["frequency"], "Hz") for row in rows])
        level = np.array([parse(row.cells.get("s21", ""), "dB") for row in rows])
        phase = [row.cells.get("phase", "") for row in rows]
        angle = np.radians([parse(each) if each else 0.0 for each in phase])
    except DesignError as error:
        raise FileError(f"{name}: {error}") from None
    with np.errstate(all="ignore"):
        s21 = np.asarray(10 ** (level / 20) * np.exp(1j * angle), dtype=complex)
    return Measured(f, s21, not any(phase))
