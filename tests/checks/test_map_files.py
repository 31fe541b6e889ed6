"""Checks of map files as they are stored: every limit from both sides."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.support.laid_props import OAK
from tests.support.painted_props import header_of, pictures_of, told, told_of, wearing, with_uses
from tidegate.model.image_header import ImageHeader
from tidegate.model.mesh import Material
from tidegate.model.prop import Master, Prop

NOISE = np.random.default_rng(3).integers(40, 216, (64, 64, 4), np.uint8)
RGB, GREY, RGBA = NOISE[:, :, :3], NOISE[:, :, 0], NOISE
DEEP = (GREY.astype(np.uint16) * 257) + 3


@pytest.mark.parametrize(
    ("slot", "image", "says"),
    [
        ("base_color", RGB, []),
        ("base_color", GREY, ["oak_base_color.png is stored as grey, its slot wants color"]),
        ("base_color", RGB.astype(np.uint16) * 257, ["oak_base_color.png has 16 bits a channel, its slot wants 8"]),
        ("roughness", GREY, []),
        ("roughness", RGB, ["oak_roughness.png is stored as color, its slot wants grey"]),
        ("height", DEEP, []),
        ("height", GREY, ["oak_height.png has 8 bits a channel, its slot wants 16"]),
        ("ambient", RGB, []),  # a slot that no limit names
    ],
)
def test_depth_and_channels_by_slot(slot: str, image: np.ndarray, says: list[str]) -> None:
    found = [f.message for check in ("wrong-bit-depth", "wrong-pixel-format") for f in told_of(check, {slot: image})]
    assert found == says


def test_a_packed_map_is_color_whatever_its_slots_want_alone() -> None:
    prop = wearing({"roughness": RGB})
    packed = with_uses(prop, "oak_roughness.png", {"roughness": "g", "metalness": "b"})
    assert told("wrong-pixel-format", packed, pictures_of({"roughness": RGB})) == []
    # glTF 2.0, 3.9.2 reads roughness from green, also where nothing else is read from the map
    green = with_uses(prop, "oak_roughness.png", {"roughness": "g"})
    assert told("wrong-pixel-format", green, pictures_of({"roughness": RGB})) == []


def test_block_compressed_and_palette_maps_have_no_depth_to_judge() -> None:
    packed = {"color_model": "compressed", "bits_per_channel": 0}
    for check in ("wrong-bit-depth", "wrong-pixel-format"):
        assert told_of(check, {"base_color": RGB}, header=packed) == []
    # one bit a palette entry is a matter of the palette check
    small = {"color_model": "palette", "bits_per_channel": 1, "palette": 2, "channels": 1}
    assert told_of("wrong-bit-depth", {"base_color": RGB}, header=small) == []
    assert len(told_of("palette-or-interlaced", {"base_color": RGB}, header=small)) == 1
    assert told_of("palette-or-interlaced", {"base_color": RGB}, header=small, palette=True) == []


def test_alpha_is_wanted_by_the_material_or_not_at_all() -> None:
    maps = {"base_color": RGBA}
    assert told_of("unwanted-alpha", {"base_color": RGB}) == []
    (one,) = told_of("unwanted-alpha", maps)
    assert one.message == "oak_base_color.png has an alpha channel that no material reads"
    for mode, amount in (("opaque", 1), ("mask", 0), ("blend", 0)):
        prop = wearing(maps, material=Material("oak", alpha_mode=mode))
        prop = with_uses(prop, "oak_base_color.png", {"base_color": "rgba"})
        assert len(told("unwanted-alpha", prop, pictures_of(maps))) == amount
    assert told_of("unwanted-alpha", maps, allowed=["base_color"]) == []
    assert len(told_of("unwanted-alpha", {"base_color": RGB}, header={"palette_alpha": True})) == 1


@pytest.mark.parametrize(("change", "amount"), [(None, 0), (255, 1), (7, 1), (0, 0)])
def test_alpha_that_is_the_same_everywhere(change: int | None, amount: int) -> None:
    """All clear is another fault: the map looks unsaved."""
    image = RGBA.copy()
    if change is not None:
        image[:, :, 3] = change
    assert len(told_of("unused-alpha", {"base_color": image})) == amount
    if change == 255:
        image[0, 0, 3] = 254
        assert told_of("unused-alpha", {"base_color": image}) == []


def test_interlace() -> None:
    assert len(told_of("palette-or-interlaced", {"base_color": RGB}, header={"interlaced": True})) == 1
    assert told_of("palette-or-interlaced", {"base_color": RGB}, header={"interlaced": True}, interlaced=True) == []
    assert told_of("palette-or-interlaced", {"base_color": RGB}) == []


def test_lossy_where_every_texel_counts() -> None:
    lossy = {"lossy": True, "format": "jpeg"}
    maps = {"base_color": RGB, "normal": RGB}
    prop = wearing(maps)
    prop = replace(prop, maps=tuple(replace(m, header=replace(m.header, **lossy)) for m in prop.maps))
    (one,) = told("lossy-map", prop, pictures_of(maps))
    assert (one.place.map, one.measured) == ("oak_normal.png", "lossy jpeg")
    assert len(told("lossy-map", prop, pictures_of(maps), slots=["base_color", "normal"])) == 2
    assert told_of("lossy-map", maps) == []


@pytest.mark.parametrize(
    ("slot", "chunks", "amount"),
    [
        ("normal", (("sRGB", "perceptual"),), 1),
        ("base_color", (("sRGB", "perceptual"),), 0),
        ("base_color", (("gAMA", "100000"),), 1),
        ("base_color", (("gAMA", "45455"),), 0),
        ("normal", (("gAMA", "100000"),), 0),
        ("normal", (("gAMA", "45455"),), 1),
        ("normal", (("gAMA", "70000"),), 0),  # between both: nobody knows what was meant
        ("normal", (("iCCP", "sRGB IEC61966-2.1"),), 1),
        ("base_color", (("iCCP", "Linear Rec709"),), 1),
        # PNG, Third Edition, 4.3: a profile goes before sRGB, sRGB before gamma
        ("base_color", (("gAMA", "100000"), ("sRGB", "perceptual")), 0),
        ("normal", (("sRGB", "perceptual"), ("iCCP", "Linear Rec709")), 0),
        ("normal", (), 0),
    ],
)
def test_color_space_statements(slot: str, chunks: tuple[tuple[str, str], ...], amount: int) -> None:
    found = told_of("contradicting-color-space", {slot: RGB}, header={"color_chunks": chunks})
    assert len(found) == amount


def test_memory_of_the_largest_variant_from_both_sides() -> None:
    # 64 x 64 x 3 bytes and its six smaller levels: 3 x (4096 + 1024 + 256 + 64 + 16 + 4 + 1) = 16,383 bytes
    each = 16_383 / (1 << 20)
    maps = {"base_color": RGB, "normal": RGB}
    assert told_of("too-much-texture-memory", maps) == []  # off by default
    assert told_of("too-much-texture-memory", maps, most_mib=2 * each) == []
    (one,) = told_of("too-much-texture-memory", maps, most_mib=2 * each - 1e-6)
    assert "2 maps unpack to 32 KiB" in one.message
    prop = wearing(maps)
    variants = ("red", "blue")
    prop = replace(prop, maps=tuple(replace(m, variant=v) for m, v in zip(prop.maps, variants, strict=True)))
    assert told("too-much-texture-memory", prop, pictures_of(maps), most_mib=each) == []
    assert len(told("too-much-texture-memory", prop, pictures_of(maps), most_mib=each - 1e-6)) == 1


@pytest.mark.parametrize("form", ["psd", "openraster", "tiff"])
@pytest.mark.parametrize(("layers", "amount"), [(0, 1), (1, 1), (2, 0)])
def test_masters_with_their_layers_and_without(layers: int, amount: int, form: str) -> None:
    def master(**more: object) -> Prop:
        header = ImageHeader(form, 1, 64, 64, layers=layers, **more)
        return replace(
            wearing({"base_color": RGB}), masters=(Master("oak.psd", "oak.psd", header, "oak_base_color.png"),)
        )

    pictures = pictures_of({"base_color": RGB})
    assert len(told("flattened-master", master(), pictures)) == amount
    assert told("flattened-master", master(problem="truncated"), pictures) == []
    assert told("flattened-master", master(), pictures, least_layers=3) != []


def test_grey_stored_three_times() -> None:
    same = np.dstack([GREY] * 3)
    (one,) = told_of("grey-stored-as-color", {"roughness": same})
    assert one.measured == "3 equal channels"
    off = same.copy()
    off[0, 0, 0] ^= 1
    assert told_of("grey-stored-as-color", {"roughness": off}) == []
    assert told_of("grey-stored-as-color", {"roughness": GREY}) == []
    assert told_of("grey-stored-as-color", {"base_color": same}) == []  # a grey thing is a color all the same
    packed = with_uses(wearing({"roughness": same}), "oak_roughness.png", {"roughness": "g", "metalness": "b"})
    assert told("grey-stored-as-color", packed, pictures_of({"roughness": same})) == []


def test_file_checks_decode_nothing() -> None:
    for check in (
        "wrong-bit-depth",
        "wrong-pixel-format",
        "unwanted-alpha",
        "palette-or-interlaced",
        "lossy-map",
        "contradicting-color-space",
        "too-much-texture-memory",
        "flattened-master",
    ):
        pictures = pictures_of({"base_color": RGB})
        told(check, wearing({"base_color": RGB}), pictures)
        assert pictures.asked == []


def test_maps_of_a_library_are_not_the_artists_to_mend() -> None:
    prop = wearing({"base_color": GREY})
    prop = replace(prop, maps=tuple(replace(m, library=True) for m in prop.maps))
    assert told("wrong-pixel-format", prop, pictures_of({"base_color": GREY})) == []
    assert header_of(GREY).color_model == "grey" and OAK.alpha_mode == "opaque"
