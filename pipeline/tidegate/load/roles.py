"""Which part a mesh plays in its prop: the model, a level of detail, or the collision mesh."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from tidegate.model.mesh import MeshFile
from tidegate.model.name_scheme import NameReading, NameScheme

if TYPE_CHECKING:
    from tidegate.model.mesh import Node

MODEL, COLLISION = "model", "collision"
_MOST_STEPS = 64


def role_of(reading: NameReading) -> str:
    """The role a name states; without one it is the model."""
    return reading.field("role") or MODEL


def with_roles(mesh: MeshFile, role: str, scheme: NameScheme) -> MeshFile:
    """The mesh file with its own role and that of each of its parts.

    A part has the role that its node states, else a node above it, else its mesh, else the file: one GLB may hold
    `bollard`, `bollard_lod1` and `bollard_collision`.
    """
    known: dict[str, str] = {}

    def stated(name: str) -> str:
        if name not in known:
            known[name] = scheme.read(name, "node").field("role") if name else ""
        return known[name]

    nodes: dict[str, Node] = {}
    for node in mesh.nodes:
        nodes.setdefault(node.name, node)

    def above(name: str) -> str:
        node = nodes.get(name)
        for _ in range(_MOST_STEPS):
            if node is None or not 0 <= node.parent < len(mesh.nodes):
                break
            node = mesh.nodes[node.parent]
            if stated(node.name):
                return stated(node.name)
        return ""

    parts = tuple(
        replace(part, role=stated(part.node) or above(part.node) or stated(part.mesh) or role) for part in mesh.parts
    )
    return replace(mesh, parts=parts, role=role)
