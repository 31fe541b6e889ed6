"""Quads on the corners of another one, cut along the other diagonal."""

from __future__ import annotations

import numpy as np
import pytest

from tests.support.mesh_props import facts_of, part
from tidegate.geometry.areas import cross_products
from tidegate.geometry.corners import corner_columns
from tidegate.geometry.crossed_quads import crossed_quads
from tidegate.geometry.topology import topology_mates

SQUARE = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [1.0, 1.0, 0.0], [0.0, 1.0, 0.0]])
FRONT = [[0, 1, 2], [0, 2, 3]]
BACK = [[3, 2, 1], [3, 1, 0]]
AGAIN = [[0, 1, 3], [1, 2, 3]]


def crossed(points: np.ndarray, triangles: list[list[int]]) -> list[tuple[list[list[int]], bool]]:
    faces = np.array(triangles, np.int32)
    normals = cross_products(corner_columns(points, faces))
    quads, same = crossed_quads(faces, topology_mates(faces), normals, np.ones(len(faces), np.bool_))
    return list(zip(quads.tolist(), same.tolist(), strict=True))


def test_a_back_and_a_copy_cut_the_other_way() -> None:
    assert crossed(SQUARE, [*FRONT, *BACK]) == [([[0, 1], [2, 3]], False)]
    assert crossed(SQUARE, [*BACK, *FRONT]) == [([[2, 3], [0, 1]], False)]  # the one that looks forwards leads
    assert crossed(SQUARE, [*FRONT, *AGAIN]) == [([[0, 1], [2, 3]], True)]
    assert crossed(SQUARE, FRONT) == []


@pytest.mark.parametrize(("degrees", "found"), [(11.0, 1), (12.0, 0)])
def test_two_bent_quads_enclose_a_space(degrees: float, found: int) -> None:
    # Bent up along the diagonal 0-2 by so many degrees; the quad beneath is bent down along the other one.
    bent = SQUARE.copy()
    bent[[1, 3], 2] = np.sqrt(0.5) * np.tan(np.radians(degrees / 2.0)) * np.array([-1.0, -1.0])
    assert len(crossed(bent, [*FRONT, *BACK])) == found


def test_a_tetrahedron_is_none() -> None:
    points = np.array([[1, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1]], float)
    assert crossed(points, [[0, 1, 2], [0, 3, 1], [0, 2, 3], [1, 3, 2]]) == []


@pytest.mark.parametrize(("more", "doubled", "backed"), [(BACK, 0, 2), (AGAIN, 2, 0)])
def test_a_body_counts_them_with_the_others(more: list[list[int]], doubled: int, backed: int) -> None:
    (body,) = facts_of(part(SQUARE, [*FRONT, *more]), "topology").topology
    assert (body.doubled.total, body.back_to_back.total) == (doubled, backed)
    assert body.faces_of("doubled" if doubled else "back_to_back") == ((0, 0, 4),)
    # Further on in a sheet, where two fronts and two backs meet in an edge.
    wide = np.array([[x, y, 0.0] for y in (0.0, 1.0) for x in range(4)])
    quads = [(i, i + 1, i + 5, i + 4) for i in range(3)]
    fronts = [t for a, b, c, d in quads for t in ([a, b, c], [a, c, d])]
    others = [[(q[k]) for k in t] for q in quads for t in more]
    (body,) = facts_of(part(wide, [*fronts, *others]), "topology").topology
    assert (body.doubled.total, body.back_to_back.total) == (3 * doubled, 3 * backed)
