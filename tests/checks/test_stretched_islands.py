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


@pytest.mark.parametrize(
    ("wide", "high", "told"), [(32, 32, True), (32, 31.9, False), (128, 16.1, True), (128, 15.9, False)]
)
def test_a_small_island_stretched_as_a_whole_is_noted(wide: float, high: float, told: bool) -> None:
    # Over twice as wide a surface as its texels are, beside 800 x 800 even ones: 2 x 1024 of 642,048 is 0.3 % of the surface.
    small = sheet(10, 10, 10 + wide, 10 + high, metres=(2 * wide / 512, high / 512))
    thing = laid(small, sheet(200, 200, 1000, 1000))
    found = findings(CHECK, thing, share=0.05, largest_ratio=1.5, whole_texels=1024)
    assert bool(found) is told
    if told:
        (one,) = found
        assert (one.level, one.place.islands, one.measured) == ("note", (1,), pytest.approx(2.0))
    assert findings(CHECK, thing, share=0.05, largest_ratio=1.5) == []


@pytest.mark.parametrize(("columns", "told"), [([0.25, 0.125], True), ([0.25, 0.125, 0.125], False)])
def test_both_sides_of_most_of_an_island(columns: list[float], told: bool) -> None:
    # Columns of 64 x 64 texels, 0.125 m high: the first is twice as wide on the surface, the others are square. Two thirds of
    # the surface are stretched, or half.
    island = sheet(10, 10, 10 + 64 * len(columns), 74, cells=(len(columns), 1), metres=(1.0, 0.125))
    island.points[:, 0] = np.tile(np.cumsum([0.0, *columns]), 2)
    found = findings(CHECK, laid(island, sheet(300, 300, 1000, 1000)), share=0.05, largest_ratio=1.5, whole_texels=1024)
    assert bool(found) is told
