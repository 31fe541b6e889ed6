"""Small picture files, put together byte by byte so that a test knows every one of them."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from typing import Any

import numpy as np
from PIL import Image

PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"


def chunk(name: bytes, data: bytes) -> bytes:
    """One PNG chunk with its checksum."""
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def ihdr(width: int, height: int, depth: int, color_type: int, interlace: int = 0) -> bytes:
    return chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, depth, color_type, 0, 0, interlace))


def png(
    width: int, height: int, depth: int, color_type: int, rows: bytes, *, before: bytes = b"", interlace: int = 0
) -> bytes:
    """A PNG from filtered rows. before: chunks between IHDR and IDAT."""
    pixels = chunk(b"IDAT", zlib.compress(rows))
    return PNG_SIGNATURE + ihdr(width, height, depth, color_type, interlace) + before + pixels + chunk(b"IEND", b"")


def png_rows(values: np.ndarray, filters: list[int]) -> bytes:
    """Rows of a (h, w, c) uint8 or uint16 array, each filtered by the kind given (PNG 9.2), written out as in the text."""
    height, width, channels = values.shape
    step = channels * values.dtype.itemsize
    raw = values.astype(values.dtype.newbyteorder(">")).tobytes()
    stride = width * step
    out = bytearray()
    for y in range(height):
        kind = filters[y % len(filters)]
        out.append(kind)
        for x in range(stride):
            here = raw[y * stride + x]
            a = raw[y * stride + x - step] if x >= step else 0
            b = raw[(y - 1) * stride + x] if y else 0
            c = raw[(y - 1) * stride + x - step] if y and x >= step else 0
            p = a + b - c
            near = min((abs(p - a), 0, a), (abs(p - b), 1, b), (abs(p - c), 2, c))[2]
            out.append((here - (0, a, b, (a + b) // 2, near)[kind]) % 256)
    return bytes(out)


ADAM7 = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2))


def png_interlaced_rows(values: np.ndarray, filters: list[int]) -> bytes:
    """The seven passes of Adam7 (PNG 8.1), each filtered by itself."""
    passes = [values[y::dy, x::dx] for x, y, dx, dy in ADAM7]
    return b"".join(png_rows(part, filters) for part in passes if part.size)


def tga(
    width: int,
    height: int,
    depth: int,
    pixels: bytes,
    *,
    kind: int = 2,
    descriptor: int = 0,
    identification: bytes = b"",
    color_map: bytes = b"",
    map_first: int = 0,
    map_bits: int = 0,
    footer: bool = False,
) -> bytes:
    entries = len(color_map) // ((map_bits + 7) // 8) if map_bits else 0
    head = struct.pack("<BBB", len(identification), 1 if map_bits else 0, kind)
    head += struct.pack("<HHB", map_first, entries, map_bits)
    head += struct.pack("<HHHHBB", 0, 0, width, height, depth, descriptor)
    end = struct.pack("<II", 0, 0) + b"TRUEVISION-XFILE.\0" if footer else b""
    return head + identification + color_map + pixels + end


def saved(picture: Image.Image, format: str, **options: Any) -> bytes:
    """A picture as Pillow writes it."""
    stream = io.BytesIO()
    picture.save(stream, format, **options)
    return stream.getvalue()


def noise(mode: str, width: int = 13, height: int = 7, seed: int = 1) -> Image.Image:
    """Random pixels in a Pillow mode."""
    rng = np.random.default_rng(seed)
    if mode == "1":
        return Image.fromarray(rng.integers(0, 2, (height, width), dtype=np.uint8) * 255).convert("1")
    if mode == "I;16":
        return Image.fromarray(rng.integers(0, 65536, (height, width)).astype(np.uint16))
    if mode == "F":
        return Image.fromarray(rng.random((height, width)).astype(np.float32))
    if mode == "P":
        return Image.fromarray(rng.integers(0, 256, (height, width, 3), dtype=np.uint8)).quantize(16)
    channels = len(mode)
    values = rng.integers(0, 256, (height, width, channels), dtype=np.uint8)
    if mode == "CMYK":
        return Image.frombytes("CMYK", (width, height), values.tobytes())
    return Image.fromarray(values[:, :, 0] if channels == 1 else values)


def tiff(order: str, tags: dict[int, tuple[int, tuple[int, ...]]], strips: list[bytes]) -> bytes:
    """A classic TIFF of one page. tags: tag -> (type 3 or 4, values); strip offsets and lengths are added."""
    head = struct.pack(order + "2sHI", b"II" if order == "<" else b"MM", 42, 0)
    body, offsets = head, []
    for strip in strips:
        offsets.append(len(body))
        body += strip + b"\0" * (len(strip) % 2)
    tags = {**tags, 273: (4, tuple(offsets)), 279: (4, tuple(len(strip) for strip in strips))}
    entries = b""
    for tag, (kind, values) in sorted(tags.items()):
        letter = {3: "H", 4: "I"}[kind]
        data = struct.pack(f"{order}{len(values)}{letter}", *values)
        if len(data) > 4:
            data, body = struct.pack(order + "I", len(body)), body + data + b"\0" * (len(data) % 2)
        entries += struct.pack(order + "HHI", tag, kind, len(values)) + data.ljust(4, b"\0")
    at = len(body)
    body += struct.pack(order + "H", len(tags)) + entries + struct.pack(order + "I", 0)
    return body[:4] + struct.pack(order + "I", at) + body[8:]


def tiff_rgb16(values: np.ndarray, order: str = "<", compression: int = 1, extra: int | None = None) -> bytes:
    """A (h, w, c) uint16 array as interleaved TIFF in strips of two rows. compression: 1 none, 8 deflate."""
    height, width, channels = values.shape
    raw = [values[y : y + 2].astype(np.dtype(np.uint16).newbyteorder(order)).tobytes() for y in range(0, height, 2)]
    tags = {
        256: (4, (width,)),
        257: (4, (height,)),
        258: (3, (16,) * channels),
        259: (3, (compression,)),
        262: (3, (2,)),
        277: (3, (channels,)),
        278: (4, (2,)),
        284: (3, (1,)),
    }
    if extra is not None:
        tags[338] = (3, (extra,))
    return tiff(order, tags, [zlib.compress(strip) if compression == 8 else strip for strip in raw])


def psd_resource(number: int, data: bytes) -> bytes:
    return b"8BIM" + struct.pack(">H", number) + b"\0\0" + struct.pack(">I", len(data)) + data + b"\0" * (len(data) % 2)


def psd_layer(name: str, *, visible: bool = True, opacity: int = 255, group: int | None = None) -> bytes:
    """A layer record without pixels. group: 1 or 2 folder, 3 the divider that ends one."""
    raw = name.encode("mac_roman", "replace")[:20]
    pascal = (bytes([len(raw)]) + raw).ljust((1 + len(raw) + 3) // 4 * 4, b"\0")
    letters = name.encode("utf-16-be")
    unicode_name = struct.pack(">I", len(letters) // 2) + letters
    extra = struct.pack(">II", 0, 0) + pascal
    extra += b"8BIMluni" + struct.pack(">I", len(unicode_name)) + unicode_name
    if group is not None:
        extra += b"8BIMlsct" + struct.pack(">II", 4, group)
    record = struct.pack(">4iH", 0, 0, 0, 0, 0) + b"8BIMnorm"
    return record + struct.pack(">BBBBI", opacity, 0, 0 if visible else 2, 0, len(extra)) + extra


def psd(
    values: np.ndarray,
    *,
    layers: list[bytes] | None = None,
    merged_alpha: bool = False,
    has_merged: bool = True,
    mode: int = 3,
    rle: bool = False,
) -> bytes:
    """A PSD with a merged (h, w, c) picture. layers: records from `psd_layer`, bottom first."""
    height, width, channels = values.shape
    depth = values.dtype.itemsize * 8
    out = b"8BPS" + struct.pack(">H6xHIIHH", 1, channels, height, width, depth, mode) + struct.pack(">I", 0)
    version = psd_resource(1057, struct.pack(">IBII", 1, has_merged, 0, 0))
    out += struct.pack(">I", len(version)) + version
    if layers is None:
        out += struct.pack(">I", 0)
    else:
        info = struct.pack(">h", -len(layers) if merged_alpha else len(layers)) + b"".join(layers)
        info += b"\0" * (len(info) % 2)
        out += struct.pack(">II", len(info) + 8, len(info)) + info + struct.pack(">I", 0)
    planes = np.moveaxis(values, 2, 0).astype(values.dtype.newbyteorder(">"))
    if not rle:
        return out + struct.pack(">H", 0) + planes.tobytes()
    rows = []
    for row in planes.reshape(-1, width):
        raw = row.tobytes()
        rows.append(b"".join(bytes([len(raw[i : i + 128]) - 1]) + raw[i : i + 128] for i in range(0, len(raw), 128)))
    return out + struct.pack(">H", 1) + b"".join(struct.pack(">H", len(row)) for row in rows) + b"".join(rows)


STACK = """<?xml version="1.0" encoding="UTF-8"?>
<image version="0.0.3" w="13" h="7"><stack>
<layer name="rope wear" src="data/2.png" opacity="0.5" visibility="visible"/>
<stack name="guides" visibility="hidden"><layer name="guide sheet" src="data/1.png"/></stack>
<layer name="base" src="data/0.png"/>
</stack></image>"""


def openraster(stack: str = STACK, merged: bytes | None = b"", mimetype: bytes = b"image/openraster") -> bytes:
    """An OpenRaster file. merged: PNG bytes, b"" for a 13 x 7 RGBA one, None to leave it out."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr(zipfile.ZipInfo("mimetype"), mimetype)
        archive.writestr("stack.xml", stack, zipfile.ZIP_DEFLATED)
        if merged is not None:
            archive.writestr("mergedimage.png", merged or saved(noise("RGBA"), "PNG"))
    return stream.getvalue()


