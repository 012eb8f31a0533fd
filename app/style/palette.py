"""The colours of Copperclad: paper, copper, and marks that colour-blind eyes can tell apart.

The marks start from the palette of M. Okabe and K. Ito, *Color Universal Design* (2008), darkened until
they can be read on paper and lightened until they can be read in the dark. This is the only module that
names a colour; palette, style sheet, pens and brushes all come from `Roles`.
"""

from collections.abc import Iterator
from functools import lru_cache
from typing import Literal

from PySide6.QtGui import QBrush, QColor, QFont, QPalette, QPen
from PySide6.QtWidgets import QApplication

from core.record import record

Theme = Literal["light", "dark"]


@record(kw_only=True)
class Roles:
    """One colour a role, as `#rrggbb`."""

    # Ground and text
    paper: str  # the window
    sheet: str  # cards, fields, plots
    ink: str  # text
    soft: str  # secondary text, axes
    rule: str  # borders
    grid: str  # grid lines of plots
    copper: str  # the accent: chosen, pressed, focus
    on_copper: str  # text on the accent
    copper_text: str  # accent as text on paper or sheet
    board: str  # the strip of the signal path
    on_board: str  # text on the strip
    track: str  # traces on the strip
    # Findings
    fault: str
    caution: str
    note: str
    good: str
    # Quantities, the same in every picture
    dial: str
    vfo: str
    intermediate: str
    carrier: str
    image: str
    spur: str
    pass_band: str  # opaque pale ground of a pass-band
    corridor: str  # opaque pale ground between own noise and overload
    scatter: str  # opaque pale ground of what tolerances do to a response
    overload: str
    strong: str
    signal: str
    band_noise: str
    own_noise: str
    limit: str
    curve: str  # the one curve of a response
    second_curve: str
    held: str  # the held design, dashed
    quiet: str  # a curve beside the one that counts


LIGHT = Roles(
    paper="#f6f1e7",
    sheet="#fffdf7",
    ink="#2b2620",
    soft="#6a6055",
    rule="#d8cdbb",
    grid="#e9e1d3",
    copper="#a9652a",
    on_copper="#fffdf7",
    copper_text="#8a4f1c",
    board="#d6a878",
    on_board="#2b2620",
    track="#87481a",
    fault="#b2301b",
    caution="#8a5a00",
    note="#6a6055",
    good="#00734f",
    dial="#00734f",
    vfo="#0067a3",
    intermediate="#74410f",
    carrier="#9c3f78",
    image="#cf5a0a",
    spur="#2f8cc4",
    pass_band="#d3ece2",
    corridor="#f4e6d5",
    scatter="#e6c9a6",
    overload="#8e1d0b",
    strong="#0067a3",
    signal="#b8702e",
    band_noise="#169c70",
    own_noise="#4a423a",
    limit="#8e1d0b",
    curve="#74410f",
    second_curve="#0067a3",
    held="#8f8579",
    quiet="#8fb0bd",
)

DARK = Roles(
    paper="#1d1a17",
    sheet="#272320",
    ink="#f2eadd",
    soft="#b0a494",
    rule="#4a4138",
    grid="#38322c",
    copper="#d1894a",
    on_copper="#1d1a17",
    copper_text="#e8ab74",
    board="#5f3f25",
    on_board="#f2eadd",
    track="#eab07a",
    fault="#ff8163",
    caution="#f2b93b",
    note="#b0a494",
    good="#43c99b",
    dial="#43c99b",
    vfo="#5fb8ec",
    intermediate="#e8ab74",
    carrier="#e59cc6",
    image="#e0602f",
    spur="#6fb7e3",
    pass_band="#20443a",
    corridor="#3d3126",
    scatter="#5c4429",
    overload="#ee452b",
    strong="#5fb8ec",
    signal="#dba470",
    band_noise="#9ce2cb",
    own_noise="#8d8377",
    limit="#ee452b",
    curve="#e8ab74",
    second_curve="#5fb8ec",
    held="#8d8377",
    quiet="#56717d",
)

_ROLES: dict[Theme, Roles] = {"light": LIGHT, "dark": DARK}
_theme: Theme = "light"


def theme() -> Theme:
    """The theme in use."""
    return _theme


def roles() -> Roles:
    """The colours in use."""
    return _ROLES[_theme]


def color(role: str) -> QColor:
    """The colour of a role (a field of `Roles`) in the theme in use."""
    return _color(getattr(roles(), role))


