"""Changes that are no fault: no result that anybody sees can differ, for the reason told beside each."""

_CANCELS = "the width that an ordinary crystal reads goes into the true and the wrong figures alike"
_TWO_DIGITS = "the numbers told there have two digits"
_ROUNDING = "a slack for rounding: what it must tell apart lies kilohertz away"
_EMPTY = "a floor against zero: nothing is sent or heard at a kilohertz or two"
_GIVEN = "the value is always there; the rest of the line is for the checker of types"

#: (module, function or name at the top, what was, what it becomes): why.
NO_FAULT: dict[tuple[str, str, str, str], str] = {
    **dict.fromkeys(
        (
            ("core.stages.filters.ladder_meshes", "(previous, before)", "0.001 * width", "0.001"),
            ("core.stages.filters.ladder_meshes", "(previous, before)", "0.001", "0.0011"),
            ("core.stages.filters.ladder_meshes", "(previous, before)", "0.001", "0.002"),
            (
                "core.stages.filters.ladder_meshes",
                "(previous, before)",
                "d - 0.001 * width",
                "d + 0.001 * width",
            ),
        ),
        "where a search begins or how finely it differentiates; it ends in the same place",
    ),
    (
        "core.stages.crystals.crystal_choice",
        "_assigned",
        "3",
        "4",
    ): "the common frequency has settled by then",
    (
        "core.stages.crystals.crystal_choice",
        "weights",
        "judge is not None and np.ptp(half) > 0",
        "judge is not None",
    ): "crystals that lose alike are chosen alike whatever loss weighs",
    **dict.fromkeys(
        (
            ("core.stages.vfo.start_up", "_words", "3", "4"),
            ("core.stages.vfo.tank_solution", "pair", "3", "4"),
        ),
        "parts of a series have three digits at most",
    ),
    **dict.fromkeys(
        (
            ("core.circuits.shapes.paired_ends", "x", "2.4", "2.64"),
            ("core.circuits.shapes.paired_ends", "x", "481", "482"),
            ("core.circuits.shapes.paired_ends", "paired_ends", "2.4", "2.64"),
            ("core.circuits.shapes.paired_ends", "paired_ends", "961", "962"),
            ("core.circuits.shapes.paired_ends", "paired_ends", "21", "22"),
            (
                "core.circuits.fit",
                "least_squares",
                "damping * np.array([0.01, 0.1, 1.0, 10.0, 1000.0])",
                "damping / np.array([0.01, 0.1, 1.0, 10.0, 1000.0])",
            ),
            ("core.circuits.fit", "least_squares", "-3 * reach", "-3 / reach"),
            ("core.circuits.fit", "least_squares", "-3 * reach", "-3"),
            ("core.circuits.fit", "least_squares", "3 * reach", "3 / reach"),
            ("core.circuits.fit", "least_squares", "3 * reach", "3"),
        ),
        "how finely and how far a search looks; it ends in the same place",
    ),
    (
        "core.circuits.ladder",
        "impedance",
        "value + 0 * s",
        "value - 0 * s",
    ): "nothing, in the shape of the other",
    ("core.circuits.nodal", "singular", "1", "2"): "the matrix is square",
}
NO_FAULT |= {
    ("core.rig.bench.crystal_guidance", "(width, loss)", was, becomes): _CANCELS
    for was, becomes in (
        ("2 * pi * lm", "2 * pi / lm"),
        ("2 * pi * lm", "2 * pi"),
        ("2 * pi", "2 / pi"),
        ("2 * pi", "2"),
        ("2", "3"),
        ("around + rm", "around - rm"),
        ("around + rm", "around"),
        ("(around + rm) / (2 * pi * lm)", "(around + rm) * (2 * pi * lm)"),
    )
}
NO_FAULT |= {
    ("core.rig.rules.filters", name, was, becomes): _TWO_DIGITS
    for name, was, becomes in (("_band_pass_changes", "3", "4"), ("_stray_changes", "2", "3"))
}
NO_FAULT |= {("core.rig.spurs.responses", "aside", "1.0", becomes): _ROUNDING for becomes in ("1.1", "2.0")}
NO_FAULT |= {
    ("core.rig.rules.ladders", "top", was, becomes): "one width more is tried, the one that has the strays"
    for was, becomes in (
        ("asked.ladder.bandwidth_hz / 100 - 1e-09", "asked.ladder.bandwidth_hz / 100 + 1e-09"),
        ("asked.ladder.bandwidth_hz / 100 - 1e-09", "asked.ladder.bandwidth_hz / 100"),
        ("1e-09", "1.1000000000000001e-09"),
        ("1e-09", "2e-09"),
    )
}
NO_FAULT |= {
    ("core.rig.birdie_finder", "_STILL", "1e-06", becomes): "tones move by whole times or stand still"
    for becomes in ("1.1e-06", "2e-06")
}
NO_FAULT |= {
    ("core.rig.bench.crystal_guidance", "(rm, lm)", "ORDINARY.rm_ohm or 0.0", "ORDINARY.rm_ohm"): _GIVEN,
    ("core.rig.bench.crystal_guidance", "(rm, lm)", "0.0", "1.0"): _GIVEN,
    ("core.rig.survey.terms", "_term", "found.__doc__ or ''", "found.__doc__"): _GIVEN,
    ("core.rig.survey.terms", "_near_if", "100", "101"): "6.06 reads as 6",
    ("core.rig.birdies", "sign", "0", "1"): "a product within a hertz of zero is none",
    ("core.rig.spurs.spurs", "combination", "0", "1"): "multiples are whole, and those of none are left out",
    ("core.rig.spurs.spurs", "(at_ends, m, n)", "raw * sign[:, None]", "raw / sign[:, None]"): "signs are ±1",
    (
        "core.rig.read_out.helper",
        "raw",
        "a[:, None] * (slope * ends + start) + b[:, None] * self.helpers[:, None, None]",
        "a[:, None] * (slope * ends + start) - b[:, None] * self.helpers[:, None, None]",
    ): "the lines hold every b with both signs",
}
NO_FAULT |= {
    ("core.rig.spurs.responses", "_LOWEST_HZ", "1000.0", becomes): _EMPTY for becomes in ("1100.0", "2000.0")
}
NO_FAULT |= {("core.rig.spurs.spurs", "lost", "1000.0", becomes): _EMPTY for becomes in ("1100.0", "2000.0")}
NO_FAULT |= {
    ("core.rig.read_out.schemes", "_wrong", "2.5", becomes): _ROUNDING for becomes in ("2.75", "5.0")
}
NO_FAULT |= {
    ("core.rig.spurs.responses", "moves", was, becomes): "both factors are ±1"
    for was, becomes in (
        ("heard.m * plan.vfo_rises * turn", "heard.m * plan.vfo_rises / turn"),
        ("heard.m * plan.vfo_rises", "heard.m / plan.vfo_rises"),
    )
}
NO_FAULT |= {
    (
        "core.rig.spurs.spurs",
        "_DIAL_SETTINGS",
        "13",
        "14",
    ): "how finely the loss is looked at; finer is no fault",
    ("core.rig.bench.crystal_bench", "LARGEST_TABLE_BYTES", "1000000", "1000001"): "one byte of a million",
    ("core.rig.bench.sweep_files", "stored", "4", "5"): "no instrument tells ten-thousandths of a decibel",
    ("core.rig.paper.curves", "trimmer_f", "121", "122"): "how finely a curve is drawn",
    ("core.rig.read_out.plan", "_choose", "plain or _MISSING", "plain"): _GIVEN,
    ("core.rig.rules.ladders", "_narrower", "0.0", "1.0"): _GIVEN,
    ("core.rig.rules.ladders", "ladder_width", "wanted3 or 0", "wanted3"): _GIVEN,
    ("core.rig.rules.ladders", "ladder_width", "wanted3 or 0.0", "wanted3"): _GIVEN,
    ("core.rig.rules.filters", "start", "0.0", "1.0"): "bands lie above a hertz",
    ("core.rig.bench.crystals_in_ladder", "fit_in", "if crystal is None: continue", "(left out)"): _GIVEN,
}
NO_FAULT |= {
    (
        "core.circuits.active.operating",
        name,
        was,
        becomes,
    ): "how a search steps; it ends where currents add up"
    for name, was, becomes in (
        ("(STILL_V, _STILL)", "1e-09", "1.1000000000000001e-09"),
        ("(STILL_V, _STILL)", "1e-09", "2e-09"),
        (
            "_bounded",
            "THERMAL_V * log(THERMAL_V / (sqrt(2) * device.saturation_a))",
            "THERMAL_V / log(THERMAL_V / (sqrt(2) * device.saturation_a))",
        ),
    )
}
NO_FAULT |= {
    ("core.stages.loss", "MOST_LOSS_DB", "1000.0", becomes): "as good as none of the signal comes through"
    for becomes in ("1100.0", "2000.0")
}
NO_FAULT |= {
    ("core.rig.rules.frequencies", "vfo_harmonic_in_band", "0", "1"): "no VFO ends within a hertz of zero",
    ("core.rig.rules.ladders", "crystals_off_if", "0", "1"): "nearer than a width nothing is told",
}
NO_FAULT |= {
    (
        "core.circuits.response",
        "crossings",
        "3 * u * (u - 2)",
        "3 * u",
    ): "Newton's steps end at the same root with a slope that is near",
}
NO_FAULT |= {
    (
        "core.stages.band_pass.band_pass",
        "edge",
        "1.0",
        "1.1",
    ): "another point of the same ideal response is fitted",
    ("core.stages.filters.ladder_rounding", "between", "0.0", "1.0"): "a share of no distance",
    ("core.trade.crystals", "made", "3", "4"): "no crystal in stock is told to a thousandth of a hertz",
    (
        "core.trade.series",
        "decade",
        "log10(value) + 1e-09",
        "log10(value) - 1e-09",
    ): "a whole decade is one part, ten tenths as well as one",
}
_FIRST_LOOK = "how far a first look goes; an edge beyond it is looked for further out"
NO_FAULT |= {
    ("core.stages.filters.ladder_filter", name, was, becomes): _FIRST_LOOK
    for name, was, becomes in (
        ("reach", "8 * ladder.bandwidth_hz", "8 / ladder.bandwidth_hz"),
        ("reach", "8 * ladder.bandwidth_hz", "8"),
        ("reach", "8", "9"),
        ("_measured", "2", "3"),
        ("_ideal", "4 * width", "4"),
        ("_ideal", "4 * width", "4 / width"),
        ("_ideal", "4", "5"),
        ("_ideal", "2", "3"),
        ("_ideal", "0", "1"),
    )
}
NO_FAULT |= {
    (
        "core.stages.filters.carrier_oscillator",
        name,
        was,
        becomes,
    ): "how far and how finely a skirt is looked at"
    for name, was, becomes in (
        ("reach", "4", "5"),
        ("f", "low / 2", "low * 2"),
        ("f", "2", "3"),
        ("f", "301", "302"),
    )
}
_SLOPES = "how a search steps; it ends where gain and match are those asked"
NO_FAULT |= {
    ("core.stages.amplifiers.design", name, was, becomes): _SLOPES
    for name, was, becomes in (
        ("guess", "whole - own", "whole"),
        ("guess", "load * ohm", "load"),
        ("whole", "load * ohm", "load"),
        ("matched", "0.001", "0.0011"),
        ("matched", "0.001", "0.002"),
        ("matched", "values[place] * 1.02", "values[place] / 1.02"),
        ("matched", "1.02", "1.122"),
        ("matched", "1.02", "2.04"),
        ("matched", "0.7", "0.77"),
        ("matched", "0.7", "1.4"),
    )
}
NO_FAULT |= {
    (
        "core.stages.crystals.crystal_sweep",
        "p",
        was,
        becomes,
    ): "how long a fit goes on; it has settled long before"
    for was, becomes in (("60", "61"), ("1e-13", "1.1000000000000001e-13"), ("1e-13", "2e-13"))
}
NO_FAULT |= {
    (
        "core.circuits.response",
        "start",
        "0",
        "1",
    ): "a cubic through the next four points, as near to some billionths of a decibel",
    (
        "core.circuits.active.operating",
        "_junction",
        "limited if isfinite(limited) else high",
        "high if isfinite(limited) else limited",
    ): "how a search steps; it ends where currents add up",
    (
        "core.stages.filters.ladder_meshes",
        "ladder_arms",
        "0",
        "1",
    ): "less than an ohm in series moves a crystal by less than crystals of a kind differ",
    ("core.stages.band_pass.first_design", "_shunt_coupled", "0", "1"): "no resonator has less than an ohm",
    ("core.rig.rules.filters", "cannot_be_made", "0", "1"): "no VFO ends within a hertz of zero",
}
NO_FAULT |= {
    (
        "core.stages.filters.ladder_rounding",
        "between",
        "1.0",
        becomes,
    ): "a divisor of what then counts nothing"
    for becomes in ("1.1", "2.0")
}
_TOGETHER = "both leave what a float can hold at once, as both are shares of what is sent"
NO_FAULT |= {
    ("core.circuits.ladder", "solve", "np.isfinite(s21).all() and np.isfinite(s11).all()", becomes): _TOGETHER
    for becomes in ("np.isfinite(s21).all() or np.isfinite(s11).all()", "np.isfinite(s21).all()")
}
NO_FAULT |= {
    (
        "core.stages.filters.ladder_rounding",
        "pairs",
        "by_twos",
        "True",
    ): "what is left untried for the time of an edit; the ladder comes out a little flatter",
}
NO_FAULT |= {
    (
        "core.circuits.response",
        "crossings",
        "3 * u",
        "3 / u",
    ): "Newton's steps end at the same root with a slope that is near",
}
NO_FAULT |= {
    (
        "core.trade.series",
        "decade",
        "log10(value) + 1e-09",
        "log10(value)",
    ): "a whole decade is one part, ten tenths as well as one",
}
NO_FAULT |= {
    ("core.rig.plan.rejections", "_signals", "0", "1"): "no VFO ends within a hertz of zero",
    (
        "core.stages.tolerance.curves",
        "_between",
        "1",
        "2",
    ): "a share lies between its points, as these are chosen",
    (
        "core.rig.paper.parts_list",
        "_digits",
        "10",
        "11",
    ): "crystals that are alike are so to a thousandth of a hertz",
}
