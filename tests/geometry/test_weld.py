from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.geometry.shapes import Sheet, grid, random_sheet, renumbered, split_apart
from tidegate.geometry.weld import corner_ids, point_ids


def same_partition(one: np.ndarray, other: np.ndarray) -> bool:
    pairs = {(a, b) for a, b in zip(one.ravel().tolist(), other.ravel().tolist(), strict=True)}
    return len(pairs) == len(np.unique(one)) == len(np.unique(other))


def test_minus_zero_is_zero_and_the_next_number_is_not() -> None:
    ids, total = point_ids(np.array([[0.0, 1.0], [-0.0, 1.0], [np.nextafter(0.0, 1.0), 1.0], [1.0, 0.0]]))
    assert ids[0] == ids[1]
    assert len({ids[0], ids[2], ids[3]}) == 3
    assert total == 3


def test_nothing_welds_to_nothing() -> None:
    ids, total = point_ids(np.zeros((0, 3)))
    assert ids.shape == (0,)
    assert total == 0


def test_corners_need_position_and_uv_alike() -> None:
    # Two triangles over one edge; the second has another UV at one of its ends.
    positions = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0]])
    uv = np.array([[0.0, 0], [1, 0], [0, 1], [1, 1], [0.5, 0.5]])
    triangles = np.array([[0, 1, 2], [2, 1, 3]], np.int32)
    ids, _ = corner_ids(positions, triangles, uv, np.array([[0, 1, 2], [2, 4, 3]], np.int32))
    assert ids[0, 2] == ids[1, 0]
    assert ids[0, 1] != ids[1, 1]


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 80))
def test_ids_agree_with_sorting_the_values(seed: int, triangles: int) -> None:
    sheet = random_sheet(np.random.default_rng(seed), triangles)
    ids = sheet.corners()
    without = sheet.uv_triangles[:, 0] < 0
    assert (ids[without] == -1).all()
    values = np.concatenate(
        [sheet.positions[sheet.triangles[~without]], sheet.uv[sheet.uv_triangles[~without]]], axis=2
    ).reshape(-1, 5)
    if len(values):
        assert same_partition(ids[~without], np.unique(values + 0.0, axis=0, return_inverse=True)[1])


@pytest.mark.parametrize("seed", range(4))
def test_splitting_and_renumbering_vertices_changes_no_comparison(seed: int) -> None:
    sheet = random_sheet(np.random.default_rng(seed), 60)
    ids = sheet.corners()
    assert same_partition(ids, split_apart(sheet).corners())
    assert same_partition(ids, split_apart(sheet, np.array([0, 7, 30])).corners())


def test_one_index_array_and_two_give_the_same_corners() -> None:
    sheet = grid(4, 3)
    shared = sheet.corners()
    order = np.random.default_rng(1).permutation(len(sheet.uv))
    apart = Sheet(
        sheet.positions, sheet.triangles, sheet.uv[order], np.argsort(order)[sheet.uv_triangles].astype(np.int32)
    )
    assert same_partition(shared, apart.corners())
    moved, order = renumbered(sheet, 3)
    assert len(np.unique(moved.corners())) == len(np.unique(shared)) == 20
