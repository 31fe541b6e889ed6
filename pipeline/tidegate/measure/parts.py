"""The parts of a prop in canonical order, their surfaces, and what is known of them before anything is laid out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tidegate.measure.surface import Surface
from tidegate.model.facts import PartFacts
from tidegate.model.mesh import MeshFile, MeshPart
from tidegate.model.prop import Prop


def parts_of(prop: Prop) -> list[tuple[MeshFile, MeshPart]]:
    """Every part of the prop in canonical order: file, mesh, node, material name, order in the file."""
    listed = [(mesh, part, number) for mesh in prop.meshes for number, part in enumerate(mesh.parts)]
    listed.sort(key=lambda row: (row[0].path, row[1].mesh, row[1].node, material_name(row[0], row[1]), row[2]))
    return [(mesh, part) for mesh, part, _ in listed]


def material_name(mesh: MeshFile, part: MeshPart) -> str:
    """Name of the part's material, "" for none."""
    return mesh.materials[part.material].name if part.material >= 0 else ""


def plain_parts(prop: Prop, surfaces: Sequence[Surface]) -> tuple[PartFacts, ...]:
    """Parts without their layouts. surfaces: of the parts, in canonical order."""
    return tuple(_part_facts(mesh, surface) for (mesh, _), surface in zip(parts_of(prop), surfaces, strict=True))


def surfaces_of(prop: Prop) -> tuple[Surface, ...]:
    """The surface of every part, in canonical order."""
    return tuple(Surface(part) for _, part in parts_of(prop))


def _part_facts(mesh: MeshFile, surface: Surface) -> PartFacts:
    part = surface.mesh
    low, high = _box_of_used(surface)
    return PartFacts(
        file=mesh.path,
        node=part.node,
        mesh=part.mesh,
        material=material_name(mesh, part),
        role=part.role or mesh.role,
        triangles=len(part.triangles),
        vertices=len(part.positions),
        uv_layers=tuple(layer.index for layer in part.uv_layers),
        world_area=float(np.nansum(surface.areas)),
        bounds=((float(low[0]), float(low[1]), float(low[2])), (float(high[0]), float(high[1]), float(high[2]))),
    )


def _box_of_used(surface: Surface) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lowest and highest corner over the positions that triangles use; zero where there are none."""
    if surface.xyz.shape[2]:
        low, high = surface.xyz.min(axis=(0, 2)), surface.xyz.max(axis=(0, 2))
        if np.isfinite(low).all() and np.isfinite(high).all():
            return low, high
    part = surface.mesh
    used = np.zeros(len(part.positions), dtype=bool)
    used[part.triangles.reshape(-1)] = True
    points = part.positions if used.all() else part.positions[used]
    finite = np.isfinite(points).all(axis=1)
    if not finite.all():
        points = points[finite]
    if not len(points):
        return np.zeros(3), np.zeros(3)
    return points.min(axis=0), points.max(axis=0)
