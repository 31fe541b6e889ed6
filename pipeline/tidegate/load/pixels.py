"""Pixels of a picture file as an array, at their true depth, or a clear reason why not.

What cannot be seen: a changed byte in a format without checksums (TGA, BMP, uncompressed TIFF) is another colour, and
most changed bytes inside the scan of a JPEG or the bitstream of a WebP decode to other colours too.
"""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from ..errors import LimitExceeded, NoReader, UnreadableFile
from ..model.image_header import ImageHeader
from ..model.mip_levels import decoded_channel_bytes, decoded_channels
from .decoders import pillow, png, sixteen_bit, tga
from .headers import openraster
from .headers.window import Window, Wrong
from .image_header import read_header

Pixels = NDArray[np.generic]


@dataclass(frozen=True, slots=True)
class PixelLimits:
    """decoded_bytes: memory that one decoded picture may take. While it is decoded, about twice that is in use."""

    decoded_bytes: int = 1 << 30


# All that Pillow has been seen to raise on bad input, beside its own UnidentifiedImageError, an OSError.
_TRIPS = (
    Image.DecompressionBombError,
    OSError,
    SyntaxError,
    ValueError,
    struct.error,
    zlib.error,
    MemoryError,
    EOFError,
    LookupError,
    ArithmeticError,
    TypeError,
    AttributeError,
    AssertionError,
    RuntimeError,
    BufferError,
)


def decode(source: Path | bytes, header: ImageHeader, limits: PixelLimits = PixelLimits(), *, name: str = "") -> Pixels:
    """Pixels of the first picture as (h, w, c), top row first, left column first.

    uint8 up to 8 bits a channel, uint16 for 9 to 16, float32 for float. c: 1 grey, 2 grey and alpha, 3, 4. Palettes
    are expanded; CMYK becomes RGB without a colour profile (`decoding_notes` says so). The orientation of TIFF and
    TGA is applied, that of Exif is not. header: of this very source. name: for messages.

    Raises LimitExceeded before any memory is taken, NoReader for a format or depth without a decoder here, else
    UnreadableFile. Never returns a picture whose rows are partly missing.
    """
    name = name or (str(source) if isinstance(source, Path) else "embedded picture")
    with _named(name):
        if header.problem:
            raise UnreadableFile(header.problem_detail or header.problem, help=_HELP)
        if header.width <= 0 or header.height <= 0:
            raise UnreadableFile("the picture has no size", help=_HELP)
        _refuse_undecodable(header)
        _guard(header, limits)
        if header.format == "openraster":
            return _merged_openraster(source, header, limits, name)
        with _stream(source) as stream:
            values = _by_format(stream, header)
    wanted: tuple[int, ...] = (header.height, header.width, decoded_channels(header))
    if header.color_model == "compressed":
        wanted = (*wanted[:2], values.shape[2])  # block formats of one or two channels come as three
    if values.shape != wanted:
        raise UnreadableFile(
            "the decoded picture has another shape than its header states",
            path=name,
            expected=" x ".join(str(side) for side in wanted),
            came=" x ".join(str(side) for side in values.shape),
        )
    return values


def merged_picture(
    source: Path | bytes, header: ImageHeader, limits: PixelLimits = PixelLimits(), *, name: str = ""
) -> Pixels:
    """The flattened picture of a layered master: merged image of a PSD or OpenRaster file, first page of a TIFF.

    Arrays and errors as `decode`; NoReader also where the master was saved without a flattened picture.
    """
    if not header.problem and not header.has_merged_picture:
        raise NoReader(
            "the master was saved without a flattened picture",
            path=name or (str(source) if isinstance(source, Path) else ""),
            expected="a merged picture beside the layers",
            help="save it again with the option that keeps a flattened picture for other programs",
        )
    return decode(source, header, limits, name=name)


def decoded_bytes(header: ImageHeader) -> int:
    """Bytes of the array that `decode` gives."""
    return header.width * header.height * decoded_channels(header) * decoded_channel_bytes(header)


def decoding_notes(header: ImageHeader) -> tuple[str, ...]:
    """What decoding changes beyond unpacking, as sentences for the report."""
    notes = []
    if header.color_model == "cmyk":
        notes.append("CMYK is turned into RGB without a colour profile, so its colours are approximate")
    if (
        header.format in ("tga", "tiff")
        and header.color_model == "rgb"
        and header.channels > 3
        and not header.alpha_bits
    ):
        notes.append("the fourth channel is not read, because the header does not call it alpha")
    if header.frames > 1:
        notes.append(f"only the first of {header.frames} frames is read")
    return tuple(notes)


