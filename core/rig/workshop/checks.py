"""What is switched on which band and way, and what must be seen before an antenna is connected."""

from core.model.project import Stage
from core.model.values.quantities import spelled
from core.record import record
from core.rig.analysis import Analysis
from core.rig.levels.harmonics import Harmonic
from core.rig.read_out.schemes import Reading
from core.rig.spurs.spurs import Spur
from core.rig.supply.consumers import feeding
from core.stages.kinds.kind import PASSIVE
from core.stages.kinds.table import kind_of
from core.stages.outcome import Unsolved

#: Harmonics that an ordinary station can look at, and products a band; choices.
_MOST_HARMONIC, _MOST_PRODUCTS = 5, 3


@record(kw_only=True)
class Switched:
    """What is switched: in receive, in transmit, and on each band in words."""

    name: str
    receive: str
    transmit: str
    bands: tuple[str, ...]


@record(kw_only=True)
class Purity:
    """What leaves a transmitter on a band besides the wanted signal, whose level is `output_dbm` [dBm]."""

    band: str
    output_dbm: float
    harmonics: tuple[Harmonic, ...]
    products: tuple[Spur, ...]


def purity(analysis: Analysis) -> tuple[Purity, ...]:
    """The checks of each band; none for a rig that does not send."""
    if not analysis.project.path("transmit"):
        return ()
    return tuple(
        Purity(
            band=band.name,
            output_dbm=float(analysis.transmit(band.name).level_dbm[-1]),
            harmonics=tuple(h for h in analysis.harmonics(band.name) if h.number <= _MOST_HARMONIC),
            products=_strongest(analysis.spurs(band.name, "transmit")),
        )
        for band in analysis.project.bands
    )


def _strongest(spurs: tuple[Spur, ...]) -> tuple[Spur, ...]:
    return tuple(sorted(spurs, key=lambda each: -each.level_dbc)[:_MOST_PRODUCTS])


def switched(analysis: Analysis) -> tuple[Switched, ...]:
    """A row for each stage that is not the same always and everywhere, then oscillators and read-out.

    Who is fed when is told by the supply, where one is planned, as it may be switched otherwise than its
    stage works.
    """
    project = analysis.project
    stages = (_stage(analysis, stage) for stage in project.stages if stage.in_path)
    rows = [row for row in stages if row.receive != row.transmit or len(set(row.bands)) > 1]
    return (*rows, *_vfo(analysis), *_carrier(analysis), *_read_out(analysis))


def _ways(
    analysis: Analysis, key: str, works: tuple[bool, bool], *, passive: bool = False
) -> tuple[str, str]:
    """What somebody is in receive and in transmit: fed or not; without need of a supply in place or out."""
    of = feeding(analysis)
    consumer = None if of is None else next((each for each in of.consumers if each.key == key), None)
    if consumer is not None:
        return tuple("fed" if on else "not fed" for on in consumer.powered)  # type: ignore[return-value]
    on, off = ("in", "out") if passive or of is not None else ("fed", "not fed")
    return on if works[0] else off, on if works[1] else off


def _stage(analysis: Analysis, stage: Stage) -> Switched:
    behind = stage.direction in ("vfo", "carrier")
    works = (behind or stage.works_in("receive"), behind or stage.works_in("transmit"))
    passive = kind_of(stage).role in PASSIVE
    receive, transmit = _ways(analysis, stage.id, works, passive=passive)
    several = [each for each in stage.members if each.bands is not None]
    words = []
    for band in analysis.project.bands:
        mine = next((each for each in several if band.name in (each.bands or ())), None)
        words.append(
            "" if mine is None else "own" if len(mine.bands or ()) == 1 else _shared(mine.bands or ())
        )
    return Switched(name=stage.name, receive=receive, transmit=transmit, bands=tuple(words))


def _shared(bands: tuple[str, ...]) -> str:
    return f"{' and '.join(map(spelled, bands))}"


def _vfo(analysis: Analysis) -> tuple[Switched, ...]:
    shifts = {"none": "not shifted", "parallel": "capacitor across", "series": "capacitor in series"}
    words = tuple(shifts[band.vfo_shift] for band in analysis.project.bands)
    receive, transmit = _ways(analysis, "vfo", (True, True))
    return (Switched(name="VFO", receive=receive, transmit=transmit, bands=words),)


def _carrier(analysis: Analysis) -> tuple[Switched, ...]:
    sides = {band: row.place.side for row in analysis.carriers for band in row.bands}
    words = tuple(
        f"{sides[band.name]} the filter" if band.name in sides else "" for band in analysis.project.bands
    )
    receive, transmit = _ways(analysis, "carrier", (True, True))
    return (Switched(name="Carrier oscillator", receive=receive, transmit=transmit, bands=words),)


def _read_out(analysis: Analysis) -> tuple[Switched, ...]:
    plan = analysis.read_out
    if plan is None:
        return ()
    words = []
    for row in plan.bands:
        reading = row.reading
        if isinstance(reading, Unsolved):
            words.append("shows nothing")
            continue
        assert isinstance(reading, Reading)
        programme = "" if row.programme is None else f"programme {row.programme}"
        helper = "helper on" if reading.helper_hz is not None else "helper off" if plan.helper_hz else ""
        words.append(", ".join(filter(None, (programme, helper))))
    receive, transmit = _ways(analysis, "read_out", (True, True))
    return (Switched(name="Read-out", receive=receive, transmit=transmit, bands=tuple(words)),)
