"""Pictures that are cut, bent, or far larger than they look."""

from __future__ import annotations

import random
import struct
import zlib
from collections.abc import Callable, Iterator
from functools import partial

from tests.gate.hostile_case import Case, crate, folder, good_map
from tests.load.pictures import PNG_SIGNATURE, chunk, ihdr, noise, png, saved, tga

TOLD = "^unreadable-map: "


def picture_cases() -> Iterator[Case]:
    yield from _png_cut_and_flipped()
    yield from _png_lies()
    yield from _others()


def _drop(
    name: str, picture: bytes | Callable[[], bytes], told: str = TOLD, suffix: str = "png", verdict: str = "returned"
) -> Case:
    name = f"furniture_{name}"
    mesh = crate(base_color=f"crate_base_color.{suffix}").glb()
    return folder(name, told, {f"{name}.glb": mesh, f"crate_base_color.{suffix}": picture}, verdict)


def _png_cut_and_flipped() -> Iterator[Case]:
    data = good_map()
    rng = random.Random(11)
    for cut in sorted({0, 1, 7, 8, 20, 33, len(data) - 1, len(data) - 12, *rng.sample(range(34, len(data) - 12), 40)}):
        yield _drop(f"cutpng{cut:05d}", data[:cut])
    for number, at in enumerate(sorted(rng.sample(range(len(data)), 60))):
        flipped = bytearray(data)
        flipped[at] ^= 1 << (number % 8)
        yield _drop(f"flippng{at:05d}", bytes(flipped))


def huge_one_bit_png(side: int = 60_000, *, whole: bool = True) -> bytes:
    """A complete black picture of side x side texels of one bit: under a megabyte in the file."""
    row = bytes(1 + side // 8)
    packer = zlib.compressobj(9)
    pixels = b"".join([*(packer.compress(row * 100) for _ in range(side // 100)), packer.flush()])
    data = PNG_SIGNATURE + ihdr(side, side, 1, 0) + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")
    return data if whole else data[: len(data) // 2]


def _swollen(word: bytes) -> bytes:
    """200 MB of nothing, packed into one chunk of a picture of 64 x 64."""
    bomb = zlib.compress(bytes(200 << 20), 9)
    pixels = zlib.compress(bytes(64 * 193))
    chunks = chunk(b"IDAT", bomb) if word == b"IDAT" else chunk(word, b"x\0\0" + bomb) + chunk(b"IDAT", pixels)
    return PNG_SIGNATURE + ihdr(64, 64, 8, 2) + chunks + chunk(b"IEND", b"")


def _png_lies() -> Iterator[Case]:
    yield _drop("hugepng", huge_one_bit_png, f"{TOLD}.*60,000 x 60,000 pixels would take 3,600,000,000 bytes")
    yield _drop("hugecutpng", lambda: huge_one_bit_png(whole=False))
    for number, (width, height) in enumerate(((0, 64), (64, 0), (2**31, 64), (2**31 - 1, 2**31 - 1), (65_535, 65_535))):
        told = f"{TOLD}.*({width} x {height}|{width:,} x {height:,}) pixels"
        yield _drop(f"sizepng{number}", png(width, height, 8, 2, bytes(100)), told)
    for number, (depth, kind) in enumerate(((3, 2), (16, 3), (8, 1), (0, 0), (255, 255))):
        yield _drop(f"depthpng{number}", png(64, 64, depth, kind, bytes(64 * 200)))
    for word in (b"zTXt", b"iCCP", b"IDAT"):
        # More pixels than stated are not asked for; a text or profile that swells is not unpacked.
        told = "^map-size-out-of-range: .*64 x 64" if word == b"IDAT" else f"{TOLD}.*too large"
        yield _drop(f"bombpng{word.decode().lower()}", partial(_swollen, word), told)
    yield _drop("nopixelspng", PNG_SIGNATURE + ihdr(64, 64, 8, 2) + chunk(b"IEND", b""))
    bad = PNG_SIGNATURE + ihdr(64, 64, 8, 2) + chunk(b"IDAT", b"no zlib at all") + chunk(b"IEND", b"")
    yield _drop("nozlibpng", bad)
    lies = PNG_SIGNATURE + struct.pack(">I", 2**31 - 1) + b"IHDR" + bytes(40)
    yield _drop("chunkpng", lies)


def _others() -> Iterator[Case]:
    jpeg = saved(noise("RGB", 64, 64), "JPEG")
    rng = random.Random(13)
    for cut in sorted({0, 2, 10, len(jpeg) - 2, *rng.sample(range(20, len(jpeg) - 2), 10)}):
        yield _drop(f"cutjpg{cut:05d}", jpeg[:cut], suffix="jpg")
    picture = tga(64, 64, 24, bytes(64 * 64 * 3))
    for cut in (0, 5, 17, 18, 100, len(picture) - 1):
        yield _drop(f"cuttga{cut:05d}", picture[:cut], suffix="tga")
    yield _drop("hugetga", tga(65_535, 65_535, 32, bytes(100)), suffix="tga")
    yield _drop("hugerletga", tga(65_535, 65_535, 32, b"\xff\0\0\0\0" * 100, kind=10), suffix="tga")
    for number, data in enumerate(
        (b"<svg/>", b"%PDF-1.7", b"version https://x/spec/v1\noid sha256:0\nsize 1\n", bytes(999))
    ):
        yield _drop(f"nopng{number}", data)
