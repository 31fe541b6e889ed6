"""Meshes as every reader hands them over: metres, Y up, V up, triangles in arrays, nothing dropped silently.

Arrays carry their field's letters in the docstrings: n corners with a position, m triangles, k corners of a
UV layer. They are made read-only by `frozen_array`, so facts measured from them cannot drift.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from .reference import FileReference, ReadNote


@dataclass(frozen=True, slots=True, eq=False)
class UvLayer:
    """One UV set of a part.

    index: number in the file, 0 first. name: as the file states it (`TEXCOORD_0`, `vt`, ...).
    uv: (k, 2) float64, V up: (0, 0) is the lower left of the tile.
    triangles: (m, 3) int32 into `uv`; a row holds -1 in all three places where the triangle has no UVs.
    """

    index: int
    name: str
    uv: NDArray[np.float64]
    triangles: NDArray[np.int32]


@dataclass(frozen=True, slots=True, eq=False)
class MeshPart:
    """The triangles of one mesh, placed by one node, with one material.

    node, mesh: names as in the file, "" where it states none. material: index into `MeshFile.materials`, -1 none.
    positions: (n, 3) float64, metres, Y up, node transforms and units applied.
    triangles: (m, 3) int32 into `positions`, counter-clockwise seen from the front: a negative transform
    determinant has already been turned round, `flipped` tells that it was.
    normals: (p, 3) float64 turned into the world, lengths as the file had them before turning, or None;
    normal_triangles: (m, 3) int32 into `normals`, -1 where absent, or None.
    tangents: (n, 4) float64 or None. colors: (n, 3 or 4) float64 in 0..1 or None.
    polygon: (m,) int32, number of the source polygon of each triangle, or None where the file stores triangles.
    polygon_corners: (polygons,) int32, corner count of each source polygon, or None.
    groups: names of the face groups inside this part, in file order.
    role: "model", "lod1".., "collision": "" until the drop's names are read.
    node_number: index into `MeshFile.nodes`, -1 where the format has no nodes.
    """

    node: str
    mesh: str
    material: int
    positions: NDArray[np.float64]
    triangles: NDArray[np.int32]
    uv_layers: tuple[UvLayer, ...] = ()
    normals: NDArray[np.float64] | None = None
    normal_triangles: NDArray[np.int32] | None = None
    tangents: NDArray[np.float64] | None = None
    colors: NDArray[np.float64] | None = None
    polygon: NDArray[np.int32] | None = None
    polygon_corners: NDArray[np.int32] | None = None
    groups: tuple[str, ...] = ()
    flipped: bool = False
    skinned: bool = False
    role: str = ""
    node_number: int = -1


@dataclass(frozen=True, slots=True)
class UvTransform:
    """Offset, turn and scale of a map on its UV layer, in the V-up frame of `UvLayer.uv`.

    matrix: 2 x 3 rows (a, b, c), (d, e, f): u' = a u + b v + c, v' = d u + e v + f.
    """

    matrix: tuple[tuple[float, float, float], tuple[float, float, float]]


@dataclass(frozen=True, slots=True)
class MapSlot:
    """One use of a picture by a material.

    slot: neutral name (`base_color`, `normal`, `roughness`, `metalness`, `occlusion`, `emission`, `opacity`,
    `height`, ...). channels: which channels of the picture it reads: "rgb", "rgba", "r", "g", "b" or "a".
    stated_as: the name the file uses (`pbrMetallicRoughness.baseColorTexture`, `map_Kd`).
    reference: index into `MeshFile.references`, -1 when the texture has no source at all.
    uv_layer: number of the UV layer. wrap: ("repeat" | "clamp" | "mirror") across and up.
    """

    slot: str
    channels: str
    stated_as: str
    reference: int
    uv_layer: int = 0
    transform: UvTransform | None = None
    wrap: tuple[str, str] = ("repeat", "repeat")
    options: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Material:
    """A material as the file states it. `used` tells whether any part wears it.

    tint: red, green and blue that the base color map is multiplied by.
    """

    name: str
    slots: tuple[MapSlot, ...] = ()
    double_sided: bool = False
    alpha_mode: str = "opaque"
    stated: bool = True  # False: a part names it, but no library defines it
    tint: tuple[float, float, float] = (1.0, 1.0, 1.0)


@dataclass(frozen=True, slots=True)
class Node:
    """A node of the file's scene. scale, rotation (quaternion x y z w) and translation are local."""

    name: str
    parent: int
    mesh: str
    translation: tuple[float, float, float] = (0.0, 0.0, 0.0)
    rotation: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 1.0)
    scale: tuple[float, float, float] = (1.0, 1.0, 1.0)
    world_determinant: float = 1.0
    holds: str = ""  # "mesh", "camera", "light", "skin", or "" for an empty node
    sheared: bool = False  # a stated matrix that no translation, rotation and scale can give


@dataclass(frozen=True, slots=True, eq=False)
class MeshFile:
    """One mesh file, read whole.

    path: relative to the drop, "/" between parts. format: "gltf", "glb", "obj", "ply", "stl".
    parts: sorted by (mesh, node, material name, order in file).
    references: every outside or embedded file it names, with the exact text.
    notes: everything the reader saw and did not understand, or had to decide.
    unit: metres per file unit that was applied. unit_stated: the format fixes the unit (glTF does).
    animations, cameras, lights, skins: how many the file holds.
    unused_vertices: positions the file states that no face uses; parts hold used ones only.
    mesh_names: of every mesh of the file, placed or not, as far as the format names meshes apart from nodes.
    """

    path: str
    format: str
    parts: tuple[MeshPart, ...]
    materials: tuple[Material, ...] = ()
    references: tuple[FileReference, ...] = ()
    nodes: tuple[Node, ...] = ()
    notes: tuple[ReadNote, ...] = ()
    unit: float = 1.0
    unit_stated: bool = False
    up_axis: str = "y"
    animations: int = 0
    cameras: int = 0
    lights: int = 0
    skins: int = 0
    generator: str = ""
    role: str = "model"
    extras: tuple[tuple[str, str], ...] = ()
    unused_vertices: int = 0
    mesh_names: tuple[str, ...] = ()


def frozen_array(array: NDArray[Any]) -> NDArray[Any]:
    """The same array, no longer writable."""
    array.flags.writeable = False
    return array
