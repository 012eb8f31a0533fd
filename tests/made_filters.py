"""Made-up filters for the rules, and what a rule found."""

from core.circuits.ladder import Network
from core.stages.outcome import FilterDesign, FilterFigures, PartRow


def of(yielded):
    """What a rule found; between steps of a search for a remedy it yields nothing."""
    return [each for each in yielded if each is not None]


FIGURES = FilterFigures(
    centre_hz=9e6,
    bandwidth_3db_hz=2400.0,
    bandwidth_6db_hz=2600.0,
    bandwidth_60db_hz=5000.0,
    ripple_db=0.2,
    insertion_loss_db=2.0,
    return_loss_db=20.0,
    served_loss_db=2.0,
    served_return_loss_db=20.0,
)


def part(kind, fitted, **others):
    given = {"ref": "C1", "designed": fitted, "preferred": fitted, "as_built": None, "unit": "F"}
    return PartRow(kind=kind, **given | others)


def made(*parts, ends=50.0):
    return FilterDesign(
        network=Network((), 50.0, 50.0),
        parts=parts or (part("capacitor", 1e-11),),
        end_resistance_ohm=ends,
        span_hz=(1e6, 2e6),
    )
