"""A slot that every material should fill and one does not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.selection import COLLISION


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    prop = facts.prop
    worn = {(part.file, part.material) for part in facts.parts if part.role != COLLISION}
    for file, material in sorted(worn):
        bound = [b for b in prop.bindings if b.mesh_file in (file, "") and b.material in (material, "")]
        for slot in limits["slots"]:
            if not scope.takes(material=material, slot=slot):
                continue
            for variant in prop.variants or ("",):
                if any(b.slot == slot and b.variant in (variant, "") for b in bound):
                    continue
                of = f"material `{material}` has" if material else "the faces without a material have"
                for_variant = f" in variant `{variant}`" if variant else ""
                yield Finding(
                    check="missing-map",
                    level="",
                    message=f"{of} no {slot} map{for_variant}",
                    place=Place(file=file, material=material, slot=slot, variant=variant),
                    measured="none",
                    wanted=slot,
                    help=f"save the {slot} map under the prop's name with the ending for {slot}, and drop it with the mesh",
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
