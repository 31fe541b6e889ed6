"""A map that the mesh uses for one slot and whose name says another."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for binding in facts.prop.bindings:
        if not binding.disagreement or not scope.takes(
            slot=binding.slot, material=binding.material, variant=binding.variant
        ):
            continue
        yield Finding(
            check="slot-disagreement",
            level="",
            message=(
                f"material `{binding.material}` uses `{binding.file}` as {binding.slot}; "
                f"by the names of the files that should be {binding.disagreement}"
            ),
            place=Place(
                file=binding.mesh_file,
                material=binding.material,
                slot=binding.slot,
                variant=binding.variant,
                map=binding.file,
            ),
            measured=binding.file,
            wanted=binding.disagreement,
            help="wire the map that carries the slot's ending, or correct the ending of the file's name",
        )


CHECK = Check(
    name="slot-disagreement",
    group="maps and masters",
    stage=21,
    needs=frozenset({"files", "meshes", "headers"}),
    looks_at="whether the slot a mesh uses a map for and the slot its file name states are the same",
    why="a roughness map wired as base color looks almost right in grey light",
    put_right="correct the wiring in the export or the name of the file",
    blind_spots="maps whose names state no slot cannot disagree",
    scope=frozenset({"slot", "material", "variant"}),
    run=run,
)
