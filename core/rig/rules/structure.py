"""Rules on what a rig must consist of."""

from collections.abc import Iterator

from core.model.stages.stage import Way
from core.rig.analysis import Analysis
from core.rig.bench import crystal_bench
from core.rig.findings import COMMON_PRACTICE, Finding, rule
from core.rig.levels.oscillator_drive import BEHIND, DRIVERS
from core.stages.kinds.kind import Role
from core.stages.kinds.table import kind_of

_WAYS: tuple[Way, ...] = ("receive", "transmit")


@rule
def mixers_missing(analysis: Analysis) -> Iterator[Finding]:
    """Both directions need a mixer driven by the VFO and one driven by the carrier."""
    wanted = {"vfo": "a mixer driven by the VFO", "carrier": "a mixer driven by the carrier oscillator"}
    for way in _WAYS:
        path = analysis.project.path(way)
        if not path:
            continue
        driven = {kind_of(stage).driver(stage) for stage in path}
        for oscillator, words in wanted.items():
            if oscillator not in driven:
                yield Finding(
                    severity="fault",
                    rule="mixer_missing",
                    subject=f"{oscillator}, {way}",
                    path=("stages",),
                    words=f"The {way} path has no {words.removeprefix('a ')}.",
                    remedy=f"Insert {words} where the signal changes frequency.",
                    source=COMMON_PRACTICE,
                )


@rule
def behind_an_oscillator(analysis: Analysis) -> Iterator[Finding]:
    """Only amplifiers and pads can stand between an oscillator and its mixers."""
    for stage in analysis.project.stages:
        if stage.in_path and stage.direction in DRIVERS and kind_of(stage).role not in BEHIND:
            oscillator = "VFO" if stage.direction == "vfo" else "carrier oscillator"
            yield Finding(
                severity="caution",
                rule="behind_oscillator",
                stage=stage.id,
                path=("stages", stage.id, "direction"),
                words=f"{stage.name} is set to work behind the {oscillator} and cannot stand there.",
                remedy="Let it work in receive, transmit or both; amplifiers and pads go behind oscillators.",
                source=COMMON_PRACTICE,
            )


@rule
def ladder_missing(analysis: Analysis) -> Iterator[Finding]:
    """A single-conversion SSB rig gets its selectivity and its sideband from the ladder."""
    if analysis.ladder is None:
        yield Finding(
            severity="fault",
            rule="ladder_missing",
            path=("stages",),
            words="No ladder filter is in the path, so both sidebands pass.",
            remedy="Insert a ladder filter between the two mixers.",
            source=COMMON_PRACTICE,
        )


@rule
def front_filter_missing(analysis: Analysis) -> Iterator[Finding]:
    """Every band needs a band-pass in both directions, and a low-pass behind a power amplifier."""
    for band in analysis.project.bands:
        for way in _WAYS:
            path = analysis.project.path(way)
            roles = {kind_of(stage).role for stage in path}
            wanted: list[tuple[Role, str]] = [("band_pass", "band-pass")] if path else []
            if way == "transmit" and "power_amplifier" in roles:
                wanted.append(("low_pass", "low-pass"))
            for role, words in wanted:
                if role not in roles:
                    yield Finding(
                        severity="fault",
                        rule="front_filter_missing",
                        band=band.name,
                        subject=f"{words}, {way}",
                        path=("stages",),
                        words=f"The {way} path has no {words} stage on {band.name}.",
                        remedy=f"Insert a {words}, or let one work in {way} too.",
                        source=COMMON_PRACTICE,
                    )


@rule
def band_not_served(analysis: Analysis) -> Iterator[Finding]:
    """A filter stage in the path must have a filter for every band."""
    for stage in analysis.project.stages:
        making = kind_of(stage).making
        if making is None or making.fresh is None or not stage.in_path:
            continue
        served = [name for each in stage.members for name in each.bands or ()]
        for band in analysis.project.bands:
            count = served.count(band.name)
            if count == 1:
                continue
            yield Finding(
                severity="fault" if count == 0 else "caution",
                rule="band_without_filter" if count == 0 else "band_with_two_filters",
                stage=stage.id,
                band=band.name,
                path=("stages", stage.id, "filters"),
                words=(
                    f"{stage.name} has no filter for {band.name}; the signal is taken to pass without loss."
                    if count == 0
                    else f"{stage.name} has {count} filters for {band.name}; the first is used."
                ),
                remedy=(
                    f"Add a filter for {band.name} or tick the band on one that fits."
                    if count == 0
                    else f"Untick {band.name} on all but one."
                ),
                source=COMMON_PRACTICE,
            )


@rule
def safety(analysis: Analysis) -> Iterator[Finding]:
    """The usual cautions for anything that transmits."""
    if any(kind_of(stage).role == "power_amplifier" for stage in analysis.project.path("transmit")):
        yield Finding(
            severity="note",
            rule="dummy_load_first",
            path=("station", "power_w"),
            words=(
                "Transmit into a dummy load until the spectrum has been checked, and on the air only with a "
                "licence; RF burns, and heat sinks run hot."
            ),
            remedy="Local rules and licensed practice decide; the limits shown here are a guide.",
            source=COMMON_PRACTICE,
        )


@rule
def sweeps_not_imported(analysis: Analysis) -> Iterator[Finding]:
    """Readings that name sweeps which are not in the project, where alone they are looked for."""
    batch = analysis.project.crystal_batch
    if batch.method != "sweep":
        return
    stored = {sweep.label for sweep in batch.sweeps}
    missing = [name for name in crystal_bench.sweep_names(batch.readings) if name not in stored]
    if not missing:
        return
    more = f" and {len(missing) - 3} more" if len(missing) > 3 else ""
    are = "sweep is" if len(missing) == 1 else "sweeps are"
    yield Finding(
        severity="caution",
        rule="sweeps_not_imported",
        stage="crystal_batch",
        path=("crystal_batch", "readings"),
        words=f"The readings' {are} not in this project: {', '.join(missing[:3])}{more}.",
        remedy="Bring them in on the page Crystals with “Import sweeps…”; their crystals are "
        "unknown until then.",
        source="a project is computed from its own file alone",
    )
