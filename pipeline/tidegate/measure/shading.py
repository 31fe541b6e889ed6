"""Vertex normals and tangents of each part, against unit length, the faces they shade and the layout they are painted on."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.areas import flat_in_tile, uv_areas
from tidegate.geometry.corners import corner_columns
from tidegate.geometry.normals import normal_lengths, normal_to_face, zero_normals
from tidegate.geometry.slivers import sum_of_squares
from tidegate.geometry.tangents import bad_signs, mixed_signs, not_unit_tangents, wrong_handed, zero_tangents
from tidegate.measure.spots import Spots, runs_of, spots_of
from tidegate.measure.surface import Surface
from tidegate.model.facts import PartFacts
from tidegate.model.prop import Prop

SEES_TANGENTS = ("gltf", "glb")
NEAR = 0.01  # degrees; far more than the rounding of a cosine


class Shading:
    """One part, at the same index as in `Facts.parts`. normals, tangents: whether it carries them.

    can_hold_tangents: its format has a place for them. normal_layer: UV layer of its normal map, None without one.
    Everything else is measured when first asked for and kept.
    """

    def __init__(self, surface: Surface, format: str, normal_layer: int | None) -> None:
        self._surface = surface
        self._mesh = mesh = surface.mesh
        self.normals = mesh.normals is not None
        self.tangents = mesh.tangents is not None
        self.can_hold_tangents = format in SEES_TANGENTS
        self.normal_layer = normal_layer
        self._found: dict[float, NDArray[np.int64]] = {}  # by degrees

    @cached_property
    def bare(self) -> Spots:
        """Triangles without normals, of a part where others have some."""
        corners = self._mesh.normal_triangles
        if corners is None:
            return Spots(0, None)
        return self._faces(np.flatnonzero((corners < 0).any(axis=1)))

    @cached_property
    def _lengths(self) -> NDArray[np.float64]:
        """(p,) of the normals that triangles use; NaN for the others."""
        normals, corners = self._mesh.normals, self._mesh.normal_triangles
        if normals is None or corners is None:
            return np.zeros(0)
        used = np.zeros(len(normals) + 1, np.bool_)
        used[corners.reshape(-1)] = True
        lengths = np.nan_to_num(self._norms, nan=0.0, posinf=0.0)
        lengths[~used[:-1]] = np.nan
        return lengths

    @cached_property
    def _norms(self) -> NDArray[np.float64]:
        """(p,) length of every normal, used or not."""
        return np.zeros(0) if self._mesh.normals is None else normal_lengths(self._mesh.normals)

    @cached_property
    def _lean(self) -> NDArray[np.float64]:
        """(m,) twice the area of each triangle times the cosine of the normal that leans away from its face farthest, near
        enough to tell which ones have to be measured. NaN without a normal or its direction."""
        normals, corners = self._mesh.normals, self._mesh.normal_triangles
        if normals is None or corners is None or not len(normals):
            return np.full(len(self._mesh.triangles), np.nan)
        return _farthest_cosine(self._surface.faces, normals, corners, self._norms)

    def ahead(self) -> None:
        """Measures what rules start from, so that it is at hand when they ask."""
        self._lengths, self._lean  # noqa: B018 - measured when first asked for, and kept

    @cached_property
    def zero(self) -> Spots:
        """Normals without a direction."""
        lengths = self._lengths
        return self._normals(np.flatnonzero(~np.isnan(lengths) & zero_normals(lengths)))

    def off_length(self, tolerance: float) -> Spots:
        """Normals with a direction, not 1 long within the tolerance."""
        lengths = self._lengths
        known = np.where(np.isnan(lengths), 1.0, lengths)
        return self._normals(np.flatnonzero((np.abs(known - 1.0) > tolerance) & ~zero_normals(known)))

    def farthest_length(self) -> float:
        """The length that is farthest from 1, of the normals with a direction."""
        lengths = self._lengths
        known = lengths[~np.isnan(lengths) & ~zero_normals(lengths)]
        return float(known[np.argmax(np.abs(known - 1.0))]) if len(known) else 1.0

    def leaning(self, degrees: float) -> Spots:
        """Triangles with a corner normal that leans away from the face by more than so many degrees."""
        return self._faces(self._leaning(degrees))

    def leaning_faces(self, degrees: float, part: int) -> tuple[tuple[int, int, int], ...]:
        """The same as runs of triangles of the part with that number."""
        return runs_of(self._leaning(degrees), [part], [len(self._mesh.triangles)])

    def _leaning(self, degrees: float) -> NDArray[np.int64]:
        if degrees not in self._found:  # two rules of different levels ask the same
            self._found[degrees] = self._leaning_rows(degrees)
        return self._found[degrees]

    def _leaning_rows(self, degrees: float) -> NDArray[np.int64]:
        normals, corners = self._mesh.normals, self._mesh.normal_triangles
        if normals is None or corners is None:
            return np.zeros(0, np.int64)
        xyz = self._surface.xyz
        # Most normals stand clear of the limit: only what comes near it is measured as an angle.
        reach = np.sqrt(sum_of_squares(self._surface.faces)) * np.cos(np.radians(degrees - NEAR))
        near = np.flatnonzero(self._lean < reach)
        return near[normal_to_face(xyz[:, :, near], normals, corners[near]) > degrees]

    @cached_property
    def tangents_off(self) -> Spots:
        """Vertices that triangles use whose tangent has no direction, is not of unit length, or has a w other than +-1."""
        tangents = self._mesh.tangents
        if tangents is None:
            return Spots(0, None)
        off = bad_signs(tangents) | zero_tangents(tangents) | not_unit_tangents(tangents, 0.01)
        used = np.zeros(len(tangents), np.bool_)
        used[self._mesh.triangles.reshape(-1)] = True
        return spots_of(self._mesh.positions[off & used])

    @cached_property
    def wrong_handed(self) -> Spots:
        """Triangles whose tangent sign contradicts the winding of their UVs on the normal map's layer. Those whose corners
        disagree are left out."""
        return self._faces(self._wrong())

    def _wrong(self) -> NDArray[np.int64]:
        tangents = self._mesh.tangents
        layer = next((uv for uv in self._mesh.uv_layers if uv.index == (self.normal_layer or 0)), None)
        if tangents is None or layer is None:
            return np.zeros(0, np.int64)
        uv = corner_columns(layer.uv, layer.triangles)
        signed = uv_areas(uv)
        flat = flat_in_tile(uv, signed) | ~np.isfinite(signed)
        wrong = wrong_handed(tangents, self._mesh.triangles, np.nan_to_num(signed), flat)
        return np.flatnonzero(wrong & ~mixed_signs(tangents, self._mesh.triangles))

    def _faces(self, rows: NDArray[np.int64]) -> Spots:
        return spots_of(np.sort(self._mesh.positions[self._mesh.triangles[rows]], axis=1).mean(axis=1))

    def _normals(self, rows: NDArray[np.int64]) -> Spots:
        corners = self._mesh.normal_triangles
        if corners is None or not len(rows):
            return Spots(0, None)
        wanted = np.zeros(len(self._lengths) + 1, np.bool_)
        wanted[rows] = True
        at = wanted[corners]
        points = self._mesh.positions[self._mesh.triangles[at]]
        return Spots(len(rows), spots_of(points).point)


def _farthest_cosine(
    face: NDArray[np.float64], normals: NDArray[np.float64], corners: NDArray[np.int32], norms: NDArray[np.float64]
) -> NDArray[np.float64]:
    """(m,) least over the corners of face times normal. face: (3, m) cross products."""
    with np.errstate(divide="ignore", invalid="ignore"):
        axes = [normals[:, axis] / norms for axis in range(3)]
        least: NDArray[np.float64] = np.full(face.shape[1], np.inf)
        for corner in range(3):
            rows = corners[:, corner].astype(np.int64)
            along = face[0] * axes[0].take(rows, mode="wrap")
            along += face[1] * axes[1].take(rows, mode="wrap")
            along += face[2] * axes[2].take(rows, mode="wrap")
            np.fmin(least, along, out=least)
    return least


def measure_shading(prop: Prop, parts: Sequence[PartFacts], surfaces: Sequence[Surface]) -> tuple[Shading, ...]:
    """One record a part."""
    formats = {mesh.path: mesh.format for mesh in prop.meshes}
    return tuple(
        Shading(surface, formats.get(part.file, ""), _normal_layer(prop, part))
        for part, surface in zip(parts, surfaces, strict=True)
    )


def _normal_layer(prop: Prop, part: PartFacts) -> int | None:
    """From what the material states, else from what its maps' names say."""
    for mesh in prop.meshes:
        for material in mesh.materials if mesh.path == part.file else ():
            if material.name == part.material:
                for slot in material.slots:
                    if slot.slot == "normal":
                        return slot.uv_layer
    for binding in prop.bindings:
        if (binding.mesh_file, binding.material, binding.slot) == (part.file, part.material, "normal"):
            return binding.uv_layer
    return None
