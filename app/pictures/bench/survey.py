"""The IF survey as it is told: what is asked for, columns, sentences on a row, and what a new rig lacks."""

from collections.abc import Callable, Sequence

from app.style import words
from core.model.bands import Band
from core.model.stages.filters import LadderFilter
from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.figure import keyed
from core.rig.figures.survey import CROSSINGS, SURVEY
from core.rig.survey.if_survey import WORTH_BUILDING, SurveyRow, points_text, survey, verdict
from core.trade.crystals import stock

_TOLD = keyed(SURVEY)
_FIRST = _TOLD["lowest_crossing_order"]
#: Products are looked at up to this order.
ORDER = 9
#: Shown in a sorted column for what never happens; larger than any order looked at.
NEVER = 99
#: Added to a cost to sort rows that cannot be built behind all others.
_LAST = 1e6
#: Crossings of a row that are told; the others are counted.
_MOST_CROSSINGS = 6


@record
class Asked:
    """What a survey is made for: bands whatever their schemes, crystals on hand [Hz], the ladder wanted."""

    bands: tuple[Band, ...]
    junk_box: tuple[float, ...]
    ladder: LadderFilter | None

    @property
    def title(self) -> str:
        """What the survey is about."""
        names = " and ".join(words.band(band.name) for band in self.bands)
        return f"IF survey for {names}: which crystal lets one VFO cover them with few spurs"


def asked_of(analysis: Analysis) -> Asked:
    """What the survey of a rig is made for; of its ladder shape and width count, not crystals and parts."""
    project, ladder = analysis.project, analysis.ladder
    scheme = Band.model_fields["scheme"].default
    return Asked(
        tuple(band.edited(("scheme",), scheme) for band in project.bands),
        project.junk_box.every_crystal_hz,
        None
        if ladder is None
        else LadderFilter(
            id=ladder.id,
            name=ladder.name,
            shape=ladder.shape,
            poles=ladder.poles,
            ripple_db=ladder.ripple_db,
            bandwidth_hz=ladder.bandwidth_hz,
        ),
    )


def survey_of(
    bands: Sequence[Band], junk_box: Sequence[float], ladder: LadderFilter | None = None
) -> tuple[SurveyRow, ...]:
    """The survey of every stocked crystal and those on hand for these bands and this ladder."""
    crystals = [each.frequency_hz for each in stock()]
    return survey(bands, crystals, order=ORDER, junk_box=junk_box, ladder=ladder)


@record
class Column:
    """A column of the table: its title and help, and a row's text and what it is sorted by."""

    title: str
    help: str
    text: Callable[[SurveyRow], str]
    sort: Callable[[SurveyRow], float | str]


def schemes(row: SurveyRow) -> str:
    """The schemes of a row, one a band."""
    return ", ".join(words.choice(scheme).replace(" ", "\u00a0") for scheme in row.schemes)


def terms(row: SurveyRow) -> str:
    """What each term of a row's cost found, and its points."""
    return "; ".join(row.reasons)


def crossing_order(row: SurveyRow) -> int:
    """The lowest order of a product that meets the signal inside a band; `NEVER` when none does."""
    return NEVER if row.lowest_crossing_order is None else row.lowest_crossing_order


def _crossing(row: SurveyRow) -> str:
    return _FIRST.text(row) if row.lowest_crossing_order is None else f"order {_FIRST.text(row)}"


COLUMNS: tuple[Column, ...] = (
    Column(
        "cost",
        f"the sum of the points of all terms, the lowest is best; above {WORTH_BUILDING:.0f} none to build; "
        "a dash: such crystals cannot make the ladder",
        lambda r: "—" if r.impossible else _TOLD["cost"].text(r),
        lambda r: (_LAST if r.impossible else 0.0) + r.cost,
    ),
    Column(
        "IF, MHz",
        "the crystals' marked frequency",
        lambda r: r.crystal.removesuffix(" MHz"),
        lambda r: r.if_hz,
    ),
    Column("schemes", "one a band, in the order of the bands", schemes, schemes),
    Column(
        "VFO, MHz",
        _TOLD["vfo"].tip,
        lambda r: _TOLD["vfo"].text(r).removesuffix(" MHz"),
        lambda r: r.vfo_high_hz,
    ),
    Column("ratio", _TOLD["vfo_ratio"].tip, _TOLD["vfo_ratio"].text, lambda r: r.vfo_ratio),
    Column(
        "crossing",
        f"{_FIRST.tip} Looked at up to order {ORDER}.",
        _crossing,
        crossing_order,
    ),
    Column(
        "image",
        _TOLD["image_distance_hz"].tip,
        _TOLD["image_distance_hz"].text,
        lambda r: r.image_distance_hz,
    ),
    Column("terms and points", "what each term of the cost found, and its points", terms, terms),
)


def told(row: SurveyRow) -> str:
    """The schemes of a row, and every term on a line of its own, with its points, and their sum."""
    lines = [f"{points_text(c.points)}  {c.title}: {c.words}" for c in row.charges]
    return "\n".join([schemes(row), *lines, f"{_TOLD['cost'].text(row)}  in all"])


def count_of(rows: Sequence[SurveyRow], left: int) -> str:
    """How many rows there are and `left` by the filter fields, behind what is thought of the best."""
    total = len(rows)
    if not total:
        return "No crystal gives these bands a VFO: widen the VFO's limits or choose other bands."
    if not left:
        text = f"None of {total} rows passes the filter; empty a filter field."
    else:
        text = f"{left} of {words.counted(total, 'row')}, best first: every crystal with every mixing scheme"
    advice = verdict(rows)
    return text if advice is None else f"{advice} {text}"


def details_of(row: SurveyRow | None) -> str:
    """Why the selected row stands where it does."""
    if row is None:
        return "Select a row to see why it stands where it does."
    crossings = "; ".join(
        "{1} on {0} at {3} (order {2})".format(*(figure.text(c) for figure in CROSSINGS))
        for c in row.crossings[:_MOST_CROSSINGS]
    )
    rest = len(row.crossings) - _MOST_CROSSINGS
    more = f" and {rest} more" if rest > 0 else ""
    total = "cannot be built" if row.impossible else f"costs {_TOLD['cost'].text(row)}"
    meets = f"\nProducts that meet the signal: {crossings}{more}." if crossings else ""
    return f"{row.crystal} {total}: {terms(row)}.{meets}"


def hint_of(bands: tuple[Band, ...] | str, row: SurveyRow | None) -> str:
    """What a new rig of these bands still lacks, or what it will be; `bands` may tell what is wrong."""
    if isinstance(bands, str):
        return bands
    if row is None:
        return "Pick a row of the survey."
    names = " and ".join(words.band(band.name) for band in bands)
    return f"{names} with an IF of {row.crystal}: {terms(row)}."
