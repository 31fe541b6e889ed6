"""Seams against surface and shading: an open box unfolded into a cross."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.support.laid_props import OAK, Sheet, hinge, laid, painted
from tests.support.mesh_props import facts_of, mesh_file
from tidegate.measure.cuts import Cuts
from tidegate.model.mesh import MeshPart, UvLayer
from tidegate.model.prop import Prop

BRASS = replace(OAK, name="brass")


def of_two_materials(part: MeshPart, first: int, *, one_map: bool = True) -> Prop:
    """The part cut in two: triangles from `first` on wear brass, which has the same map or none."""
    pieces = []
    for material, rows in enumerate((slice(None, first), slice(first, None))):
        layer = part.uv_layers[0]
        pieces.append(
            replace(
                part,
                material=material,
                node_number=0,
                triangles=part.triangles[rows],
                uv_layers=(UvLayer(0, layer.name, layer.uv, layer.triangles[rows]),),
                normal_triangles=part.normal_triangles[rows] if part.normal_triangles is not None else None,
            )
        )
    thing = painted(part)
    (binding,) = thing.bindings
    return replace(
        thing,
        meshes=(replace(mesh_file(*pieces, path="a.glb", nodes=()), materials=(OAK, BRASS)),),
        bindings=(binding, replace(binding, material="brass")) if one_map else (binding,),
    )


def cuts_of(thing: Prop) -> tuple[Cuts, ...]:
    return facts_of(thing, "cuts").cuts


def test_a_cube_unfolded_as_a_cross_has_seven_seams() -> None:
    # A net of the cube cuts 12 - 5 of its edges, each 1 m; the surface is 6 square metres.
    faces = {
        "front": ([[0, 0, 1], [1, 0, 1], [1, 1, 1], [0, 1, 1]], (1, 1)),
        "right": ([[1, 0, 1], [1, 0, 0], [1, 1, 0], [1, 1, 1]], (2, 1)),
        "back": ([[1, 0, 0], [0, 0, 0], [0, 1, 0], [1, 1, 0]], (3, 1)),
        "left": ([[0, 0, 0], [0, 0, 1], [0, 1, 1], [0, 1, 0]], (0, 1)),
        "top": ([[0, 1, 1], [1, 1, 1], [1, 1, 0], [0, 1, 0]], (1, 2)),
        "under": ([[0, 0, 0], [1, 0, 0], [1, 0, 1], [0, 0, 1]], (1, 0)),
    }
    points = np.concatenate([np.array(corners, float) for corners, _ in faces.values()])
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], float)
    uv = np.concatenate([(square + at) / 4 for _, at in faces.values()])
    triangles = np.concatenate([np.array([[0, 1, 2], [0, 2, 3]]) + 4 * k for k in range(6)])
    (cuts,) = facts_of(laid(Sheet(points, triangles, uv)), "cuts").cuts
    assert cuts.islands == 1
    assert cuts.seam_length == pytest.approx(7.0) and cuts.surface == pytest.approx(6.0)


@pytest.mark.parametrize("cut", [False, True])
@pytest.mark.parametrize("degrees", [0.0, 40.0, 180.0])
def test_an_edge_is_hard_or_smooth_and_cut_or_whole(degrees: float, cut: bool) -> None:
    (cuts,) = facts_of(painted(hinge(degrees=degrees, cut=cut)), "cuts").cuts
    hard, metres = cuts.hard_and_whole(30.0)
    smooth, length = cuts.smooth_and_cut(30.0)
    assert (hard.total, metres) == ((1, 1.0) if degrees > 30 and not cut else (0, 0.0))
    assert (smooth.total, length) == ((1, 1.0) if degrees <= 30 and cut else (0, 0.0))


@pytest.mark.parametrize("cut", [False, True])
@pytest.mark.parametrize("degrees", [0.0, 40.0])
def test_a_change_of_material_on_one_map_is_an_edge_like_any_other(degrees: float, cut: bool) -> None:
    (cuts,) = cuts_of(of_two_materials(hinge(degrees=degrees, cut=cut), 2))
    assert cuts.parts == (0, 1) and cuts.surface == pytest.approx(2.0)
    assert (cuts.islands, cuts.seam_length) == ((2, 1.0) if cut else (1, 0.0))
    assert cuts.hard_and_whole(30.0)[0].total == (1 if degrees > 30 and not cut else 0)
    assert cuts.smooth_and_cut(30.0)[0].total == (1 if degrees <= 30 and cut else 0)


@pytest.mark.parametrize("cut", [False, True])
def test_where_the_map_changes_with_the_material_the_surface_ends(cut: bool) -> None:
    found = cuts_of(of_two_materials(hinge(degrees=40.0, cut=cut), 2, one_map=False))
    assert [(cuts.parts, cuts.islands, cuts.seam_length) for cuts in found] == [((0,), 1, 0.0), ((1,), 1, 0.0)]
    assert not any(cuts.hard_and_whole(30.0)[0].total for cuts in found)


def test_dividing_a_surface_into_materials_changes_no_figure() -> None:
    whole, divided = hinge(degrees=12.0, cut=True), of_two_materials(hinge(degrees=12.0, cut=True), 1)
    figures = [
        (cuts.islands, cuts.seam_length, cuts.surface, cuts.smooth_and_cut(20.0), cuts.hard_and_whole(5.0))
        for cuts in (*cuts_of(painted(whole)), *cuts_of(divided))
    ]
    assert len(figures) == 2 and figures[0] == figures[1]


def test_triangles_without_uvs_belong_to_no_piece() -> None:
    part = hinge(degrees=0.0, cut=False)
    layer = part.uv_layers[0]
    bare = layer.triangles.copy()
    bare[2] = -1  # joined to the others by the diagonal of its square, which is a metre wide and high
    part = replace(part, uv_layers=(UvLayer(0, layer.name, layer.uv, bare),))
    for thing in (painted(part), of_two_materials(part, 2)):
        (cuts,) = cuts_of(thing)
        assert cuts.islands == 1 and cuts.seam_length == pytest.approx(2**0.5)


@pytest.mark.parametrize("cut", [False, True])
def test_a_triangle_without_area_on_an_edge_hides_no_seam(cut: bool) -> None:
    # The common edge of the hinge is 1 m long; a third triangle lies on it, twice on the same corner.
    thing = hinge(degrees=90, cut=cut)
    seam = np.array([[1, 2, 2]], np.int32)
    (layer,) = thing.uv_layers
    extra = replace(
        thing,
        triangles=np.concatenate([thing.triangles, seam]),
        normal_triangles=np.concatenate([thing.normal_triangles, seam]),
        uv_layers=(replace(layer, triangles=np.concatenate([layer.triangles, seam])),),
    )
    for one in (thing, extra):
        (found,) = cuts_of(painted(one))
        assert (found.hard_and_whole(30.0)[0].total, found.hard_and_whole(30.0)[1]) == ((0, 0.0) if cut else (1, 1.0))


def test_a_diagonal_on_an_edge_hides_no_seam() -> None:
    # Two squares share an edge of 1 m; the diagonal of a third polygon lies on it.
    thing = hinge(degrees=90, cut=True)
    points = np.concatenate([thing.positions, [[0.0, 0.5, -1.0], [2.0, 0.5, -1.0]]])
    quad = np.array([[1, 9, 2], [1, 2, 8]], np.int32)
    (layer,) = thing.uv_layers
    uv = np.concatenate([layer.uv, [[0.8, 0.8], [0.9, 0.9]]])
    normals = np.concatenate([thing.normals, [[0.0, 0.0, 1.0]] * 2])
    faces = np.concatenate([thing.triangles, quad])
    three = replace(
        thing,
        positions=points,
        triangles=faces,
        normals=normals,
        normal_triangles=faces,
        uv_layers=(replace(layer, uv=uv, triangles=faces),),
        polygon=np.array([0, 0, 1, 1, 2, 2], np.int32),
    )
    (found,) = cuts_of(painted(three))
    assert found.smooth_and_cut(90.0)[0].total == 1
