"""Stage: the plots of the selected stage and the schematic of the circuit that was solved."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from PySide6.QtCore import QByteArray, QRectF, Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtWidgets import (
    QGridLayout,
    QHeaderView,
    QLabel,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app import palette, words
from app.plots.base import Card
from app.plots.pull import PullPlot
from app.plots.response import Mark, ResponsePlot
from app.view import View
from app.workbench import Workbench
from core.circuits.ladder import Network, Response
from core.model.filters import BandPass, LadderFilter, LowPass
from core.model.notation import format_value
from core.model.project import Stage
from core.rig.analysis import Analysis
from core.stages import carrier_oscillator
from core.stages.carrier_oscillator import CarrierPlace
from core.stages.outcome import FilterDesign, FilterFigures, Unsolved

_POINTS = 601
_AUDIO_HZ = np.linspace(50.0, 4000.0, 396)


class StagePage(View):
    """Up to three plots, a table and a schematic, as the stage's kind asks."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__()
        self.wide = ResponsePlot()
        self.near = ResponsePlot()
        self.audio = ResponsePlot("audio as heard", "tone", "Hz")
        self.schematic = SchematicView()
        self.table = FigureTable()
        self.pull = PullPlot()
        self.sentence = QLabel()
        self.sentence.setWordWrap(True)
        self.sentence.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.sentence.setTextFormat(Qt.TextFormat.PlainText)
        self._wide_card = Card("Response", self.wide)
        self._close_card = Card("Around the pass-band", self.near)
        self._audio_card = Card("Audio as heard", self.audio)
        self._schematic_card = Card("Schematic: the circuit that was solved", self.schematic)
        self._table_card = Card("Figures", self.table)
        self._pull_card = Card("The carrier's crystal, pulled by its trimmer", self.pull)
        self._cards = (
            self._wide_card,
            self._close_card,
            self._audio_card,
            self._schematic_card,
            self._table_card,
            self._pull_card,
        )
        grid = QGridLayout()
        grid.setSpacing(8)
        grid.addWidget(self._close_card, 0, 0)
        grid.addWidget(self._wide_card, 0, 1)
        grid.addWidget(self._pull_card, 0, 0, 1, 2)
        grid.addWidget(self._audio_card, 1, 0)
        grid.addWidget(self._table_card, 1, 0)
        grid.addWidget(self._schematic_card, 1, 1)
        grid.setColumnStretch(0, 1)
        grid.setColumnStretch(1, 1)
        grid.setRowStretch(0, 1)
        grid.setRowStretch(1, 1)
        self._grid = grid
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.sentence, 1)
        column.addLayout(grid, 1)
        self._shown: tuple[Any, ...] = ()

    def refresh(self, bench: Workbench) -> None:
        stage = bench.selected_stage
        if stage is None and bench.selection == ("carrier",) and bench.analysis.carriers:
            self._carrier(bench)
            return
        if stage is None:
            self._show_cards(())
            self._say(_what_to_select(bench))
            self._shown = ()
            return
        if isinstance(stage, LadderFilter):
            self._ladder(bench, stage)
        elif isinstance(stage, BandPass | LowPass):
            self._front_filter(bench, stage)
        else:
            self._block(bench, stage)

    def restyle(self) -> None:
        for plot in (self.wide, self.near, self.audio, self.pull):
            plot.restyle()
        self.schematic.restyle()
        self._shown = ()

    def _is_shown(self, *state: Any) -> bool:
        """Whether this very state is on show; remembers it."""
        same = len(state) == len(self._shown) and all(
            a is b or a == b for a, b in zip(state, self._shown, strict=True)
        )
        self._shown = state
        return same

    def _say(self, sentence: str) -> None:
        self.sentence.setText(sentence)
        self.sentence.setVisible(bool(sentence))

    def _show_cards(self, cards: Sequence[QWidget]) -> None:
        for card in (
            self._wide_card,
            self._close_card,
            self._audio_card,
            self._schematic_card,
            self._table_card,
        ):
            wanted = card in cards
            if card.isVisibleTo(self) != wanted:
                card.setVisible(wanted)

    # -- the ladder -----------------------------------------------------------------------------

    def _ladder(self, bench: Workbench, stage: LadderFilter) -> None:
        analysis, band = bench.analysis, bench.band_name
        design, figures = analysis.filter_design(stage.id, band), analysis.filter_figures(stage.id, band)
        if isinstance(design, Unsolved) or isinstance(figures, Unsolved):
            self._unsolved(design, figures)
            return
        held = _held_design(bench, stage.id)
        places = {b.name: analysis.carrier(b.name) for b in bench.current.bands}
        if self._is_shown("ladder", design, figures, held, tuple(places.values()), band, palette.theme()):
            return
        self._say("")
        self._show_cards((self._wide_card, self._close_card, self._audio_card, self._schematic_card))
        self._wide_card.entitle(f"{stage.name}: response, wide")
        marks = [
            Mark(
                place.frequency_hz / 1e6,
                place.frequency_hz / 1e6,
                f"carrier {', '.join(words.band(n) for n in names)}\n−{place.suppression_db:.0f} dB",
                "carrier",
                5,
            )
            for place, names in _grouped(places)
        ]
        low, high = design.span_hz
        width = high - low
        close = np.linspace(low, high, _POINTS)
        wide = np.linspace(max(low - 2.2 * width, low / 2), high + 2.2 * width, _POINTS)
        self._response(self.near, design, held, close, 70.0, (stage.id, "close"), marks, _widths(figures))
        self._response(self.wide, design, held, wide, 120.0, (stage.id, "wide"), marks, ())
        self._audio(bench, stage, places[band])
        self.schematic.show_network(design.network)

    def _audio(self, bench: Workbench, stage: LadderFilter, place: CarrierPlace | Unsolved) -> None:
        self._audio_card.entitle(f"Audio as heard on {words.band(bench.band_name)}, through the filter alone")
        if isinstance(place, Unsolved):
            self.audio.clear(place.reason)
            return
        project = bench.current
        loss = carrier_oscillator.audio_response(stage, project.if_hz, place, _AUDIO_HZ)
        if isinstance(loss, Unsolved):
            self.audio.clear(loss.reason)
            return
        kept = None
        held = bench.held_analysis
        if (
            held is not None
            and held.ladder is not None
            and any(b.name == bench.band_name for b in held.project.bands)
        ):
            there = held.carrier(bench.band_name)
            if not isinstance(there, Unsolved):
                other = carrier_oscillator.audio_response(held.ladder, held.project.if_hz, there, _AUDIO_HZ)
                kept = None if isinstance(other, Unsolved) else (_AUDIO_HZ, -other)
        notes = (f"other sideband at 1 kHz {place.unwanted_sideband_1khz_db:.0f} dB down",)
        self.audio.show_response(_AUDIO_HZ, -loss, depth_db=40.0, key="audio", held=kept, notes=notes)

    # -- band-pass and low-pass -------------------------------------------------------------------

    def _front_filter(self, bench: Workbench, stage: BandPass | LowPass) -> None:
        analysis, band = bench.analysis, bench.band_name
        design, figures = analysis.filter_design(stage.id, band), analysis.filter_figures(stage.id, band)
        if isinstance(design, Unsolved) or isinstance(figures, Unsolved):
            self._unsolved(design, figures)
            return
        held = _held_design(bench, stage.id)
        plan = analysis.band_plan(band)
        if self._is_shown("front", design, figures, held, plan, analysis.harmonics(band), palette.theme()):
            return
        self._say("")
        self._show_cards((self._wide_card, self._close_card, self._schematic_card, self._table_card))
        name = f"{stage.name}, {words.band(band)}"
        self._close_card.entitle(f"{name}: around the pass-band")
        self._wide_card.entitle(f"{name}: image, IF, VFO and harmonics")
        dial = Mark(plan.dial_low_hz / 1e6, plan.dial_high_hz / 1e6, "dial", "dial", 9)
        others = _others(bench, plan)
        if isinstance(stage, BandPass):
            close = np.linspace(*design.span_hz, _POINTS)
            wide = np.linspace(0.2e6, 60e6, _POINTS)
            notes: Sequence[str] = _widths(figures)
        else:
            close = np.linspace(design.span_hz[0], 1.6 * plan.dial_high_hz, _POINTS)
            wide = np.linspace(0.2e6, 5.3 * plan.dial_high_hz, _POINTS)
            notes = () if figures.bandwidth_3db_hz is None else (f"−3 dB at {_f(figures.bandwidth_3db_hz)}",)
        depth = 50.0 if isinstance(stage, BandPass) else 40.0
        self._response(self.near, design, held, close, depth, (stage.id, band, "close"), [dial], notes)
        self._response(self.wide, design, held, wide, 110.0, (stage.id, band, "wide"), [dial, *others], ())
        self._rejections(bench, stage, design, figures, others)
        self.schematic.show_network(design.network)

    def _rejections(
        self,
        bench: Workbench,
        stage: BandPass | LowPass,
        design: FilterDesign,
        figures: FilterFigures,
        others: Sequence[Mark],
    ) -> None:
        if isinstance(stage, LowPass):
            rows = [
                (
                    str(h.number),
                    format_value(h.frequency_hz, "Hz", 3),
                    f"{h.filter_db:.1f} dB",
                    f"{h.result_dbc:.0f} dBc".replace("-", "−"),
                    f"{h.margin_db:+.0f} dB".replace("-", "−"),
                )
                for h in bench.analysis.harmonics(bench.band_name)
            ]
            if rows:
                self._table_card.entitle("Harmonics: the power amplifier's assumed level through this filter")
                self.table.show_rows(("harmonic", "at", "filter", "leaves", "in hand"), rows)
                return
        self._table_card.entitle("What the filter keeps out, against its loss on the dial")
        dial = np.array([bench.dial_hz])
        response = bench.analysis.filter_response(
            stage.id, bench.band_name, np.append([m.low * 1e6 for m in others], dial)
        )
        if isinstance(response, Unsolved):
            return
        own = float(response.loss_db[-1])
        rows = [
            (mark.text, _f(mark.low * 1e6), f"{float(loss) - own:.1f} dB", "", "")
            for mark, loss in zip(others, response.loss_db, strict=False)
        ]
        rows.insert(0, ("dial", _f(bench.dial_hz), f"{own:.2f} dB loss", "", ""))
        self.table.show_rows(("signal", "at", "rejected by"), [row[:3] for row in rows])

    def _response(
        self,
        plot: ResponsePlot,
        design: FilterDesign,
        held: FilterDesign | None,
        f_hz: np.ndarray,
        depth: float,
        key: object,
        marks: Sequence[Mark],
        notes: Sequence[str],
    ) -> None:
        from core.circuits.ladder import solve

        now: Response = solve(design.network, f_hz)
        kept = None if held is None else (f_hz / 1e6, -solve(held.network, f_hz).loss_db)
        plot.show_response(
            f_hz / 1e6, -now.loss_db, depth_db=depth, key=key, held=kept, marks=marks, notes=notes
        )

    def _unsolved(self, *results: object) -> None:
        reason = next(each.reason for each in results if isinstance(each, Unsolved))
        self._show_cards(())
        self._say(reason)
        self._shown = ()

    # -- the carrier oscillator -----------------------------------------------------------------------

    def _carrier(self, bench: Workbench) -> None:
        analysis, project = bench.analysis, bench.current
        rows = analysis.carriers
        if self._is_shown("carrier", rows, project.carrier, project.if_hz, palette.theme()):
            return
        self._say("")
        self._show_cards((self._pull_card, self._table_card))
        self._table_card.entitle("Carrier: where it must lie, and how it gets there")
        texts = []
        for row in rows:
            name = f"{row.sideband} at the IF ({', '.join(words.band(n) for n in row.bands)})"
            texts.append((name, f"{row.place.frequency_hz / 1e6:.6f} MHz"))
            if row.pulling is not None:
                p = row.pulling
                coil = "none" if p.coil_h == 0 else format_value(p.coil_h, "H", 3)
                trimmer = "out of reach" if p.trimmer_f is None else format_value(p.trimmer_f, "F", 3)
                texts += [
                    ("   series coil, trimmer", f"{coil}, {trimmer}"),
                    ("   reach", f"{p.reachable_low_hz / 1e6:.6f} to {p.reachable_high_hz / 1e6:.6f} MHz"),
                ]
            total = row.place.suppression_db + project.carrier.balance_db
            texts += [
                ("   carrier suppression, with the modulator", format_value(total, "dB", 3)),
                ("   other sideband at 1 kHz", f"{row.place.unwanted_sideband_1khz_db:.0f} dB down"),
            ]
        self.table.show_rows(("figure", "value"), texts)
        self.pull.show_rows(rows, project)

    # -- amplifiers, mixers, pads -------------------------------------------------------------------

    def _block(self, bench: Workbench, stage: Stage) -> None:
        analysis, band, way = bench.analysis, bench.band_name, bench.way
        blocks = analysis.blocks(band, way, bench.dial_hz)
        if self._is_shown("block", stage, blocks, way, palette.theme(), analysis.project.station):
            return
        place = next((n for n, block in enumerate(blocks) if block.stage == stage.id), None)
        if place is None:
            self._show_cards(())
            self._say(f"{stage.name} is switched out of the path; switch it in to see its levels.")
            return
        self._say("")
        self._show_cards((self._table_card,))
        self._table_card.entitle(f"{stage.name} on {words.band(band)}, {words.way(way).lower()}")
        self.table.show_rows(("figure", "value"), _block_rows(analysis, band, way, bench.dial_hz, place))


