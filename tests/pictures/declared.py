"""That a figure says what it is."""

from core.rig.figures.figure import Figure

UNITS = {"Hz", "dB", "dBm", "dBc", "dB SPL", "Ω", "S", "F", "H", "V", "A", "W", "s", "-", "Hz/K", "ppm/K"}


def declared(figure: Figure) -> None:
    assert figure.title
    assert figure.what[0].isupper()
    assert figure.what.endswith(".")
    assert len(figure.source) > 8
    assert not figure.source.endswith(".")
    assert figure.unit in UNITS | {""}
    assert (figure.digits > 0) if figure.places is None else (0 <= figure.places <= 6)
    # A prefix belongs to fixed decimals: engineering notation finds its own.
    assert not figure.prefix or figure.places is not None
