"""Islands and seam length against the surface."""

from __future__ import annotations

import numpy as np
import pytest

from tests.measure.test_cuts import of_two_materials
from tests.support.laid_props import Sheet, hinge, laid, sheet
from tests.support.mesh_props import findings
from tidegate.model.check import Scope
from tidegate.model.prop import Prop

CHECK = "surface-cut-too-much"


def cut_in_two() -> Prop:
    """A board of 2 m x 1 m, cut across its middle: one seam of 1 m."""
    points = np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [1, 0, 0], [2, 0, 0], [2, 1, 0], [1, 1, 0]], float)
    uv = points[:, :2] / 4 + np.repeat([[0.0, 0.0], [0.1, 0.0]], 4, axis=0)
    return laid(Sheet(points, np.array([[0, 1, 2], [0, 2, 3], [4, 5, 6], [4, 6, 7]]), uv))


@pytest.mark.parametrize(("most", "told"), [(1, True), (2, False)])
def test_both_sides_of_the_islands(most: int, told: bool) -> None:
    found = findings(CHECK, cut_in_two(), islands=most)
    assert bool(found) is told
    if told:
        assert (found[0].measured, found[0].wanted, found[0].place.material) == (2, 1, "oak")


@pytest.mark.parametrize(("most", "told"), [(0.707, True), (0.708, False)])
def test_both_sides_of_the_seams(most: float, told: bool) -> None:
    # 1 m of seam over the side of a square of 2 square metres, 1.41421 m: 0.707107
    found = findings(CHECK, cut_in_two(), seam_to_size=most)
    assert bool(found) is told
    if told:
        assert found[0].measured == 0.707107 and "1 m of seams on 2 square metres" in found[0].message


def test_open_borders_are_no_seams_and_nothing_is_asked_by_default() -> None:
    assert findings(CHECK, laid(sheet(0, 0, 100, 100)), seam_to_size=0.0) == []
    assert findings(CHECK, cut_in_two()) == []


def test_materials_that_share_a_map_are_judged_as_one_surface() -> None:
    both = of_two_materials(hinge(degrees=0.0, cut=True), 2)
    (found,) = findings(CHECK, both, islands=1)
    assert (found.measured, found.place.material, found.place.mesh) == (2, "", "hull")
    assert "(materials `brass`, `oak`)" in found.message
    assert findings(CHECK, both, islands=2) == []
    assert len(findings(CHECK, both, islands=1, scope=Scope(material=("oak",)))) == 1
    assert findings(CHECK, both, islands=1, scope=Scope(material=("tin",))) == []
    assert findings(CHECK, of_two_materials(hinge(degrees=0.0, cut=False), 2), islands=1) == []
