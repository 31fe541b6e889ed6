"""Which islands are painted on the same texels, and what kind of picture that is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.support.laid_props import OAK, collapsed, laid, laid_part, painted, second_layer, sheet
from tests.support.mesh_props import facts_of, material, mesh_file
from tidegate.model.facts import Picture
from tidegate.model.image_header import ImageHeader
from tidegate.model.prop import Binding, Prop, TextureMap

A, B = sheet(100, 100, 400, 400), sheet(500, 100, 800, 400)


def pictures(thing: Prop) -> tuple[Picture, ...]:
    return facts_of(thing, "islands").pictures


def test_meshes_with_one_map_are_one_picture() -> None:
    (one,) = pictures(painted(laid_part(A), laid_part(B, mesh="keel")))
    assert (one.key, one.width, one.height, one.assumed, one.driving_slot) == (
        "oak_base_color.png",
        1024,
        1024,
        False,
        "base_color",
    )
    assert one.parts == (0, 1) and one.islands.tolist() == [0, 1]
    assert one.repeats and not one.palette and not one.bare


def test_roles_are_pictures_of_their_own() -> None:
    found = pictures(painted(laid_part(A), laid_part(A, mesh="hull_lod1", role="lod1")))
    assert [(p.role, p.islands.tolist()) for p in found] == [("lod1", [1]), ("model", [0])]


def test_tiles_of_a_map_in_tiles_are_pictures_of_their_own() -> None:
    beyond = B._replace(uv=B.uv + np.array([1.0, 0.0]))
    thing = laid(A, beyond)
    header = ImageHeader("png", 1, 512, 512)
    tiled = replace(
        thing,
        maps=(*thing.maps, TextureMap("second.png", "", header, ("base_color",), tile=1002)),
        bindings=(
            replace(thing.bindings[0], tile=1001),
            Binding("a.glb", "oak", "base_color", "second.png", "name", tile=1002),
        ),
    )
    found = pictures(tiled)
    assert [(p.tile, p.width, p.islands.tolist(), p.repeats) for p in found] == [
        (1001, 1024, [0], False),
        (1002, 512, [1], False),
    ]


def colored(*, with_map: bool) -> Prop:
    """`oak` with a map or without, and `red`, which names none."""
    mesh = mesh_file(
        laid_part(A), laid_part(B, mesh="keel", material=1), path="a.glb", materials=(OAK, material("red"))
    )
    thing = replace(laid(A), meshes=(mesh,))
    return thing if with_map else replace(thing, maps=(), bindings=())


def test_a_material_without_a_map_is_bare_beside_others_that_have_one() -> None:
    assert {p.key: (p.assumed, p.bare) for p in pictures(colored(with_map=True))} == {
        "oak_base_color.png": (False, False),
        "material red": (True, True),
    }
    # A prop that is not painted yet is judged as it lies.
    assert [p.bare for p in pictures(colored(with_map=False))] == [False, False]


def test_a_further_layer_without_a_map_is_bare() -> None:
    part = laid_part(A)
    found = pictures(painted(second_layer(part, part.uv_layers[0].uv)))
    assert [(p.uv_layer, p.bare) for p in found] == [(1, True), (0, False)]


def test_bare_pictures_are_counted_only_when_asked_for() -> None:
    assert [c.picture.key for c in facts_of(colored(with_map=True), "coverage").coverage] == ["oak_base_color.png"]
    assert len(facts_of(colored(with_map=True), "bare").spacing) == 2


def test_what_is_a_palette() -> None:
    small = sheet(100, 100, 200, 200)
    assert pictures(laid(collapsed(A), collapsed(B)))[0].palette
    assert pictures(laid(small, collapsed(small)))[0].palette  # half of it flat
    assert not pictures(laid(A, B, collapsed(small)))[0].palette  # a layout was made
    assert not pictures(laid(collapsed(A), slots=("base_color", "normal")))[0].palette
    assert not pictures(replace(laid(collapsed(A)), maps=(), bindings=()))[0].palette
    folded = sheet(100, 100, 200, 200, cells=(2, 1))
    folded.uv[2::3] = folded.uv[0::3]
    assert not pictures(laid(folded))[0].palette  # folded in half is a fault, and no sign of a palette


def test_a_header_that_claims_a_monstrous_size_does_not_drive() -> None:
    for side, drives in ((32_768, True), (32_769, False), (2**31 - 1, False)):
        thing = painted(laid_part(A))
        monster = replace(thing.maps[0], header=replace(thing.maps[0].header, width=side, height=1024))
        (one,) = pictures(replace(thing, maps=(monster,)))
        assert (one.assumed, one.width) == (not drives, side if drives else 2048)
