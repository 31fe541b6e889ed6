"""Levels of detail against their model."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.support.mesh_props import box_part, facts_of, material, mesh_file, prop, sheet_part
from tidegate.measure.levels import Level
from tidegate.model.mesh import MeshFile, MeshPart, Node
from tidegate.model.prop import Prop

MODEL, LOD1, LOD2 = "crate.glb", "crate_lod1.glb", "crate_lod2.glb"


def level_file(one: MeshPart, role: str, **more: object) -> MeshFile:
    path = {"model": MODEL, "lod1": LOD1, "lod2": LOD2}[role]
    return mesh_file(one, path=path, role=role, **more)


def levels(thing: Prop) -> tuple[Level, ...]:
    found: tuple[Level, ...] = facts_of(thing, "levels").levels
    return found


def test_each_level_follows_the_one_before_it() -> None:
    model, one, two = sheet_part(4, 4), sheet_part(2, 2), sheet_part(1, 1)
    found = levels(prop(level_file(two, "lod2"), level_file(model, "model"), level_file(one, "lod1")))
    assert [(x.role, x.above, x.triangles, x.triangles_above) for x in found] == [
        ("lod1", "model", 8, 32),
        ("lod2", "lod1", 2, 8),
    ]
    assert (found[0].high, found[0].model_high) == ((2.0, 2.0, 0.0), (4.0, 4.0, 0.0))
    assert [x.strayed for x in found] == [0.0, 0.0]  # all of them over the whole tile


def test_a_model_alone_has_none_and_levels_alone_lead_each_other() -> None:
    assert levels(prop(level_file(box_part(), "model"))) == ()
    assert levels(prop(level_file(box_part(), "lod1"))) == ()
    (found,) = levels(prop(level_file(box_part(), "lod1"), level_file(box_part(2.0), "lod2")))
    assert (found.role, found.above) == ("lod2", "lod1")


def test_ten_comes_after_nine() -> None:
    parts = [box_part(mesh=f"crate_lod{n}", role=f"lod{n}") for n in (10, 9)]
    found = levels(prop(mesh_file(box_part(mesh="crate", role="model"), *parts)))
    assert [x.role for x in found] == ["lod9", "lod10"]


def laid(low: float, high: float) -> MeshPart:
    """A sheet laid out between two numbers of the tile."""
    sheet = sheet_part(2, 2)
    layer = sheet.uv_layers[0]
    return replace(sheet, uv_layers=(replace(layer, uv=layer.uv * (high - low) + low),))


def test_how_much_of_a_level_is_painted_elsewhere() -> None:
    def strayed(level: MeshPart) -> float | None:
        (found,) = levels(prop(level_file(laid(0.0, 0.5), "model"), level_file(level, "lod1")))
        return found.strayed

    assert strayed(laid(0.0, 0.5)) == 0.0
    assert strayed(laid(0.1, 0.4)) == 0.0
    assert strayed(laid(1.0, 1.5)) == 0.0  # the same texels, a tile further
    assert strayed(laid(0.55, 1.0)) == 1.0
    # 0.25 to 0.75: one of the four cells, a quarter, lies on the model's square.
    assert strayed(laid(0.25, 0.75)) == pytest.approx(0.75, abs=1e-9)
    assert strayed(box_part()) is None


def test_materials_layers_and_pivots() -> None:
    iron, oak = material("iron"), material("oak")
    model = level_file(replace(sheet_part(1, 1), material=0), "model", materials=(iron,))
    bare = replace(box_part(), material=0)
    nodes = (Node("hull", -1, "hull", translation=(0.0, 0.25, 0.0), holds="mesh"),)
    (found,) = levels(prop(model, level_file(replace(bare, node_number=0), "lod1", materials=(oak,), nodes=nodes)))
    assert (found.new_materials, found.lost_layers) == (("oak",), (0,))
    assert (found.pivot, found.model_pivot) == ((0.0, 0.25, 0.0), (0.0, 0.0, 0.0))
    several = mesh_file(box_part(), box_part(mesh="lid"), path=LOD1, role="lod1")
    (found,) = levels(prop(model, several))
    assert found.pivot is None


def test_a_part_without_triangles_is_no_level() -> None:
    empty = box_part(triangles=np.zeros((0, 3), np.int32))
    assert levels(prop(level_file(box_part(), "model"), level_file(empty, "lod1"))) == ()
