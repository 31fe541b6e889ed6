"""Nodes that still carry a turn or a scale that was never applied to their mesh."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.mesh import Node
from tidegate.model.node_places import is_still
from tidegate.model.wording import count, number, one_of

UNEVEN = 1e-4  # of the scale: a tenth of a millimetre in a metre; less is no stretch that anyone meant or sees
KINDS = ("translation", "rotation", "scale", "uneven scale")


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for mesh in facts.prop.meshes:
        found = []
        above = _above_meshes(mesh.nodes)
        for row, node in enumerate(mesh.nodes):
            if not (node.mesh or row in above) or not scope.takes(node=node.name, mesh=node.mesh):
                continue
            placed, turned, scaled = is_still(node)
            low, high = min(map(abs, node.scale)), max(map(abs, node.scale))
            uneven = high - low > UNEVEN * high
            states = zip(KINDS, (not placed, not turned, not scaled, uneven), strict=True)
            kinds = [kind for kind, there in states if there and kind in limits["kinds"]]
            if "scale" in kinds and "uneven scale" in kinds:
                kinds.remove("scale")
            if kinds:
                found.append((node, kinds))
        if not found:
            continue
        node, kinds = found[0]
        scale = " x ".join(number(side, 3) for side in node.scale)
        detail = f" ({scale})" if "scale" in kinds[-1] else ""
        more = f", and {count(len(found) - 1, 'more node')}" if len(found) > 1 else ""
        yield Finding(
            check="leftover-transform",
            level="",
            message=f"{_called(node)} in {mesh.path} carries {one_of(kinds, 'and')}{detail}{more}",
            place=Place(file=mesh.path, node=node.name, mesh=node.mesh),
            measured=len(found),
            wanted=0,
            unit="nodes",
            help="apply the transform to the mesh before export",
        )


def _above_meshes(nodes: Sequence[Node]) -> set[int]:
    """Numbers of the nodes below which a mesh hangs: what they carry is handed down to it."""
    found: set[int] = set()
    for node in nodes:
        row = node.parent if node.mesh else -1
        while row >= 0 and row not in found:
            found.add(row)
            row = nodes[row].parent
    return found


def _called(node: Node) -> str:
    name = node.name or node.mesh
    return (f"node `{name}`" if name else "a node without a name") + ("" if node.mesh else ", which holds meshes,")


CHECK = Check(
    name="leftover-transform",
    group="nodes and materials",
    stage=47,
    needs=frozenset({"files", "meshes"}),
    looks_at="translation, rotation and scale of the nodes that place meshes, and of those above them",
    why="what hangs onto the prop later inherits them; an uneven scale shears whatever is turned below it",
    put_right="apply transforms before export",
    blind_spots=(
        "what cancels out along a chain of nodes is told all the same; a prop put together from many placed parts needs "
        "their translations"
    ),
    limits=(
        Limit(
            "kinds",
            "texts",
            ["scale", "uneven scale"],
            "",
            "which transforms may not be left; common practice, no source",
            choices=KINDS,
        ),
    ),
    scope=frozenset({"node", "mesh"}),
    run=run,
)