def _block_rows(analysis: Analysis, band: str, way: str, dial_hz: float, place: int) -> list[tuple[str, str]]:
    def dbm(value: float | None) -> str:
        return "-" if value is None else format_value(float(value), "dBm", 4)

    block = analysis.blocks(band, "receive" if way == "receive" else "transmit", dial_hz)[place]
    rows = [
        ("gain", format_value(block.gain_db, "dB", 3)),
        ("noise figure", format_value(block.noise_figure_db, "dB", 3)),
        ("third-order intercept, input", dbm(block.iip3_dbm)),
        ("1 dB compression, output", dbm(block.p1db_out_dbm)),
    ]
    if way == "receive":
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


def _what_to_select(bench: Workbench) -> str:
    names = {"vfo": "VFO", "carrier": "carrier oscillator", "station": "station", "speaker": "speaker"}
    part = names.get(str(bench.selection[0])) if bench.selection else None
    if part:
        return f"The {part} has no plots of its own; edit it on the left and see it in the whole rig's plots."
    return "Select a stage on the signal path to see its response, its schematic and its levels."


def _held_design(bench: Workbench, stage_id: str) -> FilterDesign | None:
    held = bench.held_analysis
    if held is None or all(stage.id != stage_id for stage in held.project.stages):
        return None
    design = held.filter_design(stage_id, bench.band_name)
    return None if isinstance(design, Unsolved) else design


