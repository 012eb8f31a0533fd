"""What there is to tell of a mixer, asked of an analysis: its figures at its drive, and its balance."""

from dataclasses import replace
from math import inf, nan

import numpy as np

from core.circuits.ladder import Array, frozen
from core.model.project import Stage
from core.model.stages.stage import StageBase
from core.record import record
from core.rig.analysis import Analysis
from core.rig.levels.blocks import Block
from core.rig.levels.oscillator_drive import Drive
from core.rig.spurs.received_out import AtAntenna, at_antenna
from core.stages.kinds.kind import FILTERS
from core.stages.kinds.table import kind_of
from core.stages.mixers.design import MixerDesign
from core.stages.mixers.drive import AtDrive, Balance, OverDrive
from core.stages.mixers.figures import MixerFigures
from core.stages.mixers.products import over_drives
from core.stages.outcome import Unsolved
from core.trade.mixers import TABLE_BACKOFF_DB


@record(kw_only=True)
class Modulator:
    """The mixer that makes the sidebands, and its balance, None where nothing is known of its circuit."""

    stage: Stage
    balance: Balance | Unsolved | None


@record(eq=False, kw_only=True)
class MixerFacts:
    """A mixer's figures at the drive that it gets, over drives, and as a modulator; `name` is the stage's,
    `sending` tells that it works in transmit alone, `at_antenna` is what of the VFO it lets to the antenna,
    `made` the circuit of one that is made of parts.
    """

    name: str
    sending: bool
    figures: MixerFigures
    drive: Drive
    over: OverDrive | Unsolved | None
    balance: Balance | None
    at_antenna: AtAntenna | None
    made: MixerDesign | None = None

    @property
    def at(self) -> AtDrive | None:
        """What its circuit does at that drive; None where figures are its type's."""
        return self.figures.circuit if isinstance(self.figures.circuit, AtDrive) else None


def modulator(analysis: Analysis, band: str) -> Modulator | None:
    """The first mixer that the carrier drives in transmit; None when there is none."""
    for place, stage in enumerate(analysis.project.path("transmit")):
        kind = kind_of(stage)
        if kind.driver(stage) != "carrier":
            continue
        if kind.over_drive(stage) is None:
            return Modulator(stage=stage, balance=None)
        drives = {each.stage: each.delivered_dbm for each in analysis.drives}
        audio_dbm = float(analysis.transmit(band).level_dbm[place])
        return Modulator(stage=stage, balance=kind.balance(stage, drives[stage.id], audio_dbm))
    return None


def balance_db(analysis: Analysis, band: str) -> float:
    """How far the modulator alone holds the carrier down on a band, dB: by its circuit, or as stated."""
    found = modulator(analysis, band)
    if found is not None and isinstance(found.balance, Balance):
        return found.balance.counts_db
    return analysis.project.carrier.balance_db


def vfo_at_antenna(analysis: Analysis, band: str) -> tuple[str, AtAntenna] | None:
    """What of the VFO leaves by the antenna in receive on a band, and the key of the mixer that it passes;
    None without a mixer that it drives.
    """
    project, plan = analysis.project, analysis.band_plan(band)
    figures, path = analysis.mixer_figures("receive"), project.path("receive")
    if figures is None or plan.vfo_low_hz <= 0:
        return None
    place = next(n for n, stage in enumerate(path) if kind_of(stage).driver(stage) == "vfo")
    ahead = analysis.blocks(band, "receive", project.band(band).centre_hz)[:place]
    back_db = sum(_back_db(each) for each in ahead if each.role not in FILTERS)
    loss = analysis.front_loss(band, "receive")
    return path[place].id, at_antenna(plan, figures, analysis.driven["vfo"].delivered_dbm, back_db, loss)


def _back_db(block: Block) -> float:
    """Gain of a stage backwards [dB]: a pad is the same either way, and a stage that states nothing lets
    nothing back.
    """
    if block.passive:
        return block.gain_db
    return -inf if block.reverse_db is None else block.reverse_db


def mixer_facts(analysis: Analysis, stage: StageBase, band: str) -> MixerFacts | Unsolved:
    """The facts of a mixer on a band."""
    drive = next((each for each in analysis.drives if each.stage == stage.id), None)
    if drive is None:
        return Unsolved(f"{stage.name} is switched out of the path; switch it in to see what drives it.")
    kind = kind_of(stage)
    figures, made = kind.mixing(stage, drive.delivered_dbm, drive.second_dbc), modulator(analysis, band)
    assert figures is not None
    leaves = vfo_at_antenna(analysis, band)
    balance = made.balance if made is not None and made.stage.id == stage.id else None
    designed: object = analysis.design(stage.id, band)
    return MixerFacts(
        name=stage.name,
        sending=stage.direction == "transmit",
        figures=figures,
        drive=drive,
        over=kind.over_drive(stage),
        balance=balance if isinstance(balance, Balance) else None,
        at_antenna=leaves[1] if leaves is not None and leaves[0] == stage.id else None,
        made=designed if isinstance(designed, MixerDesign) else None,
    )


@record(eq=False, kw_only=True)
class HeldDown:
    """What a mixer holds down over drives [dBm], shape (D,) each: name and decibels."""

    drive_dbm: Array
    curves: tuple[tuple[str, Array], ...]


def held_down(facts: MixerFacts, stage: StageBase) -> HeldDown | None:
    """Isolation of the oscillator, some products for a signal TABLE_BACKOFF_DB under compression at the drive
    that it gets, and of a modulator the carrier as trimmed; None where figures are the type's.
    """
    products = facts.figures.products
    if products is None:
        return None
    signal_dbm = round(facts.figures.p1db_in_dbm - TABLE_BACKOFF_DB, 1)
    found = over_drives(replace(products, drive_dbm=0.0), signal_dbm, facts.sending)
    curves = [("isolation", found.isolation_db)]
    curves += [(f"{m} × {n}", line) for (m, n), line in found.lines_db]
    if facts.balance is not None:
        audio_dbm, kind = facts.balance.audio_dbm, kind_of(stage)
        made = [kind.balance(stage, float(each), audio_dbm) for each in found.drive_dbm]
        told = [each.trimmed_db if isinstance(each, Balance) else nan for each in made]
        curves.append(("carrier", frozen(np.array(told))))
    return HeldDown(drive_dbm=found.drive_dbm, curves=tuple(curves))


def mixers_of(analysis: Analysis) -> list[MixerFacts]:
    """The facts of every mixer in the path, in its order."""
    band = analysis.project.bands[0].name
    found = [mixer_facts(analysis, analysis.project.stage(each.stage), band) for each in analysis.drives]
    return [each for each in found if isinstance(each, MixerFacts)]
