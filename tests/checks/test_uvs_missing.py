"""Layers, triangles and numbers that are not there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.support.laid_props import laid, laid_part, painted, second_layer, sheet
from tests.support.mesh_props import box_part, findings, mesh_file, prop

CHECK = "uvs-missing"
PART = laid_part(sheet(100, 100, 200, 200, cells=(2, 1)))


def test_whole_layouts_have_nothing_missing() -> None:
    assert findings(CHECK, painted(PART)) == []


def test_both_sides_of_the_layers() -> None:
    two = second_layer(PART, PART.uv_layers[0].uv)
    assert findings(CHECK, painted(two), layers=2) == []
    (found,) = findings(CHECK, painted(two), layers=3)
    assert (found.measured, found.wanted, found.place.uv_layer) == (2, 3, 2)
    assert len(findings(CHECK, box_part())) == 1
    assert findings(CHECK, box_part(), layers=0) == []


def test_triangles_without_and_with_numbers_that_are_none() -> None:
    layer = PART.uv_layers[0]
    triangles = layer.triangles.copy()
    triangles[0] = -1
    uv = layer.uv.copy()
    uv[-1] = np.nan  # the upper right corner: two of the right cell's triangles
    holes = replace(PART, uv_layers=(replace(layer, uv=uv, triangles=triangles),))
    found = findings(CHECK, painted(holes))
    assert [f.measured for f in found] == [1, int((layer.triangles[1:] == len(uv) - 1).any(axis=1).sum())]
    assert "without UVs on layer 0" in found[0].message and "no finite numbers" in found[1].message
    infinite = replace(PART, uv_layers=(replace(layer, uv=np.where(np.isnan(uv), np.inf, uv)),))
    assert len(findings(CHECK, painted(infinite))) == 1


def test_collision_is_never_painted() -> None:
    assert findings(CHECK, prop(mesh_file(box_part(role="collision")))) == []
    assert laid(sheet(0, 0, 9, 9)).meshes
