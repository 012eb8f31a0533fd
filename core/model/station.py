"""What surrounds the rig: antenna, noise, the power and purity wanted."""

from typing import Literal

from core.model.values.base import Model
from core.model.values.quantities import Decibel, DecibelLoss, RippleVolt, Volt, Watt, stated

#: Environments of ITU-R P.372 for man-made noise.
Environment = Literal["city", "residential", "rural", "quiet_rural"]


class Station(Model):
    """The place and the antenna, and what the builder wants from the rig there."""

    environment: Environment = stated("rural", "Site noise", "Man-made noise category of ITU-R P.372.")
    antenna_loss_db: DecibelLoss = stated(
        0.0,
        "Antenna loss",
        "Loss of antenna and feeder against a lossless antenna, taken off the band noise.",
        "0 to 3 dB for a half-wave outdoors, 10 dB or more indoors",
    )
    noise_margin_db: Decibel = stated(
        6.0,
        "Margin over own noise",
        "How far band noise should exceed the receiver's own noise.",
        "6 to 10 dB",
    )
    strongest_over_s9_db: DecibelLoss = stated(
        40.0,
        "Strongest station",
        "How far over S9 a station may be that no stage is to compress on.",
        "40 dB; 60 dB beside a broadcast station",
    )
    power_w: Watt = stated(5.0, "Power", "Peak envelope power wanted at the antenna.", "5 to 10 W")
    harmonic_limit_db: DecibelLoss = stated(
        43.0,
        "Spurious limit",
        "How far below the carrier every spurious emission must be; local rules decide.",
        "43 dB by 47 CFR 97.307(d)",
    )
    stray_isolation_db: DecibelLoss = stated(
        60.0,
        "Isolation in the box",
        "From the last to the first of the stages that work at one frequency, by way of wiring, supply and "
        "air; an assumption until measured.",
        "40 dB on an open board, 60 dB with care, 80 dB screened",
    )
    supply_v: Volt = stated(13.8, "Supply", "Nominal supply voltage.", "12 to 13.8 V")
    ripple_v: RippleVolt = stated(
        2e-3,
        "Ripple of the supply",
        "Hum on the supply's voltage at twice the mains' frequency, effective value; zero for a battery.",
        "1 to 5 mV of a regulated supply, 0.1 V or more without a regulator",
    )
