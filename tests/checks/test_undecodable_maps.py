"""Hostile pictures with a whole header, read from the disk: each gives its finding, none an approval by silence."""

from __future__ import annotations

import io
import struct
import zlib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.support.painted_props import header_of, wearing
from tidegate import checks
from tidegate.load.image_header import read_header
from tidegate.load.picture_reader import DiskPictures
from tidegate.measure.measure import measure
from tidegate.model.check import Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.prop import Prop

PAINT = np.random.default_rng(5).integers(0, 256, (24, 24, 3), np.uint8)
SETTINGS = {"driving_slots": ("base_color",), "assumed_map_px": 64}


def prop_of(folder: Path, name: str, data: bytes, slot: str = "base_color") -> Prop:
    (folder / name).write_bytes(data)
    prop = wearing({slot: PAINT})
    header = read_header(folder / name, name)
    texture = replace(prop.maps[0], path=name, location=str(folder / name), header=header)
    return replace(prop, maps=(texture,), bindings=tuple(replace(b, file=name) for b in prop.bindings))


def facts_of(prop: Prop, *needs: str) -> Facts:
    return measure(prop, ("headers", *needs), SETTINGS, None, DiskPictures())


def told(prop: Prop, *needs: str) -> list[Finding]:
    return list(checks.get("unreadable-map").run(facts_of(prop, *needs), {}, Scope()))


def saved(image: Image.Image, kind: str, **how: object) -> bytes:
    buffer = io.BytesIO()
    image.save(buffer, kind, **how)
    return buffer.getvalue()


def test_a_whole_map_is_silent_and_not_opened_without_need(tmp_path: Path) -> None:
    prop = prop_of(tmp_path, "a.png", saved(Image.fromarray(PAINT), "PNG"))
    assert told(prop, "painted", "masters") == []
    (tmp_path / "a.png").unlink()
    assert told(prop) == []
    (one,) = told(prop, "painted")  # gone meanwhile
    assert one.level == "" and one.measured == "damaged"


def chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def test_a_complete_picture_of_60000_by_60000_takes_no_memory(tmp_path: Path) -> None:
    """One bit a texel: 7,500 bytes and a filter byte a row, all zero, deflate to half a megabyte; unpacked to a byte a texel
    it would be 3.6 GB."""
    packer = zlib.compressobj(1)
    row = bytes(1 + 60_000 // 8)
    data = b"".join(packer.compress(row * 100) for _ in range(600)) + packer.flush()
    png = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", 60_000, 60_000, 1, 0, 0, 0, 0))
    prop = prop_of(tmp_path, "a.png", png + chunk(b"IDAT", data) + chunk(b"IEND", b""))
    assert prop.maps[0].header.readable
    (one,) = told(prop, "flatness")
    assert (one.level, one.measured) == ("", "too large")
    assert "60,000 x 60,000" in one.message


SMALL = PAINT[:8, :8]
KINDS = ["PNG", "JPEG", "TGA", "TIFF", "WEBP", "BMP"]


@pytest.mark.parametrize("kind", KINDS)
def test_cut_off_at_any_length_it_is_told_once_and_by_which_word(tmp_path: Path, kind: str) -> None:
    """Never twice, never by another word; silent only where every texel was read as it is in the whole file."""
    data = saved(Image.fromarray(SMALL), kind)
    whole = DiskPictures().pixels(prop_of(tmp_path, f"a.{kind.lower()}", data).maps[0])
    silent, words = [], set()
    for length in range(len(data)):
        prop = prop_of(tmp_path, f"a.{kind.lower()}", data[:length])
        found = told(prop, "flatness", "pixels")
        if not found:
            assert (DiskPictures().pixels(prop.maps[0]) == whole).all(), length
            silent.append(length)
            continue
        (one,) = found
        assert (one.check, one.level, one.place.map) == ("unreadable-map", "", f"a.{kind.lower()}")
        words.add(one.measured)
        assert one.measured == ("zero-byte" if not length else one.measured)
    # The TGA footer names nothing that the picture needs; a TGA is known by its name alone, so every other start of any
    # format that says too little is no picture, and any later one is cut off.
    assert words <= {"zero-byte", "not-an-image", "truncated", "damaged"}
    assert "truncated" in words and len(silent) <= (26 if kind == "TGA" else 0), silent


@pytest.mark.parametrize("kind", KINDS)
def test_any_flipped_bit_gives_a_finding_or_pixels_of_the_right_size(tmp_path: Path, kind: str) -> None:
    """Every byte, one bit each. PNG has checksums over all it says: there a flipped bit is told, or changes no texel."""
    data = saved(Image.fromarray(SMALL), kind)
    whole = DiskPictures().pixels(prop_of(tmp_path, f"a.{kind.lower()}", data).maps[0])
    told_of = 0
    for at in range(len(data)):
        bent = bytearray(data)
        bent[at] ^= 1 << (at % 8)
        prop = prop_of(tmp_path, f"a.{kind.lower()}", bytes(bent))
        found = told(prop, "pixels")
        told_of += bool(found)
        assert len(found) <= 1, at
        if not found:
            pixels = DiskPictures().pixels(prop.maps[0])
            header = prop.maps[0].header
            assert pixels.shape[:2] == (header.height, header.width), at
            assert kind != "PNG" or (pixels == whole).all(), at
    assert told_of >= (0.9 if kind == "PNG" else 0.01) * len(data)


def test_what_has_no_decoder_cannot_be_told(tmp_path: Path) -> None:
    deep = Image.fromarray(np.zeros((8, 8), np.float32))
    prop = prop_of(tmp_path, "a.tiff", saved(deep, "TIFF"), "height")
    (one,) = told(prop, "pixels")
    assert (one.level, one.certain) == ("note", False)
    assert one.message.startswith("cannot tell what is painted on a.tiff")


@pytest.mark.parametrize(
    ("image", "kind"),
    [
        (Image.fromarray(PAINT[:1, :1]), "PNG"),
        (Image.fromarray(PAINT[:, :7]), "PNG"),
        (Image.fromarray(PAINT).convert("LA"), "PNG"),
        (Image.fromarray(PAINT).convert("CMYK"), "JPEG"),
        (Image.fromarray(PAINT).convert("P"), "PNG"),
        (Image.fromarray(PAINT[:, :, 0].astype(np.uint16) * 257), "PNG"),
        (Image.fromarray(PAINT[:, :, 0] > 99), "PNG"),
    ],
)
@pytest.mark.parametrize("slot", ["base_color", "normal", "roughness", "metalness", "height", "opacity"])
def test_odd_pictures_are_measured_in_every_slot(tmp_path: Path, image: Image.Image, kind: str, slot: str) -> None:
    prop = prop_of(tmp_path, f"a.{kind.lower()}", saved(image, kind), slot)
    assert told(prop, "painted", "masters") == []
    facts = facts_of(prop, "painted", "masters")
    assert len(facts.pixels) == 1
    for name in checks.names():
        check = checks.get(name)
        if "pixels" in check.needs or "flatness" in check.needs:
            values = {limit.name: limit.default for limit in check.limits}
            list(check.run(facts, values, Scope()))


def test_sixteen_bit_color_is_not_halved() -> None:
    """A map of 16 bits that uses only codes an 8-bit reader would round together is not flat."""
    from tests.support.painted_props import facts_with, pictures_of

    image = np.full((16, 16, 3), 30_000, np.uint16)
    image[4, 4] = 30_001
    facts = facts_with(wearing({"base_color": image}), pictures_of({"base_color": image}), "pixels")
    assert facts.pixels[0].flat.high == (30_001,) * 3
    assert header_of(image).bits_per_channel == 16
