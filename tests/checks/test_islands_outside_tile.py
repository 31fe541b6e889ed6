"""Borders of the tile, tiles that are allowed, and maps that repeat."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.support.laid_props import Sheet, laid, sampled, sheet
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
        assert "across the border of the tile" in found[0].message and found[0].place.islands == (1,)


@pytest.mark.parametrize("over", [0.0098, 0.0102])
def test_both_sides_of_what_shows_beyond_a_border(over: float) -> None:
    # `geometry.tiles.SEEN`: a hundredth of a texel. The island starts a little over one of the four borders in turn.
    inner = sheet(300, 300, 400, 400)
    for box in (
        (-over, 100, 80, 200),
        (100, -over, 200, 80),
        (944, 100, 1024 + over, 200),
        (100, 944, 200, 1024 + over),
    ):
        found = findings(CHECK, laid(inner, sheet(*box)))
        assert [one.measured for one in found] == ([] if over < 0.01 else [pytest.approx(over, abs=1e-4)])


@pytest.mark.parametrize(("across", "up", "number"), [(1, 0, 1002), (0, 1, 1011), (9, 0, 1010), (3, 2, 1024)])
def test_tiles_are_allowed_by_their_number(across: int, up: int, number: int) -> None:
    # MaterialX 1.39, Filename Substitutions: 1001 + u + 10 v
    found = findings(CHECK, moved(across, up))
    assert [f.measured for f in found] == [str(number)] and f"in tile {number}, which is not allowed" in found[
        0
    ].message
    assert f"move the islands into tile 1001, or add {number} to `tiles`, or allow repeat" in found[0].help
    assert findings(CHECK, moved(across, up), tiles=[1001, number]) == []


@pytest.mark.parametrize(
    ("corners", "texels", "border"),
    [
        ((-20, 100, 80, 200), 20, "left"),
        ((900, 100, 1064, 200), 40, "right"),
        ((100, -1, 200, 99), 1, "lower"),
        ((100, 1000, 200, 1029), 5, "upper"),  # its middle, 1014.5, lies in the tile
        (
            (100, 1000, 200, 1049),
            24,
            "lower",
        ),  # the middle, 1024.5, lies in the tile above, whose lower border it crosses
    ],
)
def test_how_far_over_which_border(corners: tuple[int, int, int, int], texels: int, border: str) -> None:
    (one,) = findings(CHECK, laid(sheet(300, 300, 400, 400), sheet(*corners)))
    assert (one.measured, one.wanted, one.unit) == (pytest.approx(texels, abs=1e-4), 0, "texels")
    assert one.message.endswith(f"; {texels} texel{'' if texels == 1 else 's'} over the {border} border")
    (both,) = findings(CHECK, laid(sheet(-10, 300, 90, 400), sheet(*corners)))
    assert both.measured == pytest.approx(max(texels, 10), abs=1e-4) and "; farthest island " in both.message


def tiled(*tiles: int, across: float = 1.0, mirrored: bool = False) -> Prop:
    """Two sheets, the second moved by so many tiles, and a map for each of the named tiles."""
    first, second = (sheet(at, at, at + 200, at + 200, mirrored=mirrored) for at in (100, 400))
    thing = laid(first, Sheet(second.points, second.triangles, second.uv + np.array([across, 0.0])))
    maps = tuple(replace(thing.maps[0], path=f"oak_base_color.{tile}.png", tile=tile) for tile in tiles)
    bindings = tuple(replace(thing.bindings[0], file=one.path, tile=one.tile) for one in maps)
    return replace(thing, maps=maps, bindings=bindings)


def test_a_tile_that_comes_with_its_map_is_allowed() -> None:
    assert findings(CHECK, tiled(1001, 1002)) == []
    (one,) = findings(CHECK, tiled(1001, 1002), tiles_with_map=False)
    assert one.message == "1 island of 1 in tile 1002, which is not allowed, on oak_base_color.1002.png: number 2"
    assert one.place.map == "oak_base_color.1002.png"
    assert one.help == "move the islands into tile 1001, or add 1002 to `tiles`, or hand over a map for 1002"
    assert findings(CHECK, tiled(1001, 1002), tiles_with_map=False, tiles=[1001, 1002]) == []


def test_a_tile_without_its_map_is_not() -> None:
    (one,) = findings(CHECK, tiled(1001, 1003))  # the island lies in 1002
    assert (
        one.message == "1 island of 1 in tile 1002, for which there is no map beside oak_base_color.1001.png: number 2"
    )
    assert one.place.islands == (2,)
    assert findings(CHECK, tiled(1001, 1003, across=2.0)) == []
    # Of a map that comes in no tiles the first tile has one, and the others repeat it.
    assert len(findings(CHECK, moved(1))) == 1


def test_an_island_on_a_tile_is_placed_on_the_map_of_that_tile() -> None:
    first, second = findings("mirrored-islands", tiled(1001, 1002, mirrored=True))
    assert (first.place.map, second.place.map) == ("oak_base_color.1001.png", "oak_base_color.1002.png")


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


@pytest.mark.parametrize("wrap", [("repeat", "repeat"), ("repeat", "clamp")])
def test_a_twin_put_aside_by_a_whole_tile(wrap: tuple[str, str]) -> None:
    # The second, mirrored, lies on the first when it is moved back by a tile; the third is a texel off.
    one, twin = sheet(100, 100, 200, 200), sheet(1124, 100, 1224, 200, mirrored=True)
    told = findings(CHECK, sampled(wrap, one, twin), twins_outside=True)
    assert bool(told) is (wrap[1] == "clamp")  # where the map ends, what lies outside shows its border
    assert len(findings(CHECK, sampled(wrap, one, twin))) == 1
    off = sheet(1125, 100, 1225, 200, mirrored=True)
    (found,) = findings(CHECK, sampled(("repeat", "repeat"), one, off), twins_outside=True)
    assert found.place.islands == (2,)
    # Two outside and none at home: nothing to lie on.
    assert len(findings(CHECK, sampled(("repeat", "repeat"), twin, twin), twins_outside=True)) == 1
