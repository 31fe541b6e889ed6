"""Checks of pivots, transforms, axes, names and what was left in the scene."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.support.mesh_props import box_part, findings, mesh_file, messages, part, sheet_part
from tidegate.model.check import Scope
from tidegate.model.mesh import MeshFile, MeshPart, Node
from tidegate.model.order_row import OrderRow


def block(low: tuple[float, float, float], high: tuple[float, float, float], **more: object) -> MeshPart:
    """A box between two corners."""
    points = box_part().positions + 0.5
    size = [b - a for a, b in zip(low, high, strict=True)]
    return part(points * size + low, box_part().triangles, **more)


def test_a_pivot_inside_the_box() -> None:
    # A crate of 1 m whose near side is `off` away from the origin; allowed is a fiftieth of the longest side.
    def told(off: float, **limits: object) -> list[str]:
        return messages("pivot-out-of-place", block((off, 0, -0.5), (off + 1, 1, 0.5)), **limits)

    assert told(-0.5) == []
    assert told(0.0199) == []
    assert told(0.0201) == ["the pivot lies 20.1 mm from where it should be, inside the prop's box"]
    assert told(0.0201, tolerance=0.03) == []


@pytest.mark.parametrize(
    ("wanted", "right", "wrong"),
    [
        ("base", ((-1, 0, -1), (1, 1, 1)), ((-1, -0.5, -1), (1, 0.5, 1))),
        ("base", ((-1, 0.0399, -1), (1, 1, 1)), ((-1, 0.0401, -1), (1, 1, 1))),
        ("base", ((-1, 0, -0.921), (1, 1, 1)), ((-1, 0, -0.919), (1, 1, 1))),
        ("centre", ((-1, -0.4601, -1), (1, 0.5399, 1)), ((-1, -0.4599, -1), (1, 0.5401, 1))),
        ("inside", ((-1, -0.5, 0.0399), (1, 0.5, 1)), ((-1, -0.5, 0.0401), (1, 0.5, 1))),
    ],
)
def test_where_a_pivot_is_wanted(wanted: str, right: tuple, wrong: tuple) -> None:
    assert findings("pivot-out-of-place", block(*right), wanted=wanted) == []
    assert len(findings("pivot-out-of-place", block(*wrong), wanted=wanted)) == 1


def test_only_the_model_has_a_pivot() -> None:
    far = block((5, 5, 5), (6, 6, 6))
    assert findings("pivot-out-of-place", mesh_file(far, role="collision")) == []


def node(**more: object) -> object:
    return mesh_file(box_part(), nodes=(Node("hull", -1, "hull", holds="mesh", **more),))


def test_transforms_that_were_left() -> None:
    assert findings("leftover-transform", node()) == []
    assert findings("leftover-transform", node(translation=(1, 2, 3), rotation=(0, 1, 0, 0))) == []
    assert "carries scale (100 x 100 x 100)" in messages("leftover-transform", node(scale=(100, 100, 100)))[0]
    assert findings("leftover-transform", node(scale=(100, 100, 100)), kinds=["uneven scale"]) == []
    assert "carries uneven scale (1 x 2 x 1)" in messages("leftover-transform", node(scale=(1, 2, 1)))[0]
    told = messages(
        "leftover-transform", node(translation=(1, 0, 0), rotation=(1, 0, 0, 0)), kinds=["translation", "rotation"]
    )
    assert "carries translation and rotation" in told[0]
    # Both sides of what is rounding.
    assert findings("leftover-transform", node(scale=(1 + 9e-7,) * 3)) == []
    assert len(findings("leftover-transform", node(scale=(1 + 2e-6,) * 3))) == 1
    assert findings("leftover-transform", node(scale=(2, 2, 2)), scope=Scope(node=("lid",))) == []


@pytest.mark.parametrize(("high", "told"), [(0.0286 * (1 + 0.9e-4), 0), (0.0286 * (1 + 1.1e-4), 1)])
def test_both_sides_of_an_uneven_scale(high: float, told: int) -> None:
    found = findings("leftover-transform", node(scale=(0.0286, high, 0.0286)), kinds=["uneven scale"])
    assert len(found) == told


def test_a_mirrored_node() -> None:
    assert len(findings("negative-scale", node(scale=(-1, 1, 1), world_determinant=-1.0))) == 1
    assert findings("negative-scale", node(scale=(-1, -1, 1), world_determinant=1.0)) == []
    empty = mesh_file(box_part(), nodes=(Node("locator", -1, "", world_determinant=-1.0),))
    assert findings("negative-scale", empty) == []


def test_an_axis_that_the_order_tells() -> None:
    order = OrderRow("crate", size_m=(1.0, 2.0, 0.5))
    lying = block((-0.5, -0.25, 0), (0.5, 0.25, 2.0))
    (one,) = findings("up-axis-doubtful", lying, order=order)
    assert one.certain and "lies on its side" in one.message
    assert findings("up-axis-doubtful", block((-0.5, 0, -0.25), (0.5, 2.0, 0.25)), order=order) == []
    # Both sides of equal: 4 cm of 2 m
    assert len(findings("up-axis-doubtful", block((-0.5, -0.25, 0), (0.5, 0.25, 2.039)), order=order)) == 1
    assert findings("up-axis-doubtful", block((-0.5, -0.25, 0), (0.5, 0.25, 2.041)), order=order) == []
    # a prop of some other size is another check's
    assert findings("up-axis-doubtful", box_part(7.0), order=order) == []


def test_an_axis_that_can_only_be_suspected() -> None:
    (one,) = findings("up-axis-doubtful", block((-0.5, -0.5, 0), (0.5, 0.5, 2)))
    assert not one.certain and one.level == "note"
    assert findings("up-axis-doubtful", block((-0.5, 0, -0.5), (0.5, 2, 0.5))) == []  # stands along Y
    assert findings("up-axis-doubtful", box_part()) == []  # even about the origin every way
    # A sign on a wall: its back at z = 0, a quarter as deep as high.
    sign = block((-0.5, -0.5, 0), (0.5, 0.5, 0.25))
    assert findings("up-axis-doubtful", sign) == []
    assert findings("up-axis-doubtful", sign, slimness=0.2501) == []
    assert len(findings("up-axis-doubtful", sign, slimness=0.25)) == 1
    assert findings("up-axis-doubtful", block((-0.5, -0.5, 0.0401), (0.5, 0.5, 2.0401))) == []  # over a fiftieth of 2 m
    assert len(findings("up-axis-doubtful", block((-0.5, -0.5, 0.0399), (0.5, 0.5, 2.0399)))) == 1
    assert findings("up-axis-doubtful", block((-0.5, -0.4799, 0), (0.5, 0.5201, 2))) == []  # ends 4.02 cm apart
    assert len(findings("up-axis-doubtful", block((-0.5, -0.4801, 0), (0.5, 0.5199, 2)))) == 1


def test_what_was_left_in_the_scene() -> None:
    assert findings("left-in-scene", box_part()) == []
    full = mesh_file(
        box_part(),
        nodes=(
            Node("hull", -1, "hull", holds="mesh"),
            Node("rig", -1, ""),
            Node("eye", 1, "", holds="camera"),
            Node("spot", -1, ""),
        ),
        cameras=1,
        lights=2,
        animations=1,
    )
    assert messages("left-in-scene", full) == [
        "furniture_crate.glb still holds 1 camera, 2 lights, 1 animation and 1 empty node"
    ]
    (one,) = findings("left-in-scene", full, kinds=["empty node"])
    assert one.place.node == "spot" and "(`spot`)" in one.message  # `rig` has something below it
    assert findings("left-in-scene", full, kinds=[]) == []
    boned = mesh_file(box_part(), nodes=(Node("hull", -1, "hull", holds="mesh"), Node("tip", -1, "")), skins=1)
    assert findings("left-in-scene", boned) == []


def test_names_that_are_shared() -> None:
    twice = mesh_file(sheet_part(1, 1), box_part(), mesh_names=("hull", "lid"))
    assert messages("repeated-name", twice) == ["furniture_crate.glb: several nodes share a name: `hull` 2 times"]
    assert findings("repeated-name", twice, kinds=["mesh", "material"]) == []
    nameless = mesh_file(box_part(mesh=""), box_part(mesh=""))
    assert findings("repeated-name", nameless) == []


def test_a_group_hands_its_scale_down_and_an_empty_node_to_nobody() -> None:
    def nodes(scale: tuple[float, float, float], *, empty: bool) -> MeshFile:
        holder = Node("holder", -1, "", scale=scale)
        hull = Node("hull", -1 if empty else 0, "hull", holds="mesh")
        return mesh_file(replace(box_part(), node_number=1), nodes=(holder, hull))

    (one,) = findings("leftover-transform", nodes((1, 2, 1), empty=False))
    assert one.message == "node `holder`, which holds meshes, in furniture_crate.glb carries uneven scale (1 x 2 x 1)"
    assert findings("leftover-transform", nodes((1, 2, 1), empty=True)) == []
    assert findings("leftover-transform", nodes((1, 1, 1), empty=False)) == []
