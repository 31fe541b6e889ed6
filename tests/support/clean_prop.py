"""A prop with nothing wrong with it, and every way to spoil one thing: a net locker of upright panels.

    folder = net_locker(tmp_path, density=512)
    folder = net_locker(tmp_path, density=512, tilt={1: 10.4})

Each panel is one island: `side` metres square, upright, unmirrored, at `density` texels per metre, 20 texels apart.
"""

from __future__ import annotations

import io
import math
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tests.support.gltf_writer import GltfBuilder, write_glb

SIDE = 0.2  # metres
GAP = 20  # texels between panels
MAPS = ("base_color", "normal", "roughness")
# Of the four panels: which way is right as seen from the front, and the outward normal.
FACES = (((1, 0, 0), (0, 0, 1)), ((0, 0, -1), (1, 0, 0)), ((-1, 0, 0), (0, 0, -1)), ((0, 0, 1), (-1, 0, 0)))


def panels(
    density: float,
    texels: int,
    *,
    tilt: Mapping[int, float],
    mirrored: Sequence[int],
    scale: Mapping[int, float],
    shift: Mapping[int, tuple[float, float]],
) -> tuple[NDArray[Any], NDArray[Any], NDArray[Any], NDArray[Any]]:
    """Positions, normals, UVs V-up and triangles. tilt: panel -> degrees; scale: panel -> factor in UV space."""
    side, gap = SIDE * density / texels, GAP / texels
    across = max(1, int((1 - gap) // (side + gap)))
    positions, normals, uvs, triangles = [], [], [], []
    for number, (right, out) in enumerate(FACES):
        centre = np.array(out) * SIDE / 2 + (0, SIDE / 2, 0)
        middle = np.array([gap + number % across * (side + gap), gap + number // across * (side + gap)]) + side / 2
        middle = middle + shift.get(number, (0, 0))
        angle, size = math.radians(tilt.get(number, 0)), side * scale.get(number, 1)
        first = len(positions)
        for a, b in ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)):
            positions.append(centre + np.array(right) * a * SIDE + (0, b * SIDE, 0))
            normals.append(out)
            x, y = (-a if number in mirrored else a) * size, b * size
            uvs.append(
                middle
                + np.array((x * math.cos(angle) - y * math.sin(angle), x * math.sin(angle) + y * math.cos(angle)))
            )
        triangles += [(first, first + 1, first + 2), (first, first + 2, first + 3)]
    return np.float32(positions), np.float32(normals), np.float32(uvs), np.array(triangles)


def net_locker(
    folder: Path,
    *,
    density: float = 512,
    texels: int = 512,
    tilt: Mapping[int, float] | None = None,
    mirrored: Sequence[int] = (),
    scale: Mapping[int, float] | None = None,
    shift: Mapping[int, tuple[float, float]] | None = None,
    uvs: bool = True,
    maps: Sequence[str] = MAPS,
    sizes: Mapping[str, tuple[int, int]] | None = None,
    master: bool = True,
    spoil: Callable[[GltfBuilder], None] | None = None,
) -> Path:
    """Writes the drop `furniture_net_locker` into the folder. sizes: slot -> texels other than `texels` square."""
    drop = folder / "furniture_net_locker"
    drop.mkdir(parents=True)
    positions, normals, uv, triangles = panels(
        density, texels, tilt=tilt or {}, mirrored=mirrored, scale=scale or {}, shift=shift or {}
    )
    build = GltfBuilder()
    material = build.material("oak_planks", base_color="net_locker_base_color.png")
    stated = build.json["materials"][material]
    if "normal" in maps:
        stated["normalTexture"] = {"index": build.texture("net_locker_normal.png")}
    if "roughness" in maps:
        stated["pbrMetallicRoughness"]["metallicRoughnessTexture"] = {
            "index": build.texture("net_locker_roughness.png")
        }
    build.mesh("locker", positions, triangles, uvs=[uv] if uvs else [], normals=normals, material=material)
    for slot in maps:
        size = (sizes or {}).get(slot, (texels, texels))
        (drop / f"net_locker_{slot}.png").write_bytes(picture(slot, size, "PNG"))
        if master and slot == "base_color":
            (drop / "net_locker_base_color.tif").write_bytes(picture(slot, size, "TIFF"))
    if spoil is not None:
        spoil(build)
    write_glb(drop / "furniture_net_locker.glb", build)
    return drop


@cache
def picture(slot: str, size: tuple[int, int], form: str) -> bytes:
    """The bytes of `painted` in a file format; a TIFF is a layered master, a layer a page."""
    buffer = io.BytesIO()
    layers = {"save_all": True, "append_images": [painted(slot, size)]} if form == "TIFF" else {}
    painted(slot, size).save(buffer, form, **layers)
    return buffer.getvalue()


def painted(slot: str, size: tuple[int, int]) -> Image.Image:
    """A picture that is no flat colour: blocks of 8 texels in muted shades, or an even normal map."""
    width, height = size
    if slot == "normal":
        return Image.new("RGB", size, (128, 128, 255))
    shades = np.random.default_rng(7).integers(90, 130, (height // 8 + 1, width // 8 + 1, 3), dtype=np.uint8)
    blocks = shades.repeat(8, axis=0).repeat(8, axis=1)[:height, :width]
    return Image.fromarray(np.ascontiguousarray(blocks if slot == "base_color" else blocks[:, :, :1].repeat(3, axis=2)))
