"""Slots without a map: one finding a material for what has one cause."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.support.mesh_props import box_part, findings, material, mesh_file, prop
from tidegate.model.check import Scope
from tidegate.model.finding import Finding
from tidegate.model.mesh import MapSlot
from tidegate.model.prop import Binding, Prop
from tidegate.model.reference import FileReference

SLOTS = ["base_color", "normal", "roughness"]


def crate(*bound: tuple[str, str], variants: tuple[str, ...] = (), gone: str = "") -> Prop:
    """A crate of oak. bound: (slot, variant) with a map. gone: a slot for which the mesh names a picture that is not there."""
    oak = material("oak", *([MapSlot(gone, "rgb", "map", 0)] if gone else []))
    references = (FileReference("gone.png", "image", "missing"),) if gone else ()
    mesh = mesh_file(replace(box_part(), material=0), materials=(oak,), references=references)
    bindings = tuple(Binding(mesh.path, "oak", slot, f"{slot}.png", "name", variant=variant) for slot, variant in bound)
    return replace(prop(mesh), bindings=bindings, variants=variants)


def told(one: Prop, slots: list[str] = SLOTS, **scope: tuple[str, ...]) -> list[Finding]:
    return findings("missing-map", one, scope=Scope(**scope), slots=slots)


def test_all_that_a_material_lacks_is_one_finding() -> None:
    (one,) = told(crate(("base_color", "")))
    assert one.message == "material `oak` has no normal or roughness map"
    assert (one.place.slot, one.wanted) == ("normal", "normal and roughness")
    assert one.help == (
        "save the normal and roughness maps under the prop's name with the endings for each, and drop them with the mesh"
    )
    (one,) = told(crate(("base_color", ""), ("normal", "")))
    assert (one.message, one.wanted) == ("material `oak` has no roughness map", "roughness")
    assert told(crate(*((slot, "") for slot in SLOTS))) == []


def test_only_slots_that_the_rule_is_for() -> None:
    (one,) = told(crate(), slot=("normal",))
    assert one.wanted == "normal"
    assert told(crate(), material=("rope",)) == []


@pytest.mark.parametrize(
    ("bound", "said"),
    [
        ((), [("", "base_color and normal")]),
        ((("base_color", ""),), [("", "normal")]),
        ((("base_color", "red"),), [("red", "normal"), ("blue", "base_color and normal")]),
        ((("base_color", ""), ("normal", "blue")), [("red", "normal")]),
    ],
)
def test_variants_that_lack_the_same_are_one_finding(
    bound: tuple[tuple[str, str], ...], said: list[tuple[str, str]]
) -> None:
    found = told(crate(*bound, variants=("red", "blue")), slots=SLOTS[:2])
    assert [(one.place.variant, one.wanted) for one in found] == said
    assert all(("in variant" in one.message) == bool(one.place.variant) for one in found)


def test_a_map_that_is_named_and_gone_stands_alone() -> None:
    """It follows from the reference that leads nowhere, the others do not."""
    found = told(crate(gone="normal"))
    assert [(one.place.slot, one.wanted) for one in found] == [
        ("normal", "normal"),
        ("base_color", "base_color and roughness"),
    ]
