"""Room between islands and to the border, both sides of each limit."""

from __future__ import annotations

import pytest

from tests.support.laid_props import collapsed, laid, sampled, sheet
from tests.support.mesh_props import findings
from tidegate.model.prop import Prop

CHECK = "islands-too-close"


def pair(gap: float) -> Prop:
    return laid(sheet(100, 100, 200, 200), sheet(200 + gap, 100, 300 + gap, 200))


@pytest.mark.parametrize(("gap", "told"), [(7.99, True), (8.0, False), (8.01, False)])
def test_both_sides_of_the_texels_between(gap: float, told: bool) -> None:
    found = findings(CHECK, pair(gap), between_texels=8)
    assert bool(found) is told
    if told:
        assert (found[0].measured, found[0].wanted, found[0].place.islands) == (7.99, 8, (1, 2))


@pytest.mark.parametrize(
    ("gap", "level"),
    # Two islands need twice 1, 2, 5, 11 texels for levels 0 to 3: box filter, linear sampling, edges anywhere on the grid.
    [(2, 0), (3.99, 0), (4, 1), (9.99, 1), (10, 2), (21.99, 2), (22, 3)],
)
def test_both_sides_of_the_clean_mip_level(gap: float, level: int) -> None:
    assert findings(CHECK, pair(gap), clean_mip=level) == []
    (found,) = findings(CHECK, pair(gap), clean_mip=level + 1)
    assert f"keeps mip level {level} clean" in found.message
    assert found.wanted == {1: 4, 2: 10, 3: 22, 4: 46}[level + 1]


def test_too_little_for_any_level_is_said() -> None:
    (found,) = findings(CHECK, pair(1.5), clean_mip=0)
    assert "keeps no mip level clean" in found.message


def test_off_by_default() -> None:
    assert findings(CHECK, pair(0.5)) == []


@pytest.mark.parametrize(("gap", "told"), [(3.99, True), (4.0, False)])
def test_the_border_of_a_udim_tile_only(gap: float, told: bool) -> None:
    from dataclasses import replace

    near = laid(sheet(gap, 100, 200, 200))
    assert findings(CHECK, near, border_texels=4) == []  # a map that repeats has no border
    tiled = replace(near, bindings=tuple(replace(b, tile=1001) for b in near.bindings))
    found = findings(CHECK, tiled, border_texels=4)
    assert bool(found) is told
    if told:
        assert (found[0].measured, found[0].wanted) == (3.99, 4)


@pytest.mark.parametrize(("left", "told"), [(3.75, True), (4.0, False)])
def test_both_sides_of_the_texels_between_around_the_border(left: float, told: bool) -> None:
    thing = laid(
        sheet(900, 100, 1020, 200), sheet(left, 100, 100, 200)
    )  # 4 to the right border and `left` from the other
    found = findings(CHECK, thing, between_texels=8)
    assert bool(found) is told
    if told:
        assert (found[0].measured, found[0].place.islands) == (7.75, (1, 2))
        assert "over the border at which the map repeats" in found[0].message
        # The gap's middle, at x 1020 + 3.875, and the same place left of the other border.
        assert [round(1024 * u, 3) for u, _ in found[0].shown.spots] == [1023.875, -0.125]


def test_every_narrow_gap_has_a_spot_the_narrowest_first() -> None:
    row = [sheet(100, 100, 200, 200), sheet(206, 100, 306, 200), sheet(310, 100, 410, 200)]
    (found,) = findings(CHECK, laid(*row), between_texels=8)
    assert [round(1024 * u, 2) for u, _ in found.shown.spots] == [308.0, 203.0]


def test_points_of_color_need_no_room_and_hide_no_neighbour() -> None:
    point = collapsed(sheet(202, 150, 210, 160))
    found = findings(CHECK, laid(sheet(100, 100, 200, 500), point, sheet(205, 100, 605, 500)), between_texels=8)
    assert [(f.measured, f.place.islands) for f in found] == [(5.0, (1, 3))]


def test_a_map_made_to_repeat_is_let_be() -> None:
    assert findings(CHECK, laid(sheet(900, 0, 1100, 90), sheet(900, 92, 1100, 200)), between_texels=8) == []


def test_overlapping_islands_have_no_gap_to_judge() -> None:
    assert findings(CHECK, pair(-10), between_texels=8) == []


def test_an_island_across_the_border_is_told_as_such_first() -> None:
    # Not repeating: one island is 2 texels from the left border, one reaches 10 texels over the right one.
    sheets = sheet(2, 100, 102, 200), sheet(500, 100, 600, 200), sheet(934, 100, 1034, 200)
    thing = sampled(("clamp", "clamp"), *sheets)
    found = findings(CHECK, thing, border_texels=4.0)
    assert [(one.measured, one.cause) for one in found] == [(2.0, ""), (-10.0, "islands-outside-tile")]


@pytest.mark.parametrize(("over", "room"), [(0.0098, 0.0), (0.0102, -0.0102)])
def test_what_does_not_show_beyond_the_border_is_at_it(over: float, room: float) -> None:
    # `geometry.tiles.SEEN`, both sides: less than a hundredth of a texel over the border is no room, and not less than none.
    inner = sheet(300, 100, 400, 200), sheet(600, 100, 700, 200)
    thing = sampled(("clamp", "clamp"), *inner, sheet(-over, 300, 100, 400))
    (found,) = findings(CHECK, thing, border_texels=4.0)
    assert found.measured == pytest.approx(room, abs=1e-4)
    assert found.cause == ("" if over < 0.01 else "islands-outside-tile")
    assert bool(findings(CHECK, thing, border_texels=0.0)) is (over > 0.01)


@pytest.mark.parametrize(("left", "told"), [(0.0, False), (0.99, False), (1.01, True)])
def test_an_island_that_fills_the_map_needs_no_room_to_its_border(left: float, told: bool) -> None:
    # A sign that ends on the right, lower and upper border, or so far from the left one.
    sign = sampled(("clamp", "clamp"), sheet(left, 10, 1024, 1014))
    assert bool(findings(CHECK, sign, border_texels=4.0)) is told


def test_a_stack_counts_as_one_thing_beside_which_there_is_no_room() -> None:
    # Three lie exactly on each other, and two on each other 5 texels to the right of them: six pairs of islands, one gap.
    left, right = sheet(100, 100, 200, 200), sheet(205, 100, 305, 200)
    (one,) = findings(CHECK, laid(left, left, left, right, right), between_texels=8)
    assert one.message.startswith("1 pair of islands (a stack counted as one) closer than 8 texels on ")
    assert ": numbers 1-5; closest 1 and 4 at 5 texels" in one.message
    assert findings(CHECK, pair(5.0), between_texels=8)[0].message.startswith("1 pair of islands closer than")
