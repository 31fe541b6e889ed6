"""Who uses a file that a mesh names."""

from __future__ import annotations

from tidegate.model.mesh import MeshFile
from tidegate.model.prop import Prop
from tidegate.model.reference import FileReference


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


def is_gone(reference: FileReference) -> bool:
    """What a mesh names is not there for others: missing, of no bytes, or outside the drop and not in it either."""
    return reference.status in ("missing", "unreadable") or (reference.status == "outside" and not reference.path)


def gone_slots(prop: Prop) -> set[str]:
    """Slots for which some material of the prop names a picture that is not there."""
    return {
        slot.slot
        for mesh in prop.meshes
        for material in mesh.materials
        for slot in material.slots
        if 0 <= slot.reference < len(mesh.references) and is_gone(mesh.references[slot.reference])
    }
