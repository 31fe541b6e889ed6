"""Random props as an artist would hand them in: files of a drop that is right under a given rule set.

Every island is painted by reading one endless picture at the place that each texel has on the surface, so paint goes on across
seams whatever way the islands lie. Fills come from the crossing-number rule, distances and reading between texels from SciPy,
triangles from Shapely: nothing that the checks use.
"""

from __future__ import annotations

import io
import zipfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from PIL import Image
from scipy.ndimage import distance_transform_edt, map_coordinates

from tests.measure.random_layout import BORDER, SETS, Array, Island, Layout, random_layout
from tests.pixels.synthetic import TEXTURES, texture
from tests.support.gltf_writer import GltfBuilder, write_glb

KINDS = (*TEXTURES, "even")  # even: one tone a piece of surface
GROUNDS = ("ground", "ground", "carried", "spread", "canvas", "jpeg")
NAME = "net_rack"
FROM_CUT = 16  # texels between a cut through the middle of a sheet and the place where the picture begins anew
SMALLEST = 256  # texels a side that the sets want of every map
PICTURE = 256  # texels a side of the endless picture, which then repeats
LEAST_BLEED = 5  # a texel more than the sets want, since islands end between texels
STACK = (
    '<image version="0.0.3" w="{}" h="{}"><stack><layer name="salt wear" src="data/1.png" opacity="0.5" '
    'visibility="visible"/>{}<layer name="base" src="data/0.png"/></stack></image>'
)
GUIDE = '<layer name="guide sheet" src="data/2.png" visibility="visible"/>'


@dataclass
class RandomDrop:
    """maps: slot -> array. master: merged picture of the base color's. kind: of base color. ground: one of GROUNDS, or "none".

    distance: (H, W) texels to the nearest island. bleed: paint goes on so far, where there is a ground. color: of the ground.
    guide: the master's guide layer is shown. jpeg: quality and chroma halving of a JPEG base color. uv_moved: tiles by which
    the first island is moved in the mesh alone. broken_seam: the second half of the first seam is painted as if it were
    another piece. cut: slot -> share of the bytes of its file that are kept.
    """

    layout: Layout
    density: float
    kind: str
    ground: str
    bleed: int
    color: Array
    distance: Array
    nearest: tuple[Array, Array]
    maps: dict[str, Array] = field(default_factory=dict)
    master: Array | None = None
    guide: bool = False
    jpeg: tuple[int, int] = (92, 0)
    uv_moved: int = 0
    broken_seam: bool = False
    cut: dict[str, float] = field(default_factory=dict)

    @property
    def labels(self) -> Array:
        return self.layout.labels

    @property
    def has_ground(self) -> bool:
        return self.ground in ("ground", "jpeg")


def random_drop(
    seed: int,
    rule_set: str,
    *,
    bleed: int | None = None,
    ground: str = "",
    seams: bool = False,
    broken_seam: bool = False,
) -> RandomDrop:
    """A prop with nothing wrong under the set. bleed, ground: as given, else by chance. seams: with one seam at least."""
    for attempt in range(1000):
        rng = np.random.default_rng([seed, list(SETS).index(rule_set), attempt])
        layout = random_layout(rng, SETS[rule_set])
        if layout.seam is not None or not seams:
            break
    distance, (y, x) = distance_transform_edt(layout.labels < 0, return_indices=True)
    kind = str(rng.choice(KINDS))
    ground = ground or str(rng.choice(GROUNDS))
    if ground == "canvas" and layout.seam is not None:
        ground = "spread"  # one picture over the whole tile cannot go on across seams
    if layout.repeats:
        ground = "none"
    if kind == "even" and (layout.sheets < 2 or ground in ("canvas", "none")):
        kind = "panelled"  # one tone all over would be one flat color, which is told rightly
    drawn = bleed if bleed is not None else int(rng.integers(LEAST_BLEED, 14))
    color = rng.choice([0, 5, 128, 250, 255], 3) if rng.random() < 0.5 else np.repeat(rng.choice([0, 128, 255]), 3)
    made = RandomDrop(
        layout, SETS[rule_set].density, kind, ground, drawn, color, distance, (y, x), broken_seam=broken_seam
    )
    made.maps = _painted(made, rng)
    layout.drawn.update([f"texture {kind}", f"ground {ground}", *(f"map {slot}" for slot in made.maps)])
    layout.drawn["map of half the size"] += made.maps["roughness"].shape != made.labels.shape
    return made


