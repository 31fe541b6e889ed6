"""A slot that every material should fill and one does not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.prop import Prop
from tidegate.model.references import gone_slots
from tidegate.model.selection import COLLISION
from tidegate.model.wording import one_of


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    prop = facts.prop
    worn = {(part.file, part.material) for part in facts.parts if part.role != COLLISION}
    gone = gone_slots(prop)
    for file, material in sorted(worn):
        slots = [slot for slot in limits["slots"] if scope.takes(material=material, slot=slot)]
        for variant, lacking in _lacking(prop, file, material, slots):
            # A map that a mesh names and that is not there has another cause than one that nobody named: told apart.
            named = [[slot] for slot in lacking if slot in gone]
            for together in (*named, [slot for slot in lacking if slot not in gone]):
                if together:
                    yield _finding(file, material, together, variant)


def _lacking(prop: Prop, file: str, material: str, slots: Sequence[str]) -> Iterator[tuple[str, list[str]]]:
    """(variant, slots without a map); variant "" where all variants lack the same."""
    bound = [b for b in prop.bindings if b.mesh_file in (file, "") and b.material in (material, "")]
    variants = prop.variants or ("",)
    lacking = [[s for s in slots if not any(b.slot == s and b.variant in (v, "") for b in bound)] for v in variants]
    if len(variants) > 1 and all(one == lacking[0] for one in lacking):
        variants, lacking = ("",), lacking[:1]
    yield from zip(variants, lacking, strict=True)


def _finding(file: str, material: str, slots: Sequence[str], variant: str) -> Finding:
    of = f"material `{material}` has" if material else "the faces without a material have"
    for_variant = f" in variant `{variant}`" if variant else ""
    several = len(slots) > 1
    return Finding(
        check="missing-map",
        level="",
        message=f"{of} no {one_of(slots)} map{for_variant}",
        place=Place(file=file, material=material, slot=slots[0], variant=variant),
        measured="none",
        wanted=one_of(slots, "and"),
        help=f"save the {one_of(slots, 'and')} map{'s' if several else ''} under the prop's name with the "
        f"ending{'s' if several else ''} for {'each' if several else slots[0]}, and drop {'them' if several else 'it'} "
        "with the mesh",
    )


CHECK = Check(
    name="missing-map",
    group="maps and masters",
    stage=22,
    needs=frozenset({"files", "meshes", "headers"}),
    looks_at="whether every material of the prop has a map in each wanted slot, by reference or by file name",
    why="a map that was painted and never saved is the most common loss of all",
    put_right="save the missing map; its name needs the prop's name and the ending of the slot",
    blind_spots="a slot may be filled with the wrong picture; checks of the painting look at that",
    limits=(
        Limit("slots", "texts", ["base_color"], "", "slots that every material needs; common practice, no source"),
    ),
    scope=frozenset({"material", "slot"}),
    run=run,
)
