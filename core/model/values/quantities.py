"""Field types that carry their unit and their limits, and the declaration every field is made with.

One declaration drives validation, the editor's number field, its tooltip, the JSON Schema and the sheet.
The limits keep absurd values out, at both ends: no builder meets them, and the figures of what lies between
them can be computed. What is usual for a field is said in its `usual` text.
"""

import re
from typing import Annotated, Any

from annotated_types import Ge, Gt, Le
from pydantic import AfterValidator, Field, GetJsonSchemaHandler
from pydantic.fields import FieldInfo
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema

from core.model.values.wording import STEERING
from core.record import record


@record
class Unit:
    """The unit of a number, `-` for none; `scaled` when engineering prefixes are customary with it."""

    symbol: str
    scaled: bool = False
    #: A share of one that is shown in per cent.
    per_cent: bool = False

    @property
    def written(self) -> str:
        """The unit that numbers of it are parsed with."""
        return "%" if self.per_cent else "" if self.symbol == "-" else self.symbol

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        return {**handler(schema), "unit": self.symbol}


#: Nothing in a rig runs below one hertz, and narrower filters than that are slips of the finger.
Hertz = Annotated[float, Ge(1), Le(10e9), Unit("Hz", scaled=True)]
#: Where a rig has its dial and its IF.
RadioHertz = Annotated[float, Ge(10e3), Le(1e9), Unit("Hz", scaled=True)]
HertzOffset = Annotated[float, Ge(-1e9), Le(1e9), Unit("Hz", scaled=True)]
Farad = Annotated[float, Ge(1e-18), Le(1), Unit("F", scaled=True)]
Henry = Annotated[float, Ge(1e-12), Le(1e4), Unit("H", scaled=True)]
Ohm = Annotated[float, Ge(1e-3), Le(1e9), Unit("Ω", scaled=True)]
Watt = Annotated[float, Ge(1e-9), Le(1e5), Unit("W", scaled=True)]
Volt = Annotated[float, Ge(1e-3), Le(1e4), Unit("V", scaled=True)]
AudioVolt = Annotated[float, Ge(1e-6), Le(100), Unit("V", scaled=True)]
Ampere = Annotated[float, Ge(1e-9), Le(1e3), Unit("A", scaled=True)]
Second = Annotated[float, Ge(1e-3), Le(1e6), Unit("s", scaled=True)]
Kelvin = Annotated[float, Ge(1e-3), Le(300), Unit("K")]
Metre = Annotated[float, Ge(1e-3), Le(1e3), Unit("m", scaled=True)]
WireMetre = Annotated[float, Ge(10e-6), Le(10e-3), Unit("m", scaled=True)]
HertzSpan = Annotated[float, Ge(0), Le(1e9), Unit("Hz", scaled=True)]
GateTime = Annotated[float, Ge(1e-6), Le(100), Unit("s", scaled=True)]
Ripple = Annotated[float, Ge(0.001), Le(3), Unit("dB")]
LadderRipple = Annotated[float, Ge(0.01), Le(3), Unit("dB")]
SkirtDepth = Annotated[float, Gt(3), Le(60), Unit("dB")]
CurrentGain = Annotated[float, Gt(1), Le(1e4), Unit("-")]
Decibel = Annotated[float, Ge(-200), Le(200), Unit("dB")]
StageGain = Annotated[float, Ge(-20), Le(60), Unit("dB")]
AudioGain = Annotated[float, Ge(0), Le(80), Unit("dB")]
#: Corners of audio, to either side of the tone at which gain is told: nearer to it they would be none.
LowHertz = Annotated[float, Ge(1), Le(600), Unit("Hz", scaled=True)]
HighHertz = Annotated[float, Ge(2e3), Le(200e3), Unit("Hz", scaled=True)]
AudioOhm = Annotated[float, Ge(1), Le(20e6), Unit("Ω", scaled=True)]
LoadOhm = Annotated[float, Ge(1), Le(10e3), Unit("Ω", scaled=True)]
RippleVolt = Annotated[float, Ge(0), Le(10), Unit("V", scaled=True)]
StageCurrent = Annotated[float, Ge(1e-4), Le(0.2), Unit("A", scaled=True)]
StageSupply = Annotated[float, Ge(3), Le(40), Unit("V", scaled=True)]
SystemOhm = Annotated[float, Ge(10), Le(1000), Unit("Ω", scaled=True)]
DeviceWatt = Annotated[float, Ge(0.01), Le(50), Unit("W", scaled=True)]
DeviceHertz = Annotated[float, Ge(1e6), Le(10e9), Unit("Hz", scaled=True)]
DeviceAmpere = Annotated[float, Ge(10e-6), Le(50), Unit("A", scaled=True)]
DeviceFarad = Annotated[float, Ge(1e-15), Le(10e-9), Unit("F", scaled=True)]
DeviceOhm = Annotated[float, Ge(0.01), Le(10e3), Unit("Ω", scaled=True)]
DeviceSiemens = Annotated[float, Ge(1e-4), Le(100), Unit("S", scaled=True)]
DeviceVolt = Annotated[float, Ge(0.1), Le(20), Unit("V", scaled=True)]
EarlyVolt = Annotated[float, Ge(5), Le(1000), Unit("V", scaled=True)]
PowerWatt = Annotated[float, Ge(0.01), Le(1000), Unit("W", scaled=True)]
PowerAmpere = Annotated[float, Ge(1e-3), Le(50), Unit("A", scaled=True)]
PowerOhm = Annotated[float, Ge(0.1), Le(1e4), Unit("Ω", scaled=True)]
LeadOhm = Annotated[float, Ge(0), Le(50), Unit("Ω", scaled=True)]
BreakdownVolt = Annotated[float, Ge(5), Le(2000), Unit("V", scaled=True)]
KelvinPerWatt = Annotated[float, Ge(0.01), Le(1000), Unit("K/W")]
Celsius = Annotated[float, Ge(-40), Le(250), Unit("°C")]
Kilogram = Annotated[float, Ge(1e-4), Le(100), Unit("kg")]
TransformerLoss = Annotated[float, Ge(0), Le(6), Unit("dB")]
DegenerationOhm = Annotated[float, Ge(0), Le(10e3), Unit("Ω", scaled=True)]
ForwardVolt = Annotated[float, Ge(0), Le(0.3), Unit("V", scaled=True)]
InnerOhm = Annotated[float, Ge(50), Le(20e3), Unit("Ω", scaled=True)]
DecibelLoss = Annotated[float, Ge(0), Le(200), Unit("dB")]
Dbc = Annotated[float, Ge(-200), Le(20), Unit("dBc")]
DbcHz = Annotated[float, Ge(-200), Le(0), Unit("dBc/Hz")]
Dbm = Annotated[float, Ge(-200), Le(100), Unit("dBm")]
DbSpl = Annotated[float, Ge(-20), Le(150), Unit("dB SPL")]
Degrees = Annotated[float, Ge(-360), Le(360), Unit("°")]
Ppm = Annotated[float, Ge(0), Le(1e5), Unit("ppm")]
QualityFactor = Annotated[float, Ge(1), Le(1e8), Unit("-")]
Coupling = Annotated[float, Ge(1e-4), Le(0.99), Unit("-")]
StartMargin = Annotated[float, Ge(1.2), Le(20), Unit("-")]
Ratio = Annotated[float, Ge(1e-3), Le(1e6), Unit("-")]
Turns = Annotated[float, Ge(1e-3), Le(1000), Unit("turns")]
Share = Annotated[float, Ge(0), Le(1), Unit("-", per_cent=True)]
Unevenness = Annotated[float, Ge(0), Le(0.3), Unit("-", per_cent=True)]
Fraction = Annotated[float, Ge(1e-3), Le(1), Unit("-", per_cent=True)]
SourceVolt = Annotated[float, Ge(3), Le(60), Unit("V", scaled=True)]
RailVolt = Annotated[float, Ge(1.2), Le(40), Unit("V", scaled=True)]
CoilVolt = Annotated[float, Ge(1), Le(60), Unit("V", scaled=True)]
CoilOhm = Annotated[float, Ge(5), Le(20e3), Unit("Ω", scaled=True)]
FeedAmpere = Annotated[float, Ge(0), Le(100), Unit("A", scaled=True)]
FuseAmpere = Annotated[float, Ge(0.03), Le(40), Unit("A", scaled=True)]
FeedOhm = Annotated[float, Ge(0), Le(100), Unit("Ω", scaled=True)]
FeedMetre = Annotated[float, Ge(0.01), Le(100), Unit("m", scaled=True)]
AmpereHour = Annotated[float, Ge(0.01), Le(1000), Unit("Ah")]
CelsiusAir = Annotated[float, Ge(-40), Le(90), Unit("°C")]
Delay = Annotated[float, Ge(0), Le(10), Unit("s", scaled=True)]
SwitchTime = Annotated[float, Ge(1e-4), Le(1), Unit("s", scaled=True)]


