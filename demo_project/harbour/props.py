"""The props of Quillhaven: which panels they are made of, how they are laid out, painted and exported.

Every wrong prop has one fault just beyond a limit of the rule set that judges it, and a twin just inside.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

from PIL import Image

from .glb import write_glb
from .layout import lay_out
from .master import write_master
from .meshes import bare, build
from .obj import write_obj
from .paint import paint_maps
from .panels import Panel, box, cap, wall


@dataclass(frozen=True)
class Recipe:
    """asset: name without category. panels: by material, each material has maps of its own. format: "glb" or "obj".

    map_format: "png" or "tga". coats: variant -> paint in place of planks. scale: texels relative to `density`.
    drop_map: endings of maps that are not saved. map_px: variant -> size its maps are saved at instead.
    lods: coarser copies; collision: panels without layout. shown: file suffix of a map to write under another name.
    """

    asset: str
    category: str
    panels: dict[str, list[Panel]]
    size: int = 1024
    density: float = 512.0
    format: str = "glb"
    map_format: str = "png"
    coats: dict[str, str] = field(default_factory=lambda: {"": ""})
    unsaved: tuple[str, ...] = ()
    map_px: dict[str, int] = field(default_factory=dict)
    lods: dict[str, dict[str, list[Panel]]] = field(default_factory=dict)
    collision: list[Panel] = field(default_factory=list)
    ending: dict[str, str] = field(default_factory=dict)


def write_drop(recipe: Recipe, folder: Path) -> None:
    """The drop of one prop: mesh files, maps and masters, in a folder of its own."""
    folder.mkdir(parents=True, exist_ok=True)
    stem = f"{recipe.category}_{recipe.asset}"
    several = len(recipe.panels) > 1
    laid = {material: lay_out(panels, recipe.size, recipe.density) for material, panels in recipe.panels.items()}
    textures: dict[str, dict[str, str]] = {}
    for material, items in laid.items():
        base = f"{recipe.asset}_{material}" if several else recipe.asset
        for variant, coat in recipe.coats.items():
            name = f"{base}_{variant}" if variant else base
            maps = paint_maps(items, recipe.size, coat)
            for slot, pixels in maps.items():
                file = f"{name}_{recipe.ending.get(slot, slot)}.{recipe.map_format}"
                if variant == next(iter(recipe.coats)) and slot != "roughness":
                    textures.setdefault(material, {})[slot] = file
                if any(file.startswith(f"{name}_{slot_}") and base.endswith(who) for who, slot_ in _pairs(recipe)):
                    continue
                picture = Image.fromarray(pixels)
                px = recipe.map_px.get(variant, recipe.size)
                if px != recipe.size:
                    picture = picture.resize((px, px), Image.Resampling.NEAREST)
                picture.save(folder / file)
                if slot == "base_color":
                    write_master(folder / f"{name}_base_color.ora", pixels)
    write = write_glb if recipe.format == "glb" else write_obj
    meshes = [build(items, recipe.size, material) for material, items in laid.items()]
    write(folder / f"{stem}.{recipe.format}", [(recipe.asset, meshes)], textures)
    for role, panels in recipe.lods.items():
        coarse = [build(lay_out(p, recipe.size, recipe.density), recipe.size, m) for m, p in panels.items()]
        write(folder / f"{stem}_{role}.{recipe.format}", [(f"{recipe.asset}_{role}", coarse)], textures)
    if recipe.collision:
        write(
            folder / f"{stem}_collision.{recipe.format}", [(f"{recipe.asset}_collision", [bare(recipe.collision)])], {}
        )


def _pairs(recipe: Recipe) -> list[tuple[str, str]]:
    return [tuple(pair.split(":", 1)) for pair in recipe.unsaved]  # type: ignore[misc] - a pair has two


def _bollard() -> dict[str, list[Panel]]:
    return {
        "cast_iron": [
            *box(
                "plate", "cast_iron", (0, 0.02, 0), (0.5, 0.04, 0.5), "rust", ("front", "right", "back", "left", "top")
            ),
            wall("shaft", "cast_iron", 0.11, 0.04, 0.36, 24, "cast_iron"),
            wall("head", "cast_iron", 0.17, 0.4, 0.1, 24, "cast_iron"),
            cap("crown", "cast_iron", 0.17, 0.5, 24, "cast_iron"),
            cap("collar", "cast_iron", 0.17, 0.4, 24, "rust", under=True, hole=0.11),
        ]
    }


def _crate() -> dict[str, list[Panel]]:
    body = box("crate", "planks", (0, 0.2, 0), (0.7, 0.4, 0.5), "planks", ("right", "back", "left", "top", "under"))
    front = box("crate", "planks", (0, 0.2, 0), (0.7, 0.4, 0.5), "stencil", ("front",))
    return {"planks": body + front}


def _lantern() -> dict[str, list[Panel]]:
    return {
        "brass": [
            wall("base", "brass", 0.06, 0.0, 0.05, 16, "brass"),
            cap("foot", "brass", 0.06, 0.0, 16, "brass", under=True),
            cap("rim", "brass", 0.06, 0.05, 16, "brass", hole=0.05),
            wall("hood", "brass", 0.06, 0.17, 0.04, 16, "brass"),
            cap("lid", "brass", 0.06, 0.21, 16, "brass"),
            cap("brim", "brass", 0.06, 0.17, 16, "brass", under=True, hole=0.05),
        ],
        "glass": [wall("pane", "glass", 0.05, 0.05, 0.12, 16, "glass")],
    }


def _float(scale: float) -> dict[str, list[Panel]]:
    panels = [
        wall("side", "cork", 0.05, 0.0, 0.08, 20, "cork"),
        cap("end", "cork", 0.05, 0.08, 20, "cork"),
        cap("butt", "cork", 0.05, 0.0, 20, "cork", under=True),
    ]
    return {"cork": [replace(p, scale=scale) for p in panels]}


def _sign(turn: float) -> dict[str, list[Panel]]:
    board = box(
        "board", "painted_wood", (0, 1.4, 0), (0.6, 0.3, 0.04), "planks", ("right", "back", "left", "top", "under")
    )
    face = box("board", "painted_wood", (0, 1.4, 0), (0.6, 0.3, 0.04), "sign", ("front",))
    post = box("post", "painted_wood", (0, 0.625, 0), (0.08, 1.25, 0.08), "planks", ("front", "right", "back", "left"))
    return {"painted_wood": [*board, replace(face[0], turn=turn), *post]}


def _bench() -> dict[str, list[Panel]]:
    seat = box("seat", "planks", (0, 0.45, 0), (1.2, 0.05, 0.36), "planks")
    legs = [
        panel
        for side, x in (("port", -0.5), ("starboard", 0.5))
        for panel in box(
            f"leg_{side}", "planks", (x, 0.2125, 0), (0.06, 0.425, 0.3), "planks", ("front", "right", "back", "left")
        )
    ]
    return {"planks": seat + legs}


def _capstan(segments: int, rows: int) -> dict[str, list[Panel]]:
    return {
        "cast_iron": [
            wall("drum", "cast_iron", 0.28, 0.0, 0.6, segments, "cast_iron", rows=rows),
            cap("head", "cast_iron", 0.28, 0.6, segments, "rust"),
        ]
    }


def _chest(mirrored: bool) -> dict[str, list[Panel]]:
    body = box("chest", "planks", (0, 0.2, 0), (0.8, 0.4, 0.45), "planks")
    return {"planks": [replace(p, mirrored=mirrored and p.name == "chest_left") for p in body]}


def _grating() -> dict[str, list[Panel]]:
    return {
        "cast_iron": [
            cap("lid", "cast_iron", 0.3, 0.03, 24, "cast_iron"),
            wall("edge", "cast_iron", 0.3, 0.0, 0.03, 24, "rust"),
        ]
    }


def recipes() -> dict[str, Callable[[], Recipe]]:
    """Name of the drop folder -> recipe."""

    def sign(turn: float, asset: str) -> Recipe:
        return Recipe(asset, "furniture", _sign(turn))

    def chest(mirrored: bool, asset: str) -> Recipe:
        return Recipe(asset, "furniture", _chest(mirrored), format="obj", map_format="tga")

    def capstan(rows: int, asset: str) -> Recipe:
        return Recipe(
            asset,
            "furniture",
            _capstan(32, rows),
            lods={"lod1": _capstan(12, 1)},
            collision=box("hull", "", (0, 0.3, 0), (0.56, 0.6, 0.56), "rust"),
        )

    return {
        "furniture_mooring_bollard": lambda: Recipe("mooring_bollard", "furniture", _bollard()),
        "furniture_fish_crate": lambda: Recipe("fish_crate", "furniture", _crate(), format="obj", map_format="tga"),
        # one map of the second material was painted, is named by the mesh, and was never saved
        "handheld_storm_lantern": lambda: Recipe(
            "storm_lantern", "handheld", _lantern(), size=512, density=1024, unsaved=("glass:base_color",)
        ),
        "handheld_storm_lantern_twin": lambda: Recipe(
            "storm_lantern_twin", "handheld", _lantern(), size=512, density=1024
        ),
        # wanted is 1024 px/m, a quarter less is allowed: 0.74 is too little, 0.76 is enough
        "handheld_net_float": lambda: Recipe("net_float", "handheld", _float(0.74), size=512, density=1024),
        "handheld_net_float_twin": lambda: Recipe("net_float_twin", "handheld", _float(0.76), size=512, density=1024),
        # 10 degrees of tilt are allowed
        "furniture_harbour_sign": lambda: sign(10.5, "harbour_sign"),
        "furniture_harbour_sign_twin": lambda: sign(9.5, "harbour_sign_twin"),
        # the blue maps were saved at 1000 texels, no power of two
        "furniture_bench": lambda: Recipe(
            "bench",
            "furniture",
            _bench(),
            coats={"red": "red_planks", "blue": "blue_planks"},
            map_px={"blue": 1000},
        ),
        "furniture_bench_twin": lambda: Recipe(
            "bench_twin", "furniture", _bench(), coats={"red": "red_planks", "blue": "blue_planks"}
        ),
        # the order list allows 160 triangles: the drum has 64 a row of its 32 segments, the head 32
        "furniture_capstan": lambda: capstan(3, "capstan"),
        "furniture_capstan_twin": lambda: capstan(2, "capstan_twin"),
        # one side of the chest is laid out as in a mirror
        "furniture_rope_chest": lambda: chest(True, "rope_chest"),
        "furniture_rope_chest_twin": lambda: chest(False, "rope_chest_twin"),
        # the map's ending is one that the names scheme reads and does not want
        "furniture_drain_cover": lambda: Recipe(
            "drain_cover", "furniture", _grating(), ending={"base_color": "basecolor"}
        ),
        "furniture_drain_cover_twin": lambda: Recipe("drain_cover_twin", "furniture", _grating()),
    }