def exr(width: int, height: int, *, channels: tuple[str, ...] = ("A", "B", "G", "R"), kind: int = 1) -> bytes:
    """An uncompressed scan-line EXR. kind: 1 half, 2 float."""

    def attribute(name: str, type_name: str, data: bytes) -> bytes:
        return name.encode() + b"\0" + type_name.encode() + b"\0" + struct.pack("<i", len(data)) + data

    listed = b"".join(name.encode() + b"\0" + struct.pack("<iB3xii", kind, 0, 1, 1) for name in channels) + b"\0"
    window = struct.pack("<4i", 0, 0, width - 1, height - 1)
    head = b"\x76\x2f\x31\x01" + struct.pack("<I", 2)
    head += attribute("channels", "chlist", listed) + attribute("compression", "compression", b"\0")
    head += attribute("dataWindow", "box2i", window) + attribute("displayWindow", "box2i", window)
    head += attribute("lineOrder", "lineOrder", b"\0") + b"\0"
    row = width * len(channels) * (2 if kind == 1 else 4)
    start = len(head) + 8 * height
    table = b"".join(struct.pack("<Q", start + y * (8 + row)) for y in range(height))
    return head + table + b"".join(struct.pack("<ii", y, row) + bytes(row) for y in range(height))


def ktx2(width: int, height: int, levels: int, *, transfer: int = 2, model: int = 1, bits: int = 8) -> bytes:
    """An RGBA KTX2. model: 1 plain, else a block model of one sample with 16 bytes a block of 4 x 4."""
    kinds = (0, 1, 2, 15) if model == 1 else (0,)
    samples = b"".join(struct.pack("<HBB4xII", i * bits, bits - 1, kind, 0, 255) for i, kind in enumerate(kinds))
    side = 0 if model == 1 else 3
    plane = 4 * bits // 8 if model == 1 else 16
    block = struct.pack("<IHH", 0, 2, 24 + len(samples)) + bytes([model, 1, transfer, 0, side, side, 0, 0, plane])
    block += bytes(7) + samples
    descriptor = struct.pack("<I", 4 + len(block)) + block
    sizes = [(max(width >> level, 1), max(height >> level, 1)) for level in range(levels)]
    lengths = [w * h * plane if model == 1 else -(-w // 4) * -(-h // 4) * 16 for w, h in sizes]
    start = 80 + 24 * levels
    at = start + len(descriptor)
    index = b""
    for length in lengths:
        index += struct.pack("<QQQ", at, length, length)
        at += length
    head = b"\xabKTX 20\xbb\r\n\x1a\n" + struct.pack("<9I", 37, 1, width, height, 0, 0, 1, levels, 0)
    head += struct.pack("<4I2Q", start, len(descriptor), 0, 0, 0, 0)
    return head + index + descriptor + bytes(sum(lengths))


def dds(width: int, height: int, code: bytes, mips: int, body: bytes, *, dx10: int | None = None) -> bytes:
    head = b"DDS " + struct.pack("<7I", 124, 0x1007, height, width, 0, 0, mips) + bytes(44)
    head += struct.pack("<II4sIIIII", 32, 4, code, 0, 0, 0, 0, 0) + struct.pack("<5I", 0x1000, 0, 0, 0, 0)
    if dx10 is not None:
        head += struct.pack("<5I", dx10, 3, 0, 1, 0)
    return head + body
