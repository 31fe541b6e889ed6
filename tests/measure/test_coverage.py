"""Texels covered and shared: worked counts, and Shapely's exact areas as the map grows."""

from __future__ import annotations

import pytest
from shapely.geometry import Polygon

from tests.support.laid_props import Sheet, collapsed, laid, sheet
from tests.support.mesh_props import facts_of
from tidegate.measure.coverage import Coverage

A = sheet(100, 100, 200, 200)


def coverage(*sheets: Sheet, size: int = 1024) -> Coverage:
    (found,) = facts_of(laid(*sheets, size=(size, size)), "coverage").coverage
    assert isinstance(found, Coverage)
    return found


def test_share_counts_a_stack_once() -> None:
    assert coverage(A).share == 10_000 / 1024**2
    assert coverage(A, A, A).share == 10_000 / 1024**2
    assert coverage(A, sheet(150, 100, 250, 200)).share == 15_000 / 1024**2


def test_a_group_says_who_where_and_how_much() -> None:
    (group,) = coverage(A, sheet(190, 150, 290, 250), sheet(500, 500, 600, 600)).overlaps
    assert (group.islands, group.texels, group.between, group.stack) == ((0, 1), 500, 500, False)
    # x 190 to 200, y 150 to 200 from below: 824 to 874 from above
    assert group.box == (190, 824, 200, 874)


def test_stacks_are_told_by_outline_whatever_lies_inside() -> None:
    found = coverage(A, sheet(100, 100, 200, 200, cells=(3, 2), mirrored=True), sheet(100, 100, 200, 200, turn=90.0))
    assert found.stacks == ((0, 1, 2),)
    (group,) = found.overlaps
    assert group.stack and group.texels == 10_000


@pytest.mark.parametrize(("off", "stack"), [(0.04, True), (0.2, False)])
def test_both_sides_of_how_exact_a_stack_has_to_be(off: float, stack: bool) -> None:
    assert bool(coverage(A, sheet(100 + off, 100, 200 + off, 200)).stacks) is stack


def test_points_of_color_cover_nothing() -> None:
    found = coverage(A, collapsed(sheet(120, 120, 130, 130)))
    assert found.overlaps == () and found.share == 10_000 / 1024**2


@pytest.mark.parametrize("turn", [17.0, 45.0, 71.3])
def test_shared_texels_converge_to_the_exact_area(turn: float) -> None:
    other = sheet(150, 120, 270, 210, turn=turn)
    order = [0, 1, 3, 2]
    exact = Polygon(A.uv[order]).intersection(Polygon(other.uv[order])).area
    errors = []
    for size in (512, 1024, 4096):
        (group,) = coverage(A, other, size=size).overlaps
        errors.append(abs(group.texels / size**2 - exact) / exact)
    assert errors[2] < 0.002 and errors[2] <= errors[0]


def test_a_map_larger_than_what_is_counted_is_scaled_up() -> None:
    (group,) = coverage(A, sheet(190, 100, 290, 200), size=8200).overlaps
    # Counted at 8192, where 1000 texels of 1024 are 64,000, and told in texels of 8200.
    assert group.texels == round(64_000 * (8200 / 8192) ** 2)
