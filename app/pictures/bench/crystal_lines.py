"""A bag of crystals line by line: what each one is, where it goes, and what is remarked."""

from collections.abc import Mapping, Sequence
from functools import lru_cache

from core.model.readings import MOST_CRYSTALS
from core.record import record
from core.rig.bench.crystal_bench import FIXTURE_ERRORS, BatchRow
from core.rig.figures.crystals import INTERVALS, INTERVALS_OF_READINGS, LM_INTERVAL, PARAMETERS

HEADS = ("crystal", "mesh", "fs, MHz", "Lm", "Rm", "C0", "Q", "remark")
C0, REMARK = HEADS.index("C0"), HEADS.index("remark")


@record
class CrystalLine:
    """A crystal, the mesh where it goes, and what makes it lie far from the others.

    Its texts are made when they are asked for: of a large bag few are looked at.
    """

    row: BatchRow
    mesh: int | None
    far: str

    @property
    def label(self) -> str:
        """What the crystal is called."""
        return self.row.label

    @property
    def ticked(self) -> bool | None:
        """Whether it may be chosen; None where its readings were refused."""
        return None if self.row.parameters is None else not self.row.left_out

    @property
    def c0_f(self) -> float | None:
        """Its C0 [F]; None where its readings were refused."""
        return None if self.row.parameters is None else self.row.parameters.c0_f

    @property
    def remark(self) -> str:
        """What is remarked of it."""
        return "; ".join(text for text in (self.far, _texts(self.row)[1]) if text)

    @property
    def cells(self) -> tuple[str, ...]:
        """Its cells in the table."""
        mesh = "" if self.mesh is None else str(self.mesh)
        return (self.label, mesh, *_texts(self.row)[0], self.remark)

    @property
    def help(self) -> str:
        """What is told of it when it is pointed at."""
        return "\n".join(filter(None, (self.remark, _texts(self.row)[2])))


def lines_of(
    batch: Sequence[BatchRow], meshes: Mapping[str, int], far: Mapping[str, str], *, by_mesh: bool
) -> tuple[CrystalLine, ...]:
    """A line a crystal: the mesh of each placed one by label, and what makes it lie `far` out.

    `by_mesh` has the placed ones first, in the order of the ladder.
    """
    rows = list(batch)
    if by_mesh:
        rows.sort(key=lambda row: meshes.get(row.label, len(meshes) + 1))
    return tuple(
        CrystalLine(row, None if row.parameters is None else meshes.get(row.label), far.get(row.label, ""))
        for row in rows
    )


@lru_cache(maxsize=2 * MOST_CRYSTALS)
def _texts(row: BatchRow) -> tuple[tuple[str, ...], str, str]:
    """A crystal's figures, what is doubted, and its intervals; kept, because a large bag has thousands."""
    p = row.parameters
    if p is None:
        return ("",) * 5, row.refused, ""
    fs, lm, _, rm, c0, q = PARAMETERS
    interval = "" if LM_INTERVAL.get(row) is None else f" ± {LM_INTERVAL.text(row)}"
    figures = (
        fs.bare(p.fs_hz),
        lm.text(row) + interval,
        "" if p.rm_ohm is None else rm.text(row),
        c0.text(row),
        "" if p.q is None else q.text(row),
    )
    return figures, p.doubt, confidence(row)


def confidence(row: BatchRow) -> str:
    """The figures of a crystal with their 95 % intervals, a line each."""
    p = row.parameters
    if p is None:
        return row.refused
    readings = "of the readings alone (95 %), and " if p.spread else ""
    lines = [f"± {readings}at worst with a fixture off by {FIXTURE_ERRORS}:"]
    for figure, own, whole in zip(PARAMETERS, INTERVALS_OF_READINGS, INTERVALS, strict=True):
        if whole.get(row) is not None and figure.get(row) is not None:
            text = f"{figure.title} {figure.text(row)}"
            if own.get(row) is not None:
                text += f" ± {own.text(row)},"
            lines.append(f"{text} ± {whole.text(row)}")
    return "\n".join(lines)
