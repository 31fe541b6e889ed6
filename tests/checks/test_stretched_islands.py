"""Stretch by the share of surface, by L2 and by the worst triangle."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.support.laid_props import collapsed, laid, sheet
from tests.support.mesh_props import facts_of, findings

CHECK = "stretched-islands"


def pulled(ratio: float, x0: float = 100) -> object:
    """100 x 100 texels over a surface `ratio` times as wide as high, of 0.2 m height."""
    return sheet(x0, 100, x0 + 100, 200, metres=(0.2 * ratio, 0.2))


@pytest.mark.parametrize(("ratio", "told"), [(1.0, False), (1.999, False), (2.0, False), (2.001, True)])
def test_both_sides_of_the_ratio(ratio: float, told: bool) -> None:
    found = findings(CHECK, laid(pulled(ratio)), largest_ratio=2.0)
    assert bool(found) is told
    if told:
        assert (found[0].measured, found[0].wanted, found[0].place.islands) == (1.0, 0.0, (1,))


@pytest.mark.parametrize(("share", "told"), [(0.7499, True), (0.75, False), (0.7501, False)])
def test_both_sides_of_the_share(share: float, told: bool) -> None:
    # 0.6 m x 0.2 m pulled three to one beside 0.2 m x 0.2 m that is not: three quarters of the surface
    found = findings(CHECK, laid(pulled(3.0), pulled(1.0, 300)), largest_ratio=2.0, share=share)
    assert bool(found) is told
    if told:
        assert found[0].measured == 0.75 and "75 % of the surface" in found[0].message
        assert found[0].place.islands == (1,)


def test_it_is_taken_in_texels_of_a_map_that_is_not_square() -> None:
    even_in_uv = sheet(0, 0, 1024, 1024, metres=(1.0, 1.0))
    assert findings(CHECK, laid(even_in_uv)) == []
    (found,) = findings(CHECK, laid(even_in_uv, size=(2048, 1024)), largest_ratio=1.99)
    assert found.measured == 1.0
    assert findings(CHECK, laid(even_in_uv, size=(2048, 1024)), largest_ratio=2.0) == []


def test_a_few_broken_triangles_do_not_condemn_an_island() -> None:
    strip = sheet(100, 100, 900, 200, cells=(100, 1))
    strip.uv[50, 0] = strip.uv[51, 0] - 1e-6  # two triangles, a hundredth of the surface, a thousand to one
    facts = facts_of(laid(strip), "unfolding")
    assert facts.islands is not None and facts.islands.stretch_ratio[0] > 20  # what the mean makes of it
    assert findings(CHECK, laid(strip), largest_ratio=2.0, share=0.03) == []


def test_triangles_without_area_are_left_to_the_other_check() -> None:
    assert findings(CHECK, laid(sheet(500, 500, 900, 900), collapsed(sheet(300, 100, 400, 200)))) == []


def test_both_sides_of_l2_and_worst() -> None:
    # Axes s1 = 2 and s2 = 1 of one linear map, scaled to area: L2 = sqrt((s1^2 + s2^2) / 2) / sqrt(s1 s2), Sander et al.
    l2, worst = math.sqrt(2.5 / 2.0), 2.0 / math.sqrt(2.0)
    for name, value in (("l2", l2), ("worst", worst)):
        assert findings(CHECK, laid(pulled(2.0)), largest_ratio=9, **{name: value + 0.001}) == []
        (found,) = findings(CHECK, laid(pulled(2.0)), largest_ratio=9, **{name: value - 0.001})
        assert found.measured == pytest.approx(value, abs=1e-5)


def test_moving_and_turning_the_layout_changes_nothing() -> None:
    base = facts_of(laid(pulled(3.0)), "unfolding")
    for turn in (30.0, 90.0, 211.0):
        turned = facts_of(laid(sheet(100, 100, 200, 200, metres=(0.6, 0.2), turn=turn)), "unfolding")
        for limit in (2.99, 3.01):
            got, want = (f.unfolding.stretched_surface(limit) for f in (turned, base))
            np.testing.assert_allclose(got, want, rtol=1e-9)