def _grouped(places: dict[str, CarrierPlace | Unsolved]) -> list[tuple[CarrierPlace, list[str]]]:
    """Bands that share a carrier, together."""
    groups: dict[CarrierPlace, list[str]] = {}
    for name, place in places.items():
        if not isinstance(place, Unsolved):
            groups.setdefault(place, []).append(name)
    return list(groups.items())


def _others(bench: Workbench, plan: Any) -> list[Mark]:
    marks = [
        Mark(plan.image_low_hz / 1e6, plan.image_high_hz / 1e6, "image", "image", 8),
        Mark(plan.carrier_hz / 1e6, plan.carrier_hz / 1e6, "IF", "intermediate", 7),
    ]
    for number, name in ((1, "VFO"), (2, "2 VFO"), (3, "3 VFO")):
        low, high = number * plan.vfo_low_hz, number * plan.vfo_high_hz
        if low > 0:
            marks.append(Mark(low / 1e6, high / 1e6, name, "vfo", 7 - number))
    for number in (2, 3):
        marks.append(
            Mark(
                number * plan.dial_low_hz / 1e6,
                number * plan.dial_high_hz / 1e6,
                f"harmonic {number}",
                "limit",
                6 - number,
            )
        )
    return marks


def _widths(figures: FilterFigures) -> list[str]:
    rows = [
        ("−3 dB", figures.bandwidth_3db_hz),
        ("−6 dB", figures.bandwidth_6db_hz),
        ("−60 dB", figures.bandwidth_60db_hz),
    ]
    texts = [f"{depth}  {_f(width)}" for depth, width in rows if width is not None]
    return [*texts, f"loss  {figures.insertion_loss_db:.1f} dB", f"ripple  {figures.ripple_db:.2f} dB"]


