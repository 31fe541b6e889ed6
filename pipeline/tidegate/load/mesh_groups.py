"""Mesh files of a drop, read, and grouped into props by the asset in their names."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import PurePosixPath

from tidegate.errors import UnreadableFile
from tidegate.model.mesh import MeshFile
from tidegate.model.name_scheme import NameReading, NameScheme
from tidegate.model.portable_names import comparable
from tidegate.model.reference import ReadNote

from .roles import role_of, with_roles

_FORMATS = (".glb", ".gltf", ".obj", ".ply", ".stl")  # the first says most: units, slots, names
_SAME_SIZE = 1e-3  # share by which two exports of one mesh may differ in size; text formats round


@dataclass(slots=True)
class MeshGroup:
    """The mesh files of one prop. unreadable: (path, what is wrong, what to do). doubles: see `Prop`."""

    asset: str
    meshes: list[MeshFile] = field(default_factory=list)
    doubles: list[MeshFile] = field(default_factory=list)
    unreadable: list[tuple[str, str, str]] = field(default_factory=list)
    readings: list[NameReading] = field(default_factory=list)
    notes: list[tuple[str, ReadNote]] = field(default_factory=list)


def read_mesh_names(paths: Iterable[str], scheme: NameScheme) -> dict[str, NameReading]:
    """How each mesh file's name is read, with the assets of the others known."""
    ordered = sorted(paths)
    first = {path: scheme.read(PurePosixPath(path).name, "mesh", path) for path in ordered}
    assets = {path: reading.field("asset") for path, reading in first.items()}
    again = {}
    for path in ordered:
        others = tuple(dict.fromkeys(asset for other, asset in assets.items() if asset and asset != assets[path]))
        again[path] = scheme.read(PurePosixPath(path).name, "mesh", path, others) if others else first[path]
    return again


def asset_of(reading: NameReading) -> str:
    """The asset of a mesh name; its stem where the scheme finds none."""
    return reading.field("asset") or PurePosixPath(reading.name).stem


def group_meshes(
    readings: dict[str, NameReading], scheme: NameScheme, read: Callable[[str], MeshFile]
) -> tuple[MeshGroup, ...]:
    """One group an asset, sorted by asset. read: reads the mesh file at a path of the drop.

    Several files of one asset and role are one mesh in several formats or versions: the one that says most is
    measured, the others are compared with it.
    """
    groups: dict[str, MeshGroup] = {}
    files: dict[tuple[str, str], list[MeshFile]] = {}
    for path in sorted(readings):
        asset = asset_of(readings[path])
        key = comparable(asset)
        group = groups.setdefault(key, MeshGroup(asset))
        group.readings.append(readings[path])
        role = role_of(readings[path])
        try:
            mesh = with_roles(read(path), role, scheme)
        except UnreadableFile as fault:
            came = f" ({fault.came})" if fault.came else ""
            group.unreadable.append((path, fault.what + came, fault.help))
        except Exception as fault:  # noqa: BLE001 - whatever a reader trips over, the file is told and not lost
            what = f"its reader gave up: {type(fault).__name__}: {fault}"
            group.unreadable.append((path, what, "export it again; if it still fails, hand the file to your pipeline"))
        else:
            files.setdefault((key, role), []).append(mesh)
    for (key, _), alike in sorted(files.items()):
        alike.sort(key=lambda mesh: _preference(mesh, readings[mesh.path]))
        groups[key].meshes.append(alike[0])
        for other in alike[1:]:
            groups[key].doubles.append(other)
            groups[key].notes.append((other.path, _compared(alike[0], other, readings)))
            groups[key].notes += [(other.path, note) for note in other.notes]
            groups[key].notes += [(other.path, note) for note in _gone(other)]
    for group in groups.values():
        group.meshes.sort(key=lambda mesh: (mesh.role != "model", mesh.role, mesh.path))
    return tuple(groups[key] for key in sorted(groups))


def _preference(mesh: MeshFile, reading: NameReading) -> tuple[int, int, str]:
    version = "".join(letter for letter in reading.field("version") if letter.isdigit())
    suffix = PurePosixPath(mesh.path).suffix.lower()
    return (
        -int(version or "0"),
        _FORMATS.index(suffix) if suffix in _FORMATS else len(_FORMATS),
        mesh.path,
    )


def _compared(main: MeshFile, other: MeshFile, readings: dict[str, NameReading]) -> ReadNote:
    old, new = readings[other.path].field("version"), readings[main.path].field("version")
    if old != new:
        return ReadNote(
            "two-versions",
            "warning",
            f"{other.path} and {main.path} are two versions of one mesh; {main.path} was measured",
            "drop one version at a time",
        )
    differences = [
        f"{name} {ours} and {theirs}"
        for name, ours, theirs in (
            ("triangles", _triangles(main), _triangles(other)),
            ("triangles with UVs", _with_uv(main), _with_uv(other)),
        )
        if ours != theirs
    ]
    if not _same_size(_size(main), _size(other)):
        differences.append(
            f"size {' x '.join(f'{one:.4g}' for one in _size(main))} m and "
            f"{' x '.join(f'{one:.4g}' for one in _size(other))} m"
        )
    if differences:
        return ReadNote(
            "exports-differ",
            "warning",
            f"{main.path} and {other.path} should be one mesh in two formats and differ: {'; '.join(differences)}",
            "export both again from the same scene, or drop only one",
        )
    return ReadNote(
        "same-mesh-twice", "note", f"{other.path} holds the same mesh as {main.path}, which was measured for both"
    )


def _gone(mesh: MeshFile) -> list[ReadNote]:
    """References of a double that lead nowhere; nobody else looks at them."""
    return [
        ReadNote(
            f"reference-{one.status}",
            "error" if one.status in ("missing", "unreadable", "outside") else "warning",
            f"{mesh.path} names `{one.text or one.name}`, which is {one.status.replace('-', ' ')}",
            "put the file beside the mesh and export again",
        )
        for one in mesh.references
        if one.status not in ("present", "embedded")
    ]


def _triangles(mesh: MeshFile) -> int:
    return sum(len(part.triangles) for part in mesh.parts)


def _with_uv(mesh: MeshFile) -> int:
    return sum(int((part.uv_layers[0].triangles[:, 0] >= 0).sum()) for part in mesh.parts if part.uv_layers)


def _size(mesh: MeshFile) -> tuple[float, ...]:
    import numpy as np

    corners = [part.positions[part.triangles.ravel()] for part in mesh.parts if len(part.triangles)]
    if not corners:
        return (0.0, 0.0, 0.0)
    points = np.concatenate(corners)
    return tuple(float(one) for one in points.max(axis=0) - points.min(axis=0))


def _same_size(one: Sequence[float], other: Sequence[float]) -> bool:
    largest = max(*one, *other, 0.0)
    return all(abs(a - b) <= _SAME_SIZE * largest for a, b in zip(one, other, strict=True))
