"""The rig's arithmetic as one line, `dial = IF + VFO` or what the scheme makes of it, and what turns it."""

from app.state.look import Look
from app.style import words
from core.model.bands import Scheme
from core.model.project import Project
from core.model.stages.stage import Way
from core.model.values.quantities import Unit
from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.figure import keyed
from core.rig.figures.plan import DIALLED, DialledOn
from core.rig.figures.products import SPURS

HERTZ = Unit("Hz", scaled=True)
_TO_CARRIER, _VFO = DIALLED
_SPUR = keyed(SPURS)


@record(kw_only=True)
class BarPicture:
    """The terms with the signs between them, the dial's ends [Hz], the rig's bands, and what is looked at."""

    scheme: Scheme
    dial_hz: float
    if_hz: float
    offset: str
    vfo: str
    signs: tuple[str, str, str]
    low_hz: float
    high_hz: float
    bands: tuple[str, ...]
    band: str
    way: Way
    held: bool

    @property
    def caption(self) -> str:
        """What stands over the dial's figure."""
        return f"Dial, {words.band(self.band)}"


@record
class Tick:
    """A mark on the dial: where [Hz], in the colour of which role, and what it says when pointed at."""

    hz: float
    role: str
    text: str


def picture_of(analysis: Analysis, held: Analysis | None, look: Look) -> BarPicture:
    """What the frequency bar shows, exact to the hertz.

    The IF stands for its crystals' frequency; the carrier lies at the edge of the filter, so the way from
    one to the other is a term of its own.
    """
    band = analysis.project.band(look.band)
    carrier_hz = round(analysis.carrier_hz(band.name))
    of = DialledOn(band.scheme, round(analysis.project.if_hz), carrier_hz, round(look.dial_hz))
    inverted = band.scheme == "vfo_minus_if"
    to_carrier = "−" if (carrier_hz < of.if_hz) != inverted else "+"
    others = ("−", to_carrier) if inverted else (to_carrier, "+" if band.scheme == "sum" else "−")
    terms = _TO_CARRIER.text(of), _VFO.text(of)
    return _bar(analysis.project, look, *terms, ("=", *others), held=held is not None)


def outline_of(project: Project, look: Look) -> BarPicture:
    """The bar before anything is computed: what is set, and not what follows from it."""
    return _bar(project, look, "", "", ("", "", ""), held=False)


def _bar(
    project: Project, look: Look, offset: str, vfo: str, signs: tuple[str, str, str], *, held: bool
) -> BarPicture:
    band = project.band(look.band)
    return BarPicture(
        scheme=band.scheme,
        dial_hz=look.dial_hz,
        if_hz=project.if_hz,
        offset=offset,
        vfo=vfo,
        signs=signs,
        low_hz=band.low_hz,
        high_hz=band.high_hz,
        bands=tuple(each.name for each in project.bands),
        band=band.name,
        way=look.way,
        held=held,
    )


def ticks_of(analysis: Analysis, look: Look) -> tuple[Tick, ...]:
    """Ticks for everything that is heard on the dial of the band looked at without being sent there."""
    return tuple(
        Tick(
            spur.dial_hz,
            "image",
            f"{spur.products}, order {_SPUR['order'].text(spur)}, about {_SPUR['level'].text(spur)}, "
            f"at {_SPUR['dial_hz'].text(spur)}",
        )
        for spur in analysis.spurs(look.band, "receive")
        if spur.crosses
    )
