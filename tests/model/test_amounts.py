"""Amounts as people read them: the unit in its number, the bound in words, and nothing that differs shown as the same."""

from __future__ import annotations

import pytest

from tidegate import checks
from tidegate.model.amounts import amount, bound_of, figures, one_or_many, with_unit


@pytest.mark.parametrize(
    ("value", "unit", "says"),
    [
        (1, "islands", "1 island"),
        (2, "islands", "2 islands"),
        (0, "islands", "0 islands"),
        (1, "UV layers", "1 UV layer"),
        (1, "vertices", "1 vertex"),
        (12400, "triangles", "12,400 triangles"),
        (1.0, "texels", "1 texel"),
        (1.5, "texels", "1.5 texels"),
        (1, "degrees", "1 degree"),
        (0.025, "share", "2.5 %"),
        (1, "share", "100 %"),
        (1.8, "ratio", "1.8 to 1"),
        (0.012, "m", "12 mm"),
        (1.8, "m", "1.8 m"),
        (1, "times", "1 times"),
        (1, "metalness", "1 metalness"),
        (8, "bits", "8 bits a channel"),
        (1.25, "vertices/triangle", "1.25 vertices a triangle"),
        (0.3, "certainty", "0.3 of 1"),
        (512, "px/m", "512 px/m"),
        (3, "", "3"),
        ("1001, 1002", "UDIM", "tile 1001, 1002"),
        ("0.1 to 3", "m", "0.1 to 3 m"),
        ("none", "texels", "none"),
    ],
)
def test_an_amount_in_words(value: float | str, unit: str, says: str) -> None:
    assert amount(value, unit) == says


def test_what_was_found_beyond_an_end_names_that_end() -> None:
    assert bound_of(12, 10) == "at most"
    assert bound_of(9.5, 10) == "at least"
    assert bound_of(9.5, 10, exact=True) == bound_of(12, 10, exact=True) == "about"
    assert bound_of(10, 10) == bound_of("none", 10) == bound_of(10, None) == bound_of(3, "three") == ""


@pytest.mark.parametrize(
    ("measured", "wanted", "unit", "bound", "says"),
    [
        (1, 0, "islands", "at most", "measured 1 island, wanted none"),
        (12.5, 10, "degrees", "at most", "measured 12.5 degrees, wanted at most 10 degrees"),
        (1, 4, "texels", "at least", "measured 1 texel, wanted at least 4 texels"),
        (300.0, 512.0, "px/m", "about", "measured 300 px/m, wanted about 512 px/m"),
        ("none", "a mesh file", "", "", "measured none, wanted a mesh file"),
        (None, "furniture_crate.glb", "", "", "wanted furniture_crate.glb"),
        (None, None, "", "", ""),
        # 1.004 m and 1.0 m are both "1 m" in three digits
        (1.004, 1.0, "m", "at most", "measured 1.004 m, wanted at most 1 m"),
        (0.020004, 0.02, "share", "at most", "measured 2.0004 %, wanted at most 2 %"),
    ],
)
def test_figures(measured: float | str | None, wanted: float | str | None, unit: str, bound: str, says: str) -> None:
    assert figures(measured, wanted, unit, bound) == says


def test_a_limit_is_shown_in_the_form_in_which_rule_files_state_it() -> None:
    assert with_unit(0.02, "share") == "0.02 share"
    assert with_unit(1, "islands") == "1 island"
    assert with_unit(3, "") == "3"


def test_every_unit_of_a_limit_has_a_singular_that_is_a_word() -> None:
    units = {limit.unit for name in checks.names() for limit in checks.get(name).limits if limit.unit}
    ones = {one_or_many(1, unit) for unit in units}
    assert not {one for one in ones if one.endswith("s") and not one.endswith("ss") and one not in ("times", "bits")}
    assert {"vertex", "degree", "texel", "UV layer"} <= ones
