from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from tests.geometry.shapes import Sheet, box, grid, random_sheet, renumbered, split_apart, together
from tidegate.geometry.corners import corner_columns
from tidegate.geometry.islands import island_triangles, label_islands, shared_surface
from tidegate.geometry.weld import corner_ids


def by_scipy(sheet: Sheet) -> np.ndarray:
    """Islands another way: values rounded to nothing, edges in a dictionary, scipy's components."""
    count = len(sheet.triangles)
    edges: dict[object, int] = {}
    one, other = [], []
    for t in range(count):
        if sheet.uv_triangles[t, 0] < 0:
            continue
        ends = [
            (*sheet.positions[p].tolist(), *sheet.uv[s].tolist())
            for p, s in zip(sheet.triangles[t], sheet.uv_triangles[t], strict=True)
        ]
        for k in range(3):
            if ends[k] == ends[(k + 1) % 3]:
                continue
            edge = frozenset((ends[k], ends[(k + 1) % 3]))
            one.append(edges.setdefault(edge, t))
            other.append(t)
    labels = connected_components(coo_array((np.ones(len(one)), (one, other)), shape=(count, count)), directed=False)[1]
    kept = sheet.uv_triangles[:, 0] >= 0
    result = np.full(count, -1)
    if kept.any():
        _, first = np.unique(labels[kept], return_index=True)
        rank = np.argsort(np.argsort(first))
        result[kept] = rank[np.searchsorted(np.unique(labels[kept]), labels[kept])]
    return result


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 90))
def test_labels_equal_those_of_scipy_on_random_soup(seed: int, triangles: int) -> None:
    sheet = random_sheet(np.random.default_rng(seed), triangles)
    labels, total = sheet.labels()
    expected = by_scipy(sheet)
    assert labels.tolist() == expected.tolist()
    assert total == expected.max() + 1


def test_labels_equal_those_of_scipy_on_a_crate_with_seams() -> None:
    # A cube whose six faces are unwrapped apart, a sheet and one triangle without UVs.
    points, triangles = box()
    uv = np.concatenate([np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * 0.2 + [0.3 * k, 0.1] for k in range(6)])
    quads = np.array([[0, 1, 2], [0, 2, 3]])
    crate = Sheet(points, triangles, uv, np.concatenate([quads + 4 * k for k in range(6)]).astype(np.int32))
    bare = Sheet(np.eye(3) * 9.0, np.array([[0, 1, 2]], np.int32), np.zeros((1, 2)), np.full((1, 3), -1, np.int32))
    prop = together(crate, bare, grid(5, 4))
    labels, total = prop.labels()
    assert total == 7
    assert labels.tolist() == by_scipy(prop).tolist()
    assert labels[12] == -1


def test_touching_in_a_point_does_not_join_but_an_edge_does() -> None:
    points = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [-1, 0, 0], [0, -1, 0], [1, 1, 0]])
    bow_tie = np.array([[0, 1, 2], [0, 3, 4]], np.int32)
    assert label_islands(corner_ids(points, bow_tie, points[:, :2].copy(), bow_tie)[0])[0].tolist() == [0, 1]
    hinge = np.array([[0, 1, 2], [2, 1, 5]], np.int32)
    assert label_islands(corner_ids(points, hinge, points[:, :2].copy(), hinge)[0])[0].tolist() == [0, 0]


def test_an_edge_with_three_triangles_joins_all_three() -> None:
    corners = np.array([[0, 1, 2], [1, 0, 3], [0, 1, 4], [5, 6, 7]], np.int32)
    assert label_islands(corners)[0].tolist() == [0, 0, 0, 1]


def test_collapsed_triangles_join_over_the_edge_they_have_and_stand_alone_without_one() -> None:
    corners = np.array([[0, 1, 2], [1, 1, 0], [3, 3, 3], [0, 0, 0]], np.int32)
    assert label_islands(corners)[0].tolist() == [0, 0, 1, 2]


def test_rows_without_uvs_have_no_island_and_leave_no_gap_in_the_numbers() -> None:
    corners = np.array([[-1, -1, -1], [0, 1, 2], [-1, -1, -1], [3, 4, 5]], np.int32)
    labels, total = label_islands(corners)
    assert labels.tolist() == [-1, 0, -1, 1]
    assert total == 2
    assert label_islands(np.zeros((0, 3), np.int32))[1] == 0


@pytest.mark.parametrize("seed", range(5))
def test_renumbering_and_splitting_give_the_same_islands(seed: int) -> None:
    sheet = together(grid(4, 4), grid(3, 2, (2.0, 0.0)), grid(1, 5, (0.0, 3.0)))
    labels, _ = sheet.labels()
    assert split_apart(sheet).labels()[0].tolist() == labels.tolist()
    moved, order = renumbered(sheet, seed)
    pairs = set(zip(moved.labels()[0].tolist(), labels[order].tolist(), strict=True))
    assert len(pairs) == 3


def test_triangles_are_listed_island_by_island() -> None:
    listed = island_triangles(np.array([1, -1, 0, 1, 0], np.int32), 3)
    assert listed.order.tolist() == [2, 4, 0, 3]
    assert listed.first.tolist() == [0, 2, 4]
    assert listed.size.tolist() == [2, 2, 0]


def test_an_island_cut_only_by_material_is_one_surface() -> None:
    # Two sheets edge to edge in space and tile, and a third whose UVs lie elsewhere.
    left, right = grid(2, 2), grid(2, 2)
    right = right._replace(positions=right.positions + np.array([2.0, 0, 0]), uv=right.uv + np.array([1.0, 0]))
    alone = grid(2, 2)._replace(positions=left.positions + np.array([0, 2.0, 0]), uv=left.uv + 5.0)
    prop = together(left, right, alone)
    by_part = np.repeat(np.array([0, 1, 2], np.int32), 8)
    group, total = shared_surface(prop.corners(), by_part, 3)
    assert total == 2
    assert group.tolist() == [0, 0, 1]


def test_corner_columns_hold_what_the_indices_name_and_nan_without_uvs() -> None:
    columns = corner_columns(
        np.array([[1.0, 2.0], [3.0, 4.0], [5.0, 6.0]]), np.array([[2, 0, 1], [-1, -1, -1]], np.int32)
    )
    assert columns[:, :, 0].tolist() == [[5.0, 6.0], [1.0, 2.0], [3.0, 4.0]]
    assert np.isnan(columns[:, :, 1]).all()
