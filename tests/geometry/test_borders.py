from __future__ import annotations

import numpy as np
import pytest

from tests.geometry.shapes import Sheet, box, grid, split_apart
from tidegate.geometry.borders import border_sides, seams, side_points
from tidegate.geometry.edges import edge_mates
from tidegate.geometry.weld import point_ids


def test_a_sheet_is_bounded_by_its_rim_and_has_no_seam() -> None:
    sheet = grid(4, 2)
    labels, _ = sheet.labels()
    sides = border_sides(sheet.mates(), labels)
    assert len(sides) == 12
    start, end = side_points(sheet.uv_columns(), sides)
    assert np.hypot(*(end - start)).sum() == pytest.approx(2 * (1.0 + 0.5))
    # The island lies to the left: the area enclosed is positive.
    assert 0.5 * (start[0] * end[1] - end[0] * start[1]).sum() == pytest.approx(0.5)
    cut = seams(sides, edge_mates(point_ids(sheet.positions)[0][sheet.triangles]), sheet.xyz_columns())
    assert len(cut.sides) == 0
    assert cut.total == 0.0


def test_seams_of_a_cube_unwrapped_in_six_faces_and_in_one_strip() -> None:
    points, triangles = box(2.0)
    quads = np.array([[0, 1, 2], [0, 2, 3]])
    uv = np.concatenate([np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * 0.1 + [0.15 * k, 0.0] for k in range(6)])
    crate = Sheet(points, triangles, uv, np.concatenate([quads + 4 * k for k in range(6)]).astype(np.int32))
    for sheet in (crate, split_apart(crate)):
        labels, count = sheet.labels()
        assert count == 6
        sides = border_sides(sheet.mates(), labels)
        position_mates = edge_mates(point_ids(sheet.positions)[0][sheet.triangles])
        cut = seams(sides, position_mates, sheet.xyz_columns())
        # Every one of the 12 edges of 2 m is cut, and counted once although both of its sides are borders.
        assert len(sides) == 24
        assert len(cut.sides) == 12
        assert cut.length.tolist() == [2.0] * 12
        assert cut.total == pytest.approx(24.0)


def test_triangles_without_uvs_have_no_border() -> None:
    sheet = grid(1, 1)
    bare = sheet._replace(uv_triangles=np.array([[0, 1, 3], [-1, -1, -1]], np.int32))
    labels, _ = bare.labels()
    assert border_sides(bare.mates(), labels).tolist() == [0, 1, 2]
