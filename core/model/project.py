"""The project: the only state of a design."""

from collections import Counter
from functools import cached_property
from typing import Any, Literal, Self

from pydantic import model_validator

from core.model.bands import Band
from core.model.bench import CrystalBatch, Scatter
from core.model.boards.board import MOST_BOARDS, Board, Panel
from core.model.boards.package import OwnPackage
from core.model.measured import MOST_CURVES, MeasuredCurve
from core.model.notebook.bench_log import MOST_PHOTOGRAPHS, MOST_READINGS, LogReading, Photograph
from core.model.notebook.junk_box import JunkBox
from core.model.readout import ReadOut
from core.model.stages.audio import Microphone, Speaker
from core.model.stages.kinds import Stage as Stage
from core.model.stages.oscillators import CarrierOscillator, Vfo
from core.model.stages.stage import Way
from core.model.station import Station
from core.model.supply.supply import Supply
from core.model.transistors import OwnTransistor
from core.model.values.base import Model, Path
from core.model.values.errors import DesignError
from core.model.values.parts import SWITCHED, key
from core.model.values.quantities import Name, RadioHertz, stated

#: All gains of a rig together, dB: so far beyond any that its levels can still be told in watts.
MOST_GAIN_DB = 1000.0


class Project(Model):
    """One rig.

    `stages` stand in the order antenna to audio. A stage works in receive, in transmit or in both, so
    one list gives both directions: receive reads it forwards, transmit backwards.
    """

    schema_version: Literal[4] = stated(4, "File version", "Version of the file format.")
    name: Name = stated("Untitled rig", "Name", "Name of the rig, printed in the title block.", max_length=80)
    notes: str = stated("", "Notes", "Anything worth remembering; printed on the sheet.", max_length=20_000)
    if_hz: RadioHertz = stated(
        9e6, "IF", "Intermediate frequency: the crystals of ladder and carrier follow it.", "4 to 22 MHz"
    )
    bands: tuple[Band, ...] = stated((Band(),), "Bands", "One to four bands.", min_length=1, max_length=4)
    station: Station = stated(Station(), "Station", "Antenna, site, power and purity wanted.")
    vfo: Vfo = stated(Vfo(), "VFO", "The variable oscillator.")
    carrier: CarrierOscillator = stated(CarrierOscillator(), "Carrier oscillator", "The carrier oscillator.")
    read_out: ReadOut | None = stated(None, "Read-out", "The counter that shows the dial frequency.")
    supply: Supply | None = stated(None, "Supply", "What feeds the rig, and how it is switched.")
    speaker: Speaker = stated(Speaker(), "Speaker", "The speaker.")
    microphone: Microphone = stated(Microphone(), "Microphone", "The microphone.")
    junk_box: JunkBox = stated(JunkBox(), "Junk box", "Parts on hand.")
    transistors: tuple[OwnTransistor, ...] = stated(
        (),
        "Own transistors",
        "Transistors that the table lacks; amplifiers can be built of them.",
        max_length=40,
    )
    crystal_batch: CrystalBatch = stated(CrystalBatch(), "Crystals", "Measured crystals for the ladder.")
    scatter: Scatter = stated(Scatter(), "Tolerance", "Scatter of the ladder's parts, and its limits.")
    measured: tuple[MeasuredCurve, ...] = stated(
        (), "Measured curves", "Responses of stages as measured.", max_length=MOST_CURVES
    )
    log: tuple[LogReading, ...] = stated(
        (), "Bench log", "What was read on the bench.", max_length=MOST_READINGS
    )
    photographs: tuple[Photograph, ...] = stated(
        (), "Photographs", "Photographs beside the file.", max_length=MOST_PHOTOGRAPHS
    )
    boards: tuple[Board, ...] = stated(
        (), "Boards", "Parts and islands put by hand on the boards of stages.", max_length=MOST_BOARDS
    )
    packages: tuple[OwnPackage, ...] = stated(
        (),
        "Own packages",
        "Bodies of parts that the table lacks; boards can be laid with them.",
        max_length=40,
    )
    panels: tuple[Panel, ...] = stated(
        (), "Panels", "Front and rear panel; without them they are proposed.", max_length=2
    )
    stages: tuple[Stage, ...] = stated((), "Stages", "The signal path from antenna to audio.", max_length=60)

    @model_validator(mode="after")
    def _keys_unique(self) -> Self:
        for what, keys in (
            ("stage key", [s.id for s in self.stages]),
            ("band", [b.name for b in self.bands]),
            ("transistor", [t.name for t in self.transistors]),
            ("package", [p.name for p in self.packages]),
            ("board", [f"{b.stage} {b.band}".strip() for b in self.boards]),
            ("panel", [p.side for p in self.panels]),
        ):
            twice = [key for key, count in Counter(keys).items() if count > 1]
            if twice:
                raise ValueError(f"two entries share the {what} {twice[0]}; rename one")
        return self

    @model_validator(mode="after")
    def _gain_in_bounds(self) -> Self:
        gains = (getattr(stage, "gain_db", None) or 0.0 for stage in self.stages)
        together = sum(max(gain, 0.0) for gain in gains)
        if together > MOST_GAIN_DB:
            raise ValueError(
                f"the stages amplify by {together:.0f} dB together, and no rig by more than "
                f"{MOST_GAIN_DB:.0f} dB; lower a gain"
            )
        return self

    def edited(self, path: Path, value: Any) -> Self:
        """As every model's; a band that gets another name keeps its filters and its band-shift parts, a
        transistor its stages, and a package the parts that come in it.
        """
        if path[:1] == ("transistors",) and path[2:] == ("name",):
            old = self.at(path)
            renamed = super().edited(path, value)
            return renamed.with_stages(tuple(s.with_transistor_named(old, value) for s in renamed.stages))
        if path[:1] == ("packages",) and path[2:] == ("name",):
            old = self.at(path)
            renamed = super().edited(path, value)
            return renamed.edited(("boards",), tuple(b.with_package_named(old, value) for b in self.boards))
        if path[:1] != ("bands",) or path[2:] != ("name",):
            return super().edited(path, value)
        old = self.at(path)
        renamed = super().edited(path, value)
        new = renamed.bands[self.bands.index(self.band(old))].name
        return renamed._with_bands_named({old: new})

    def band_removed(self, name: str) -> Self:
        """The rig without that band, the filters that served it alone, and its band-shift parts."""
        rest = tuple(band for band in self.bands if band is not self.band(name))
        return self._with_bands_named({name: ""}).edited(("bands",), rest)

    def _with_bands_named(self, names: dict[str, str]) -> Self:
        """The rig whose stages and tank know bands of other names; an empty new name is a band less."""
        stages = tuple(stage.with_bands_named(names) for stage in self.stages)
        curves = tuple(
            each if each.band not in names else each.edited(("band",), names[each.band])
            for each in self.measured
            if names.get(each.band, "-")
        )
        boards = tuple(each.with_bands_named(names) for each in self.boards if names.get(each.band, "-"))
        moved = (each.with_bands_named(names) for each in self.log)
        log = tuple(each for each in moved if each is not None)
        renamed = self._with_shift_parts(names).edited(("measured",), curves).edited(("boards",), boards)
        return renamed.edited(("log",), log).with_stages(stages)

    def _with_shift_parts(self, names: dict[str, str]) -> Self:
        """The rig whose tank knows bands of other names; an empty new name takes the values as built away."""
        if self.vfo.tank is None:
            return self
        values = dict(self.vfo.tank.as_built)
        for old, new in names.items():
            for role in SWITCHED:
                value = values.pop(key(role, old), None)
                if value is not None and new:
                    values[key(role, new)] = value
        if values == dict(self.vfo.tank.as_built):
            return self
        return self.edited(("vfo", "tank", "as_built"), values)

    def stage(self, id: str) -> Stage:
        """The stage with this key; `DesignError` when there is none."""
        for stage in self.stages:
            if stage.id == id:
                return stage
        raise DesignError(f"There is no stage {id} in this project.")

    def band(self, name: str) -> Band:
        """The band with this name; `DesignError` when there is none."""
        for band in self.bands:
            if band.name == name:
                return band
        raise DesignError(
            f"There is no band {name} in this project; it has {', '.join(b.name for b in self.bands)}."
        )

    def path(self, way: Way) -> tuple[Stage, ...]:
        """The stages the signal passes, in signal order: antenna to audio, or audio to antenna."""
        return self.paths[way]

    @cached_property
    def paths(self) -> dict[Way, tuple[Stage, ...]]:
        """The stages of both directions, each in the order of its signal."""
        sent = tuple(stage for stage in self.stages if stage.works_in("transmit"))
        return {
            "receive": tuple(stage for stage in self.stages if stage.works_in("receive")),
            "transmit": sent[::-1],
        }

    @cached_property
    def can_be_fed(self) -> tuple[tuple[str, str], ...]:
        """All that can hang on a regulator or have its current typed, by its key and as it is called."""
        found = [(stage.id, stage.name) for stage in self.stages]
        found += [("vfo", "VFO"), ("carrier", "Carrier oscillator")]
        if self.read_out is not None:
            found.append(("read_out", "Read-out"))
            if self.read_out.helper is not None:
                found.append(("helper", "Helper oscillator"))
        loads = () if self.supply is None else self.supply.loads
        return (*found, *((each.name, each.name) for each in loads if not each.of))

    def with_stages(self, stages: tuple[Stage, ...]) -> Self:
        """The same rig with another list of stages."""
        return self.edited(("stages",), stages)

    def stage_inserted(self, position: int, stage: Stage) -> Self:
        """The rig with `stage` put at `position` of `stages`; its key is made unique."""
        fresh = stage.edited(("id",), self.free_key(stage.id))
        return self.with_stages((*self.stages[:position], fresh, *self.stages[position:]))

    def stage_removed(self, id: str) -> Self:
        """The rig without that stage."""
        self.stage(id)
        rest = self.edited(("measured",), tuple(each for each in self.measured if each.stage != id))
        rest = rest.edited(("boards",), tuple(each for each in self.boards if each.stage != id))
        rest = rest.edited(("log",), tuple(each for each in self.log if each.stage != id))
        shown = tuple(p.edited(("stage",), "") if p.stage == id else p for p in self.photographs)
        rest = rest.edited(("photographs",), shown)
        if self.supply is not None:
            rest = rest.edited(("supply",), self.supply.without(id))
        return rest.with_stages(tuple(stage for stage in self.stages if stage.id != id))

    def stage_moved(self, id: str, position: int) -> Self:
        """The rig with that stage at `position` among the others."""
        moving = self.stage(id)
        others = tuple(stage for stage in self.stages if stage.id != id)
        return self.with_stages((*others[:position], moving, *others[position:]))

    def stage_duplicated(self, id: str) -> Self:
        """The rig with a copy of that stage behind it."""
        stage = self.stage(id)
        return self.stage_inserted(self.stages.index(stage) + 1, stage)

    def free_key(self, wanted: str) -> str:
        """`wanted`, or `wanted` with the first free number behind it."""
        taken = {stage.id for stage in self.stages}
        if wanted not in taken:
            return wanted
        base = wanted.rstrip("0123456789").rstrip("_")[:36]
        return next(f"{base}_{n}" for n in range(2, 1000) if f"{base}_{n}" not in taken)
