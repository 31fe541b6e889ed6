"""Everything measured on a prop, measured once, shared by every check.

`NEEDS` lists the groups of facts. A check names the groups it reads in `Check.needs`; measuring fills those and what they
rest on, and leaves the others None. A check never reads a group it did not name (a test holds it to that).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from .mesh import MeshPart
    from .order_row import OrderRow
    from .prop import Prop

NEEDS: dict[str, str] = {
    "files": "the files of the drop and how their names are read",
    "meshes": "mesh files, read whole",
    "headers": "headers of maps and masters, without pixels",
    "islands": "UV islands with their areas, boxes, winding, density and stretch",
    "upright": "where the model's up lands in each island",
    "coverage": "how often each texel of a picture is covered, and which islands share texels",
    "spacing": "gaps between islands and to the tile border",
    "bare": "coverage and spacing of layouts without any map too, such as those for baked light",
    "unfolding": "how triangles lie in the tile: stretch, folds, flat and thin ones, density inside islands, borders",
    "cuts": "seams of each UV layer against where the shading breaks",
    "topology": "edges, borders, fans and pieces of the meshes",
    "shading": "vertex normals and tangents against the faces they shade",
    "levels": "levels of detail against the model they stand in for",
    "flatness": "whether maps are one flat colour: decoded are only those that may be, by their length",
    "pixels": "decoded maps, measured inside the islands where a layout is known",
    "painted": "maps measured against the layout: bleed, unpainted texels, fit, seams",
    "masters": "layered masters' merged pictures against their flat maps",
}


@dataclass(frozen=True, slots=True, eq=False)
class IslandColumns:
    """All islands of a prop, one row an island, in canonical order (mesh, material, UV layer, then UV box).

    Row i is island number i + 1 in every report. part: index into `Facts.parts`. first and count index
    `triangle_order`, which lists triangles of the part island by island.
    """

    part: NDArray[np.int32]
    uv_layer: NDArray[np.int32]
    tile: NDArray[np.int32]  # UDIM number of the tile its middle lies in, 0 where the numbering has none
    inside: NDArray[np.bool_]  # it lies in one tile whole, but for a hundredth of a texel
    corner: NDArray[np.int64]  # (i, 2) whole U and V of the tile its middle lies in
    triangles: NDArray[np.int64]
    uv_area: NDArray[np.float64]
    world_area: NDArray[np.float64]
    bounds: NDArray[np.float64]  # (i, 4) u0 v0 u1 v1
    centre: NDArray[np.float64]  # (i, 3) metres, area-weighted
    winding: NDArray[np.int8]  # +1 as it should be, -1 mirrored, 0 no area
    folded: NDArray[np.int64]  # triangles whose sign differs from their island's
    flat: NDArray[np.int64]  # triangles with zero UV area
    density: NDArray[np.float64]  # texels per metre for the driving map, NaN where undefined
    stretch_ratio: NDArray[
        np.float64
    ]  # area-weighted mean of larger over smaller singular value, texel space, NaN undefined
    stretch_l2: NDArray[np.float64]
    stretch_worst: NDArray[np.float64]
    up_degrees: NDArray[np.float64]  # NaN until measured
    up_certainty: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.part)


class FarUv(NamedTuple):
    """triangles: how many. farthest, allowed: tiles from 0, 0."""

    triangles: int
    farthest: float
    allowed: float


@dataclass(frozen=True, slots=True, eq=False)
class PartFacts:
    """One mesh part as the checks see it. island: (m,) int32 island row of each triangle per UV layer, -1 without UVs."""

    file: str
    node: str
    mesh: str
    material: str
    role: str
    triangles: int
    vertices: int
    uv_layers: tuple[int, ...]
    world_area: float
    bounds: tuple[tuple[float, float, float], tuple[float, float, float]]
    island_of: dict[int, NDArray[np.int32]] = field(default_factory=dict)
    without_uv: dict[int, int] = field(default_factory=dict)  # UV layer -> triangles that have none on it
    bad_uv: dict[int, int] = field(default_factory=dict)  # UV layer -> triangles with NaN or infinite UVs
    far_uv: dict[int, FarUv] = field(default_factory=dict)  # UV layer -> triangles with UVs beyond any sense, where any


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """One texture map as islands see it: a UV layer and tile painted on by every part whose material carries the map.

    key: stable name ("mooring_bollard_base_color.png" or, with no map, "material cast_iron"). files: maps of it by slot.
    width, height: texels of the driving map; assumed: no map was there, the rule set's size was taken, or, where ordered,
    the size that the order list states for it.
    driving_slot: slot whose map gave the size, "" when assumed. islands: rows of `IslandColumns`.
    role: only parts of one mesh role share a picture: a level of detail lies on the same map as the model and is not
    an overlap. repeats: the map is no UDIM tile, so islands outside 0-1 are painted from the same texels again.
    palette: its islands take single colors from it, so nothing about painting can be judged (measure/palette.py).
    bare: no map is named here though others of the prop are, as for a plain color or a layer for baked light: nothing is
    painted on it, so its layout is judged by no rule but those for such layers.
    """

    key: str
    uv_layer: int
    tile: int
    width: int
    height: int
    assumed: bool
    driving_slot: str
    files: tuple[tuple[str, str], ...]
    parts: tuple[int, ...]
    islands: NDArray[np.int64]
    role: str = "model"
    variant: str = ""
    repeats: bool = False
    wrap: tuple[str, str] = ("repeat", "repeat")
    palette: bool = False
    bare: bool = False
    ordered: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """One UV layer of one part as it lies in the tile: what pictures are drawn from.

    part: index into `Facts.parts`, mesh the part itself. uv: (3, 2, m) corner columns, V up, as the driving map sees
    them. corners: (m, 3) ids of corners that agree in position and UV. island: (m,) island rows, -1 without UVs.
    """

    part: int
    uv_layer: int
    mesh: MeshPart
    uv: NDArray[np.float64]
    corners: NDArray[np.int32]
    island: NDArray[np.int32]


@dataclass(frozen=True, slots=True, eq=False)
class Facts:
    """The facts of one prop. Groups that no rule needed are None or empty."""

    prop: Prop
    measured: frozenset[str]
    order: OrderRow | None = None
    parts: tuple[PartFacts, ...] = ()
    islands: IslandColumns | None = None
    pictures: tuple[Picture, ...] = ()
    layouts: tuple[Layout, ...] = ()
    size: tuple[float, float, float] | None = None  # metres: width x, height y, depth z of the model role
    coverage: tuple[Any, ...] = ()  # one a picture, measure/coverage.py
    spacing: tuple[Any, ...] = ()  # one a picture, measure/spacing.py
    unfolding: Any = None  # measure/unfolding.py
    cuts: tuple[Any, ...] = ()  # one a UV layer of a part, measure/cuts.py
    mesh_parts: tuple[MeshPart, ...] = ()  # what each of `parts` was measured from
    topology: tuple[Any, ...] = ()  # one a body: the parts of a mesh at one node, measure/topology.py
    shading: tuple[Any, ...] = ()  # one a part, measure/shading.py
    levels: tuple[Any, ...] = ()  # one a level of detail, measure/levels.py
    flatness: tuple[Any, ...] = ()  # (map, pixels/flat.py Flatness) of every map decoded
    undecoded: tuple[
        Any, ...
    ] = ()  # maps and masters that a rule needed and that could not be decoded, measure/decoding.py
    pixels: tuple[Any, ...] = ()  # one a map, measure/pixels.py
    same_pictures: tuple[
        tuple[str, str], ...
    ] = ()  # maps of one material in different slots that hold the same picture
    painted: tuple[Any, ...] = ()  # one a picture and variant, measure/painted.py
    masters: tuple[Any, ...] = ()  # one a master, measure/masters.py
    suspicions: tuple[tuple[str, str], ...] = ()  # (code, sentence): causes that explain other findings
