"""Overlap on a map that is repeated without end, beside every copy drawn one by one."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.geometry import overlap, raster, wrapped
from tidegate.geometry.repeated import other_tiles
from tidegate.geometry.wrapped import WrappedOverlap, wrapped_overlap

AXES = [(True, True), (True, False), (False, True), (False, False)]


def rectangle(x0: float, y0: float, x1: float, y1: float) -> np.ndarray:
    return np.array([[(x0, y0), (x1, y0), (x1, y1)], [(x0, y0), (x1, y1), (x0, y1)]], float).transpose(1, 2, 0)


def measure(*islands: np.ndarray, size: tuple[int, int] = (16, 8), **more: Any) -> WrappedOverlap:
    labels = np.repeat(np.arange(len(islands), dtype=np.int32), [island.shape[2] for island in islands])
    return wrapped_overlap(np.concatenate(islands, axis=2), labels, len(islands), *size, **more)


def copy_by_copy(
    texels: np.ndarray, labels: np.ndarray, count: int, size: tuple[int, int], axes: tuple[bool, bool]
) -> overlap.Overlap:
    which, copies = other_tiles(texels, (float(size[0]), float(size[1])), axes) or (np.zeros(0, int), texels[:, :, :0])
    every = np.concatenate([texels, copies], axis=2)
    return overlap.measure_overlap(every, np.append(labels, labels[which]).astype(np.int32), count, *size)


@pytest.fixture
def runs_drawn(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Every run of texels that is drawn from now on, added up."""
    drawn = [0]
    plain = raster.spans

    def counted(*args: Any) -> Iterator[raster.Spans]:
        for run in plain(*args):
            drawn[0] += len(run.row)
            yield run

    monkeypatch.setattr(wrapped, "spans", counted)
    monkeypatch.setattr(raster, "spans", counted)  # as `coverage` draws
    return drawn


def test_worked_overlaps() -> None:
    # Columns 14 to 18 come in again as 0 and 1; rows 6 to 10 as 0 and 1: one texel of four lies on the other island.
    found = measure(rectangle(14, 6, 18, 10), rectangle(1, 1, 3, 3))
    assert (found.group.tolist(), found.group_texels.tolist(), found.complete) == ([0, 0], [1], True)
    # Twenty columns on sixteen: four of them twice, in three rows.
    assert measure(rectangle(0, 0, 20, 3)).group_texels.tolist() == [4 * 3]
    # Forty columns on sixteen: twice everywhere and eight of them a third time, which shares no more.
    assert measure(rectangle(5, 0, 45, 3)).group_texels.tolist() == [16 * 3]
    # Just a map wide and high, across the corner of four tiles: everything once.
    assert measure(rectangle(-8, -4, 8, 4)).group.tolist() == [-1]
    # Whole maps away from each other.
    assert measure(
        rectangle(1, 1, 3, 3), rectangle(1 - 16 * 7, 1 + 8 * 5, 3 - 16 * 7, 3 + 8 * 5)
    ).group_texels.tolist() == [4]


@pytest.mark.parametrize(("axes", "shared"), list(zip(AXES, ([24], [12], [12], []), strict=True)))
def test_axes_along_which_the_map_ends(axes: tuple[bool, bool], shared: list[int]) -> None:
    # Lies over itself across: 4 columns of 3 rows; and up, in the same island by another arm: 3 rows of 4 columns.
    arms = np.concatenate([rectangle(0, 0, 20, 3), rectangle(6, 3, 10, 11)], axis=2)
    assert measure(arms, axes=axes).group_texels.tolist() == shared


@settings(max_examples=120, deadline=None)
@given(
    st.integers(0, 2**32 - 1),
    st.integers(1, 12),
    st.sampled_from([1.0, 12.0, 70.0]),
    st.sampled_from(AXES),
    st.booleans(),
)
def test_the_same_as_copy_by_copy(seed: int, count: int, reach: float, axes: tuple[bool, bool], probed: bool) -> None:
    rng = np.random.default_rng(seed)
    size = (16, 11)
    texels = rng.uniform(-40, 60, (1, 2, count)) + rng.uniform(-reach, reach, (3, 2, count))
    labels = rng.integers(0, 4, count).astype(np.int32)
    with pytest.MonkeyPatch.context() as patch:
        if probed:
            patch.setattr(wrapped, "FEW_ROWS", 0)
        found = wrapped_overlap(texels, labels, 4, *size, axes=axes)
    wanted = copy_by_copy(texels, labels, 4, size, axes)
    assert found.complete
    assert found.group.tolist() == wanted.group.tolist()
    assert found.group_texels.tolist() == wanted.group_texels.tolist()


