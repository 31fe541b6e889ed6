"""What the names of a prop say of it as a whole, and how the names inside its mesh files are read."""

from __future__ import annotations

from collections.abc import Sequence

from tidegate.model.mesh import MeshFile
from tidegate.model.name_scheme import NameReading, NameScheme
from tidegate.model.reference import ReadNote

_OF_ONE_FILE = ("variant", "map", "tile", "role")  # fields that tell files of a prop apart, so are none of the prop's
_MOST_INNER = 1000


def prop_fields(asset: str, readings: Sequence[NameReading], folder: NameReading | None) -> tuple[tuple[str, str], ...]:
    """(field, value) pairs of the prop: the asset, then what its files' names say in their order, then the folder's."""
    found = {"asset": asset}
    for reading in (*readings, *((folder,) if folder is not None else ())):
        for name, value in reading.fields:
            if value and name not in _OF_ONE_FILE:
                found.setdefault(name, value)
    return tuple(sorted(found.items()))


def inner_readings(
    meshes: Sequence[MeshFile], scheme: NameScheme
) -> tuple[list[NameReading], list[tuple[str, ReadNote]]]:
    """Readings of node and material names, each once a file, and notes where a file has too many to read them all."""
    readings: list[NameReading] = []
    notes: list[tuple[str, ReadNote]] = []
    for mesh in meshes:
        nodes = [part.node for part in mesh.parts] + [node.name for node in mesh.nodes if node.holds == "mesh"]
        materials = [material.name for material in mesh.materials]
        for kind, names in (("node", nodes), ("material", materials)):
            once = list(dict.fromkeys(name for name in names if name))
            readings += [scheme.read(name, kind, mesh.path) for name in once[:_MOST_INNER]]
            if len(once) > _MOST_INNER:
                told = f"{mesh.path} has {len(once)} {kind} names; the first {_MOST_INNER} were read"
                notes.append((mesh.path, ReadNote("names-not-read", "note", told)))
    return readings, notes
