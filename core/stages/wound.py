"""What a builder winds, and what it then is."""

from core.model.values.notation import format_value
from core.record import record


@record(kw_only=True)
class Wound:
    """A coil as it is wound.

    `turns` are whole on a core; `inductance_h` [H] is what they give, `error` how far that is from what is
    wanted [-], `range_h` what spreading and squeezing the turns makes of it. `filled` is the share of the
    window or length taken [-], `wire_m` the copper's diameter and `thickest_m` the thickest that fits [m],
    `length_m` of wire with both leads [m]. `quality` at the frequency asked, and `self_resonance_hz`, are
    estimates; `ppm` per kelvin. `flux_t` and `most_flux_t` [T] are None without a voltage, or in air;
    `size_m` are diameter and length [m] of a coil in air, None on a core.
    """

    on: str
    turns: int
    inductance_h: float
    error: float
    range_h: tuple[float, float]
    filled: float
    wire_m: float
    thickest_m: float
    length_m: float
    quality: float
    self_resonance_hz: float
    ppm: float
    flux_t: float | None = None
    most_flux_t: float | None = None
    size_m: tuple[float, float] | None = None

    @property
    def saturates(self) -> bool:
        """Whether the core gets more flux than keeps it cool."""
        return self.flux_t is not None and self.most_flux_t is not None and self.flux_t > self.most_flux_t

    def nearest_h(self, wanted_h: float) -> float:
        """What squeezing or spreading the turns makes of it that is nearest to `wanted_h` [H]."""
        low, high = self.range_h
        return min(max(wanted_h, low), high)

    @property
    def note(self) -> str:
        """How it is wound, for a parts list."""
        return (
            f"{self.turns} turns on {self.on}, {1e3 * self.wire_m:g} mm wire, "
            f"{format_value(self.length_m, 'm', 2)} with leads"
        )
