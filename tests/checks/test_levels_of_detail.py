"""Checks of levels of detail: both sides of each limit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.support.mesh_props import box_part, findings, material, mesh_file, messages, part, prop, sheet_part
from tidegate.model.check import Scope
from tidegate.model.mesh import MeshFile, MeshPart, Node
from tidegate.model.prop import Prop


def with_level(model: MeshPart, level: MeshPart, **more: object) -> Prop:
    return prop(
        mesh_file(model, path="crate.glb", materials=(material("iron"), material("oak"))),
        mesh_file(level, path="crate_lod1.glb", role="lod1", materials=(material("iron"), material("oak")), **more),
    )


def triangles(count: int) -> MeshPart:
    """A strip of that many triangles, a metre long, however many."""
    x = np.arange(count + 2) / (count + 1)
    points = np.stack([x, np.arange(count + 2) % 2, np.zeros(count + 2)], axis=1)
    return part(points, [[i, i + 1, i + 2] for i in range(count)])


@pytest.mark.parametrize(("count", "told"), [(75, 0), (76, 1), (100, 1), (120, 1)])
def test_a_level_has_to_save_something(count: int, told: int) -> None:
    found = findings("level-of-detail-too-heavy", with_level(triangles(100), triangles(count)))
    assert [one.measured for one in found] == [count / 100] * told
    assert all(one.help.startswith("thin lod1 out to 75 triangles") for one in found)


def test_a_model_without_levels_and_a_rule_for_another_level() -> None:
    assert findings("level-of-detail-too-heavy", box_part()) == []
    drop = with_level(triangles(10), triangles(10))
    assert findings("level-of-detail-too-heavy", drop, scope=Scope(role=("lod2",))) == []
    assert len(findings("level-of-detail-too-heavy", drop, scope=Scope(role=("lod*",)))) == 1


def test_a_level_that_fills_another_box() -> None:
    # A cube of 2 m and one of 2 m moved up by 0.2: a tenth of the longest side.
    def told(up: float, **limits: float) -> list[str]:
        return messages(
            "level-of-detail-out-of-place", with_level(box_part(2.0), box_part(2.0, at=(0.0, up, 0.0))), **limits
        )

    assert told(0.0) == []
    assert told(0.1999) == []
    assert told(0.2001) == ["the lower side of lod1 lies 20 cm from that of the model"]
    assert told(0.2001, bounds_share=0.1001) == []


def test_a_level_with_another_pivot() -> None:
    def told(off: float) -> list[str]:
        nodes = (Node("hull", -1, "hull", translation=(off, 0.0, 0.0), holds="mesh"),)
        return messages(
            "level-of-detail-out-of-place",
            with_level(box_part(), replace(box_part(), node_number=0), nodes=nodes),
            pivot_m=0.01,
        )

    assert told(0.0099) == []
    assert told(0.0101) == ["the pivot of lod1 lies 10.1 mm from that of the model"]


def test_a_level_in_other_materials() -> None:
    drop = with_level(replace(box_part(), material=0), replace(box_part(), material=1))
    assert messages("level-of-detail-repainted", drop) == ["lod1 wears materials that the model does not: `oak`"]
    assert findings("level-of-detail-repainted", drop, own_materials=True) == []
    same = with_level(replace(box_part(), material=0), replace(box_part(), material=0))
    assert findings("level-of-detail-repainted", same) == []


def test_a_level_without_the_layer_it_is_painted_on() -> None:
    assert messages("level-of-detail-repainted", with_level(sheet_part(1, 1), box_part())) == [
        "lod1 lacks UV layer 0, which the model has"
    ]


def test_a_level_laid_out_anew() -> None:
    def laid(low: float, high: float) -> MeshPart:
        sheet = sheet_part(2, 2)
        layer = sheet.uv_layers[0]
        return replace(sheet, uv_layers=(replace(layer, uv=layer.uv * (high - low) + low),))

    drop = with_level(laid(0.0, 0.5), laid(0.25, 0.75))  # a quarter lies on the model's square
    (one,) = findings("level-of-detail-repainted", drop, strayed_share=0.7499)
    assert one.measured == pytest.approx(0.75, abs=1e-6)
    assert findings("level-of-detail-repainted", drop, strayed_share=0.7501) == []
    assert findings("level-of-detail-repainted", with_level(laid(0.0, 0.5), laid(0.0, 0.5)), strayed_share=0) == []


@pytest.mark.parametrize(("lid", "told"), [(20, 0), (21, 1)])
def test_one_mesh_that_grew_while_the_level_got_lighter(lid: int, told: int) -> None:
    # 100 and 20 triangles in the model; 40 and 20 or 21 in the level, half of it altogether.
    def drop(suffix: str, body: int, cover: int, **more: object) -> MeshFile:
        parts = [replace(triangles(n), mesh=name + suffix, node=name) for name, n in (("body", body), ("lid", cover))]
        return mesh_file(*parts, path=f"crate{suffix}.glb", **more)

    thing = prop(drop("", 100, 20), drop("_lod1", 40, lid, role="lod1"))
    found = findings("level-of-detail-too-heavy", thing)
    assert [(one.place.mesh, one.measured) for one in found] == [
        ("lid_lod1", 1.05)
    ] * told  # as the file of the level names it
    assert all(
        "mesh `lid_lod1` of lod1 is heavier than that of model: 21 triangles over 20" in one.message for one in found
    )
    # Joined for the level, the body has the lid in it: nothing to compare.
    joined = mesh_file(replace(triangles(lid + 85), mesh="body_lod1", node="body"), path="crate_lod1.glb", role="lod1")
    assert findings("level-of-detail-too-heavy", prop(drop("", 100, 50), joined)) == []
