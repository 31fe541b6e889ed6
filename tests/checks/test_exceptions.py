"""A deliberate exception for every check of taste: what is wrong on one material is let be on it, by name, and on no other."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.support.laid_props import hinge, laid, laid_part, painted, sheet
from tests.support.mesh_props import findings
from tidegate import checks
from tidegate.model.check import Scope
from tidegate.model.prop import Prop

A = sheet(100, 100, 200, 200)
DENSE = sheet(300, 100, 400, 200, metres=(0.1, 0.1))
BOWED = sheet(400, 400, 500, 500)
BOWED.uv[1] += np.array([0.0, 2.0]) / 1024  # the lower right corner, two texels up
PULLED = sheet(100, 100, 300, 200, metres=(0.1, 0.2))

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
]


@pytest.mark.parametrize(("check", "thing", "limits"), FAULTY, ids=[check for check, _, _ in FAULTY])
def test_what_is_meant_is_excepted_by_name_and_nothing_else_is(check: str, thing: Prop, limits: dict[str, Any]) -> None:
    wrong = findings(check, thing, **limits)
    assert wrong

    def scoped(*patterns: str) -> Scope:
        # Pieces and triangles are told by the mesh, whatever it wears; everything else by the material.
        return Scope(material=patterns) if "material" in checks.get(check).scope else Scope(mesh=patterns)

    name = "oak" if "material" in checks.get(check).scope else "hull"
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
