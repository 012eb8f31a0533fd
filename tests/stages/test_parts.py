"""What a part is for is data: its reference follows from role and number, and nothing from its reference."""

import ast
from pathlib import Path

import pytest

from core.circuits.circuit import Part, Transformer
from core.circuits.ladder import circuit_of
from core.model.stages.filters import BandPassFilter, LadderFilter, LowPassFilter
from core.model.stages.tank import Feedback, Tank
from core.model.values.part_names import NAMES, reference
from core.stages.band_pass import band_pass
from core.stages.filters import ladder_filter, low_pass
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.vfo import tank_design
from core.stages.vfo.tank import WantedRange, circuit

DIALS = ((14.1e6, 14.35e6),)
WANTED = (
    WantedRange("20m", 5.31e6, 5.56e6),
    WantedRange("12m", 4.6e6, 4.7e6, "parallel"),
    WantedRange("10m", 5.45e6, 5.58e6, "series"),
)


def designs():
    for ends in ("series_capacitor", "tapped_capacitor", "link"):
        for coupling in ("top_capacitor", "shunt_capacitor"):
            asked = BandPassFilter(ends=ends, coupling=coupling, resonators=3, bandwidth_hz=600e3)
            yield "band_pass", band_pass.design(asked, DIALS)
    for shape in ("butterworth", "chebyshev", "chebyshev_trap"):
        yield "low_pass", low_pass.design(LowPassFilter(shape=shape), DIALS)
    for shape in ("chebyshev", "paired_ends"):
        for match in ("transformer", "l_network"):
            ladder = LadderFilter(id="l", name="L", shape=shape, end_match=match)
            yield "ladder", ladder_filter.design(AskedLadder(ladder, 9e6))


def circuits():
    for family, made in designs():
        yield family, made.parts, circuit_of(made.network)
    for tuned, coil in (("parallel", 3.3e-6), ("series", 9e-6)):
        for device in ("j310", "2n3904"):
            tank = Tank(
                tuned=tuned,
                coil_h=coil,
                feedback=Feedback(device=device),
                compensation_f=33e-12,
                differential_f=20e-12,
                differential_share=0.4,
            )
            made = tank_design.design(tank, WANTED)
            for wanted in WANTED:
                yield "tank", made.parts, circuit(made, wanted.band)


@pytest.mark.parametrize(("family", "rows", "soldered"), list(circuits()))
def test_every_part_has_a_role_of_its_circuit_and_is_called_after_it(family, rows, soldered):
    for branch in soldered.branches:
        part = branch.part
        naming = NAMES[family][part.role]
        assert part.ref == reference(family, part.role, part.which)
        assert naming.kind == ("transformer" if isinstance(part, Transformer) else part.kind)
    keys = [(branch.part.role, branch.part.which) for branch in soldered.branches]
    assert len(set(keys)) == len(keys)
    fitted = {(row.role, row.which): row for row in rows}
    assert len(fitted) == len(rows)
    # A tank's rows are of all bands, and its differential capacitor is soldered as two.
    for branch in soldered.branches:
        row = fitted.get((branch.part.role, branch.part.which))
        if isinstance(branch.part, Part) and row is not None and row.role != "differential":
            assert row.fitted == branch.part.value
            assert (row.ref, row.kind) == (branch.part.ref, branch.part.kind)


#: Ways to read what a text spells.
READS = {"startswith", "endswith", "split", "partition", "rpartition", "strip", "lstrip", "rstrip"}
READS |= {"removeprefix", "removesuffix", "isdigit", "find", "index"}


def named(node):
    """The last name of an expression: `ref` of `part.ref`."""
    return getattr(node, "attr", None) or getattr(node, "id", None)


def is_read(node):
    if isinstance(node, ast.Subscript):
        return named(node.value) in ("ref", "note")
    if isinstance(node, ast.Attribute):
        return node.attr in READS and named(node.value) in ("ref", "note")
    if isinstance(node, ast.Compare):
        sides = [node.left, *node.comparators]
        spelled = any(
            isinstance(leaf, ast.Constant) and leaf.value for side in sides for leaf in ast.walk(side)
        )
        return spelled and any(named(side) in ("ref", "note") for side in sides)
    return False


def test_nothing_reads_the_letters_of_a_reference_nor_the_words_of_a_note():
    root = Path(__file__).parents[2]
    files = [*(root / "core").rglob("*.py"), *(root / "app").rglob("*.py")]
    assert len(files) > 100
    found = [
        f"{file.relative_to(root)}: {ast.unparse(node)}"
        for file in files
        # References of old files are turned into roles in that one place.
        if file.name != "old_references.py"
        for node in ast.walk(ast.parse(file.read_text()))
        if is_read(node)
    ]
    assert found == []


@pytest.mark.parametrize(
    "read",
    [
        "part.ref[1:]",
        'ref.startswith("CT")',
        'row.note == "in series"',
        'p.ref in ("C", "CA")',
        "ref.strip()",
    ],
)
def test_that_search_finds_such_a_reading(read):
    assert any(is_read(node) for node in ast.walk(ast.parse(read)))
