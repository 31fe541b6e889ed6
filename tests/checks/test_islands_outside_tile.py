"""Borders of the tile, tiles that are allowed, and maps that repeat."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.support.laid_props import Sheet, laid, sheet
from tests.support.mesh_props import findings
from tidegate.model.prop import Prop

CHECK = "islands-outside-tile"


def moved(across: float, up: float = 0.0) -> Prop:
    """A sheet over the whole tile, moved by so many tiles, on maps that come in tiles."""
    whole = sheet(0, 0, 1024, 1024)
    return laid(Sheet(whole.points, whole.triangles, whole.uv + np.array([across, up])))


@pytest.mark.parametrize(("by", "told"), [(0.0, False), (1e-4, True), (-1e-4, True), (1e-8, False)])
def test_an_island_that_ends_exactly_on_the_border_is_inside(by: float, told: bool) -> None:
    found = findings(CHECK, moved(by))
    assert bool(found) is told
    if told:
        assert "across or beyond the border" in found[0].message and found[0].place.islands == (1,)


@pytest.mark.parametrize(("across", "up", "number"), [(1, 0, 1002), (0, 1, 1011), (9, 0, 1010), (3, 2, 1024)])
def test_tiles_are_allowed_by_their_number(across: int, up: int, number: int) -> None:
    # MaterialX 1.39, Filename Substitutions: 1001 + u + 10 v
    found = findings(CHECK, moved(across, up))
    assert [f.measured for f in found] == [str(number)] and "not allowed" in found[0].message
    assert findings(CHECK, moved(across, up), tiles=[1001, number]) == []


def test_beyond_the_numbering_no_tile_is_allowed() -> None:
    assert findings(CHECK, moved(10), tiles=[1001, 1011]) != []
    assert findings(CHECK, moved(-1), tiles=[1001, 1000]) != []


def test_a_map_made_to_repeat_passes_by_rule() -> None:
    assert findings(CHECK, moved(0.5, 7.25), repeat=True) == []


def test_a_color_without_a_map_has_no_tile() -> None:
    # One material with a map, one without any: the second is a plain color, its UVs mean nothing.
    from tests.support.laid_props import OAK, laid_part
    from tests.support.mesh_props import material, mesh_file

    inside = laid_part(sheet(0, 0, 500, 500))
    beyond = laid_part(sheet(0, 0, 5000, 5000), mesh="keel", material=1)
    thing = laid(sheet(0, 0, 9, 9))
    both = replace(thing, meshes=(mesh_file(inside, beyond, path="a.glb", materials=(OAK, material("red"))),))
    assert findings(CHECK, both) == []
    bare = replace(both, maps=(), bindings=())  # no map at all: the layout waits for its paint and is judged
    assert len(findings(CHECK, bare)) == 1
