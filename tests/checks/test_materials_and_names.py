"""Checks of materials, default names, vertices, vertex colors and ordered variants."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.support.mesh_props import box_part, findings, material, mesh_file, messages, prop, sheet_part
from tidegate.model.check import Scope
from tidegate.model.mesh import MapSlot, MeshFile
from tidegate.model.order_row import OrderRow
from tidegate.model.prop import Prop
from tidegate.model.reference import FileReference


def wearing(*names: str, stated: tuple[str, ...] = ()) -> MeshFile:
    parts = [replace(box_part(mesh=f"m{i}"), material=i) for i in range(len(names))]
    return mesh_file(*parts, materials=tuple(material(name) for name in (*names, *stated)))


def test_too_many_materials() -> None:
    assert findings("too-many-materials", wearing("iron", "oak")) == []  # off until asked for
    assert findings("too-many-materials", wearing("iron", "oak"), most=2) == []
    (one,) = findings("too-many-materials", wearing("iron", "oak", "rope"), most=2)
    assert (one.measured, one.wanted, one.place.role) == (3, 2, "model")
    assert findings("too-many-materials", wearing("iron", "iron"), most=1) == []  # one material on two meshes


def test_materials_that_nothing_wears() -> None:
    assert findings("unused-material", wearing("iron")) == []
    assert messages("unused-material", wearing("iron", stated=("oak", "rope"))) == [
        "furniture_crate.glb states 2 materials that no mesh wears: `oak` and `rope`"
    ]
    assert findings("unused-material", wearing("iron", stated=("oak",)), scope=Scope(material=("rope",))) == []
    many = messages("unused-material", wearing("iron", stated=tuple("abcdefg")))
    assert "`e` and 2 more" in many[0]


@pytest.mark.parametrize(
    ("other", "told"),
    [("iron.001", 1), ("iron (2)", 1), ("iron copy", 1), ("iron_copy3", 1), ("iron", 1), ("iron2", 0), ("iron_a", 0)],
)
def test_copies_of_a_material(other: str, told: int) -> None:
    assert len(findings("doubled-material", wearing("iron", other))) == told


def test_materials_with_other_maps_are_no_copies() -> None:
    maps = tuple(FileReference(name, "image", "present") for name in ("a.png", "b.png"))
    slots = [MapSlot("base_color", "rgb", "map_Kd", i) for i in range(2)]
    parts = [replace(box_part(mesh=f"m{i}"), material=i) for i in range(2)]
    apart = mesh_file(*parts, materials=(material("oak", slots[0]), material("oak.001", slots[1])), references=maps)
    assert findings("doubled-material", apart) == []
    same = replace(apart, materials=(material("oak", slots[0]), material("oak.001", slots[0])))
    (one,) = findings("doubled-material", same)
    assert one.message == "furniture_crate.glb: `oak` and `oak.001` are copies of one material"


@pytest.mark.parametrize("name", ["Material", "material.003", "Material_12", "lambert1", "New Material 2", "default"])
def test_default_names(name: str) -> None:
    (one,) = findings("default-name", wearing(name))
    assert one.place.material == name
    assert findings("default-name", wearing(name), words=["rope"]) == []
    assert findings("default-name", wearing(name), words=[]) == []


@pytest.mark.parametrize("name", ["iron", "material_iron", "boxwood", "crate_box", "sphere_of_glass", ""])
def test_names_of_what_things_are(name: str) -> None:
    assert findings("default-name", wearing(name)) == []


def test_kinds_of_names_that_are_looked_at() -> None:
    cube = mesh_file(box_part(mesh="Cube.001"))
    assert findings("default-name", cube) == []
    (mesh, node) = findings("default-name", cube, kinds=["mesh", "node"])
    assert (mesh.place.mesh, node.place.node) == ("Cube.001", "Cube.001")


def test_vertices_by_role() -> None:
    assert findings("vertices-over-budget", box_part()) == []
    assert findings("vertices-over-budget", box_part(), most=8) == []
    (one,) = findings("vertices-over-budget", box_part(), most=7)
    assert (one.measured, one.wanted, one.unit) == (8, 7, "vertices")
    # 8 vertices for 12 triangles
    assert findings("vertices-over-budget", box_part(), per_triangle=0.667) == []
    assert len(findings("vertices-over-budget", box_part(), per_triangle=0.666)) == 1


def test_vertices_that_nothing_uses() -> None:
    loose = box_part()
    loose = replace(loose, positions=np.concatenate([loose.positions, np.zeros((2, 3))]))
    assert findings("unused-vertices", box_part()) == []
    (one,) = findings("unused-vertices", loose)
    assert one.measured == 2
    assert findings("unused-vertices", loose, allowed=2) == []
    assert len(findings("unused-vertices", loose, allowed=1)) == 1
    # A reader that keeps used vertices only says how many it left out.
    (one,) = findings("unused-vertices", mesh_file(box_part(), path="crate.obj", unused_vertices=3))
    assert one.measured == 3


def test_vertex_colors() -> None:
    plain, colored = box_part(), replace(box_part(), colors=np.ones((8, 3)))
    assert findings("vertex-colors-amiss", colored) == [] == findings("vertex-colors-amiss", plain)
    assert messages("vertex-colors-amiss", colored, wanted="absent") == ["mesh `hull` carries vertex colors"]
    assert messages("vertex-colors-amiss", plain, wanted="present") == ["mesh `hull` has no vertex colors"]
    assert findings("vertex-colors-amiss", plain, wanted="absent") == []
    assert findings("vertex-colors-amiss", colored, wanted="present") == []


def variants(*present: str) -> Prop:
    return prop(mesh_file(sheet_part(1, 1)), variants=present or ("",))


def test_variants_that_were_ordered() -> None:
    order = OrderRow("crate", variants=("blue", "red"))
    assert findings("ordered-variant-missing", variants("blue", "red"), order=order) == []
    (one,) = findings("ordered-variant-missing", variants("blue"), order=order)
    assert (one.place.variant, one.message) == ("red", "variant `red` was ordered; there is `blue`")
    assert len(findings("ordered-variant-missing", variants(), order=order)) == 2
    (slip,) = findings("ordered-variant-missing", variants("blue", "redd"), order=order)
    assert slip.help == "did you mean `redd`?"
    assert findings("ordered-variant-missing", variants("blue"), order=OrderRow("crate")) == []
    assert findings("ordered-variant-missing", variants("blue")) == []
    assert findings("ordered-variant-missing", variants("blue"), order=order, scope=Scope(variant=("blue",))) == []


def test_variants_that_were_not() -> None:
    order = OrderRow("crate", variants=("blue",))
    assert findings("ordered-variant-missing", variants("blue", "green"), order=order) == []
    (one,) = findings("ordered-variant-missing", variants("blue", "green"), order=order, others=False)
    assert one.message == "variant `green` is there and was not ordered"
