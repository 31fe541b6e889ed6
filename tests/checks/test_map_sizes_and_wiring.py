"""Sizes of maps by header, both sides of each limit, and which slot a map is wired to."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from tests.support.laid_props import OAK, laid, sheet
from tests.support.mesh_props import findings, mesh_file
from tidegate.model.check import Scope
from tidegate.model.image_header import ImageHeader
from tidegate.model.mesh import MapSlot
from tidegate.model.order_row import OrderRow
from tidegate.model.prop import Prop
from tidegate.model.reference import FileReference

CHECK = "map-size-out-of-range"
A = sheet(100, 100, 200, 200)


def sized(width: int, height: int) -> Prop:
    return laid(A, size=(width, height))


@pytest.mark.parametrize(
    ("size", "limits", "told"),
    [
        ((1024, 1024), {}, []),
        ((1023, 1024), {"ratios": []}, ["not a power of two"]),
        ((1024, 1025), {"ratios": []}, ["not a power of two"]),
        ((1023, 1023), {"power_of_two": False}, []),
        ((256, 256), {"smallest": 256}, []),
        ((128, 128), {"smallest": 129}, ["smaller than 129"]),
        ((512, 256), {"smallest": 257, "ratios": []}, ["smaller than 257"]),  # the shorter side
        ((512, 512), {"largest": 512}, []),
        ((512, 256), {"largest": 511, "ratios": []}, ["larger than 511"]),  # the longer side
        ((512, 256), {}, ["width to height may be 1:1"]),
        ((512, 256), {"ratios": ["1:1", "2:1"]}, []),
        # Saved at 1024 x 512, which is what is asked of it, the first will be 2 to 1: told once. The second will be 1 to 1.
        ((1285, 640), {"ratios": ["1:1", "2:1"]}, ["not a power of two"]),
        ((1000, 1020), {}, ["not a power of two"]),
        # 2048 x 1024 would be 2 to 1, but squeezes the picture: the ratio is a fault of its own.
        ((2000, 1350), {"ratios": ["1:1", "2:1"]}, ["not a power of two", "width to height may be 1:1 or 2:1"]),
        ((1285, 640), {}, ["not a power of two", "width to height may be 1:1"]),
        ((256, 512), {"ratios": ["1:1", "2:1"]}, ["width to height may be 1:1 or 2:1"]),
    ],
)
def test_both_sides_of_each_limit(size: tuple[int, int], limits: dict[str, Any], told: list[str]) -> None:
    found = findings(CHECK, sized(*size), **limits)
    assert len(found) == len(told)
    assert all(says in one.message for says, one in zip(told, found, strict=True))


@pytest.mark.parametrize(("side", "near"), [(1447, 1024), (1449, 2048), (1285, 1024), (640, 512)])
def test_the_nearest_power_of_two_is_named(side: int, near: int) -> None:
    # 1024 times the root of two is 1448.15
    (found,) = findings(CHECK, sized(side, side))
    assert f"save it at {near} x {near}" in found.help


@pytest.mark.parametrize(("ordered", "told"), [(1024, False), (2048, True), (512, True)])
def test_the_ordered_size(ordered: int, told: bool) -> None:
    found = findings(CHECK, sized(1024, 1024), order=OrderRow("crate", map_sizes=(("", ordered),)))
    assert bool(found) is told
    own = OrderRow("crate", map_sizes=(("", ordered), ("base_color", 1024)))
    assert findings(CHECK, sized(1024, 1024), order=own) == []


@pytest.mark.parametrize(("side", "told"), [(1024, False), (512, False), (256, True), (2048, False), (4096, True)])
def test_maps_of_one_material_have_one_size_or_half_of_it(side: int, told: bool) -> None:
    thing = laid(A, slots=("base_color", "normal"))
    header = ImageHeader("png", 1, side, side)
    thing = replace(thing, maps=(thing.maps[0], replace(thing.maps[1], header=header)))
    # The base color has 1024: beside 2048 it is half of the largest, beside 4096 a quarter.
    assert bool(findings(CHECK, thing)) is told
    assert bool(findings(CHECK, thing, fractions=[1.0])) is (side != 1024)
    assert findings(CHECK, thing, same_within_material=False) == []


def test_slots_out_of_scope_are_let_be() -> None:
    assert findings(CHECK, sized(1000, 1000), scope=Scope(slot=("normal",))) == []
    assert len(findings(CHECK, sized(1000, 1000), scope=Scope(slot=("base_*",)))) == 1


@pytest.mark.parametrize("disagreement", ["", "normal"])
def test_a_map_wired_to_another_slot_than_its_name_states(disagreement: str) -> None:
    thing = laid(A)
    thing = replace(thing, bindings=tuple(replace(one, disagreement=disagreement) for one in thing.bindings))
    found = findings("slot-disagreement", thing)
    assert bool(found) is bool(disagreement)
    if disagreement:
        assert (found[0].wanted, found[0].place.slot, found[0].place.material) == ("normal", "base_color", "oak")
        assert findings("slot-disagreement", thing, scope=Scope(material=("brass",))) == []


@pytest.mark.parametrize("worn", [True, False])
def test_a_picture_that_no_material_uses(worn: bool) -> None:
    slots = (MapSlot("base_color", "rgb", "baseColorTexture", 0),) if worn else ()
    reference = FileReference("oak.png", "image", "present", "oak.png")
    mesh = replace(laid(A).meshes[0], materials=(replace(OAK, slots=slots),), references=(reference,))
    found = findings("unused-reference", replace(laid(A), meshes=(mesh,)))
    assert bool(found) is not worn
    assert worn or ("`oak.png`" in found[0].message and found[0].place.map == "oak.png")


def test_other_kinds_of_references_are_not_asked_for_a_slot() -> None:
    library = FileReference("oak.mtl", "material library", "present", "oak.mtl")
    assert findings("unused-reference", Prop("crate", (mesh_file(references=(library,)),))) == []


@pytest.mark.parametrize(
    ("sides", "told"),
    [
        # An odd map that is right once it is saved at a power of two: told of that alone.
        ((1000, 1024), {"base_color": "not a power of two"}),
        ((2000, 1024), {"base_color": "not a power of two"}),  # 2048, of which 1024 is half
        ((1000, 4096), {"base_color": "not a power of two|0.244 of the size"}),  # 1024 is still no half of 4096
        ((512, 2048), {"base_color": "0.25 of the size"}),
        ((1000, 1000), {"base_color": "not a power of two", "normal": "not a power of two"}),
    ],
)
def test_an_odd_size_is_told_once(sides: tuple[int, int], told: dict[str, str]) -> None:
    thing = laid(A, slots=("base_color", "normal"))
    maps = tuple(
        replace(one, header=replace(one.header, width=side, height=side))
        for one, side in zip(thing.maps, sides, strict=True)
    )
    found: dict[str, list[str]] = {}
    for one in findings(CHECK, replace(thing, maps=maps)):
        found.setdefault(one.place.slot, []).append(one.message)
    assert set(found) == set(told)
    for slot, says in told.items():
        assert len(found[slot]) == len(says.split("|"))
        assert all(any(part in message for message in found[slot]) for part in says.split("|"))
