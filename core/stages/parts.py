"""Parts of the stages' circuits, named after their role and number."""

from collections.abc import Iterable
from typing import cast

from core.circuits.circuit import Part, Transformer
from core.model.values.part_names import NAMES, reference
from core.model.values.parts import TYPE, TYPED, UNIT_OF_KIND, Family, Role, Which, key, valued
from core.stages.outcome import PartRow

Key = tuple[Role, Which]


class Built:
    """Values really fitted in a circuit of one kind, asked for by role and number."""

    def __init__(self, family: Family, as_built: Iterable[tuple[str, float]]) -> None:
        self.family: Family = family
        self._values = dict(as_built)

    def get(self, role: Role, which: Which = None, figure: str = "") -> float | None:
        """The value fitted, None where none was typed in; `figure` is a crystal's other one, as `lm`."""
        return self._values.get(key(role, which, figure))

    def of(self, part: Part) -> float | None:
        """The value fitted for a part of the circuit."""
        return self._values.get(key(part.role, part.which))

    def without(self, *roles: Role) -> dict[str, float]:
        """All values but those of the only parts of these roles, as they are written in a file."""
        gone = {key(role) for role in roles}
        return {each: value for each, value in self._values.items() if each not in gone}

    def row_of(self, part: Part, designed: float, preferred: float, note: str = "") -> PartRow:
        """The row of a part of the circuit, with what was fitted."""
        unit = UNIT_OF_KIND[part.kind]
        built = self.of(part)
        return PartRow(
            ref=part.ref,
            kind=part.kind,
            designed=designed,
            preferred=preferred,
            as_built=built,
            unit=unit,
            note=note,
            role=part.role,
            which=part.which,
        )

    def row(
        self, role: Role, which: Which, designed: float, preferred: float, note: str = "", type: str = ""
    ) -> PartRow:
        """The part's row, with what was fitted; the note of a transistor is its type where none is given."""
        kind = NAMES[self.family][role].kind
        built = None if kind == "transformer" or kind in TYPED else self.get(role, which)
        ref = reference(self.family, role, which)
        return PartRow(
            ref=ref,
            kind=kind,
            designed=designed,
            preferred=preferred,
            as_built=built,
            # One of three windings has no ratio of two; its note tells its turns.
            unit=TYPE if role == "transformer" else UNIT_OF_KIND[kind],
            note=note,
            role=role,
            which=which,
            type=type or (note if kind in ("transistor", "diode") else ""),
        )


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
    return Part(
        reference(family, role, which),
        valued(NAMES[family][role].kind),
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


def mirrored(family: Family, like: Part, which: Which) -> Part:
    """The same part with another number."""
    return part(family, cast(Role, like.role), which, like.value, like.q)