_HELP = "export the picture again and hand in the whole file"


@contextmanager
def _named(name: str) -> Iterator[None]:
    """Errors leave with the file's name; whatever Pillow trips over leaves as UnreadableFile."""
    try:
        yield
    except UnreadableFile as error:
        error.path = error.path or name
        error.help = error.help or _HELP
        raise
    except _TRIPS as error:
        raise UnreadableFile(
            "the pixels cannot be decoded", path=name, came=f"{type(error).__name__}: {error}"[:300], help=_HELP
        ) from error


@contextmanager
def _stream(source: Path | bytes) -> Iterator[BinaryIO]:
    if isinstance(source, bytes):
        yield io.BytesIO(source)
    else:
        with source.open("rb") as stream:
            yield stream


def _refuse_undecodable(header: ImageHeader) -> None:
    """NoReader for what is known beforehand to have no decoder."""
    kind = header.format.upper()
    depth, sample = header.bits_per_channel, header.sample
    why = ""
    if header.format in ("exr", "ktx2"):
        why = f"pixels of {kind} are not decoded here, only the header is read"
    elif header.format == "psd" and (depth > 8 or (depth == 1 and header.color_model != "grey")):
        why = f"the merged picture of a PSD with {depth} bits per channel is not decoded here"
    elif header.format == "dds" and (depth > 8 or sample != "uint" or not header.channels):
        why = f"a DDS stored as {header.compression or 'unknown'} with {depth} bits per channel is not decoded here"
    elif header.format == "jpeg" and depth != 8:
        why = f"a JPEG of {depth} bits per channel is not decoded here"
    elif header.color_model == "lab":
        why = f"the colour model Lab of this {kind} is not decoded here"
    elif sample == "int":
        why = f"a {kind} with signed numbers is not decoded here"
    elif header.format == "tiff" and (depth not in (1, 2, 4, 8, 16) or sample != "uint"):
        if not (sample == "float" and depth == 32 and header.channels == 1):
            why = f"a TIFF of {header.channels} x {depth} bits {sample} is not decoded here"
    elif header.format == "tiff" and depth == 16 and header.color_model not in ("grey", "rgb"):
        why = f"a 16-bit TIFF in the colour model {header.color_model} is not decoded here"
    if why:
        raise NoReader(why, help="hand in 8- or 16-bit PNG or TIFF, or TGA, if the pixels are to be judged")


def _guard(header: ImageHeader, limits: PixelLimits) -> None:
    needed = decoded_bytes(header)
    if needed > limits.decoded_bytes:
        raise LimitExceeded(
            f"decoding {header.width:,} x {header.height:,} pixels would take {needed:,} bytes of memory",
            expected=f"at most {limits.decoded_bytes:,} bytes",
            came=f"{header.bytes:,} bytes on disk that unpack to {needed:,}",
            help="hand in a smaller picture, or raise the memory limit",
        )


def _by_format(stream: BinaryIO, header: ImageHeader) -> Pixels:
    if header.format == "tga":
        return tga.decode(stream, header)
    if header.format == "png":
        return png.decode(stream, header)
    if header.format == "tiff" and header.bits_per_channel == 16 and header.channels > 1:
        return sixteen_bit.decode_tiff(stream, header)
    return pillow.decode(stream, header)


def _merged_openraster(source: Path | bytes, header: ImageHeader, limits: PixelLimits, name: str) -> Pixels:
    if not header.has_merged_picture:
        raise NoReader("the OpenRaster file holds no merged picture")
    with Window(source) as file:
        try:
            # PNG never takes more than a little beyond its unpacked pixels, a filter byte a row.
            data = openraster.merged_png(file, limits.decoded_bytes)
        except Wrong as wrong:
            if wrong.problem == "too-large":
                raise LimitExceeded(wrong.detail) from wrong
            raise UnreadableFile(wrong.detail) from wrong
    merged = read_header(data, openraster.MERGED)
    if merged.format != "png":
        raise UnreadableFile(f"{openraster.MERGED} in the archive is not a PNG")
    return decode(data, replace(merged, suffix_format=""), limits, name=f"{name}: {openraster.MERGED}")
