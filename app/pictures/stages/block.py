"""A stage by its block's figures and the levels at it, with its circuit where it has one."""

from dataclasses import dataclass

from app.state.look import Look
from app.style import words
from core.model.values.notation import format_value
from core.rig.analysis import Analysis
from core.stages.outcome import Design, Unsolved


@dataclass(frozen=True, slots=True)
class BlockPicture:
    """Title and rows of the table of a stage's figures, and its circuit if it has one that can be made."""

    title: str
    rows: tuple[tuple[str, str], ...]
    design: Design | None


def picture_of(analysis: Analysis, look: Look) -> BlockPicture | Unsolved:
    """The figures of the selected stage in the direction looked at, or why there are none."""
    stage = analysis.project.stage(str(look.stage))
    blocks = analysis.blocks(look.band, look.way, look.dial_hz)
    place = next((n for n, block in enumerate(blocks) if block.stage == stage.id), None)
    if place is None:
        return Unsolved(f"{stage.name} is switched out of the path; switch it in to see its levels.")
    title = f"{stage.name} on {words.band(look.band)}, {words.way(look.way).lower()}"
    made = analysis.design(stage.id, look.band)
    design = None if isinstance(made, Unsolved) else made
    return BlockPicture(title, tuple(_rows(analysis, look, place)), design)


def _rows(analysis: Analysis, look: Look, place: int) -> list[tuple[str, str]]:
    def dbm(value: float | None) -> str:
        return "-" if value is None else format_value(float(value), "dBm", 4)

    band, dial_hz = look.band, look.dial_hz
    block = analysis.blocks(band, look.way, dial_hz)[place]
    rows = [
        ("gain", format_value(block.gain_db, "dB", 3)),
        ("noise figure", format_value(block.noise_figure_db, "dB", 3)),
        ("third-order intercept, input", dbm(block.iip3_dbm)),
        ("1 dB compression, output", dbm(block.p1db_out_dbm)),
    ]
    if look.way == "receive":
        r = analysis.receive(band, dial_hz)
        rows += [
            ("S9 at its output", dbm(r.s9_dbm[place + 1])),
            ("S9 + 40 dB at its output", dbm(r.strong_dbm[place + 1])),
            ("band noise at its output", dbm(r.band_noise_levels_dbm[place + 1])),
            ("own noise at its output", dbm(r.own_noise_dbm[place + 1])),
        ]
        headroom = r.headroom_db[place]
        rows.append(("headroom at S9 + 40 dB", "-" if headroom is None else format_value(headroom, "dB", 3)))
    else:
        t = analysis.transmit(band, dial_hz)
        headroom = t.headroom_db[place]
        rows += [
            ("level at its input, speech peaks", dbm(t.level_dbm[place])),
            ("level at its output, speech peaks", dbm(t.level_dbm[place + 1])),
            ("headroom", "-" if headroom is None else format_value(headroom, "dB", 3)),
        ]
    return rows