def _printable(text: str) -> str:
    found = STEERING.search(text)
    if found:
        raise ValueError(f"a name cannot hold the invisible character U+{ord(found[0]):04X}; leave it out")
    return text


#: A name that is printed in one line, on paper as in a terminal.
Name = Annotated[str, AfterValidator(_printable)]
#: A type of transistor, of the table of devices or of the builder's own.
TransistorName = Annotated[Name, Field(min_length=1, max_length=24)]
#: A core of the trade by its designation; empty for a coil that is no matter of a core.
CoreName = Annotated[Name, Field(max_length=16)]
BandName = Annotated[Name, AfterValidator(lambda name: _compact(name)), Field(min_length=1, max_length=16)]
_METRES = re.compile(r"\s*(\d+)\s*(c?m)\s*", re.IGNORECASE)


def _compact(name: str) -> str:
    """`20m`, however the space and the letter were typed: one band has one name."""
    match = _METRES.fullmatch(name)
    return f"{match[1]}{match[2].lower()}" if match else name


def spelled(name: str) -> str:
    """A band's name as builders write it: `20 m` for `20m`; other names as they are."""
    match = _METRES.fullmatch(name)
    return f"{match[1]} {match[2].lower()}" if match else name


def stated(default: Any, title: str, help: str, usual: str = "", **limits: Any) -> Any:
    """Declare a field: its name on screen, what it is in a sentence, and what is usual.

    `limits` are for plain numbers and texts. A quantity brings its own: of two limits of the same kind
    pydantic keeps the type's, so a narrower range is a type of its own.
    """
    return Field(default, title=title, description=help, json_schema_extra={"usual": usual}, **limits)


def limits_of(quantity: Any) -> tuple[float, float, str]:
    """Least and largest value of a quantity such as `Farad`, and its unit.

    >>> limits_of(Hertz)
    (1.0, 10000000000.0, 'Hz')
    """
    marks = quantity.__metadata__
    low: Any = next(mark.ge for mark in marks if isinstance(mark, Ge))
    high: Any = next(mark.le for mark in marks if isinstance(mark, Le))
    return float(low), float(high), next(mark.symbol for mark in marks if isinstance(mark, Unit))


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
