"""Figures of a power amplifier on each band, of its drivers, and of exposure."""

from core.rig.figures.figure import Figure, Table, band_label, label
from core.rig.power.exposure import GAIN_DBI, GROUND, SHARE, Exposure
from core.rig.power.facts import Driven, OnBand

_KNEE = "swing to the knee into what the drain sees"
_LEVELS, _FULL = "levels in transmit", "nodal solution at full drive"
_GAIN = "circuit at full drive, no more than the device is known to give; see what the table says of it"


def _ohm(value: complex) -> str:
    return f"{value.real:.1f} {'+' if value.imag >= 0 else '−'} j{abs(value.imag):.1f} Ω"


#: A power amplifier in the middle of each band.
ON_BANDS: Table[OnBand] = (
    band_label(lambda b: b.band),
    Figure(
        key="gain_db",
        title="gain",
        what="Power gain at full drive.",
        source=_GAIN,
        get=lambda b: b.gain_db,
        unit="dB",
        places=1,
    ),
    Figure(
        key="network_db",
        title="of the circuit",
        what="What the circuit alone would give.",
        source=_FULL,
        get=lambda b: float(b.there.network_db[0]),
        unit="dB",
        places=1,
    ),
    Figure(
        key="device_db",
        title="of the device",
        what="What the device is known to give.",
        source="points of the table of power transistors",
        get=lambda b: float(b.there.device_db[0]),
        unit="dB",
        places=1,
    ),
    Figure(
        key="most_w",
        title="can give",
        what="Largest output into what the drain sees there.",
        source=_KNEE,
        get=lambda b: b.most_w,
        unit="W",
    ),
    Figure(
        key="drive_w",
        title="drive wanted",
        what="What the power wanted takes at the input.",
        source=_GAIN,
        get=lambda b: b.drive_w,
        unit="W",
    ),
    Figure(
        key="has_w",
        title="gets",
        what="What the driver gives at speech peaks.",
        source=_LEVELS,
        get=lambda b: 1e-3 * 10 ** (b.has_dbm / 10),
        unit="W",
    ),
    Figure(
        key="seen_ohm",
        title="drain sees",
        what="Load of each side's current, the device's own capacitance beside it.",
        source=_FULL,
        get=lambda b: _ohm(complex(b.there.load_ohm[0])),
    ),
    Figure(
        key="swr",
        title="SWR, input",
        what="What the driver sees, against 50 Ω.",
        source=_FULL,
        get=lambda b: float(b.there.swr[0]),
        unit="-",
        places=1,
        within=99.0,
    ),
)
#: The chain of drivers.
DRIVERS: Table[Driven] = (
    band_label(lambda d: d.band),
    label("stage", "stage", lambda d: d.name),
    Figure(
        key="has_dbm",
        title="gets",
        what="Level at its input on speech peaks.",
        source=_LEVELS,
        get=lambda d: d.has_dbm,
        unit="dBm",
        places=1,
    ),
    Figure(
        key="needs_dbm",
        title="wants",
        what="What the power wanted takes there; none where a stage behind it cannot give so much.",
        source=f"{_LEVELS}, turned round",
        get=lambda d: d.needs_dbm,
        unit="dBm",
        places=1,
    ),
    Figure(
        key="gain_db",
        title="gain",
        what="Its gain on this band.",
        source=_LEVELS,
        get=lambda d: d.gain_db,
        unit="dB",
        places=1,
    ),
    Figure(
        key="headroom_db",
        title="spare",
        what="How far its input stays below compression.",
        source=_LEVELS,
        get=lambda d: d.headroom_db,
        unit="dB",
        places=1,
    ),
)
_SHARE = f"{100 * SHARE:.0f} % of the peaks on average, {GAIN_DBI} dBi, {GROUND} times for the ground"
#: Distances for the general population.
EXPOSURE: Table[Exposure] = (
    band_label(lambda e: e.band),
    Figure(
        key="limit_w_m2",
        title="limit",
        what="Power flux for the general population.",
        source="47 CFR 1.1310 Table 1; local rules decide",
        get=lambda e: e.limit_w_m2,
        unit="W/m²",
    ),
    Figure(
        key="distance_m",
        title="from",
        what="Distance from the antenna at which the power flux comes to it: arithmetic, no advice.",
        source=f"S = P G k/4πR², {_SHARE}",
        get=lambda e: e.distance_m,
        unit="m",
        places=1,
    ),
    Figure(
        key="holds",
        title="estimate holds",
        what="Not nearer than λ/2π, where no far field is.",
        source="λ/2π",
        get=lambda e: e.holds,
    ),
)
