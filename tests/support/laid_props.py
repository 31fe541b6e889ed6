"""Props of a few sheets laid out on one map, so that every texel can be worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tests.support.mesh_props import mesh_file, part
from tidegate.model.image_header import ImageHeader
from tidegate.model.mesh import MapSlot, Material, MeshPart, UvLayer
from tidegate.model.prop import Binding, Prop, TextureMap

SIZE = 1024  # texels a side of the map
DENSITY = 512.0  # texels per metre unless a sheet says otherwise
OAK = Material("oak")
MAP = "oak_base_color.png"


class Sheet(NamedTuple):
    """points (n, 3) metres, triangles (m, 3), uv (n, 2)."""

    points: NDArray[np.float64]
    triangles: NDArray[np.int64]
    uv: NDArray[np.float64]


def sheet(
    x0: float,
    y0: float,
    x1: float,
    y1: float,
    *,
    metres: tuple[float, float] | None = None,
    cells: tuple[int, int] = (1, 1),
    turn: float = 0.0,
    mirrored: bool = False,
) -> Sheet:
    """A flat sheet facing +Z, upright, laid out between these texels of the map (y up), at DENSITY unless `metres` says how
    large it is. turn: degrees counter-clockwise about its middle in the tile. mirrored: laid out as in a mirror."""
    wide, high = metres or ((x1 - x0) / DENSITY, (y1 - y0) / DENSITY)
    s, t = (a.ravel() for a in np.meshgrid(np.linspace(0, 1, cells[0] + 1), np.linspace(0, 1, cells[1] + 1)))
    at = np.arange((cells[0] + 1) * (cells[1] + 1)).reshape(cells[1] + 1, cells[0] + 1)
    a, b, c, d = at[:-1, :-1].ravel(), at[:-1, 1:].ravel(), at[1:, 1:].ravel(), at[1:, :-1].ravel()
    triangles = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    across = (1 - s if mirrored else s) * (x1 - x0) + x0
    texels = np.stack([across, t * (y1 - y0) + y0], 1)
    if turn:
        middle = np.array([(x0 + x1) / 2, (y0 + y1) / 2])
        cos, sin = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        texels = (texels - middle) @ np.array([[cos, sin], [-sin, cos]]) + middle
    return Sheet(np.stack([s * wide, t * high, np.zeros_like(s)], 1), triangles, texels / SIZE)


def apart(*sheets: Sheet) -> Sheet:
    """Several sheets as one mesh, ten metres behind one another, so that none is joined to another."""
    points, triangles, uv = [], [], []
    start = 0
    for number, one in enumerate(sheets):
        points.append(one.points + np.array([0.0, 0.0, -10.0 * number]))
        triangles.append(one.triangles + start)
        uv.append(one.uv)
        start += len(one.points)
    return Sheet(np.concatenate(points), np.concatenate(triangles), np.concatenate(uv))


def laid_part(*sheets: Sheet, **more: Any) -> MeshPart:
    whole = apart(*sheets)
    return part(whole.points, whole.triangles, uv=whole.uv, **{"material": 0, **more})


def painted(
    *parts: MeshPart,
    size: tuple[int, int] = (SIZE, SIZE),
    slots: tuple[str, ...] = ("base_color",),
    path: str = "a.glb",
) -> Prop:
    """A prop whose parts all wear `oak`, with one map for each slot."""
    mesh = mesh_file(*parts, path=path, materials=(OAK,))
    files = {slot: f"oak_{slot}.png" for slot in slots}
    header = ImageHeader("png", 1, size[0], size[1])
    return Prop(
        name="crate",
        meshes=(mesh,),
        maps=tuple(TextureMap(file, "", header, (slot,)) for slot, file in files.items()),
        bindings=tuple(Binding(path, "oak", slot, file, "name") for slot, file in files.items()),
    )


def laid(*sheets: Sheet, **more: Any) -> Prop:
    """A painted prop of one part."""
    return painted(laid_part(*sheets), **more)


def sampled(wrap: tuple[str, str], *sheets: Sheet) -> Prop:
    """Sheets on a map whose material says what the sampler does beyond its borders, across and up."""
    thing = laid(*sheets)
    material = replace(OAK, slots=(MapSlot("base_color", "rgb", "baseColorTexture", -1, wrap=wrap),))
    return replace(thing, meshes=(replace(thing.meshes[0], materials=(material,)),))


def second_layer(one: MeshPart, uv: NDArray[np.float64]) -> MeshPart:
    """The part with a UV layer 1."""
    return replace(one, uv_layers=(*one.uv_layers, UvLayer(1, "TEXCOORD_1", uv, one.triangles)))


def collapsed(one: Sheet, axis: int | None = None) -> Sheet:
    """The sheet with all its UVs on one point, or, with an axis, on one line across it."""
    uv = one.uv.copy()
    for k in (0, 1) if axis is None else (axis,):
        uv[:, k] = uv[0, k]
    return one._replace(uv=uv)


HINGE = np.array([[0, 1, 2], [0, 2, 3], [4, 5, 6], [4, 6, 7]])


def hinge(*, degrees: float, cut: bool, back: bool = False) -> MeshPart:
    """Two squares side by side, the second with normals turned by so many degrees about the common edge; cut: the layout is."""
    points = np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [1, 0, 0], [2, 0, 0], [2, 1, 0], [1, 1, 0]], float)
    turn = np.radians(degrees)
    normals = np.array([[0.0, 0.0, 1.0]] * 4 + [[np.sin(turn), 0.0, np.cos(turn)]] * 4)
    uv = points[:, :2] / 4 + np.repeat([[0.0, 0.0], [0.1 if cut else 0.0, 0.0]], 4, axis=0)
    triangles = HINGE.copy()
    if back:
        triangles[2:] = triangles[2:, ::-1]
    return laid_part(Sheet(points, triangles, uv), normals=normals)
