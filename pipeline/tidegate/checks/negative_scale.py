"""Nodes that place their mesh as in a mirror."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place, Shown
from tidegate.model.wording import count


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for mesh in facts.prop.meshes:
        numbers = [
            number
            for number, node in enumerate(mesh.nodes)
            if node.mesh and node.world_determinant < 0.0 and scope.takes(node=node.name, mesh=node.mesh)
        ]
        if not numbers:
            continue
        found = [mesh.nodes[number] for number in numbers]
        node = found[0]
        parts = zip(facts.parts, facts.mesh_parts, strict=True)
        faces = [
            (index, 0, part.triangles)
            for index, (part, placed) in enumerate(parts)
            if part.file == mesh.path and placed.node_number in numbers
        ]
        more = f", and {count(len(found) - 1, 'more node')}" if len(found) > 1 else ""
        yield Finding(
            check="negative-scale",
            level="",
            message=f"node `{node.name or node.mesh}` in {mesh.path} is scaled by a negative number{more}",
            place=Place(file=mesh.path, node=node.name, mesh=node.mesh),
            measured=len(found),
            wanted=0,
            unit="nodes",
            shown=Shown(faces=tuple(faces)),
            help="apply the scale to the mesh and turn its faces round before export",
        )


CHECK = Check(
    name="negative-scale",
    group="nodes and materials",
    stage=47,
    needs=frozenset({"files", "meshes"}),
    looks_at="nodes whose transform, with all above them, turns left into right",
    why="some programs then draw the backs, light the relief from the wrong side, or read lettering backwards",
    put_right="apply the mirroring to the mesh before export",
    blind_spots="meshes that were mirrored and had it applied show nothing of it any more, and need not",
    scope=frozenset({"node", "mesh"}),
    run=run,
)