def pen(role: str, *, dashed: bool = False, width: float = 1) -> QPen:
    """A cosmetic pen of a role. One pixel and solid is fastest; dash only curves of few points."""
    return _pen(getattr(roles(), role), dashed, width)


def brush(role: str) -> QBrush:
    """A plain opaque brush of a role."""
    return _brush(getattr(roles(), role))


@lru_cache(maxsize=256)
def _color(name: str) -> QColor:
    return QColor(name)


@lru_cache(maxsize=512)
def _pen(name: str, dashed: bool, width: float) -> QPen:
    made = QPen(_color(name), width)
    made.setCosmetic(True)
    if dashed:
        made.setDashPattern([6, 4])
    return made


@lru_cache(maxsize=256)
def _brush(name: str) -> QBrush:
    return QBrush(_color(name))


def figures_font(base: QFont, scale: float = 1.0, *, bold: bool = False) -> QFont:
    """`base` scaled, with digits of one width so that counting figures do not dance."""
    font = QFont(base)
    font.setPointSizeF(base.pointSizeF() * scale)
    font.setBold(bold)
    font.setFeature(QFont.Tag("tnum"), 1)
    return font


def apply(app: QApplication, wanted: Theme) -> None:
    """Put the whole application into a theme. Views restyle afterwards (`Refresher.restyle`)."""
    for _ in steps(app, wanted):
        pass


#: Steps of `steps` before the style sheet comes.
BEFORE_SHEET = 2


def steps(app: QApplication, wanted: Theme) -> Iterator[None]:
    """`apply` in three steps, as each of them walks through all widgets there are."""
    global _theme
    _theme = wanted
    # Without a style sheet first: widgets that change from one to another measure themselves five times over.
    app.setStyleSheet("")
    yield
    app.setPalette(qt_palette(roles()))
    yield
    app.setStyleSheet(style_sheet(roles()))


def qt_palette(r: Roles) -> QPalette:
    """The palette Qt's own drawing uses."""
    made = QPalette()
    role = QPalette.ColorRole
    for part, name in (
        (role.Window, r.paper),
        (role.WindowText, r.ink),
        (role.Base, r.sheet),
        (role.AlternateBase, r.paper),
        (role.Text, r.ink),
        (role.Button, r.sheet),
        (role.ButtonText, r.ink),
        (role.BrightText, r.fault),
        (role.ToolTipBase, r.sheet),
        (role.ToolTipText, r.ink),
        (role.PlaceholderText, r.soft),
        (role.Highlight, r.copper),
        (role.HighlightedText, r.on_copper),
        (role.Link, r.vfo),
        (role.LinkVisited, r.carrier),
        (role.Accent, r.copper),
        (role.Light, r.sheet),
        (role.Midlight, r.grid),
        (role.Mid, r.rule),
        (role.Dark, r.soft),
        (role.Shadow, r.soft),
    ):
        made.setColor(part, _color(name))
    for part in (role.WindowText, role.Text, role.ButtonText):
        made.setColor(QPalette.ColorGroup.Disabled, part, _color(r.held))
    return made


