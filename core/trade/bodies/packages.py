"""Bodies of parts as seen from above a board, and where their leads come out."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from types import MappingProxyType
from typing import Literal

from core.trade.cores import Core
from core.trade.tables import rows

#: What is drawn of a body: a box, a circle, a can with round ends, a circle with one side cut off, a box with
#: a tab, a toroid seen from its edge or from above, and a coil of turns in air.
Outline = Literal["box", "round", "stadium", "d", "tab", "toroid", "ring", "turns"]
Foot = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Package:
    """A body: length along the line of its leads, width, and height above the board [m].

    `feet` is where the leads come out, from the middle of the body, unturned [m]: of a transistor in the
    order in which they stand. `can`: a metal can without a lead of its own, which is soldered to ground.
    `watt` is what a resistor bears [W], None for others. `fits` are the kinds of parts that come in it, and
    an unusual one is taken only where a builder chooses it.
    """

    package: str
    name: str
    outline: Outline
    length_m: float
    width_m: float
    height_m: float
    feet: tuple[Foot, ...]
    source: str
    status: str
    can: bool = False
    watt: float | None = None
    fits: tuple[str, ...] = ()
    usual: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Transistors:
    """The package of a type of transistor, and which electrode each of its leads is, in their order."""

    device: str
    package: str
    order: tuple[str, ...]
    source: str
    status: str


@lru_cache(maxsize=1)
def packages() -> Mapping[str, Package]:
    """Every package of the table, by its word."""
    return MappingProxyType({row["package"]: _package(**row) for row in rows("packages")})


def _package(
    *,
    fits: list[str],
    pitch_m: float,
    leads: int = 2,
    triangle: bool = False,
    width_m: float,
    aside_m: float = 0.0,
    **row: object,
) -> Package:
    """A row of the table with the places of its leads [m]."""
    if leads == 2:
        feet: tuple[Foot, ...] = ((-pitch_m / 2, aside_m), (pitch_m / 2, aside_m))
    elif leads == 3 and triangle:
        feet = ((-pitch_m, 0.0), (0.0, -pitch_m), (pitch_m, 0.0))
    elif leads == 3:
        feet = ((-pitch_m, 0.0), (0.0, 0.0), (pitch_m, 0.0))
    else:
        x, y = pitch_m / 2, width_m / 2
        feet = ((-x, -y), (-x, y), (x, -y), (x, y))
    return Package(width_m=width_m, feet=feet, fits=tuple(fits), **row)  # type: ignore[arg-type]


@lru_cache(maxsize=1)
def transistors() -> Mapping[str, Transistors]:
    """Package and order of leads of every transistor of the table, by its word in the table of devices."""
    return MappingProxyType(
        {
            row["device"]: Transistors(**{**row, "order": tuple(row["order"])})
            for row in rows("packages", "transistors")
        }
    )


#: What two layers of wire add to a core's size [m]; an estimate.
_WIRE_M = 1e-3
#: A toroid that lies flat on the board, as a word of a package.
LYING = "lying"
#: How far from the middle of a toroid its leads come out, in its length [-]; an estimate.
_TOROID_FEET = 0.3


@lru_cache(maxsize=128)
def wound_core(core: Core, leads: int = 2, *, lying: bool = False) -> Package:
    """A toroid standing on its edge, or `lying` flat as a binocular core does, with its winding; `leads` are
    two of one winding, four of two, or six of three, which begin at one side and end at the other.
    """
    if core.shape == "toroid" and lying:
        across = core.outer_m + 2 * _WIRE_M
        size = (across, across, core.height_m + 2 * _WIRE_M)
        return _coil(LYING, f"{core.core}, lying", "ring", size, leads, core.source, core.status)
    if core.shape == "toroid":
        length, width, height = core.outer_m + 2 * _WIRE_M, core.height_m + 2 * _WIRE_M, core.outer_m
    else:
        length, width, height = core.height_m + 2 * _WIRE_M, core.outer_m, core.outer_m / 2
    return _coil(core.core, core.core, "toroid", (length, width, height), leads, core.source, core.status)


@lru_cache(maxsize=128)
def air_coil(diameter_m: float, length_m: float) -> Package:
    """A single layer lying, of a diameter and a length [m]."""
    name = f"coil in air, {1e3 * diameter_m:.3g} mm across"
    size = (length_m + 2 * _WIRE_M, diameter_m + _WIRE_M, diameter_m + _WIRE_M)
    return _coil("air_coil", name, "turns", size, 2, "the coil's own dimensions", "computed")


#: Between two pins of a dual in-line package and between its rows, and its size beyond them [m].
_PIN_M, _ROW_M, _BODY_M = 2.54e-3, 7.62e-3, (2.2e-3, 0.2e-3, 4.5e-3)


@lru_cache(maxsize=32)
def dual_in_line(pins: int, used: tuple[int, ...]) -> Package:
    """A chip of so many pins in two rows, with the feet of those that are used, by their place from 0 on:
    along one row and back along the other.
    """
    half = pins // 2
    feet = [((n - (half - 1) / 2) * _PIN_M, -_ROW_M / 2) for n in range(half)]
    feet += [(x, -y) for x, y in reversed(feet)]
    return Package(
        package=f"dip{pins}",
        name=f"DIP-{pins}",
        outline="box",
        length_m=(half - 1) * _PIN_M + _BODY_M[0],
        width_m=_ROW_M + _BODY_M[1],
        height_m=_BODY_M[2],
        feet=tuple(feet[n] for n in used),
        source="outline of a dual in-line package, typical",
        status="from memory",
    )


#: Where the leads of a signal relay of two change-overs come out, by their places in a package of sixteen;
#: from memory, makers agree on most.
RELAY_PINS: Mapping[str, int] = MappingProxyType(
    {
        "coil": 0,
        "common 1": 3,
        "closed 1": 5,
        "open 1": 7,
        "open 2": 8,
        "closed 2": 10,
        "common 2": 12,
        "coil's other end": 15,
    }
)


@lru_cache(maxsize=32)
def signal_relay(used: tuple[int, ...]) -> Package:
    """A signal relay of two change-overs with the feet of those leads that are used, by their places."""
    body, feet = packages()["relay"], dual_in_line(16, used).feet
    return replace(body, feet=feet)


def _coil(
    word: str,
    name: str,
    outline: Outline,
    size: tuple[float, float, float],
    leads: int,
    source: str,
    status: str,
) -> Package:
    length, width, height = size
    # A coil in air has its leads at its ends, a toroid below, on either side of the gap in its winding.
    x, y = (length / 2 if outline == "turns" else _TOROID_FEET * length), width / 4
    feet: tuple[Foot, ...] = ((-x, 0.0), (x, 0.0))
    if leads == 4:
        feet = ((-x, -y), (-x, y), (x, -y), (x, y))
    elif leads > 4:
        rows = [(2 * n / (leads // 2 - 1) - 1) * y for n in range(leads // 2)]
        feet = tuple((side * x, row) for row in rows for side in (-1, 1))
    return Package(
        package=word,
        name=name,
        outline=outline,
        length_m=length,
        width_m=width,
        height_m=height,
        feet=feet,
        source=source,
        status=status,
    )
