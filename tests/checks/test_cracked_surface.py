"""Holes of one triangle, and borders that were not welded."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.support.mesh_props import box_part, findings, mesh_file, part

CHECK = "cracked-surface"


def test_a_sound_box_an_open_one_and_a_sheet() -> None:
    box = box_part()
    assert findings(CHECK, box) == []
    assert findings(CHECK, replace(box, triangles=box.triangles[2:])) == []
    assert findings(CHECK, part([[0, 0, 0], [1, 0, 0], [0, 1, 0]], [[0, 1, 2]])) == []


def test_a_triangle_that_is_missing() -> None:
    box = box_part()
    (one,) = findings(CHECK, replace(box, triangles=box.triangles[1:]))
    assert (one.measured, one.unit) == (1, "holes")
    assert one.message == "mesh `hull`: 1 hole as large as one triangle in a part that is closed otherwise"
    assert one.place.point == tuple(np.round(box.positions[box.triangles[0]].mean(axis=0), 6))


def test_two_halves_that_were_not_merged() -> None:
    # A box cut into its first five triangles and the rest, which was moved by half a millimetre.
    box = box_part()
    moved = np.concatenate([box.positions, box.positions + np.array([0.0005, 0.0, 0.0])])
    faces = np.concatenate([box.triangles[:5], box.triangles[5:] + 8])
    (one,) = findings(CHECK, replace(box, positions=moved, triangles=faces))
    assert one.unit == "edges" and "within 1 mm of each other and are not welded" in one.message
    assert one.measured == cut_edges(box.triangles)
    assert findings(CHECK, replace(box, positions=moved, triangles=faces), reach_m=0.0004) == []


def cut_edges(triangles: np.ndarray) -> int:
    def edges(some: np.ndarray) -> set[frozenset[int]]:
        return {frozenset((int(t[k]), int(t[(k + 1) % 3]))) for t in some for k in range(3)}

    return len(edges(triangles[:5]) & edges(triangles[5:]))


def test_two_things_that_touch_are_two_things() -> None:
    # A lid of its own node lies half a millimetre above a box: both are closed, or the lid is a sheet with a node of its own.
    box = box_part()
    lid = replace(box, node="lid", mesh="lid", positions=box.positions + np.array([0.0, 1.0005, 0.0]))
    assert findings(CHECK, mesh_file(box, lid)) == []
