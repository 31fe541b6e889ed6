"""Room between islands and to the border, in texels."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.support.laid_props import OAK, Sheet, collapsed, laid, laid_part, painted, sampled, sheet
from tests.support.mesh_props import facts_of, mesh_file
from tidegate.measure.spacing import Spacing
from tidegate.model.prop import Prop

A = sheet(100, 100, 200, 200)


def spacing(thing: Prop) -> Spacing:
    (found,) = facts_of(thing, "spacing").spacing
    assert isinstance(found, Spacing)
    return found


@pytest.mark.parametrize(
    ("other", "gap", "pixel"),
    [
        (sheet(207, 100, 307, 200), 7.0, None),
        (sheet(203, 204, 303, 304), 5.0, (201.5, 822.0)),  # corner to corner, 3 and 4; 202 from below is 822 from above
        (sheet(200, 200, 300, 300), 0.0, (200.0, 824.0)),
    ],
)
def test_worked_gaps(other: Sheet, gap: float, pixel: tuple[float, float] | None) -> None:
    (pair,) = spacing(laid(A, other)).pairs
    assert (pair.first, pair.second) == (0, 1)
    assert pair.texels == pytest.approx(gap, abs=1e-5)
    assert pixel is None or pair.pixel == pytest.approx(pixel, abs=1e-2)


def test_each_island_has_its_nearest_neighbour_and_each_pair_is_told_once() -> None:
    row = [sheet(100 + 110 * k, 100, 200 + 110 * k, 200) for k in range(3)]
    assert [(p.first, p.second, p.texels) for p in spacing(laid(*row)).pairs] == [(0, 1, 10.0), (1, 2, 10.0)]


def test_beyond_reach_nobody_cares() -> None:
    assert spacing(laid(A, sheet(329, 100, 429, 200))).pairs == ()  # 129 texels
    assert len(spacing(laid(A, sheet(327, 100, 427, 200))).pairs) == 1


def test_stacked_and_overlapping_islands_have_no_gap() -> None:
    assert spacing(laid(A, A)).pairs == ()
    assert spacing(laid(A, sheet(150, 100, 250, 200))).pairs == ()


def test_islands_without_room_for_paint_stand_aside() -> None:
    narrow = sheet(202, 100, 202.4, 200)  # less than half a texel wide
    found = spacing(laid(A, collapsed(sheet(203, 150, 204, 160)), narrow, sheet(210, 100, 610, 500)))
    assert [(p.texels, p.first, p.second) for p in found.pairs] == [(10.0, 0, 3)]
    assert np.isnan(found.border).tolist() == [False, True, True, False]


def test_a_change_of_material_wants_no_gap() -> None:
    points = np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [2, 0, 0], [2, 1, 0]], float)
    uv = points[:, :2] / 4
    left = laid_part(Sheet(points, np.array([[0, 1, 2], [0, 2, 3]]), uv))
    right = laid_part(Sheet(points, np.array([[1, 4, 5], [1, 5, 2]]), uv), material=1)
    brass = replace(OAK, name="brass")
    thing = painted(left)
    both = replace(
        thing,
        meshes=(mesh_file(left, right, path="a.glb", materials=(OAK, brass)),),
        bindings=(*thing.bindings, replace(thing.bindings[0], material="brass")),
    )
    assert spacing(both).pairs == ()


def test_room_to_the_border_of_the_tile_an_island_starts_in() -> None:
    islands = [sheet(3, 100, 200, 200), sheet(300, 100, 400, 1019), sheet(1500, 1500, 2046, 1600)]
    np.testing.assert_allclose(spacing(laid(*islands)).border, [3.0, 5.0, 2.0])


@pytest.mark.parametrize(
    ("wrap", "ends"),
    [
        (("repeat", "repeat"), [np.inf, np.inf]),
        (("clamp", "repeat"), [3.0, 300.0]),  # 3 from the left; the second 1024 - 724 from the right
        (("repeat", "mirror"), [100.0, 5.0]),
        (("clamp", "clamp"), [3.0, 5.0]),
    ],
)
def test_the_map_ends_only_where_it_is_not_repeated(wrap: tuple[str, str], ends: list[float]) -> None:
    thing = sampled(wrap, sheet(3, 100, 200, 200), sheet(500, 5, 724, 600))
    np.testing.assert_allclose(spacing(thing).ends, ends)


@pytest.mark.parametrize(
    ("one", "other", "gap", "pixel"),
    [
        # 1024 - 1020 to the right border and 3 from the left one; the middle of the gap is half a texel left of the border
        ((900, 100, 1020, 200), (3, 100, 100, 200), 7.0, (1023.5, None)),
        # the same up: 2 below the upper border and 4 above the lower; y counts down from the upper left
        ((100, 900, 200, 1022), (100, 4, 200, 100), 6.0, (None, 1023.0)),
        # corner to corner around both: 3 to the right and 4 up
        ((900, 900, 1023, 1022), (2, 2, 100, 100), 5.0, None),
        # the other diagonal: lower right against upper left
        ((900, 2, 1023, 100), (2, 900, 100, 1022), 5.0, None),
        # an island that reaches 30 over the border is 5 from what lies there
        ((900, 100, 1054, 200), (35, 100, 100, 200), 5.0, (32.5, None)),
    ],
)
def test_worked_gaps_around_the_border(
    one: tuple[int, ...], other: tuple[int, ...], gap: float, pixel: tuple[float | None, float | None] | None
) -> None:
    third = sheet(400, 400, 500, 500)  # far from both: less than half of the islands run past the tile
    (pair,) = spacing(laid(sheet(*one), sheet(*other), third)).pairs
    assert pair.over_border and pair.texels == pytest.approx(gap, abs=1e-5)
    for at, wanted in zip(pair.pixel, pixel or (None, None), strict=True):
        assert wanted is None or at == pytest.approx(wanted, abs=1e-2)


@pytest.mark.parametrize(
    ("wrap", "told"),
    [(("repeat", "repeat"), True), (("repeat", "clamp"), True), (("clamp", "repeat"), False), (("mirror",) * 2, False)],
)
def test_only_a_sampler_that_repeats_looks_around_the_border(wrap: tuple[str, str], told: bool) -> None:
    thing = sampled(wrap, sheet(900, 100, 1020, 200), sheet(3, 100, 100, 200))
    assert bool(spacing(thing).pairs) is told


def test_an_island_needs_no_room_to_itself_around_the_border() -> None:
    assert spacing(laid(sheet(1, 100, 1023, 200))).pairs == ()


def test_islands_that_overlap_around_the_border_have_no_gap() -> None:
    # The first comes in again over columns 0 to 50, where the second lies whole: no gap of 10 between them.
    third = sheet(400, 400, 500, 500)
    assert spacing(laid(sheet(900, 100, 1074, 200), sheet(10, 110, 40, 190), third)).pairs == ()


def test_beyond_reach_nobody_cares_around_the_border_either() -> None:
    assert len(spacing(laid(sheet(900, 100, 960, 200), sheet(64, 100, 100, 200))).pairs) == 1  # 64 and 64
    assert spacing(laid(sheet(900, 100, 960, 200), sheet(65, 100, 100, 200))).pairs == ()


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 3), st.integers(0, 3))
def test_moving_a_layout_around_the_border_changes_no_gap(right: int, up: int) -> None:
    # Sixteen islands, one in each cell of 256 texels, each nearest to others by gaps of its own; moved by whole cells no
    # island crosses a border.
    rng = np.random.default_rng(7)
    low, high = rng.uniform(3, 20, (16, 2)), rng.uniform(200, 250, (16, 2))  # no two gaps are equal
    boxes = [(256 * (k % 4), 256 * (k // 4)) for k in range(16)]

    def gaps(right: int, up: int) -> list[float]:
        moved = [((x + 256 * right) % 1024, (y + 256 * up) % 1024) for x, y in boxes]
        islands = [sheet(x + a[0], y + a[1], x + b[0], y + b[1]) for (x, y), a, b in zip(moved, low, high, strict=True)]
        return sorted(pair.texels for pair in spacing(laid(*islands)).pairs)

    assert gaps(right, up) == pytest.approx(gaps(0, 0), abs=1e-5)
