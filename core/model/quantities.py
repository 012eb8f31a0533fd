"""Field types that carry their unit and their limits, and the declaration every field is made with.

One declaration drives validation, the editor's number field, its tooltip, the JSON Schema and the sheet.
The limits only keep absurd values out; what is usual for a field is said in its `usual` text.
"""

from dataclasses import dataclass
from typing import Annotated, Any

from annotated_types import Ge, Gt, Le
from pydantic import Field, GetJsonSchemaHandler
from pydantic.fields import FieldInfo
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema


@dataclass(frozen=True, slots=True)
class Unit:
    """The unit of a number, `-` for none; `scaled` when engineering prefixes are customary with it."""

    symbol: str
    scaled: bool = False

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        return {**handler(schema), "unit": self.symbol}


#: Nothing in a rig runs below one hertz, and narrower filters than that are slips of the finger.
Hertz = Annotated[float, Ge(1), Le(10e9), Unit("Hz", scaled=True)]
HertzOffset = Annotated[float, Ge(-1e9), Le(1e9), Unit("Hz", scaled=True)]
Farad = Annotated[float, Gt(0), Le(1), Unit("F", scaled=True)]
Henry = Annotated[float, Gt(0), Le(1e4), Unit("H", scaled=True)]
Ohm = Annotated[float, Gt(0), Le(1e9), Unit("Ω", scaled=True)]
Watt = Annotated[float, Gt(0), Le(1e5), Unit("W", scaled=True)]
Volt = Annotated[float, Gt(0), Le(1e4), Unit("V", scaled=True)]
Ampere = Annotated[float, Gt(0), Le(1e3), Unit("A", scaled=True)]
Second = Annotated[float, Gt(0), Le(1e6), Unit("s", scaled=True)]
Kelvin = Annotated[float, Gt(0), Le(300), Unit("K")]
Metre = Annotated[float, Gt(0), Le(1e3), Unit("m", scaled=True)]
HertzSpan = Annotated[float, Ge(0), Le(1e9), Unit("Hz", scaled=True)]
GateTime = Annotated[float, Gt(0), Le(100), Unit("s", scaled=True)]
Ripple = Annotated[float, Ge(0.001), Le(3), Unit("dB")]
LadderRipple = Annotated[float, Ge(0.01), Le(3), Unit("dB")]
SkirtDepth = Annotated[float, Gt(3), Le(60), Unit("dB")]
CurrentGain = Annotated[float, Gt(1), Le(1e4), Unit("-")]
Decibel = Annotated[float, Ge(-200), Le(200), Unit("dB")]
DecibelLoss = Annotated[float, Ge(0), Le(200), Unit("dB")]
Dbc = Annotated[float, Ge(-200), Le(20), Unit("dBc")]
Dbm = Annotated[float, Ge(-200), Le(100), Unit("dBm")]
DbSpl = Annotated[float, Ge(-20), Le(150), Unit("dB SPL")]
Degrees = Annotated[float, Ge(-360), Le(360), Unit("°")]
Ppm = Annotated[float, Ge(0), Le(1e5), Unit("ppm")]
QualityFactor = Annotated[float, Gt(0), Le(1e8), Unit("-")]
Ratio = Annotated[float, Gt(0), Le(1e6), Unit("-")]
Turns = Annotated[float, Gt(0), Le(1000), Unit("turns")]
Share = Annotated[float, Ge(0), Le(1), Unit("-")]
Fraction = Annotated[float, Gt(0), Le(1), Unit("-")]


def stated(default: Any, title: str, help: str, usual: str = "", **limits: Any) -> Any:
    """Declare a field: its name on screen, what it is in a sentence, and what is usual.

    `limits` are for plain numbers and texts. A quantity brings its own: of two limits of the same kind
    pydantic keeps the type's, so a narrower range is a type of its own.
    """
    return Field(default, title=title, description=help, json_schema_extra={"usual": usual}, **limits)


def unit_of(field: FieldInfo) -> Unit | None:
    """The unit a field was declared with, also when the field may be empty; None for non-quantities."""
    for item in field.metadata:
        if isinstance(item, Unit):
            return item
    for option in getattr(field.annotation, "__args__", ()):
        for item in getattr(option, "__metadata__", ()):
            if isinstance(item, Unit):
                return item
    return None


def usual_of(field: FieldInfo) -> str:
    """What a field's value usually is, as a phrase; empty when nothing was declared."""
    extra = field.json_schema_extra
    return str(extra.get("usual", "")) if isinstance(extra, dict) else ""
