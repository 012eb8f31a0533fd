"""What the command line prints: every text in every encoding, and nothing that steers the terminal."""

import codecs
import json
import sys
from typing import Any

from core.model.values.wording import STEERING, visible

#: What a command ends with: done, faults found with --strict, bad input.
DONE, FAULTS, BAD_INPUT = 0, 1, 2
#: How a builder writes what an encoding lacks.
_PLAIN = {
    "−": "-",
    "–": "-",
    "—": "-",
    "…": "...",
    "“": '"',
    "”": '"',
    "×": "x",
    "±": "+/-",
    "β": "beta",
    "→": "->",
    "≤": "<=",
    "≥": ">=",
    "²": "^2",
    "√": "sqrt ",
    "·": "*",
    "°": "deg",
    "µ": "u",
    "μ": "u",
    "Ω": "ohm",
    "\u2126": "ohm",
    "π": "pi",
    "\u2009": " ",
    "\u00a0": " ",
    "\u202f": " ",
}


def _plainly(error: UnicodeError) -> tuple[str, int]:
    """Codec error handler: a plain equivalent of what cannot be encoded, its code where there is none."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    signs = error.object[error.start : error.end]
    plain = (_PLAIN.get(sign, sign).encode("ascii", "backslashreplace").decode() for sign in signs)
    return "".join(plain), error.end


codecs.register_error("copperclad.plain", _plainly)


def prepare() -> None:
    """Let no character that the terminal or file lacks stop the output."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="copperclad.plain")


def say(text: str) -> None:
    """Print lines; nothing in them steers the terminal, whatever they name."""
    _out("\n".join(visible(line) for line in text.split("\n")))


def _out(text: str) -> None:
    print(text)
    # A reader that has gone is noticed here and not at the program's end.
    sys.stdout.flush()


def say_json(data: Any) -> None:
    """Print JSON that means the same in every encoding; steering characters stand as their codes."""
    everything = (sys.stdout.encoding or "").lower().replace("-", "") in ("utf8", "utf16", "utf32")
    text = json.dumps(data, indent=2, ensure_ascii=not everything, allow_nan=False)
    _out(STEERING.sub(_escaped, text) if everything else text)


def _escaped(match) -> str:  # type: ignore[no-untyped-def]
    # The line breaks of the layout stay; in a string they are escaped already.
    return match[0] if match[0] == "\n" else f"\\u{ord(match[0]):04x}"
