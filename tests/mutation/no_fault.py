"""Changes that are no fault: no result that anybody sees can differ, for the reason told beside each."""

#: (module, function or name at the top, what was, what it becomes): why.
NO_FAULT: dict[tuple[str, str, str, str], str] = {
    **dict.fromkeys(
        (
            ("core.stages.crystals.crystal_sweep", "(p, step, damping)", "1e-06", "1.1e-06"),
            ("core.stages.crystals.crystal_sweep", "(p, step, damping)", "1e-06", "2e-06"),
            ("core.stages.crystals.crystal_sweep", "(p, step, damping)", "0.001", "0.0011"),
            ("core.stages.crystals.crystal_sweep", "(p, step, damping)", "0.001", "0.002"),
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
        (("core.stages.vfo.start_up", "_words", "3", "4"), ("core.stages.vfo.tank_design", "pair", "3", "4")),
        "parts of a series have three digits at most",
    ),
}
