"""What an image file says of itself, read without decoding a pixel."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ImageHeader:
    """Header facts of one image file.

    format: "png", "jpeg", "tga", "tiff", "bmp", "webp", "psd", "exr", "ktx2", "dds", "gif", "openraster", or ""
    when the content is none of them. Decided by content where the format has a signature; TGA by suffix and header sanity.
    bits_per_pixel: as stored, alpha and unused bits counted. channels: as stored, alpha counted, a palette is 1.
    bits_per_channel: of the widest channel. alpha_bits: 0 when there is no alpha channel.
    palette: (colour count) or 0. palette_alpha: the palette carries transparency. compression: "none", "rle",
    "deflate", "lzw", "dct", ... lossy: the compression throws detail away.
    origin: "top-left", "bottom-left", ... of the first stored row. interlaced. layers: stated layer count or 0.
    color_chunks: name and value of each colour-space statement, in file order: ("sRGB", "perceptual"), ("gAMA", "45455").
    sample: "uint", "float", "int".
    problem: "" or "zero-byte", "truncated", "pointer-text", "not-an-image", "damaged", "too-large".
    problem_detail: one sentence for the problem. suffix_format: format that the file name promises, "" if none.
    mip_levels: levels stored in the file (DDS, KTX2), 1 elsewhere. interlaced also says that a JPEG is progressive.
    has_merged_picture: for layered files: a flattened picture can be read from it.
    """

    format: str
    bytes: int
    width: int = 0
    height: int = 0
    bits_per_pixel: int = 0
    channels: int = 0
    bits_per_channel: int = 0
    alpha_bits: int = 0
    palette: int = 0
    palette_alpha: bool = False
    compression: str = ""
    lossy: bool = False
    origin: str = "top-left"
    interlaced: bool = False
    layers: int = 0
    color_model: str = ""  # "grey", "rgb", "cmyk", "ycbcr", "palette", "lab", "compressed"
    color_chunks: tuple[tuple[str, str], ...] = ()
    sample: str = "uint"
    orientation: int = 1  # Exif/TIFF orientation, 1 upright
    frames: int = 1
    mip_levels: int = 1
    has_merged_picture: bool = True
    problem: str = ""
    problem_detail: str = ""
    suffix_format: str = ""

    @property
    def readable(self) -> bool:
        """Width and height are known and nothing is wrong with the bytes."""
        return not self.problem and self.width > 0 and self.height > 0


@dataclass(frozen=True, slots=True)
class ImageLayer:
    """One layer of a layered master. visible and opacity (0 to 1) include the folders it lies in."""

    name: str
    visible: bool = True
    opacity: float = 1.0
