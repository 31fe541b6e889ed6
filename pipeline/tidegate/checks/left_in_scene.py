"""Cameras, lights, animations and empty nodes that came along with the export."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.mesh import MeshFile
from tidegate.model.wording import count, one_of

KINDS = ("camera", "light", "animation", "empty node")


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for mesh in facts.prop.meshes:
        empty = _empty_nodes(mesh)
        found = {
            "camera": max(mesh.cameras, sum(node.holds == "camera" for node in mesh.nodes)),
            "light": max(mesh.lights, sum(node.holds == "light" for node in mesh.nodes)),
            "animation": mesh.animations,
            "empty node": len(empty),
        }
        left = {kind: found[kind] for kind in KINDS if kind in limits["kinds"] and found[kind]}
        if not left:
            continue
        named = f" (`{empty[0]}`)" if list(left) == ["empty node"] and empty[0] else ""
        yield Finding(
            check="left-in-scene",
            level="",
            message=f"{mesh.path} still holds {one_of([count(n, kind) for kind, n in left.items()], 'and')}{named}",
            place=Place(file=mesh.path, node=empty[0] if list(left) == ["empty node"] else ""),
            measured=sum(left.values()),
            wanted=0,
            unit="things",
            help="export the chosen meshes alone, without what lit and filmed them",
        )


def _empty_nodes(mesh: MeshFile) -> list[str]:
    """Names of the nodes that hold nothing and have nothing below them."""
    parents = {node.parent for node in mesh.nodes}
    if mesh.skins:  # bones end in nodes that hold nothing
        return []
    return [node.name for i, node in enumerate(mesh.nodes) if not node.holds and i not in parents]


CHECK = Check(
    name="left-in-scene",
    group="nodes and materials",
    stage=48,
    needs=frozenset({"files", "meshes"}),
    looks_at="cameras, lights, animations and nodes without anything in or below them",
    why="they travel into every scene the prop is put in, and light or move it there",
    put_right="export the prop alone",
    blind_spots="empty nodes that mark a place on purpose, such as where a lamp hangs; leave that kind out then",
    limits=(
        Limit("kinds", "texts", list(KINDS), "", "what may not be left; common practice, no source", choices=KINDS),
    ),
    run=run,
)
