"""Checks of what the pixels of a map say by themselves: every limit from both sides, and a clean twin."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.support.laid_props import OAK, sheet
from tests.support.painted_props import pictures_of, told, told_of, wearing, with_uses
from tidegate.pixels.color_space import encode

RANDOM = np.random.default_rng(11)
PAINT = RANDOM.integers(60, 200, (64, 64, 3), np.uint8)
GREY = RANDOM.integers(60, 200, (64, 64), np.uint8)


def flat(*color: int, side: int = 64) -> np.ndarray:
    return np.broadcast_to(np.array(color, np.uint8), (side, side, len(color))).copy()


@pytest.mark.parametrize(
    ("slot", "image", "level"),
    [
        ("base_color", flat(0, 0, 0), ""),
        ("base_color", flat(255, 255, 255), "warning"),  # a white ball
        ("base_color", flat(255, 255, 255, 255), "warning"),
        ("base_color", flat(255, 255, 255, 0), ""),
        ("base_color", flat(90, 80, 70, 0), ""),
        ("base_color", flat(90, 80, 70), "warning"),
        ("base_color", PAINT, None),
        ("normal", flat(0, 0, 0), ""),
        ("normal", flat(128, 128, 255), None),  # no relief is a statement
        ("roughness", flat(0), "warning"),  # a mirror
        ("roughness", flat(255), "warning"),  # rough all over, or an empty canvas
        ("roughness", flat(128), None),
        ("metalness", flat(0), None),  # no metal, all metal
        ("metalness", flat(255), None),
        ("occlusion", flat(255), None),
        ("occlusion", flat(0), ""),
        ("emission", flat(0, 0, 0), None),
        ("emission", flat(255, 255, 255), "warning"),  # a lamp
        ("specular", flat(255, 255, 255), None),
        ("specular", flat(0, 0, 0), "warning"),
        ("opacity", flat(0), ""),
        ("opacity", flat(255), None),
    ],
)
def test_maps_that_look_unsaved(slot: str, image: np.ndarray, level: str | None) -> None:
    found = told_of("looks-unsaved", {slot: image})
    assert [one.level for one in found] == ([] if level is None else [level])


@pytest.mark.parametrize(
    ("tint", "color", "amount"),
    [((0.2, 0.5, 0.1), 255, 0), ((1.0, 1.0, 0.9), 255, 0), ((1.0, 1.0, 1.0), 255, 1), ((0.2, 0.5, 0.1), 0, 1)],
)
def test_white_that_the_material_tints_is_meant(tint: tuple[float, float, float], color: int, amount: int) -> None:
    maps = {"base_color": flat(color, color, color)}
    prop = wearing(maps, material=replace(OAK, tint=tint))
    assert len(told("looks-unsaved", prop, pictures_of(maps))) == amount


def test_black_base_color_may_be_meant_where_the_same_material_gives_light() -> None:
    maps = {"base_color": flat(0, 0, 0), "emission": PAINT}
    (one,) = told("looks-unsaved", wearing(maps), pictures_of(maps))
    assert (one.level, one.message.partition(" is ")[2]) == ("warning", "fully black: nothing is painted on it")


@pytest.mark.parametrize(("mode", "level"), [("opaque", "warning"), ("mask", ""), ("blend", "")])
def test_paint_under_an_alpha_that_is_clear_all_over(mode: str, level: str) -> None:
    maps = {"base_color": np.dstack([PAINT, np.zeros((64, 64), np.uint8)])}
    prop = wearing(maps, material=replace(OAK, alpha_mode=mode))
    (one,) = told("looks-unsaved", prop, pictures_of(maps))
    assert one.level == level
    assert "has colors, but its alpha is 0 all over" in one.message
    maps["base_color"][9, 9, 3] = 1
    assert told("looks-unsaved", prop, pictures_of(maps)) == []


def test_one_stray_texel_and_swatches() -> None:
    stray = flat(0, 0, 0)
    stray[5, 5] = 1
    assert told_of("looks-unsaved", {"base_color": stray}) == []
    for side, amount in ((16, 0), (17, 1)):
        assert len(told_of("looks-unsaved", {"base_color": flat(0, 0, 0, side=side)})) == amount


def test_one_believable_slot_of_a_packed_map_is_enough() -> None:
    maps = {"roughness": flat(255, 255, 255)}
    prop = with_uses(wearing(maps), "oak_roughness.png", {"roughness": "g", "metalness": "b"})
    (one,) = told("looks-unsaved", prop, pictures_of(maps))
    assert one.level == "warning"  # roughness of 1 all over is doubted
    prop = with_uses(wearing(maps), "oak_roughness.png", {"occlusion": "r", "metalness": "b"})
    assert told("looks-unsaved", prop, pictures_of(maps)) == []


def test_only_what_may_be_flat_is_decoded() -> None:
    """A deflated flat picture takes a fiftieth of its texels at most; a map of more bytes is not opened."""
    maps = {"base_color": RANDOM.integers(0, 256, (256, 256, 3), np.uint8)}
    for length, asked in ((256 * 256 * 3 // 50 + 4096, 1), (256 * 256 * 3 // 50 + 4097, 0)):
        pictures = pictures_of(maps)
        told("looks-unsaved", wearing(maps, header={"compression": "deflate", "bytes": length}), pictures)
        assert len(pictures.asked) == asked


def normals(tilt: float, side: int = 64) -> np.ndarray:
    """Unit vectors tilted by up to `tilt` radians, 8 bits, green up."""
    angle = np.random.default_rng(2).uniform(0, 2 * np.pi, (side, side))
    lean = np.random.default_rng(3).uniform(0, tilt, (side, side))
    vector = np.dstack([np.sin(lean) * np.cos(angle), np.sin(lean) * np.sin(angle), np.cos(lean)])
    return np.rint((vector + 1) / 2 * 255).astype(np.uint8)


def test_normal_maps_right_and_wrong() -> None:
    right = normals(0.7)
    assert told_of("broken-normal-map", {"normal": right}) == []
    assert told_of("broken-normal-map", {"normal": flat(128, 128, 255)}) == []
    encoded = np.rint(encode(right / 255) * 255).astype(np.uint8)
    (one,) = told_of("broken-normal-map", {"normal": encoded})
    assert "sRGB curve" in one.message
    (one,) = told_of("broken-normal-map", {"normal": PAINT})
    assert "is no normal map" in one.message
    (one,) = told_of("broken-normal-map", {"normal": flat(90, 80, 70)})
    assert "is no normal map" in one.message
    assert told_of("broken-normal-map", {"base_color": PAINT}) == []
    assert told_of("broken-normal-map", {"normal": GREY}) == []  # one channel is a matter of the pixel format


@pytest.mark.parametrize(("share", "amount"), [(0.0049, 0), (0.0052, 1)])
def test_vectors_into_the_surface(share: float, amount: int) -> None:
    image = normals(0.5)
    texels = image.reshape(-1, 3)
    texels[: round(share * len(texels))] = (255, 128, 127)
    found = told_of("broken-normal-map", {"normal": image})
    assert len(found) == amount
    if found:
        assert "points into the surface" in found[0].message


@pytest.mark.parametrize(("scale", "limit", "amount"), [(0.9, 0.89, 0), (0.9, 0.91, 1)])
def test_short_vectors_from_both_sides(scale: float, limit: float, amount: int) -> None:
    image = np.rint(((normals(0.5) / 127.5 - 1) * scale + 1) * 127.5).astype(np.uint8)
    found = told_of("broken-normal-map", {"normal": image}, shortest=limit)
    assert len(found) == amount


def test_normals_are_looked_at_inside_the_islands_only() -> None:
    image = np.zeros((1024, 1024, 3), np.uint8)
    image[600:950, 50:450] = normals(0.5, 1024)[600:950, 50:450]
    assert told_of("broken-normal-map", {"normal": image}, sheet(100, 100, 400, 400)) == []
    assert len(told_of("broken-normal-map", {"normal": image}, sheet(500, 500, 900, 900))) == 1


@pytest.mark.parametrize(("share", "amount"), [(0.5, 0), (0.51, 1)])
@pytest.mark.parametrize(("code", "word"), [(29, "darker"), (241, "brighter")])
def test_albedo_beyond_belief(share: float, amount: int, code: int, word: str) -> None:
    image = flat(120, 120, 120)
    image.reshape(-1, 3)[: round(share * 4096)] = code
    found = told_of("unlikely-albedo", {"base_color": image})
    assert len(found) == amount
    assert all(word in one.message for one in found)
    image[image == code] = 30 if code < 30 else 240  # exactly on the limit is believable
    assert told_of("unlikely-albedo", {"base_color": image}) == []


@pytest.mark.parametrize(
    ("codes", "amount"),
    [({"darkest": 50}, 0), ({"darkest": 51}, 1), ({"brightest": 50}, 0), ({"brightest": 49}, 1), ({}, 0)],
)
def test_the_greys_of_albedo_are_limits(codes: dict[str, int], amount: int) -> None:
    """A surface of grey 50 with a stripe of 20 and one of 90, so that it is not one color."""
    image = flat(50, 50, 50)
    image[:8], image[8:16] = 20, 90
    found = told_of("unlikely-albedo", {"base_color": image}, **codes)
    assert len(found) == amount
    assert all(f"a grey of {next(iter(codes.values()))}" in one.message for one in found)


@pytest.mark.parametrize(
    ("limits", "amount"),
    [({"none": 0.4}, 0), ({"none": 0.39}, 1), ({"metal": 0.4}, 0), ({"metal": 0.41}, 1)],
)
def test_where_metal_begins_and_ends_are_limits(limits: dict[str, float], amount: int) -> None:
    """Code 102 is 0.4 exactly; on a limit it is not between."""
    image = flat(102)
    image[0, 0] = 255
    found = told_of("half-metal", {"metalness": image}, **limits)
    assert len(found) == amount
    assert all("0.39" in one.help or "0.41" in one.help for one in found)


@pytest.mark.parametrize(("share", "amount"), [(0.5, 0), (0.51, 1)])
def test_half_metal(share: float, amount: int) -> None:
    image = flat(255)
    image.reshape(-1)[: round(share * 4096)] = 128
    assert len(told_of("half-metal", {"metalness": image})) == amount


def test_roughness_that_never_varies_or_was_cut_off() -> None:
    assert told_of("lifeless-roughness", {"roughness": GREY}) == []
    (one,) = told_of("lifeless-roughness", {"roughness": flat(128)})
    assert "is the same everywhere" in one.message
    assert told_of("lifeless-roughness", {"roughness": flat(128, side=16)}) == []
    for share, amount in ((0.25, 0), (0.26, 1)):
        image = GREY.copy()
        image.reshape(-1)[: round(share * 4096)] = 255
        found = told_of("lifeless-roughness", {"roughness": image})
        assert [("cut off at 1" in one.message) for one in found] == [True] * amount


@pytest.mark.parametrize(("texels", "amount"), [(40, 0), (42, 1)])
def test_color_in_data(texels: int, amount: int) -> None:
    """41 of 4096 texels are a hundredth."""
    image = np.dstack([GREY] * 3)
    image.reshape(-1, 3)[:texels, 0] += 30
    found = told_of("color-in-data", {"roughness": image})
    assert len(found) == amount
    if found:
        assert found[0].place.pixel_box == (0, 0, 42, 1)
    image = np.dstack([GREY] * 3)
    image[:, :, 0] += 8  # lossy saving does as much
    assert told_of("color-in-data", {"roughness": image}) == []
    assert told_of("color-in-data", {"base_color": PAINT}) == []


def test_one_picture_in_two_slots() -> None:
    big = np.kron(PAINT, np.ones((8, 8, 1), np.uint8))
    maps = {"base_color": big, "normal": np.ascontiguousarray(big[::2, ::2])}
    (one,) = told_of("same-picture-twice", maps)
    assert one.message.startswith("oak_base_color.png (base color) and oak_normal.png (normal) hold the same picture")
    assert told_of("same-picture-twice", {"base_color": big, "emission": big}) == []
    assert len(told_of("same-picture-twice", {"base_color": big, "emission": big}, may_repeat=[])) == 1
    assert told_of("same-picture-twice", {"base_color": big, "normal": np.ascontiguousarray(big[::-1])}) == []
    assert told_of("same-picture-twice", {"base_color": flat(9, 9, 9), "normal": flat(9, 9, 9)}) == []


def test_height_with_few_steps() -> None:
    steps = lambda count: (np.arange(4096) % count).reshape(64, 64)  # noqa: E731 - a formula with a name
    for count, amount in ((64, 0), (63, 1)):
        assert len(told_of("coarse-height", {"height": (steps(count) * 3).astype(np.uint8)})) == amount
    (one,) = told_of("coarse-height", {"height": (steps(200) * 257).astype(np.uint16)})
    assert "of an 8-bit map" in one.message
    assert told_of("coarse-height", {"height": (steps(200) * 257 + 1).astype(np.uint16)}) == []
