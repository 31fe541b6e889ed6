"""Breaks of shading inside an island, on two squares at an edge of 1 m."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.support.laid_props import hinge, painted
from tests.support.mesh_props import findings

CHECK = "hard-edges-unseamed"


@pytest.mark.parametrize(("degrees", "told"), [(29.99, False), (30.01, True)])
@pytest.mark.parametrize("back", [False, True])
def test_both_sides_of_what_is_hard(degrees: float, told: bool, back: bool) -> None:
    found = findings(CHECK, painted(hinge(degrees=degrees, cut=False, back=back)), degrees=30.0)
    assert bool(found) is told
    if told:
        assert (found[0].measured, found[0].wanted, found[0].place.point) == (1, 0, (1.0, 0.5, 0.0))
        assert "1 edge of mesh `hull`" in found[0].message and "1 m together" in found[0].message


def test_a_hard_edge_with_a_seam_and_the_allowed_number_pass() -> None:
    assert findings(CHECK, painted(hinge(degrees=90, cut=True))) == []
    assert findings(CHECK, painted(hinge(degrees=90, cut=False)), allowed=1) == []


def test_without_normals_nothing_is_told() -> None:
    bare = replace(hinge(degrees=90, cut=False), normals=None, normal_triangles=None)
    assert findings(CHECK, painted(bare)) == []
