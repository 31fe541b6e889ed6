"""Seams where the shading goes on, on two squares at an edge of 1 m."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.support.laid_props import hinge, painted
from tests.support.mesh_props import findings

CHECK = "seams-on-smooth-edges"


@pytest.mark.parametrize(("degrees", "told"), [(4.99, True), (5.01, False)])
def test_both_sides_of_what_is_smooth(degrees: float, told: bool) -> None:
    found = findings(CHECK, painted(hinge(degrees=degrees, cut=True)), degrees=5.0, share=0.5)
    assert bool(found) is told
    if told:
        assert found[0].measured == 1.0 and found[0].place.point == (1.0, 0.5, 0.0)


def test_the_share_of_smooth_seams() -> None:
    assert findings(CHECK, painted(hinge(degrees=0, cut=True)), share=1.0) == []
    assert len(findings(CHECK, painted(hinge(degrees=0, cut=True)), share=0.99)) == 1
    assert findings(CHECK, painted(hinge(degrees=0, cut=False)), share=0.0) == []


def test_without_normals_nothing_is_told() -> None:
    bare = replace(hinge(degrees=0, cut=True), normals=None, normal_triangles=None)
    assert findings(CHECK, painted(bare)) == []
