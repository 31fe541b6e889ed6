"""What the whole furniture set says of a right prop with one map that is odd: exactly these findings, and no other."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.load.pictures import ihdr, png
from tests.support.clean_prop import net_locker
from tidegate import Terms, examine, list_drop, read_names
from tidegate.load.pixels import decode
from tidegate.model.finding import Finding

PAINT = np.random.default_rng(1).integers(90, 130, (512, 512, 3), dtype=np.uint8)
DEEP = PAINT.astype(np.uint16) * 257 + 3
NAMES = read_names()


def saved(image: np.ndarray | Image.Image, kind: str = "PNG", **more: object) -> bytes:
    buffer = io.BytesIO()
    (image if isinstance(image, Image.Image) else Image.fromarray(image)).save(buffer, kind, **more)
    return buffer.getvalue()


def deep_rgb() -> bytes:
    rows = b"".join(b"\0" + row.astype(">u2").tobytes() for row in DEEP)
    return png(512, 512, 16, 2, rows)


def told(folder: Path, data: bytes, ending: str = "png") -> list[Finding]:
    drop = net_locker(folder, master=False)
    (drop / "net_locker_base_color.png").write_bytes(data)
    if ending != "png":
        (drop / "net_locker_base_color.png").rename(drop / f"net_locker_base_color.{ending}")
        mesh = drop / "furniture_net_locker.glb"
        mesh.write_bytes(mesh.read_bytes().replace(b"base_color.png", f"base_color.{ending}".encode()))
    (verdict,) = examine(list_drop(drop, NAMES), Terms(scheme=NAMES, rule_set="furniture", forced_set=True))
    return [one for one in verdict.findings if one.check != "missing-master"]


ODD = {
    "16-bit color": (deep_rgb, "png", {("warning", "wrong-bit-depth")}),
    "grey with alpha": (
        lambda: saved(Image.fromarray(PAINT).convert("LA")),
        "png",
        {("warning", "wrong-pixel-format"), ("warning", "unused-alpha"), ("warning", "unwanted-alpha")},
    ),
    "CMYK": (
        lambda: saved(Image.fromarray(PAINT).convert("CMYK"), "JPEG"),
        "jpg",
        {("warning", "wrong-pixel-format")},
    ),
    "palette": (lambda: saved(Image.fromarray(PAINT).convert("P")), "png", {("warning", "palette-or-interlaced")}),
    "one bit": (
        lambda: saved(PAINT[:, :, 0] > 110),
        "png",
        {("warning", "wrong-bit-depth"), ("warning", "wrong-pixel-format"), ("note", "unlikely-albedo")},
    ),
    "1 x 1": (lambda: saved(PAINT[:1, :1]), "png", {("error", "map-size-out-of-range")}),
    "no square": (
        lambda: saved(PAINT[:300]),
        "png",
        {("error", "map-size-out-of-range"), ("warning", "stretched-islands")},
    ),
    "8192 x 8192, one grey": (
        lambda: saved(Image.new("L", (8192, 8192), 99)),
        "png",
        {
            ("error", "map-size-out-of-range"),
            ("error", "texel-density-out-of-range"),
            ("warning", "wrong-pixel-format"),
            ("warning", "looks-unsaved"),
        },
    ),
    "nothing in it": (lambda: b"", "png", {("error", "unreadable-map")}),
    "cut off": (lambda: saved(PAINT)[:5000], "png", {("error", "unreadable-map")}),
    "a web page": (lambda: b"<!DOCTYPE html><html></html>", "png", {("error", "unreadable-map")}),
    "a size and nothing more": (
        lambda: b"\x89PNG\r\n\x1a\n" + ihdr(512, 512, 8, 2),
        "png",
        {("error", "unreadable-map")},
    ),
}


@pytest.mark.parametrize("name", ODD)
def test_an_odd_map_gives_exactly_these_findings(tmp_path: Path, name: str) -> None:
    make, ending, wanted = ODD[name]
    assert {(one.level, one.check) for one in told(tmp_path, make(), ending)} == wanted


def test_a_right_map_gives_none(tmp_path: Path) -> None:
    assert told(tmp_path, saved(PAINT)) == []


def test_sixteen_bits_are_decoded_whole(tmp_path: Path) -> None:
    from tidegate.load.image_header import read_header

    data = deep_rgb()
    assert (decode(data, read_header(data, "a.png")) == DEEP).all()
