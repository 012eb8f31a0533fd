"""`copperclad survey` and `new`: which IF, and the rig that begins with it."""

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from app.commands.terminal import DONE, say, say_json
from app.commands.typed import quantity
from core.model.bands import Band
from core.model.values.errors import DesignError
from core.model.values.quantities import Hertz, spelled


def add(commands: Any) -> None:
    """Tell the command line of these commands."""
    survey = commands.add_parser("survey", help="rank crystals and mixing schemes for some bands")
    survey.add_argument(
        "--bands", nargs="+", required=True, metavar="BAND", help="20m 12m, or 20m:14.1MHz-14.35MHz"
    )
    survey.add_argument("--max-vfo", metavar="F", help="highest VFO frequency, e.g. 8MHz")
    survey.add_argument("--order", type=int, default=9, help="highest order of products looked at (2 to 15)")
    survey.add_argument("--json", action="store_true")
    survey.set_defaults(run=_survey)

    new = commands.add_parser("new", help="write the rig of the best survey row")
    new.add_argument("--bands", nargs="+", required=True, metavar="BAND")
    new.add_argument("--crystal", metavar="F", help="the best row with this crystal, e.g. 19.6608MHz")
    new.add_argument("-o", "--output", type=Path, required=True, metavar="FILE.json")
    new.set_defaults(run=_new)


def _survey(options: argparse.Namespace) -> int:
    from core.rig.paper.report import survey_report, survey_text
    from core.rig.survey.if_survey import survey
    from core.trade.crystals import stock

    if not 2 <= options.order <= 15:
        raise DesignError(f"An order of {options.order} cannot be surveyed; give one from 2 to 15.")
    most = None if options.max_vfo is None else quantity(options.max_vfo, "--max-vfo", Hertz)
    crystals = [each.frequency_hz for each in stock()]
    rows = survey(_bands(options.bands), crystals, order=options.order, max_vfo_hz=most)
    if options.json:
        say_json(survey_report(rows))
    elif rows:
        say(survey_text(rows))
    else:
        say("No crystal in stock gives these bands a VFO within the limits; raise --max-vfo or change bands.")
    return DONE


def _new(options: argparse.Namespace) -> int:
    from core.model.files import save
    from core.rig.start.new_rig import new_rig
    from core.rig.survey.if_survey import survey, verdict
    from core.trade.crystals import stock

    bands = _bands(options.bands)
    crystals = [each.frequency_hz for each in stock()]
    if options.crystal is not None:
        crystals = [quantity(options.crystal, "--crystal", Hertz)]
    rows = survey(bands, crystals)
    if not rows:
        what = f"a crystal of {options.crystal}" if options.crystal else "any crystal in stock"
        raise DesignError(
            f"No mixing scheme gives these bands a usable VFO with {what}; choose another crystal."
        )
    advice = verdict(rows)
    if advice is not None:
        say(advice)
    best = rows[0]
    schemed = [band.edited(("scheme",), scheme) for band, scheme in zip(bands, best.schemes, strict=True)]
    save(
        new_rig(schemed, best.if_hz, f"Rig for {', '.join(spelled(band.name) for band in bands)}"),
        options.output,
    )
    say(f"{options.output}: IF {best.crystal}, {'; '.join(best.reasons)}.")
    return DONE


def _bands(names: Sequence[str]) -> tuple[Band, ...]:
    """Bands by name, on their phone segments, or with edges of one's own: `20m:14.1MHz-14.35MHz`.

    With edges the name may be any.
    """
    from core.trade.allocations import allocation, allocations, usual_sideband

    bands: list[Band] = []
    for text in names:
        name, _, edges = text.partition(":")
        known = allocation(name)
        if edges:
            ends = edges.split("-")
            if len(ends) != 2:
                raise DesignError(f"“{text}” is no band with edges; write it like 20m:14.1MHz-14.35MHz.")
            low, high = (quantity(end, name, Hertz) for end in ends)
        elif known is not None:
            low, high = known.phone_hz
        else:
            every = ", ".join(each.band for each in allocations())
            raise DesignError(
                f"There is no band {name}; the bands are {every}. Another one takes edges, like "
                f"{name}:50.1MHz-50.5MHz."
            )
        sideband = usual_sideband(low) if known is None else known.sideband
        if any(band.name == name for band in bands):
            raise DesignError(f"The band {name} stands twice; name each band once.")
        bands.append(Band.checked(name=name, low_hz=low, high_hz=high, sideband=sideband))
    if len(bands) > 4:
        raise DesignError(f"A rig has at most four bands; leave out {len(bands) - 4}.")
    return tuple(bands)
