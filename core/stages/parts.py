"""Parts of the stages' circuits, named after their role and number."""

from core.circuits.circuit import Part, Transformer
from core.model.parts import NAMES, Family, Role, Which, reference


def part(
    family: Family,
    role: Role,
    which: Which,
    value: float,
    q: float | None = None,
    motional_inductance_h: float = 0.0,
    holder_capacitance_f: float = 0.0,
) -> Part:
    """A part of two leads of a kind of circuit; `value`, `q` and a crystal's figures as of a `Part`."""
    kind = NAMES[family][role].kind
    assert kind != "transformer"
    return Part(
        reference(family, role, which),
        kind,
        value,
        q,
        motional_inductance_h,
        holder_capacitance_f,
        role,
        which,
    )


def transformer(family: Family, role: Role, which: Which, ratio: float) -> Transformer:
    """An ideal transformer of a kind of circuit; `ratio` is first winding's turns over second's [-]."""
    return Transformer(reference(family, role, which), ratio, role, which)
