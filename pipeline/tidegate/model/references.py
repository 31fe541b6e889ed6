"""Who uses a file that a mesh names."""

from __future__ import annotations

from tidegate.model.mesh import MeshFile


def users_of(mesh: MeshFile, reference: int) -> tuple[list[str], list[str]]:
    """Slots and material names that use reference number `reference`, as two lists of one length, in file order."""
    slots: list[str] = []
    materials: list[str] = []
    for material in mesh.materials:
        for slot in material.slots:
            if slot.reference == reference:
                slots.append(slot.slot)
                materials.append(material.name)
    return slots, materials
