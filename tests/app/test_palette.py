"""The colours: readable in both themes, and told apart by colour-blind eyes."""

from dataclasses import fields
from itertools import combinations

import numpy as np
import pytest

from app.style import palette
from app.style.palette import DARK, LIGHT

# G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, IEEE Trans. Vis. Comput. Graph. 15 (2009) 1291,
# full severity, on linear RGB (values from memory).
_PROTAN = np.array(
    [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
)
_DEUTAN = np.array(
    [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
)


def linear(color):
    rgb = np.array([int(color[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)


def contrast(one, other):
    """Contrast ratio by WCAG 2.2."""
    light, dark = sorted((linear(c) @ [0.2126, 0.7152, 0.0722] for c in (one, other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def lab(rgb):
    xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]) @ rgb
    f = np.cbrt(np.clip(xyz / [0.9505, 1.0, 1.089], 1e-4, None))
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("roles", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize(
    ("text", "grounds"),
    [
        ("ink", ("paper", "sheet", "grid")),
        ("soft", ("paper", "sheet")),
        ("on_copper", ("copper",)),
        ("copper_text", ("paper", "sheet")),
        ("on_board", ("board",)),
        ("fault", ("paper", "sheet")),
        ("caution", ("paper", "sheet")),
        ("note", ("paper", "sheet")),
        ("dial", ("paper",)),
        ("vfo", ("paper", "sheet")),
        ("carrier", ("paper", "sheet")),
        ("intermediate", ("paper", "sheet")),
    ],
)
def test_text_can_be_read(roles, text, grounds):
    for ground in grounds:
        assert contrast(getattr(roles, text), getattr(roles, ground)) >= 4.5, ground


@pytest.mark.parametrize("roles", [LIGHT, DARK], ids=["light", "dark"])
def test_curves_stand_out_from_the_paper(roles):
    for role in ("spur", "image", "signal", "strong", "band_noise", "own_noise", "overload", "curve", "held"):
        assert contrast(getattr(roles, role), roles.sheet) >= 3, role


@pytest.mark.parametrize("roles", [LIGHT, DARK], ids=["light", "dark"])
def test_a_shade_is_seen_on_paper_and_its_curve_on_it(roles):
    assert contrast(roles.scatter, roles.sheet) >= 1.3
    assert contrast(roles.curve, roles.scatter) >= 3
    assert contrast(roles.second_curve, roles.scatter) >= 3


@pytest.mark.parametrize("roles", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("eyes", [np.eye(3), _PROTAN, _DEUTAN], ids=["common", "protan", "deutan"])
def test_what_stands_together_is_told_apart(roles, eyes):
    together = (
        ("dial", "vfo", "intermediate", "image"),
        ("overload", "strong", "signal", "band_noise", "own_noise"),
        ("curve", "second_curve", "held"),
        ("vfo", "carrier", "dial"),
    )
    for group in together:
        for one, other in combinations(group, 2):
            seen = [lab(np.clip(eyes @ linear(getattr(roles, role)), 0, 1)) for role in (one, other)]
            assert np.linalg.norm(seen[0] - seen[1]) > 11, (one, other)


def test_pens_and_brushes_are_made_once(qapp):
    assert palette.pen("vfo") is palette.pen("vfo")
    assert palette.pen("held", dashed=True) is not palette.pen("held")
    assert palette.brush("sheet") is palette.brush("sheet")
    for role in fields(LIGHT):
        assert palette.color(role.name).isValid()