def _f(hz: float) -> str:
    return format_value(hz, "Hz", 4)


class SchematicView(QWidget):
    """A network's schematic, as large as fits."""

    def __init__(self) -> None:
        super().__init__()
        self._network: Network | None = None
        self._renderer = QSvgRenderer()
        self._svg = ""
        self._stale = False
        self.setMinimumHeight(90)

    def show_network(self, network: Network) -> None:
        """Draw this network."""
        if network is self._network:
            return
        self._network = network
        self._load()

    def restyle(self) -> None:
        """Take the colours in use."""
        if self._network is not None:
            self._load()

    def _load(self) -> None:
        # Drawing takes 20 ms; a burst of edits pays for the last one only, when it is painted.
        self._stale = True
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        from app.sheet.schematic import schematic_svg

        if self._network is None:
            return
        if self._stale:
            self._stale = False
            colours = palette.roles()
            svg = schematic_svg(self._network, colours.ink, colours.soft)
            if svg != self._svg:
                self._svg = svg
                self._renderer.load(QByteArray(svg.encode()))
        size = self._renderer.defaultSize()
        scale = min(self.width() / size.width(), self.height() / size.height(), 1.5)
        width, height = size.width() * scale, size.height() * scale
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._renderer.render(
            painter, QRectF((self.width() - width) / 2, (self.height() - height) / 2, width, height)
        )