def test_a_quad_of_a_million_maps_draws_no_more_than_a_few_maps(runs_drawn: list[int]) -> None:
    side = 1024
    found = measure(rectangle(0, 0, 999 * side, 999 * side), rectangle(3, 3, 5, 5), size=(side, side))
    assert found.group_texels.tolist() == [side * side] and found.group.tolist() == [0, 0] and found.complete
    # Two maps to see that it fills them, and the map itself once or twice, a run a row and triangle: 2 triangles each.
    assert 0 < runs_drawn[0] <= 20 * side


def test_an_island_of_many_triangles_fills_the_map_as_one_does(runs_drawn: list[int]) -> None:
    # 100 x 100 cells, each of a map and two triangles: together they would be 20,000 triangles of 64 rows.
    cells = [rectangle(64 * x, 64 * y, 64 * (x + 1), 64 * (y + 1)) for x in range(100) for y in range(100)]
    texels = np.concatenate(cells, axis=2)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(wrapped, "FEW_ROWS", 0)
        found = wrapped_overlap(texels * 1.001, np.zeros(texels.shape[2], np.int32), 1, 64, 64)
    assert found.group_texels.tolist() == [64 * 64]
    assert 0 < runs_drawn[0] <= 64 * 60


def test_two_maps_filled_and_a_little_less(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(wrapped, "FEW_ROWS", 0)
    assert measure(rectangle(0, 0, 48, 24)).group_texels.tolist() == [16 * 8]
    # A strip of three maps, a column short of the map's width: that column is met by nothing.
    assert measure(rectangle(0, 0, 15, 24)).group_texels.tolist() == [15 * 8]
    # The same beside an island that lies in that column alone: no group with it.
    assert measure(rectangle(0, 0, 15, 24), rectangle(15, 0, 16, 3)).group.tolist() == [0, -1]


def test_a_triangle_of_very_many_rows_is_drawn_in_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    strip = rectangle(2, 3, 4, 3 + 8 * 50)
    whole = measure(strip)
    monkeypatch.setattr(raster, "_ROWS_AT_ONCE", 7)
    assert [a.tolist() for a in measure(strip)[:2]] == [a.tolist() for a in whole[:2]] == [[0], [2 * 8]]


def test_both_sides_of_the_most_rows(monkeypatch: pytest.MonkeyPatch) -> None:
    # Two triangles of 80 rows on a map of 8, and a lower island that lies over itself in 2 x 2 texels.
    long, short = rectangle(2, 0, 4, 80), rectangle(8, 0, 10, 10)
    monkeypatch.setattr(wrapped, "MOST_ROWS", 2 * 80 + 2 * 10)
    found = measure(long, short)
    assert (found.group_texels.tolist(), found.complete) == ([2 * 8, 2 * 2], True)
    monkeypatch.setattr(wrapped, "MOST_ROWS", 2 * 80 + 2 * 10 - 1)
    found = measure(long, short)
    assert (found.group.tolist(), found.group_texels.tolist(), found.complete) == ([-1, 0], [2 * 2], False)
    # Triangles no taller than the map are always drawn.
    monkeypatch.setattr(wrapped, "MOST_ROWS", 0)
    assert measure(rectangle(2, 0, 34, 8)).complete


def test_nothing_to_draw() -> None:
    found = wrapped_overlap(np.zeros((3, 2, 0)), np.zeros(0, np.int32), 2, 16, 8)
    assert (found.group.tolist(), found.group_texels.tolist(), found.complete) == ([-1, -1], [], True)


@pytest.mark.parametrize("axes", [(True, True), (False, True)])
def test_many_long_strips_up_the_map_are_all_drawn(monkeypatch: pytest.MonkeyPatch, axes: tuple[bool, bool]) -> None:
    # Twelve strips of 800 rows on a map of 8, far more than may be drawn: exchanged axes make rows of their columns, few each.
    monkeypatch.setattr(wrapped, "MOST_ROWS", 100)
    monkeypatch.setattr(wrapped, "FEW_ROWS", 6)
    strips = [rectangle(k + 0.25, k, k + 1.5, 800 + k) for k in range(12)]
    found = measure(*strips, axes=axes)
    labels = np.repeat(np.arange(12, dtype=np.int32), 2)
    plain = copy_by_copy(np.concatenate(strips, axis=2), labels, 12, (16, 8), axes)
    assert found.complete
    assert found.group_texels.tolist() == plain.group_texels.tolist()
    assert found.group.tolist() == plain.group.tolist()
    # Lying along both axes in turn, half of them are still too many.
    across = [rectangle(k, k + 0.25, 1600 + k, k + 1.5) for k in range(7)]
    assert not measure(*strips, *across, axes=(True, True)).complete
