"""Figures of windings: turns, which way they go, and what either end goes to."""

from core.rig.figures.figure import Figure, Table, bands_label, label
from core.rig.wound.ends import WindingEnds

_CIRCUIT = "the circuit as solved"


def _turns(of: WindingEnds) -> str:
    """Whole turns; where no core was chosen what they are in proportion to."""
    if of.turns is not None:
        return str(of.turns)
    if of.share is None:
        return ""
    return f"{of.share:.3g} of {of.ref}'s" if of.winding in ("tap", "link") else f"ratio {of.share:.3g}"


#: What is told of every winding, the same on screen, on paper and in the report.
ENDS: Table[WindingEnds] = (
    label("ref", "wound", lambda w: w.ref),
    label("winding", "winding", lambda w: w.winding),
    Figure(
        key="turns",
        title="turns",
        what="Whole turns where a core was chosen; of a tap they count from its coil's start.",
        source="the core's turns and the circuit's ratio",
        get=_turns,
    ),
    Figure(
        key="start",
        title="start goes to",
        what="What the winding's start goes to, which a dot marks: all on one core run the same way from it.",
        source=_CIRCUIT,
        get=lambda w: w.start,
    ),
    Figure(
        key="end",
        title="end goes to",
        what="What the winding's end goes to; of a tap what it goes to itself.",
        source=_CIRCUIT,
        get=lambda w: w.end,
    ),
    Figure(
        key="ohm",
        title="impedance",
        what="Impedance between start and end, where it is that of an end of the circuit or of a load line.",
        source=_CIRCUIT,
        get=lambda w: w.ohm,
        unit="Ω",
    ),
)
#: The same with the place in the rig.
WINDING_ENDS: Table[WindingEnds] = (
    label("stage", "stage", lambda w: w.stage),
    bands_label(lambda w: w.bands),
    *ENDS,
)
