"""Layers, triangles and numbers that are not there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.support.laid_props import laid, laid_part, painted, second_layer, sheet
from tests.support.mesh_props import SETTINGS, box_part, findings, mesh_file, prop
from tidegate import checks
from tidegate.measure.measure import measure
from tidegate.model.check import Scope
from tidegate.model.finding import Finding
from tidegate.model.mesh import MeshPart

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


def moved(by: float) -> MeshPart:
    layer = PART.uv_layers[0]  # its highest UV is 200 texels of 1024
    return replace(PART, uv_layers=(replace(layer, uv=layer.uv + np.array([by - 200 / 1024, 0.0])),))


@pytest.mark.parametrize("away", [1000.0, -999.0])
def test_uvs_far_away_and_not_yet(away: float) -> None:
    assert findings(CHECK, painted(moved(away))) == []


@pytest.mark.parametrize("away", [1000.001, -1000.0, 1e6, 1e20, 3e38])
def test_uvs_beyond_any_sense(away: float) -> None:
    (found,) = findings(CHECK, painted(moved(away)))
    assert "tiles away on layer 0" in found.message
    assert (found.wanted, found.unit) == (1000.0, "tiles")
    # The sheet is 100 of 1024 texels wide: its far edge is where it was moved to, or to the left of 0 that much further.
    assert isinstance(found.measured, float) and found.measured == pytest.approx(abs(away), rel=2e-4)


def test_both_sides_of_the_farthest() -> None:
    def far(by: float, allowed: float) -> list[Finding]:
        facts = measure(painted(moved(by)), checks.get(CHECK).needs, {**SETTINGS, "farthest_uv": allowed})
        return list(checks.get(CHECK).run(facts, {"layers": 1}, Scope()))

    assert far(7.0, 7.0) == []
    (found,) = far(7.001, 7.0)
    assert found.message.startswith("2 triangles in mesh") and found.wanted == 7.0


def test_collision_is_never_painted() -> None:
    assert findings(CHECK, prop(mesh_file(box_part(role="collision")))) == []
    assert laid(sheet(0, 0, 9, 9)).meshes