def style_sheet(r: Roles) -> str:
    """The one style sheet. Widgets choose a look by the property `look`."""
    return f"""
    QToolTip {{ background: {r.sheet}; color: {r.ink}; border: 1px solid {r.rule}; padding: 4px; }}
    QLineEdit, QComboBox, QPlainTextEdit {{
        background: {r.sheet}; color: {r.ink}; border: 1px solid {r.rule}; border-radius: 5px;
        padding: 2px 6px; selection-background-color: {r.copper}; selection-color: {r.on_copper};
    }}
    QLineEdit:focus, QComboBox:focus, QPlainTextEdit:focus {{ border: 1px solid {r.copper}; }}
    QLineEdit[wrong="true"] {{ border: 2px solid {r.fault}; padding: 1px 5px; }}
    QLineEdit:disabled, QComboBox:disabled {{ color: {r.held}; }}
    QComboBox QAbstractItemView {{
        background: {r.sheet}; color: {r.ink}; border: 1px solid {r.rule};
        selection-background-color: {r.copper}; selection-color: {r.on_copper};
    }}
    QPushButton {{
        background: {r.sheet}; color: {r.ink}; border: 1px solid {r.rule}; border-radius: 5px;
        padding: 4px 10px;
    }}
    QPushButton:hover {{ border-color: {r.copper}; }}
    QPushButton:focus {{ border: 2px solid {r.copper}; padding: 3px 9px; }}
    QPushButton:checked {{ background: {r.copper}; color: {r.on_copper}; border-color: {r.copper}; }}
    QPushButton:checked:focus {{ border: 2px solid {r.ink}; }}
    QPushButton:disabled {{ color: {r.held}; }}
    QPushButton[look="small"] {{ padding: 0px 7px; }}
    QPushButton[look="small"]:focus {{ padding: 0px 6px; }}
    QFrame[look="card"] {{ background: {r.sheet}; border: 1px solid {r.rule}; border-radius: 8px; }}
    QLabel[look="title"] {{ font-weight: bold; }}
    QLabel[look="soft"] {{ color: {r.soft}; }}
    QLabel[look="wrong"] {{ color: {r.fault}; }}
    QLabel[look="reason"] {{
        color: {r.fault}; background: {r.sheet}; border: 1px solid {r.fault}; border-radius: 5px;
        padding: 4px 8px;
    }}
    QCheckBox::indicator:unchecked {{
        width: 13px; height: 13px; border: 1px solid {r.soft}; border-radius: 3px; background: {r.sheet};
    }}
    QCheckBox::indicator:unchecked:hover {{ border-color: {r.copper}; }}
    QCheckBox::indicator:unchecked:disabled {{ border-color: {r.held}; }}
    QScrollArea, QScrollArea > QWidget > QWidget[look="ground"] {{ background: transparent; border: none; }}
    QTabBar {{ qproperty-drawBase: 0; }}
    QTabBar::tab {{
        background: transparent; color: {r.soft}; padding: 5px 8px; margin-right: 2px;
        border: none; border-bottom: 3px solid transparent;
    }}
    QTabBar::tab:selected {{ color: {r.ink}; border-bottom-color: {r.copper}; }}
    QTabBar[away="true"]::tab:selected {{
        color: {r.soft}; border-bottom-color: transparent;
    }}
    QTabBar::tab:hover {{ color: {r.ink}; }}
    QTabBar:focus {{ outline: none; }}
    QTabBar::tab:selected:focus {{ background: {r.grid}; }}
    QHeaderView::section {{
        background: {r.sheet}; color: {r.soft}; border: none; border-bottom: 1px solid {r.rule};
        padding: 3px 4px; font-weight: bold;
    }}
    QTableView, QListView, QTableWidget {{
        background: {r.sheet}; color: {r.ink}; border: none; gridline-color: {r.grid};
        selection-background-color: {r.copper}; selection-color: {r.on_copper}; outline: none;
    }}
    QComboBox::drop-down {{ border: none; width: 18px; }}
    QComboBox::down-arrow {{ image: none; }}
    QScrollBar:horizontal {{ height: 10px; background: transparent; margin: 0; }}
    QScrollBar:vertical {{ width: 10px; background: transparent; margin: 0; }}
    QScrollBar::handle {{ background: {r.rule}; border-radius: 3px; margin: 2px; }}
    QScrollBar::handle:horizontal {{ min-width: 28px; }}
    QScrollBar::handle:vertical {{ min-height: 28px; }}
    QScrollBar::handle:hover {{ background: {r.held}; }}
    QScrollBar::add-line, QScrollBar::sub-line {{ width: 0; height: 0; }}
    QScrollBar::add-page, QScrollBar::sub-page {{ background: transparent; }}
    QAbstractScrollArea::corner {{ background: transparent; border: none; }}
    QTabBar QToolButton {{ background: {r.sheet}; border: 1px solid {r.rule}; }}
    QAbstractScrollArea[look="board"] QScrollBar:horizontal {{ background: {r.board}; }}
    QAbstractScrollArea[look="board"] QScrollBar::handle {{ background: {r.copper}; }}
    QSplitter::handle {{ background: transparent; }}
    QSplitter::handle:hover {{ background: {r.rule}; }}
    QMenuBar {{ background: {r.paper}; color: {r.ink}; }}
    QMenuBar::item:selected {{ background: {r.grid}; }}
    QMenu {{ background: {r.sheet}; color: {r.ink}; border: 1px solid {r.rule}; }}
    QMenu::item {{ padding: 4px 22px; }}
    QMenu::item:selected {{ background: {r.copper}; color: {r.on_copper}; }}
    QMenu::item:disabled {{ color: {r.held}; }}
    QMenu::separator {{ height: 1px; background: {r.rule}; margin: 4px 8px; }}
    QStatusBar {{ background: {r.paper}; color: {r.soft}; }}
    QStatusBar QLabel {{ color: {r.soft}; padding: 0 12px 2px 12px; }}
    QStatusBar::item {{ border: none; }}
    """
