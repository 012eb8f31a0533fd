"""Figures of the rows of the IF survey and of what meets what there."""

from core.model.bands import SCHEME_WORDS
from core.rig.figures.figure import Figure, Table, band_label, label
from core.rig.figures.products import PRODUCTS
from core.rig.survey.if_survey import SurveyRow
from core.rig.survey.options import Product

CROSSINGS: Table[Product] = (
    band_label(lambda p: p.band),
    label("products", "products", lambda p: p.products),
    Figure(
        key="order",
        title="order",
        what="The sum of both multiples: the higher, the weaker.",
        source=PRODUCTS,
        get=lambda p: p.order,
        unit="-",
    ),
    Figure(
        key="dial_hz",
        title="dial",
        what="Where on the dial it meets the wanted signal.",
        source=PRODUCTS,
        get=lambda p: p.dial_hz,
        unit="Hz",
        places=3,
        prefix="M",
    ),
)

SURVEY: Table[SurveyRow] = (
    Figure(
        key="cost",
        title="cost",
        what="The sum of all terms' points: the less the better.",
        source="the survey's terms; weights are common practice, no source",
        get=lambda r: r.cost,
        unit="-",
        places=1,
    ),
    Figure(
        key="if_hz",
        title="IF",
        what="The crystals' frequency.",
        source="crystals in stock and on hand",
        get=lambda r: r.if_hz,
        unit="Hz",
        digits=9,
        listed=False,
    ),
    label("crystal", "crystal", lambda r: r.crystal),
    label(
        "schemes",
        "schemes",
        lambda r: tuple(r.schemes),
        joint=", ",
        words=SCHEME_WORDS.__getitem__,
    ),
    Figure(
        key="vfo",
        keys=("vfo_low_hz", "vfo_high_hz"),
        title="VFO",
        what="From the lowest to the highest VFO frequency over all bands.",
        source="mixing arithmetic with the carrier at the crystal's frequency",
        get=lambda r: (r.vfo_low_hz, r.vfo_high_hz),
        unit="Hz",
        places=3,
        prefix="M",
    ),
    Figure(
        key="vfo_ratio",
        title="VFO ratio",
        what="Highest over lowest VFO frequency.",
        source="mixing arithmetic with the carrier at the crystal's frequency",
        get=lambda r: r.vfo_ratio,
        unit="-",
        places=2,
        listed=False,
    ),
    Figure(
        key="lowest_crossing_order",
        title="first crossing, order",
        what="Order of the lowest product that meets the signal.",
        source=PRODUCTS,
        get=lambda r: r.lowest_crossing_order,
        unit="-",
        absent="none",
    ),
    Figure(
        key="image_distance_hz",
        title="image away",
        what="Least distance of the image from the dial.",
        source="mixing arithmetic with the carrier at the crystal's frequency",
        get=lambda r: r.image_distance_hz,
        unit="Hz",
        listed=False,
    ),
    Figure(
        key="sidebands_agree",
        title="one carrier",
        what="Whether one carrier serves all bands.",
        source="the sidebands at the IF",
        get=lambda r: r.sidebands_agree,
        listed=False,
    ),
    Figure(
        key="in_junk_box",
        title="on hand",
        what="Whether the crystal lies in the junk box.",
        source="the junk box",
        get=lambda r: r.in_junk_box,
        listed=False,
    ),
    Figure(
        key="impossible",
        title="impossible",
        what="Why such crystals cannot make the ladder.",
        source="the greatest width that C0 allows",
        get=lambda r: r.impossible,
        listed=False,
    ),
    Figure(
        key="worth_building",
        title="worth building",
        what="Whether nothing spoils the row and its cost is bearable.",
        source="the survey's terms; weights are common practice, no source",
        get=lambda r: r.worth_building,
        listed=False,
    ),
)
