"""Help: keys, how numbers are typed, and safety."""

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QTextBrowser, QVBoxLayout, QWidget

KEYS = (
    (
        "Everywhere",
        (
            ("Ctrl+I", "into the IF"),
            ("Ctrl+L", "into the dial"),
            ("Ctrl+B", "next band"),
            ("Ctrl+T", "receive or transmit"),
            ("Ctrl+H", "hold the design, or let it go"),
            ("Ctrl+Z, Ctrl+Shift+Z", "undo, redo"),
            ("Ctrl+R", "settings of the rig as a whole"),
            ("Alt+1 … {last}", "pages"),
            ("F6", "next part of the window"),
        ),
    ),
    (
        "In a number",
        (
            ("Up, Down", "step the digit at the cursor"),
            ("Page up, Page down", "step it by ten"),
            ("Enter", "take what was typed"),
            ("Escape", "back to the valid value"),
        ),
    ),
    (
        "On the signal path",
        (
            ("Left, Right, Home, End", "walk from stage to stage"),
            ("Down, Up", "to the oscillator of a mixer and back"),
            ("Enter", "the stage in full"),
            ("Insert", "new stage behind this one"),
            ("Ctrl+D", "duplicate"),
            ("Delete", "remove"),
            ("Space", "switch out of the path or into it"),
            ("Ctrl+Left, Ctrl+Right", "move"),
            ("Escape", "the rig as a whole; amid a drag, back where it was"),
        ),
    ),
    (
        "On a board or a panel",
        (
            ("Arrows, Shift+arrows", "move what is picked up by half a millimetre, by five"),
            ("R", "turn it; amid a drag too"),
            ("Page up, Page down", "pick another one"),
            ("Delete", "let it be placed again"),
            ("+, −, 0", "larger, smaller, all of it"),
            ("Escape", "amid a drag, back where it was"),
        ),
    ),
    (
        "On a schematic",
        (
            ("+, −, 0", "larger, smaller, all of it"),
            ("Arrows", "to another part of it"),
            ("Enter", "open it in a window of its own"),
        ),
    ),
)

SAFETY = (
    "RF burns, and strong fields near an antenna are to be kept away from people: keep power low on the "
    "bench and hands off the output while transmitting.",
    "The PA's heat sink and transistors get hot; let them cool before touching.",
    "Mains supplies and charged capacitors can kill: work on the low-voltage side of a closed, fused supply, "
    "and discharge capacitors before touching them.",
    "Solder in moving air, and wear glasses when cutting leads and board.",
    "Transmit only with a licence that covers the band and power, and into a dummy load until the spectrum "
    "has been checked.",
    "Limits shown here are a guide; local rules and licensed practice decide.",
)


def keys_page(last: str) -> str:
    """Keys and notation as rich text; `last` are the keys of the last page that has some."""
    parts = []
    for title, rows in KEYS:
        lines = "".join(
            f"<tr><td><b>{keys.format(last=last)}</b>&nbsp;&nbsp;</td><td>{what}</td></tr>"
            for keys, what in rows
        )
        parts.append(f"<h3>{title}</h3><table cellspacing='3'>{lines}</table>")
    parts.append(
        "<h3>How numbers are typed</h3><p>As a builder writes them: <b>14.1 MHz</b>, <b>14,1M</b>, "
        "<b>14100k</b>, <b>4k7</b>, <b>2n2</b>. Comma and point are both decimal marks. A number alone is "
        "read in the unit the field shows, or in the plain unit when that is nearer to the present value; "
        "21480 in a field of 21.48 MHz is read in kHz. What is read otherwise than the unit shown is told "
        "while it is typed. Shares are in per cent."
        "</p>"
    )
    return "".join(parts)


def safety_page() -> str:
    """The cautions as rich text."""
    return "<h3>Safety and law</h3><ul>" + "".join(f"<li>{line}</li>" for line in SAFETY) + "</ul>"


def show(parent: QWidget, title: str, page: str) -> QDialog:
    """Open a page of help beside the window."""
    dialog = QDialog(parent)
    dialog.setWindowTitle(title)
    text = QTextBrowser()
    text.setHtml(page)
    buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
    buttons.rejected.connect(dialog.reject)
    column = QVBoxLayout(dialog)
    column.addWidget(text)
    column.addWidget(buttons)
    dialog.resize(560, 520)
    dialog.setModal(False)
    dialog.finished.connect(dialog.deleteLater)
    dialog.show()
    return dialog
