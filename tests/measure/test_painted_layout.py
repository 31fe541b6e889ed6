"""Labels, wire and seams of a picture at the size of a map, against plain drawing."""

from __future__ import annotations

import numpy as np
import pytest

from tests.pixels.synthetic import raster
from tests.support.laid_props import SIZE, Sheet, laid, painted, sheet
from tests.support.mesh_props import SETTINGS, part
from tidegate.measure.islands import measure_islands
from tidegate.measure.painted_layout import PaintedLayout
from tidegate.measure.parts import parts_of
from tidegate.measure.pictures import pictures_of
from tidegate.measure.seam_edges import seam_edges
from tidegate.measure.wire import points_along, wire_mask, wire_of
from tidegate.model.prop import Prop
from tidegate.pixels.seam_points import SeamEdges


def layout_of(prop: Prop, size: tuple[int, int]) -> PaintedLayout:
    parts, columns, layouts = measure_islands(prop, SETTINGS, upright=False)
    (picture,) = pictures_of(parts, columns, layouts)
    return PaintedLayout(columns, picture, layouts, size, 8)


def seams_of(prop: Prop) -> SeamEdges:
    parts, columns, layouts = measure_islands(prop, SETTINGS, upright=False)
    (picture,) = pictures_of(parts, columns, layouts)
    return seam_edges(columns, picture, layouts, [one for _, one in parts_of(prop)], parts, picture.islands)


@pytest.mark.parametrize("size", [(256, 256), (128, 256), (512, 64)])
def test_labels_are_those_of_a_plain_drawing(size: tuple[int, int]) -> None:
    """Islands in the order of their UV boxes; row 0 of the picture is the top, where V is 1."""
    first, second = sheet(90, 130, 410, 650, turn=17.0), sheet(520, 80, 860, 260)
    scale = np.array(size)
    polygons = []
    for one in (first, second):
        corners = one.uv[[0, 1, 3, 2]]
        polygons.append(np.stack([corners[:, 0], 1 - corners[:, 1]], axis=1) * scale)
    found = layout_of(laid(first, second), size)
    assert found.whole
    assert np.array_equal(found.labels, raster(polygons, size[1], size[0]))


def test_an_island_over_the_border_is_not_whole() -> None:
    assert not layout_of(laid(sheet(900, 100, 1100, 300)), (64, 64)).whole


def test_wire_runs_along_every_edge_and_nowhere_else() -> None:
    prop = laid(sheet(256, 256, 768, 768))
    parts, columns, layouts = measure_islands(prop, SETTINGS, upright=False)
    (picture,) = pictures_of(parts, columns, layouts)
    wire = wire_of(columns, picture, layouts, [one for _, one in parts_of(prop)])
    assert (wire.inner.shape, wire.bent.shape, wire.border.shape) == (
        (4, 0),
        (4, 0),
        (4, 4),
    )  # a quad's diagonal is none
    # corners at texels 16 and 48
    wanted = np.zeros((64, 64), bool)
    wanted[[16, 48], 16:49] = True
    wanted[16:49, [16, 48]] = True
    assert np.array_equal(wire_mask(wire, (64, 64)), wanted)


@pytest.mark.parametrize(("bend", "inner", "bent"), [(0.0, 1, 0), (19.0, 1, 0), (21.0, 0, 1)])
def test_wire_inside_an_island_is_told_by_how_much_the_surface_bends(bend: float, inner: int, bent: int) -> None:
    cos, sin = np.cos(np.radians(bend)), np.sin(np.radians(bend))
    points = np.array([[0, 0, 0], [1, 0, 0], [1 + cos, 0, sin], [1 + cos, 1, sin], [1, 1, 0], [0, 1, 0]])
    uv = np.array([[100, 100], [200, 100], [300, 100], [300, 200], [200, 200], [100, 200]], float) / SIZE
    prop = painted(part(points, [[0, 1, 4], [0, 4, 5], [1, 2, 3], [1, 3, 4]], uv=uv, material=0))
    parts, columns, layouts = measure_islands(prop, SETTINGS, upright=False)
    (picture,) = pictures_of(parts, columns, layouts)
    wire = wire_of(columns, picture, layouts, [one for _, one in parts_of(prop)])
    assert (wire.inner.shape[1], wire.bent.shape[1], wire.border.shape[1]) == (inner, bent, 6)
    # 100 texels less 2 at both ends, a texel apart, in the column between the two quads
    point, across = points_along(wire.inner if inner else wire.bent, (SIZE, SIZE))
    assert point[:, 0].tolist() == pytest.approx([200.0] * 96)
    assert np.sort(point[:, 1]).tolist() == pytest.approx([SIZE - 200 + 2.5 + i for i in range(96)])
    assert np.allclose(np.abs(across), [1.0, 0.0])


def cube_side(bend: float) -> Prop:
    """Two squares sharing one edge of the surface, apart in the tile, the second turned upside down there."""
    cos, sin = np.cos(np.radians(bend)), np.sin(np.radians(bend))
    points = np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [1 + cos, 0, sin], [1 + cos, 1, sin]])
    near = np.array([[100, 100], [300, 100], [300, 300], [100, 300]], float) / SIZE
    far = np.array([[700, 700], [500, 700], [500, 500], [700, 500]], float) / SIZE
    uv = np.concatenate([near, far])
    whole = Sheet(points[[0, 1, 2, 3, 1, 4, 5, 2]], np.array([[0, 1, 2], [0, 2, 3], [4, 5, 6], [4, 6, 7]]), uv)
    return painted(part(whole.points, whole.triangles, uv=whole.uv, material=0))


def test_a_seam_has_its_two_places_end_for_end() -> None:
    edges = seams_of(cube_side(0))
    assert len(edges.island_a) == 1
    # The edge from (1, 0) to (1, 1): on one side at u = 300 from v 100 to 300, on the other at u = 700 from v 700 to 500.
    ends = {tuple(np.rint(side[0] * SIZE).astype(int).ravel()) for side in (edges.a, edges.b)}
    upwards, downwards = {(300, 100, 300, 300), (700, 700, 700, 500)}, {(300, 300, 300, 100), (700, 500, 700, 700)}
    assert ends in (upwards, downwards)
    assert {int(edges.island_a[0]), int(edges.island_b[0])} == {0, 1}
    # The inner point of each side lies in its own square.
    for inner, island in ((edges.inner_a, edges.island_a), (edges.inner_b, edges.island_b)):
        u = float(inner[0, 0] * SIZE)
        assert (u < 400) == (island[0] == 0)


@pytest.mark.parametrize(("bend", "amount"), [(39.0, 1), (41.0, 0)])
def test_edges_sharper_than_40_degrees_are_no_seams(bend: float, amount: int) -> None:
    assert len(seams_of(cube_side(bend)).island_a) == amount


def test_a_sheet_in_one_piece_has_no_seam() -> None:
    assert len(seams_of(laid(sheet(100, 100, 400, 400, cells=(3, 3)))).island_a) == 0
