"""One fault at a time in a drop that is otherwise right, each with the check that should name it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw
from scipy.ndimage import distance_transform_edt

from tests.measure.random_drop import Array, RandomDrop, mesh, nearest_island, random_drop
from tests.measure.random_layout import BETWEEN
from tests.pixels.synthetic import TEXTURES, texture, true_bleed
from tidegate.model.finding import Finding

SET = "furniture"
WANTED = 4  # texels of bleed
Rng = np.random.Generator


@dataclass(frozen=True)
class Outcome:
    """named: the check spoke. told: anything spoke that is quiet on a clean prop. exact: measured is true, None: not compared."""

    seed: int
    named: bool
    told: bool
    exact: bool | None = None


@dataclass(frozen=True)
class Fault:
    """make: the spoilt drop, and the true measure where there is one. exact: how near the measure has to come, in words."""

    check: str
    make: Callable[[int, Rng], tuple[RandomDrop, float | None]]
    exact: str = ""
    within: float = 0.0


def tried(seed: int, name: str, said: Callable[[RandomDrop, str], Sequence[Finding]]) -> Outcome:
    """What is said of a drop with one fault."""
    fault = FAULTS[name]
    made, true = fault.make(seed, np.random.default_rng([seed, list(FAULTS).index(name), 7]))
    found = said(made, SET)
    expected = {"map-space-wasted"} | ({"islands-too-close"} if made.layout.gap() < BETWEEN + 0.01 else set())
    named = [one for one in found if one.check == fault.check]
    exact = None
    if named and true is not None:
        exact = any(isinstance(one.measured, int | float) and abs(one.measured - true) <= fault.within for one in named)
    return Outcome(seed, bool(named), any(one.check not in expected for one in found), exact)


def _grounded(seed: int, rng: Rng, **more: object) -> RandomDrop:
    return random_drop(seed, SET, ground="ground", **more)


def _bleed(seed: int, rng: Rng) -> tuple[RandomDrop, float | None]:
    made = _grounded(seed, rng, bleed=int(rng.integers(0, WANTED)))
    # What stands exactly on its twin has no texels of its own, and no depth.
    depth = true_bleed(made.distance <= made.bleed, made.labels, len(made.layout.islands), 8)
    return made, min(one for one in depth if one is not None)


def _hole(seed: int, rng: Rng) -> tuple[RandomDrop, float | None]:
    made = _grounded(seed, rng)
    sizes = np.bincount(made.labels[made.labels >= 0])
    inner = distance_transform_edt(made.labels == int(sizes.argmax()))
    y, x = np.unravel_index(int(inner.argmax()), inner.shape)
    reach = max(int(inner.max() * rng.uniform(0.3, 0.7)), 3)
    hole = np.zeros(made.labels.shape, bool)
    hole[y - reach : y + reach, x - reach : x + reach] = True
    made.maps["base_color"][hole] = made.color
    made.master = made.maps["base_color"]
    return made, float((hole & (made.labels == sizes.argmax())).sum() / sizes.max())


def _laid_anew(change: Callable[[Array, Rng], Array]) -> Callable[[int, Rng], tuple[RandomDrop, None]]:
    def make(seed: int, rng: Rng) -> tuple[RandomDrop, None]:
        made = _grounded(seed, rng)
        made.maps["base_color"] = np.ascontiguousarray(change(made.maps["base_color"], rng))
        made.master = made.maps["base_color"]
        return made, None

    return make


def _turn(image: Array, rng: Rng) -> Array:
    square = image.shape[0] == image.shape[1]
    return np.rot90(image, int(rng.integers(1, 4)) if square else 2)


def _flip(image: Array, rng: Rng) -> Array:
    return image[:, ::-1] if rng.random() < 0.5 else image[::-1]


def _move(image: Array, rng: Rng) -> Array:
    height, width = image.shape[:2]
    return np.roll(
        image, (int(rng.integers(height // 8, height // 2)), int(rng.integers(width // 8, width // 2))), (0, 1)
    )


def _tile(seed: int, rng: Rng) -> tuple[RandomDrop, None]:
    made = random_drop(seed, SET)
    made.uv_moved = int(rng.choice([-1, 1, 2]))
    return made, None


def _stranger(seed: int, rng: Rng) -> tuple[RandomDrop, None]:
    made, other = _grounded(seed, rng), None
    while other is None or other.layout.size != made.layout.size:
        other = _grounded(int(rng.integers(10**6, 10**9)), rng)
    made.maps["base_color"] = made.master = other.maps["base_color"]
    return made, None


def _seam_step(seed: int, rng: Rng) -> tuple[RandomDrop, float | None]:
    made = random_drop(seed, SET, seams=True)
    step = int(rng.integers(22, 36))
    image = made.maps["base_color"].copy()
    image[nearest_island(made) == made.layout.seam] += np.uint8(step)
    if made.has_ground:
        image[made.distance > made.bleed] = made.color
    made.maps["base_color"] = made.master = image
    return made, step / 255


def _seam_broken(seed: int, rng: Rng) -> tuple[RandomDrop, None]:
    return random_drop(seed, SET, seams=True, broken_seam=True), None


def _replaced(slot: str, change: Callable[[RandomDrop, Rng], Array]) -> Callable[[int, Rng], tuple[RandomDrop, None]]:
    """One map anew; the master stays what it was, as it would."""

    def make(seed: int, rng: Rng) -> tuple[RandomDrop, None]:
        made = random_drop(seed, SET)
        made.master = made.maps["base_color"]
        made.maps[slot] = change(made, rng)
        return made, None

    return make


def _one_color(made: RandomDrop, rng: Rng) -> Array:
    height, width = made.labels.shape
    color = rng.integers(0, 256, 3)
    fill = [(0, 0, 0), (255, 255, 255), color, (0, 0, 0, 0)][int(rng.integers(3 if made.ground == "jpeg" else 4))]
    return np.broadcast_to(np.array(fill, np.uint8), (height, width, len(fill))).copy()


def _curve(value: Array) -> Array:
    """IEC 61966-2-1, from linear to sRGB."""
    return np.where(value <= 0.0031308, value * 12.92, 1.055 * np.maximum(value, 0.0031308) ** (1 / 2.4) - 0.055)


def _linear(value: Array) -> Array:
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def _bent(curve: Callable[[Array], Array]) -> Callable[[RandomDrop, Rng], Array]:
    return lambda made, rng: np.rint(curve(made.maps["normal"] / 255) * 255).astype(np.uint8)


def _swapped(made: RandomDrop, rng: Rng) -> Array:
    return np.ascontiguousarray(made.maps["normal"][:, :, [(2, 1, 0), (0, 2, 1)][int(rng.integers(2))]])


def _picture(made: RandomDrop, rng: Rng) -> Array:
    height, width = made.labels.shape
    return texture(str(rng.choice(TEXTURES)), rng, height, width)


def _steps(made: RandomDrop, rng: Rng) -> Array:
    return (_picture(made, rng)[:, :, 0] // 16 * 16).astype(np.uint16) * 257


def _wide(image: Array) -> Array:
    return np.repeat(image[:, :, None], 3, axis=2)


def _grey_metal(made: RandomDrop, rng: Rng) -> Array:
    return np.full(made.labels.shape, int(rng.integers(70, 180)), np.uint8) + _picture(made, rng)[:, :, 0] // 8


def _dead(made: RandomDrop, rng: Rng) -> Array:
    """The same nearly everywhere, or cut off at an end of the range over half of it and more."""
    if rng.random() < 0.5:
        return np.where(np.arange(made.labels.size).reshape(made.labels.shape) == 0, 12, 128).astype(np.uint8)
    spread = _picture(made, rng)[:, :, 0].astype(int)
    return np.clip(spread - int(np.quantile(spread, 0.6)), 0, 255).astype(np.uint8)


def _mastered(change: Callable[[RandomDrop, Rng], None]) -> Callable[[int, Rng], tuple[RandomDrop, None]]:
    def make(seed: int, rng: Rng) -> tuple[RandomDrop, None]:
        made = random_drop(seed, SET)
        made.master = made.maps["base_color"].copy()
        change(made, rng)
        return made, None

    return make


def _painted_on(made: RandomDrop, rng: Rng) -> None:
    assert made.master is not None
    height, width = made.labels.shape
    y, x = int(rng.integers(0, height - 24)), int(rng.integers(0, width - 24))
    made.master[y : y + 24, x : x + 24] += np.uint8(128)  # half the range away from whatever was there


def _painted_on_large(made: RandomDrop, rng: Rng) -> None:
    _painted_on(made, rng)
    assert made.master is not None
    made.master = np.kron(made.master, np.ones((2, 2, 1), np.uint8))


def _brightened(made: RandomDrop, rng: Rng) -> None:
    assert made.master is not None
    island = int(np.bincount(made.labels[made.labels >= 0]).argmax())
    made.master[made.labels == island] += np.uint8(rng.integers(8, 30))


def _layer_shown(made: RandomDrop, rng: Rng) -> None:
    made.guide = True


def _lined(made: RandomDrop, rng: Rng, image: Array) -> Array:
    """The edges of every triangle, a texel wide, in black, white or a bright color."""
    _, _, uv, triangles = mesh(made)
    width, height = made.layout.size
    picture = Image.fromarray(image)
    draw = ImageDraw.Draw(picture)
    color = tuple(int(c) for c in rng.choice([0, 255], 3))
    for corners in uv[triangles] * (width, -height) + (0, height):
        draw.polygon([(float(x), float(y)) for x, y in corners], outline=color)
    return np.asarray(picture)


def _lines_shown(made: RandomDrop, rng: Rng) -> None:
    assert made.master is not None
    made.master = _lined(made, rng, made.master)


def _lines_left(seed: int, rng: Rng) -> tuple[RandomDrop, None]:
    made = random_drop(seed, SET)
    made.maps["base_color"] = made.master = _lined(made, rng, made.maps["base_color"])
    return made, None


def _cut(seed: int, rng: Rng) -> tuple[RandomDrop, None]:
    made = random_drop(seed, SET)
    slot = str(rng.choice(list(made.maps)))
    made.cut[slot] = float(rng.choice([0.0, rng.uniform(0.01, 0.98)]))
    return made, None


LAID = "painted-for-another-layout"
FAULTS: dict[str, Fault] = {
    "paint stops 0 to 3 texels past the edge": Fault("bleed-too-narrow", _bleed, "depth exact to the texel"),
    "a hole in an island": Fault("unpainted-texels", _hole, "share of the island within 0.002", 0.002),
    "base color turned by 90, 180 or 270 degrees": Fault(LAID, _laid_anew(_turn)),
    "base color mirrored": Fault(LAID, _laid_anew(_flip)),
    "base color moved by an eighth of the tile or more": Fault(LAID, _laid_anew(_move)),
    "another prop's base color": Fault(LAID, _stranger),
    "an island moved by a whole tile": Fault("islands-outside-tile", _tile),
    "a seam lighter by 22 to 35 codes on one side": Fault("seam-visible", _seam_step, "difference within 0.02", 0.02),
    "a seam where another place of the paint goes on": Fault("seam-visible", _seam_broken),
    "base color all black, white, clear or one color": Fault("looks-unsaved", _replaced("base_color", _one_color)),
    "normals put through the sRGB curve": Fault("broken-normal-map", _replaced("normal", _bent(_curve))),
    "normals with the sRGB curve taken off": Fault("broken-normal-map", _replaced("normal", _bent(_linear))),
    "two channels of the normal map swapped": Fault("broken-normal-map", _replaced("normal", _swapped)),
    "some other picture as normal map": Fault("broken-normal-map", _replaced("normal", _picture)),
    "base color saved as roughness": Fault(
        "same-picture-twice", _replaced("roughness", lambda made, rng: made.maps["base_color"])
    ),
    "roughness saved as metalness": Fault(
        "same-picture-twice", _replaced("metalness", lambda made, rng: made.maps["roughness"])
    ),
    "some colored picture as roughness": Fault("color-in-data", _replaced("roughness", _picture)),
    "grey roughness in three channels": Fault(
        "grey-stored-as-color", _replaced("roughness", lambda made, rng: _wide(made.maps["roughness"]))
    ),
    "height of 16 steps": Fault("coarse-height", _replaced("height", _steps)),
    "metalness halfway everywhere": Fault("half-metal", _replaced("metalness", _grey_metal)),
    "roughness the same everywhere, or cut off": Fault("lifeless-roughness", _replaced("roughness", _dead)),
    "base color an eighth as bright": Fault(
        "unlikely-albedo", _replaced("base_color", lambda made, rng: made.maps["base_color"] // 8)
    ),
    "master painted on in 24 x 24 texels": Fault("map-unlike-master", _mastered(_painted_on)),
    "the same, the master of twice the size": Fault("map-unlike-master", _mastered(_painted_on_large)),
    "master brightened by 8 to 29 codes on an island": Fault("map-unlike-master", _mastered(_brightened)),
    "red and blue of the base color swapped": Fault(
        "map-unlike-master", _replaced("base_color", lambda made, rng: made.maps["base_color"][:, :, ::-1].copy())
    ),
    "guide layer shown in the master": Fault("guide-left-in-master", _mastered(_layer_shown)),
    "lines of the layout in the master's picture": Fault("guide-left-in-master", _mastered(_lines_shown)),
    "lines of the layout in map and master": Fault("guide-lines-left", _lines_left),
    "a map cut off, or empty": Fault("unreadable-map", _cut),
}
