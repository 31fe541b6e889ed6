"""A deliberate exception for every check of taste: what is wrong on one material is let be on it, by name, and on no other."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.checks.test_collision import dented, hull
from tests.checks.test_levels_of_detail import with_level
from tests.checks.test_nodes import node
from tests.checks.test_shaded import leaning, tangent
from tests.checks.test_shaded import painted as normal_mapped
from tests.checks.test_surfaces import FAULTY as SURFACES
from tests.checks.test_surfaces import bent
from tests.support.laid_props import collapsed, hinge, laid, laid_part, painted, second_layer, sheet
from tests.support.mesh_props import box_part, findings, prop, sheet_part
from tidegate import checks
from tidegate.model.check import Scope
from tidegate.model.prop import Prop

A = sheet(100, 100, 200, 200)
DENSE = sheet(300, 100, 400, 200, metres=(0.1, 0.1))
BOWED = sheet(400, 400, 500, 500)
BOWED.uv[1] += np.array([0.0, 2.0]) / 1024  # the lower right corner, two texels up
PULLED = sheet(100, 100, 300, 200, metres=(0.1, 0.2))
FOLDED = sheet(100, 100, 500, 200, cells=(4, 1))
FOLDED.uv[4, 0] = FOLDED.uv[3, 0] - 10 / 1024
LEVEL = with_level(replace(box_part(), material=0), replace(box_part(at=(0.0, 5.0, 0.0)), material=1))

FAULTY: list[tuple[str, Prop, dict[str, Any]]] = [
    ("mirrored-islands", laid(sheet(100, 100, 200, 200, mirrored=True)), {}),
    ("overlapping-islands", laid(A, sheet(150, 100, 250, 200)), {}),
    ("islands-outside-tile", laid(sheet(1000, 100, 1100, 200)), {}),
    ("islands-too-close", laid(A, sheet(202, 100, 300, 200)), {"between_texels": 8}),
    ("tilted-islands", laid(sheet(100, 100, 200, 200, turn=30)), {}),
    ("stretched-islands", laid(PULLED), {}),
    ("texel-density-out-of-range", laid(DENSE), {"wanted": 512}),
    ("texel-density-uneven", laid(A, DENSE), {"material": 1.5}),
    ("crooked-borders", laid(BOWED), {}),
    ("map-space-wasted", laid(A), {"least": 0.5}),
    ("surface-cut-too-much", laid(A, DENSE), {"islands": 1}),
    ("hard-edges-unseamed", painted(hinge(degrees=90, cut=False)), {}),
    ("seams-on-smooth-edges", painted(hinge(degrees=0, cut=True)), {}),
    ("sliver-triangles", laid(sheet(100, 100, 200, 200, metres=(1.0, 0.0001))), {}),
    ("loose-pieces", painted(laid_part(A, DENSE)), {"most": 1}),
    ("folded-triangles", laid(FOLDED), {}),
    ("flat-uv-triangles", laid(A, collapsed(DENSE)), {"allow_palette": False}),
    ("sliver-uv-triangles", laid(sheet(100, 100, 900, 104)), {}),
    ("baked-light-layer-unfit", painted(second_layer(laid_part(A), A.uv + 1.0)), {}),
    *((check, painted(one), {}) for check, (one, _) in SURFACES.items()),
    ("cracked-surface", painted(replace(box_part(), triangles=box_part().triangles[1:], material=0)), {}),
    ("bent-polygons", painted(bent(0.5)), {}),
    ("many-cornered-polygons", painted(replace(bent(0.0, material=0), polygon_corners=np.array([5], np.int32))), {}),
    ("inside-out-surface", painted(replace(box_part(), triangles=box_part().triangles[:, ::-1])), {}),
    ("normals-facing-away", painted(replace(leaning(120), material=0)), {}),
    ("tangents-wrong", prop(normal_mapped(tangent(-1.0))), {}),
    ("leftover-transform", prop(node(scale=(2, 2, 2))), {}),
    ("level-of-detail-too-heavy", LEVEL, {}),
    ("level-of-detail-out-of-place", LEVEL, {}),
    ("level-of-detail-repainted", LEVEL, {}),
    ("collision-dented", hull(dented(0.5)), {}),
    ("collision-too-heavy", hull(sheet_part(20, 20)), {}),
    ("collision-painted", hull(sheet_part(1, 1)), {"uvs_allowed": False}),
    ("triangles-over-budget", laid(A), {"most": 1}),
    ("vertices-over-budget", laid(A), {"most": 1}),
    ("vertex-colors-amiss", laid(A), {"wanted": "present"}),
]

# What looks at the prop as a whole is excepted by a limit: kinds and words of names, what may be left, where the pivot is
# wanted, how large the prop may be; which way up it lies is never more than a note without an order.
WHOLE = {"default-name", "left-in-scene", "pivot-out-of-place", "unlikely-size", "up-axis-doubtful"}
GROUPS = {
    "UV layout",
    "mesh",
    "levels of detail and collision",
    "normals and tangents",
    "nodes and materials",
    "order, size and axes",
}


def test_every_check_of_taste_about_layout_or_mesh_is_here() -> None:
    taste = {
        one.name
        for one in map(checks.get, checks.names())
        if one.group in GROUPS and any("no source" in limit.explanation for limit in one.limits)
    }
    assert taste - {check for check, _, _ in FAULTY} == WHOLE
    assert all(not checks.get(name).scope and checks.get(name).limits for name in WHOLE)


@pytest.mark.parametrize(("check", "thing", "limits"), FAULTY, ids=[check for check, _, _ in FAULTY])
def test_what_is_meant_is_excepted_by_name_and_nothing_else_is(check: str, thing: Prop, limits: dict[str, Any]) -> None:
    wrong = findings(check, thing, **limits)
    assert wrong

    # Pieces and triangles are told by the mesh, whatever it wears, levels by their role; everything else by the material.
    names = {"material": "oak", "mesh": "hull", "role": "lod1"}
    field = next(one for one in names if one in checks.get(check).scope)
    name = names[field]
    if check.startswith("collision") or check == "tangents-wrong":
        field, name = "mesh", "hull"  # they wear nothing named oak

    def scoped(*patterns: str) -> Scope:
        return Scope(**{field: patterns})

    assert findings(check, thing, scope=scoped(f"!{name}"), **limits) == []
    assert findings(check, thing, scope=scoped(name, f"!{name[:2]}*"), **limits) == []
    assert findings(check, thing, scope=scoped("!brass"), **limits) == wrong


@pytest.mark.parametrize(
    ("patterns", "names", "taken"),
    [
        ((), {"material": "oak"}, True),
        (("oak",), {"material": "oak"}, True),
        (("!oak",), {"material": "oak"}, False),
        (("!oak",), {"material": "brass"}, True),
        (("!oak",), {"material": None}, True),  # what has no material does not wear oak
        (("oak*", "!oak_dark"), {"material": "oak_light"}, True),
        (("oak*", "!oak_dark"), {"material": "oak_dark"}, False),
        (("oak*", "!oak_dark"), {"material": "brass"}, False),
        (("oak*", "!oak_dark"), {"material": None}, False),
        (("!oak", "!brass"), {"material": "brass"}, False),
        (("!oak",), {"role": "model"}, True),
    ],
)
def test_patterns_take_in_and_take_out(patterns: tuple[str, ...], names: dict[str, Any], taken: bool) -> None:
    assert Scope(material=patterns).takes(**names) is taken


def test_taking_out_a_role_brings_no_collision_mesh_in() -> None:
    assert not Scope(role=("!lod1",)).names_role()
    assert Scope(role=("collision", "!lod1")).names_role()
