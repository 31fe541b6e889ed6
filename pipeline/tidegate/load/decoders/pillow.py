"""Decoding through Pillow, one plugin a format, with colour laid out as the header promises."""

from __future__ import annotations

import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from typing import BinaryIO, cast

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageFile

from ...errors import NoReader, UnreadableFile
from ...model.image_header import ImageHeader
from ...model.mip_levels import decoded_channels

# Plugins by name and never through Image.open, which would try formats that the header ruled out.
_PLUGINS = {
    "png": ("PngImagePlugin", "PngImageFile"),
    "jpeg": ("JpegImagePlugin", "JpegImageFile"),
    "tiff": ("TiffImagePlugin", "TiffImageFile"),
    "bmp": ("BmpImagePlugin", "BmpImageFile"),
    "webp": ("WebPImagePlugin", "WebPImageFile"),
    "psd": ("PsdImagePlugin", "PsdImageFile"),
    "dds": ("DdsImagePlugin", "DdsImageFile"),
    "gif": ("GifImagePlugin", "GifImageFile"),
    "tga": ("TgaImagePlugin", "TgaImageFile"),
}
# Colours that a last row seldom has all along, by mode.
_MARKS = {"L": 165, "P": 251, "LA": (165, 91), "RGB": (165, 91, 58), "RGBA": (165, 91, 58, 203)}
_LAYOUTS = {1: "L", 2: "LA", 3: "RGB", 4: "RGBA"}


def opened(stream: BinaryIO, format: str) -> ImageFile.ImageFile:
    """The picture of a stream, not yet decoded."""
    module, name = _PLUGINS[format]
    plugin = getattr(import_module(f"PIL.{module}"), name)
    with _unweighed():
        return cast("ImageFile.ImageFile", plugin(stream))


def load(picture: ImageFile.ImageFile) -> None:
    """Decodes the pixels."""
    with _unweighed():
        picture.load()


class _Unweighed:
    """Lifts the pixel limit of Pillow, a global, while any thread of ours is inside; ours was kept before we came here."""

    def __init__(self) -> None:
        self._lock, self._inside, self._kept = threading.Lock(), 0, Image.MAX_IMAGE_PIXELS

    @contextmanager
    def __call__(self) -> Iterator[None]:
        with self._lock:
            if not self._inside:
                self._kept, Image.MAX_IMAGE_PIXELS = Image.MAX_IMAGE_PIXELS, None
            self._inside += 1
        try:
            yield
        finally:
            with self._lock:
                self._inside -= 1
                if not self._inside:
                    Image.MAX_IMAGE_PIXELS = self._kept


_unweighed = _Unweighed()


def decode(stream: BinaryIO, header: ImageHeader) -> NDArray[np.generic]:
    """First picture of the stream as (h, w, c): uint8, or uint16 and float32 for one channel of 16 and 32 bits."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # notes on odd metadata; what matters of it is read by our own header readers
        picture = opened(stream, header.format)
        same_size(picture, header)
        load(picture)
        return laid_out(picture, header)


def same_size(picture: Image.Image, header: ImageHeader) -> None:
    """Raises UnreadableFile unless Pillow reads the size that our header reader did."""
    # Pillow turns TIFF pictures by their orientation, some versions only once the pixels are loaded.
    sizes = {(header.width, header.height), (header.height, header.width)} if header.format == "tiff" else set()
    if picture.size not in sizes | {(header.width, header.height)}:
        came = f"{picture.size[0]} x {picture.size[1]}"
        raise UnreadableFile("two readers of the header disagree on the size of the picture", came=came)


def load_watched(picture: ImageFile.ImageFile, header: ImageHeader) -> bool:
    """Decodes the pixels and says whether the last row was surely written.

    The row is given a colour beforehand. Where it still has that colour all along, nothing came, or just that colour.
    """
    same_size(picture, header)
    mark = _MARKS.get(picture.mode)
    if mark is None or header.interlaced:
        load(picture)
        return False
    width, height = picture.size
    picture.load_prepare()
    picture.im.paste(mark, (0, height - 1, width, height))
    load(picture)
    return picture.crop((0, height - 1, width, height)).getcolors(1) != [(width, mark)]


def laid_out(picture: Image.Image, header: ImageHeader) -> NDArray[np.generic]:
    """The decoded picture as an array with the channels that the header promises."""
    if header.sample == "float" or header.bits_per_channel > 8:
        return _deep(picture, header)
    return _eight_bit(picture, header)


def _deep(picture: Image.Image, header: ImageHeader) -> NDArray[np.generic]:
    """One channel of 16 bits, or of 32 bits float."""
    if picture.mode == "F" and header.sample == "float":
        return np.array(picture, dtype=np.float32)[:, :, None]
    if picture.mode.startswith("I;16") and header.sample == "uint":
        values = np.array(picture).astype(np.uint16)[:, :, None]
        # Pillow leaves 16-bit grey of photometric 0, where zero is white, as stored.
        return np.uint16(65535) - values if ("photometric", "0") in header.color_chunks else values
    raise NoReader(
        f"a {header.format.upper()} of {header.channels} x {header.bits_per_channel} bits {header.sample} is not decoded here"
    )


def _eight_bit(picture: Image.Image, header: ImageHeader) -> NDArray[np.generic]:
    wanted = None if header.color_model == "compressed" else _LAYOUTS[decoded_channels(header)]
    mode = picture.mode
    if mode in ("LAB", "I", "F") or mode.startswith("I;"):
        raise NoReader(f"a {header.format.upper()} in the colour model {mode} is not decoded here")
    if wanted in ("LA", "RGBA") and header.color_model != "palette" and mode in ("1", "L", "RGB", "RGBX", "CMYK"):
        if not any(name == "tRNS" for name, _ in header.color_chunks):
            raise NoReader(f"the transparency of this {header.format.upper()} is not decoded here")
        wanted = wanted[:-1]  # a see-through colour of PNG, which `load.pixels` turns into alpha itself
    if wanted is not None and mode != wanted:
        picture = picture.convert(wanted)
    elif wanted is None and mode not in _LAYOUTS.values():
        raise NoReader(f"a {header.format.upper()} in the colour model {mode} is not decoded here")
    values = np.array(picture, dtype=np.uint8)
    return values[:, :, None] if values.ndim == 2 else values
