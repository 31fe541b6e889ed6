"""Facts of small props for the tests of pictures: panels in the XY plane, each laid out as told."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from tidegate.measure.measure import measure
from tidegate.model.facts import Facts
from tidegate.model.image_header import ImageHeader
from tidegate.model.mesh import MapSlot, Material, MeshFile, MeshPart, UvLayer
from tidegate.model.prop import Binding, DropFile, Prop, TextureMap
from tidegate.model.set_settings import SETTINGS

ALL = ("islands", "upright", "coverage", "spacing")


class Panel(NamedTuple):
    """A rectangle of UV space. mirrored: left and right changed over. metres: width and height on the surface, None for
    UV size times 1 m. cells: quads across."""

    u0: float
    v0: float
    u1: float
    v1: float
    mirrored: bool = False
    metres: tuple[float, float] | None = None
    cells: int = 1


def mesh_of(panels: Sequence[Panel], *, polygons: bool = True) -> MeshPart:
    """The panels side by side with a metre between them, counter-clockwise from +Z, up along +Y."""
    positions, uvs, triangles, polygon = [], [], [], []
    start = x = face = 0
    for panel in panels:
        wide, high = panel.metres or (panel.u1 - panel.u0, panel.v1 - panel.v0)
        for column in range(panel.cells + 1):
            along = column / panel.cells
            u = panel.u1 + (panel.u0 - panel.u1) * along if panel.mirrored else panel.u0 + (panel.u1 - panel.u0) * along
            positions += [(x + wide * along, 0.0, 0.0), (x + wide * along, high, 0.0)]
            uvs += [(u, panel.v0), (u, panel.v1)]
        for column in range(panel.cells):
            a = start + 2 * column
            triangles += [(a, a + 2, a + 3), (a, a + 3, a + 1)]
            polygon += [face, face]
            face += 1
        start += 2 * (panel.cells + 1)
        x += wide + 1
    triangles_array = np.array(triangles, np.int32)
    return MeshPart(
        node="crate",
        mesh="crate",
        material=0,
        positions=np.array(positions, float),
        triangles=triangles_array,
        uv_layers=(UvLayer(0, "vt", np.array(uvs, float), triangles_array),),
        polygon=np.array(polygon, np.int32) if polygons else None,
        polygon_corners=np.full(face, 4, np.int32) if polygons else None,
        role="model",
    )


def facts_of(
    parts: Sequence[MeshPart],
    *,
    size: tuple[int, int] | None = (64, 64),
    assumed: int = 64,
    tiles: Sequence[int] = (),
    needs: Sequence[str] = ALL,
    name: str = "fish_crate",
) -> Facts:
    """Measured facts. size: of the base color map, None for no map. tiles: the map comes in these UDIM tiles."""
    maps: tuple[TextureMap, ...] = ()
    bindings: tuple[Binding, ...] = ()
    if size is not None:
        header = ImageHeader("png", 1, width=size[0], height=size[1], channels=3)
        files = [(f"{name}_base_color.{tile}.png", tile) for tile in tiles] or [(f"{name}_base_color.png", None)]
        maps = tuple(TextureMap(path, "", header, ("base_color",), tile=tile) for path, tile in files)
        bindings = tuple(
            Binding("crate.obj", "planks", "base_color", path, "name", "rgb", tile=tile) for path, tile in files
        )
    mesh = MeshFile(
        "crate.obj", "obj", tuple(parts), (Material("planks", (MapSlot("base_color", "rgb", "map_Kd", -1),)),)
    )
    prop = Prop(name, (mesh,), maps, bindings=bindings, files=(DropFile("crate.obj", "mesh", 1, ""),))
    settings = {setting.name: setting.default for setting in SETTINGS} | {"assumed_map_px": assumed}
    return measure(prop, needs, settings)


def panel_facts(*panels: Panel, polygons: bool = True, **how: object) -> Facts:
    """Facts of one mesh of these panels."""
    return facts_of([mesh_of(panels, polygons=polygons)], **how)