def _painted(made: RandomDrop, rng: np.random.Generator) -> dict[str, Array]:
    place, sheet = _surface(made)
    islands = len(made.layout.islands)
    color = _read(made.kind, rng, place, sheet, 40, 215)
    rough = _read(str(rng.choice(KINDS)), rng, place, sheet, 60, 220, channels=1)[:, :, 0]
    metal = np.where(rng.random(islands) < 0.4, 255, 0).astype(np.uint8)[nearest_island(made)]
    normal = _normals(made, _read("smooth", rng, place, sheet, 80, 175, channels=2))
    maps = {
        "base_color": _grounded(made, color, made.color),
        "roughness": _grounded(made, rough, 0),
        "metalness": _grounded(made, metal, 0),
        "normal": _grounded(made, normal, (128, 128, 255)),
    }
    if rng.random() < 0.3:
        maps["occlusion"] = _grounded(made, _read("spectrum", rng, place, sheet, 120, 255, channels=1)[:, :, 0], 255)
    if rng.random() < 0.3:
        fine = _read("smooth", rng, place, sheet, 90, 200, channels=2).astype(np.uint16)
        maps["height"] = _grounded(made, fine[:, :, 0] * 257 + fine[:, :, 1] // 4, 32768)
    if rng.random() < 0.2:
        lit = np.zeros((islands, 3), np.uint8)
        lit[int(rng.integers(islands))] = (250, 180, 60)
        maps["emission"] = _grounded(made, lit[nearest_island(made)], 0)
    wide = made.bleed >= 2 * LEAST_BLEED + 1 or not made.has_ground
    if wide and min(made.layout.size) >= 2 * SMALLEST and rng.random() < 0.5 and _free_at_the_border(made, 2 * BORDER):
        maps["roughness"] = _halved(maps["roughness"])
    if made.ground == "jpeg":
        made.jpeg = (int(rng.choice([85, 92, 97])), int(rng.choice([0, 2])))
        made.layout.drawn[f"JPEG at quality {made.jpeg[0]}, chroma {('full', '', 'halved')[made.jpeg[1]]}"] += 1
    return maps


def _free_at_the_border(made: RandomDrop, texels: int) -> bool:
    """No island lies so near to an end of the map: it repeats, so the ground at its other end is beside that island."""
    there = made.labels >= 0
    near = (there[:texels], there[-texels:], there[:, :texels], there[:, -texels:])
    return not made.has_ground or not any(part.any() for part in near)


def nearest_island(made: RandomDrop) -> Array:
    y, x = made.nearest
    return np.asarray(np.maximum(made.labels[y, x], 0))


def _surface(made: RandomDrop) -> tuple[Array, Array]:
    """For each texel its place on the sheet of the nearest island, (H, W, 2), and the number of that sheet."""
    height, width = made.labels.shape
    y, x = np.mgrid[:height, :width] + 0.5
    at = np.stack([x, y], axis=-1)
    if made.ground in ("canvas", "none"):
        return at, np.zeros(at.shape[:2], int)
    if made.ground == "carried":
        at = at[made.nearest]
    island = nearest_island(made)
    place, sheet = np.empty_like(at), np.zeros(island.shape, int)
    for number, one in enumerate(made.layout.islands):
        here = island == number
        place[here], sheet[here] = one.on_sheet(at[here]), one.sheet
        if made.broken_seam and number == made.layout.seam:
            sheet[here] = made.layout.sheets
    return place, sheet


def _read(
    kind: str, rng: np.random.Generator, place: Array, sheet: Array, low: int, high: int, channels: int = 3
) -> Array:
    """(H, W, channels) codes of a picture read at places on the sheets, every sheet with a start of its own."""
    count = int(sheet.max()) + 1
    if kind == "even" and count > 1:
        tones = np.linspace(low, high, count)[rng.permutation(count)]
        return np.rint(np.stack([tones, tones[::-1], np.roll(tones, 1)], axis=-1)).astype(np.uint8)[sheet]
    picture = texture("panelled" if kind == "even" else kind, rng, PICTURE, PICTURE, low=low, high=high)
    start = rng.integers(0, PICTURE, (count, 2))
    # Pieces are cut through the middle of their sheet: where the picture begins anew may not lie along that cut.
    start[(start < FROM_CUT) | (start > PICTURE - FROM_CUT)] = FROM_CUT
    x, y = (place[:, :, axis] + start[sheet, axis] - 0.5 for axis in (0, 1))
    whole = np.rint(x), np.rint(y)
    if np.abs(x - whole[0]).max() < 1e-6 and np.abs(y - whole[1]).max() < 1e-6:  # nothing lies between texels
        return picture[whole[1].astype(int) % PICTURE, whole[0].astype(int) % PICTURE, :channels]
    read = [map_coordinates(picture[:, :, c].astype(float), [y, x], order=1, mode="grid-wrap") for c in range(channels)]
    return np.rint(np.stack(read, axis=-1)).astype(np.uint8)


def _grounded(made: RandomDrop, image: Array, color: Any) -> Array:
    if made.has_ground:
        image = image.copy()
        image[made.distance > made.bleed] = color
    return image


def _normals(made: RandomDrop, lean: Array) -> Array:
    """Directions that lean on the sheet, turned into the tile with their islands, with green up."""
    flat = lean.astype(float) / 127.5 - 1
    if made.ground not in ("canvas", "none"):
        turns = np.array([one.turn for one in made.layout.islands])[nearest_island(made)]
        flat = (turns @ flat[..., None])[..., 0]
    up = np.sqrt(1 - (flat**2).sum(axis=2, keepdims=True))
    return np.rint((np.concatenate([flat * (1, -1), up], axis=2) + 1) * 127.5).astype(np.uint8)


def _halved(image: Array) -> Array:
    return np.asarray(Image.fromarray(image).resize((image.shape[1] // 2, image.shape[0] // 2), Image.Resampling.BOX))


def encoded(image: Array, form: str, **more: Any) -> bytes:
    buffer = io.BytesIO()
    Image.fromarray(image).save(buffer, form, **more)
    return buffer.getvalue()


def write(made: RandomDrop, folder: Path) -> Path:
    """Writes the drop into an empty folder: GLB, maps, layered master."""
    drop = folder / f"furniture_{NAME}"
    drop.mkdir(parents=True)
    build = GltfBuilder()
    files = {slot: f"{NAME}_{slot}.png" for slot in made.maps}
    if made.ground == "jpeg":
        files["base_color"] = f"{NAME}_base_color.jpg"
    material = build.material("tarred_rope", base_color=files["base_color"], normal=files["normal"])
    points, normals, uv, triangles = mesh(made)
    build.mesh("rack", points, triangles, uvs=[uv], normals=normals, material=material)
    write_glb(drop / f"furniture_{NAME}.glb", build)
    for slot, image in made.maps.items():
        if files[slot].endswith(".jpg"):
            data = encoded(image, "JPEG", quality=made.jpeg[0], subsampling=made.jpeg[1])
        else:
            data = encoded(image, "PNG", compress_level=1)
        (drop / files[slot]).write_bytes(data[: int(len(data) * made.cut.get(slot, 1))])
    merged = made.maps["base_color"] if made.master is None else made.master
    with zipfile.ZipFile(drop / f"{NAME}_base_color.ora", "w") as master:
        master.writestr("mimetype", b"image/openraster")
        master.writestr("stack.xml", STACK.format(merged.shape[1], merged.shape[0], GUIDE if made.guide else ""))
        master.writestr("mergedimage.png", encoded(merged, "PNG", compress_level=1))
    return drop


def mesh(made: RandomDrop) -> tuple[Array, Array, Array, Array]:
    """Positions, normals, UVs V-up and triangles: every sheet upright, facing the front, beside the one before it."""
    width, height = made.layout.size
    points, uvs, triangles = [], [], []
    left, count = 0.0, 0
    for sheet in range(made.layout.sheets):
        mine = [(n, one) for n, one in enumerate(made.layout.islands) if one.sheet == sheet]
        if not mine:
            continue
        low = min(one.shape[:, 0].min() for _, one in mine)
        for number, one in mine:
            corners, faces = _triangles(one.shape)
            facing = -1 if one.twin else 1
            flat = np.stack([facing * (corners[:, 0] - low), -corners[:, 1]], axis=1)
            if one.twin:
                flat[:, 0] -= flat[:, 0].min()
                faces = faces[:, ::-1]
            laid = (corners @ one.turn.T + one.move) / (width, height)
            laid[:, 1] = 1 - laid[:, 1]
            if number == 0:
                laid[:, 0] += made.uv_moved
            points.append(np.column_stack([flat[:, 0] + left, flat[:, 1], np.zeros(len(flat))]) / made.density)
            uvs.append(laid)
            triangles.append(faces + count)
            count += len(corners)
        left += max(one.shape[:, 0].max() - low for _, one in mine) + 8
    where = np.concatenate(points)
    where -= (where.min(axis=0) + where.max(axis=0)) / 2
    where[:, 1] -= where[:, 1].min()
    return where, np.tile([0.0, 0.0, 1.0], (len(where), 1)), np.concatenate(uvs), np.concatenate(triangles)


def _triangles(shape: Array) -> tuple[Array, Array]:
    """Corners (n, 2) and triangles that face the viewer on a sheet seen with y down."""
    whole = shapely.get_parts(shapely.make_valid(shapely.Polygon(shape)))  # even-odd, as the raster
    parts = [t for one in whole if one.area > 0 for t in shapely.constrained_delaunay_triangles(one).geoms]
    corners = np.array([np.asarray(part.exterior.coords)[:3] for part in parts]).reshape(-1, 2)
    points, index = np.unique(corners, axis=0, return_inverse=True)
    faces = index.reshape(-1, 3)
    a, b, c = (points[faces[:, k]] for k in range(3))
    turned = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0] > 0  # y is down here and up in the model
    faces[turned] = faces[turned][:, ::-1]
    return points, faces


__all__ = ["GROUNDS", "KINDS", "Island", "RandomDrop", "random_drop", "write"]
