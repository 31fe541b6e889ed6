"""Facts of a prop: exactly the groups asked for, each measured once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from tidegate.geometry.meanwhile import Meanwhile, more_than_one_core
from tidegate.model.facts import NEEDS, Facts, IslandColumns, Layout, PartFacts, Picture
from tidegate.model.map_sizes import ordered_px
from tidegate.model.order_row import OrderRow
from tidegate.model.prop import Prop
from tidegate.model.selection import COLLISION

if TYPE_CHECKING:
    from tidegate.measure.decoding import PictureReader
    from tidegate.measure.islands import LaidOut
    from tidegate.measure.strangers import Others
    from tidegate.measure.surface import Surface
    from tidegate.model.mesh import MeshPart

# group -> groups it rests on
RESTS_ON: dict[str, tuple[str, ...]] = {
    "headers": ("files",),
    "meshes": ("files",),
    "islands": ("meshes", "headers"),
    "upright": ("islands",),
    "coverage": ("islands",),
    "spacing": ("coverage",),
    "bare": ("spacing",),
    "unfolding": ("islands",),
    "cuts": ("islands",),
    "topology": ("meshes",),
    "shading": ("meshes",),
    "levels": ("meshes",),
    "flatness": ("headers",),
    "pixels": ("headers", "islands", "flatness"),
    "painted": ("pixels", "islands"),
    "masters": ("pixels",),
}

OF_PIXELS = frozenset({"flatness", "pixels", "painted", "masters"})


def with_what_they_rest_on(needs: Iterable[str]) -> frozenset[str]:
    """The groups and everything they rest on."""
    found: set[str] = set()
    waiting = list(needs)
    while waiting:
        group = waiting.pop()
        assert group in NEEDS, f"no such group of facts: {group}"
        if group not in found:
            found.add(group)
            waiting.extend(RESTS_ON.get(group, ()))
    return frozenset(found)


def measure(
    prop: Prop,
    needs: Iterable[str],
    settings: Mapping[str, Any],
    order: OrderRow | None = None,
    reader: PictureReader | None = None,
    others: Others | None = None,
) -> Facts:
    """The facts of a prop. settings: of the rule set that will judge it. reader: asked for pixels where a group needs them;
    without one those groups stay empty and unmeasured. others: gives props whose layouts a map that does not fit is tried on."""
    groups = with_what_they_rest_on(needs)
    if reader is None:
        groups -= OF_PIXELS
    layouts: tuple[LaidOut, ...] = ()
    surfaces: tuple[Surface, ...] = ()
    beside = False
    more: dict[str, Any] = {}
    if "meshes" in groups:
        from tidegate.measure.parts import plain_parts, surfaces_of

        surfaces = surfaces_of(prop)
        beside = _side_by_side(surfaces)
        more["parts"] = parts = plain_parts(prop, surfaces)
        more.update(_surfaces(prop, parts, surfaces, groups))
    of_meshes = (*more.get("topology", ()), *more.get("shading", ()))
    ahead = Meanwhile(lambda: [body.ahead() for body in of_meshes], beside=beside)
    if "islands" in groups:
        from tidegate.measure.islands import measure_islands
        from tidegate.measure.pictures import pictures_of

        ordered = ordered_px(order, settings["driving_slots"])
        sizes = {**settings, "assumed_map_px": ordered} if ordered else settings
        parts, columns, layouts = measure_islands(
            prop, sizes, upright="upright" in groups, surfaces=surfaces, facts=more["parts"], beside=beside
        )
        pictures = pictures_of(parts, columns, layouts, ordered=ordered is not None)
        mesh_parts = [surface.mesh for surface in surfaces]
        drawn = tuple(
            Layout(laid.part, laid.layer, mesh_parts[laid.part], laid.uv, laid.corners, laid.island) for laid in layouts
        )
        more.update(parts=parts, islands=columns, pictures=pictures, layouts=drawn)
        if "unfolding" in groups:
            from tidegate.measure.unfolding import Unfolding

            more["unfolding"] = unfolding = Unfolding(columns, layouts)
            of_layouts = Meanwhile(unfolding.ahead, beside=beside)
        if "coverage" in groups:
            more.update(_texels(columns, pictures, layouts, mesh_parts, groups))
        if "cuts" in groups:
            from tidegate.measure.cuts import measure_cuts

            more["cuts"] = measure_cuts(parts, layouts, mesh_parts)
    if beside:
        ahead.result()
        if "unfolding" in groups:
            of_layouts.result()
    parts = more.get("parts", ())
    if reader is not None and groups & OF_PIXELS:
        if "pixels" in groups:
            from tidegate.measure.decoded import LaidOutProp, measure_decoded

            laid = LaidOutProp(parts, more["islands"], more["pictures"], layouts, more["mesh_parts"])
            more.update(measure_decoded(prop, groups, laid, reader, settings, others))
        else:
            from tidegate.measure.flatness import measure_flatness

            more.update(measure_flatness(prop, reader))
    return Facts(prop=prop, measured=groups, order=order, size=_size(parts), **more)


def _side_by_side(surfaces: Sequence[Surface]) -> bool:
    """Whether the meshes are so large that measures run side by side and memory is held for them."""
    from tidegate.measure.held_memory import LARGE, hold_memory

    if sum(len(surface.mesh.triangles) for surface in surfaces) < LARGE:
        return False
    hold_memory()
    return more_than_one_core()


def _surfaces(
    prop: Prop, parts: Sequence[PartFacts], surfaces: Sequence[Surface], groups: frozenset[str]
) -> dict[str, tuple[Any, ...]]:
    """What is measured on the meshes, whatever is painted on them."""
    mesh_parts = tuple(surface.mesh for surface in surfaces)
    found: dict[str, tuple[Any, ...]] = {"mesh_parts": mesh_parts}
    if "topology" in groups:
        from tidegate.measure.topology import measure_topology

        found["topology"] = measure_topology(parts, surfaces)
    if "shading" in groups:
        from tidegate.measure.shading import measure_shading

        found["shading"] = measure_shading(prop, parts, surfaces)
    if "levels" in groups:
        from tidegate.measure.levels import measure_levels

        found["levels"] = measure_levels(prop, parts, mesh_parts)
    return found


def _texels(
    columns: IslandColumns,
    pictures: Sequence[Picture],
    layouts: Sequence[LaidOut],
    mesh_parts: Sequence[MeshPart],
    groups: frozenset[str],
) -> dict[str, tuple[Any, ...]]:
    """Coverage and, when asked for, spacing of every picture; one picture's texels are held at a time."""
    from tidegate.measure.coverage import counted_size, measure_coverage
    from tidegate.measure.placed import place
    from tidegate.measure.spacing import measure_spacing

    spacing, bare = "spacing" in groups, "bare" in groups
    covers, gaps = [], []
    for picture in pictures:
        if picture.bare and not bare:
            continue
        placed = place(columns, picture, layouts, *counted_size(picture))
        cover = measure_coverage(columns, picture, placed)
        covers.append(cover)
        if spacing:
            if counted_size(picture) != (picture.width, picture.height):
                placed = place(columns, picture, layouts, picture.width, picture.height)
            gaps.append(measure_spacing(columns, picture, placed, cover, layouts, mesh_parts))
    return {"coverage": tuple(covers), "spacing": tuple(gaps)}


def _size(parts: Sequence[PartFacts]) -> tuple[float, float, float] | None:
    """Width, height and depth of the model in metres; of what there is, when no part has the role model."""
    shown = [p for p in parts if p.role == "model" and p.triangles] or [
        p for p in parts if p.role != COLLISION and p.triangles
    ]
    if not shown:
        return None
    low = [min(part.bounds[0][axis] for part in shown) for axis in range(3)]
    high = [max(part.bounds[1][axis] for part in shown) for axis in range(3)]
    return (high[0] - low[0], high[1] - low[1], high[2] - low[2])