class FigureTable(QTableWidget):
    """A small table of texts; cells are kept and only changed ones set."""

    def __init__(self, *, even: bool = True) -> None:
        """`even` columns share the width; otherwise each is as wide as its texts."""
        super().__init__()
        self.verticalHeader().hide()
        self.setEditTriggers(QTableWidget.EditTrigger.NoEditTriggers)
        self.setSelectionMode(QTableWidget.SelectionMode.NoSelection)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setShowGrid(False)
        mode = QHeaderView.ResizeMode.Stretch if even else QHeaderView.ResizeMode.ResizeToContents
        self.horizontalHeader().setSectionResizeMode(mode)
        self.horizontalHeader().setStretchLastSection(True)
        self.verticalHeader().setDefaultSectionSize(24)

    def show_rows(self, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """Show these texts."""
        self.setColumnCount(len(heads))
        self.setRowCount(len(rows))
        self.setHorizontalHeaderLabels(list(heads))
        for r, row in enumerate(rows):
            for c, text in enumerate(row):
                item = self.item(r, c)
                if item is None:
                    item = QTableWidgetItem()
                    self.setItem(r, c, item)
                if item.text() != text:
                    item.setText(text)

    def texts(self) -> list[list[str]]:
        """The texts on show, row by row."""
        return [
            [item.text() if (item := self.item(r, c)) else "" for c in range(self.columnCount())]
            for r in range(self.rowCount())
        ]
