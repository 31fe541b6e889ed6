"""TIFF header facts (TIFF Revision 6.0, and BigTIFF by its public design note)."""

from __future__ import annotations

import struct
from typing import NamedTuple

from .icc import described
from .window import Facts, Window, Wrong

SIGNATURES = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")

_TYPES = {1: "B", 2: "B", 3: "H", 4: "I", 6: "b", 7: "B", 8: "h", 9: "i", 11: "f", 12: "d", 13: "I", 16: "Q", 17: "q"}
_COMPRESSIONS = {
    1: "none",
    2: "ccitt",
    3: "ccitt",
    4: "ccitt",
    5: "lzw",
    6: "dct",
    7: "dct",
    8: "deflate",
    32773: "packbits",
    32946: "deflate",
    34712: "jpeg 2000",
    34925: "lzma",
    50000: "zstd",
    50001: "webp",
}
_MODELS = {0: "grey", 1: "grey", 2: "rgb", 3: "palette", 4: "grey", 5: "cmyk", 6: "ycbcr", 8: "lab", 9: "lab"}
_MODEL_CHANNELS = {"grey": 1, "rgb": 3, "palette": 1, "cmyk": 4, "ycbcr": 3, "lab": 3}
_SAMPLES = {1: "uint", 2: "int", 3: "float"}
# Corner of the first stored row and column, by Orientation (section 8, tag 274).
_ORIGINS = {1: "top-left", 2: "top-right", 3: "bottom-right", 4: "bottom-left"}
_MOST_PAGES = 1000
_MOST_VALUES = 1 << 20
_LAYER_BLOCK = 37724
_MOST_BLOCKS = 1000


class _Layout(NamedTuple):
    """Byte order and field widths: classic TIFF or BigTIFF."""

    order: str
    big: bool

    @property
    def pointer(self) -> str:
        return self.order + ("Q" if self.big else "I")

    @property
    def entry_count(self) -> str:
        return self.order + ("Q" if self.big else "H")


class _Directory:
    """One IFD: its entries by tag, values fetched when asked for."""

    def __init__(self, file: Window, layout: _Layout, at: int) -> None:
        self._file, self._layout = file, layout
        width = 20 if layout.big else 12
        (entries,) = file.unpack(layout.entry_count, at, "the image directory")
        start = at + struct.calcsize(layout.entry_count)
        if not 0 < entries <= 4096:
            raise Wrong("damaged", f"an image directory of {entries:,} entries")
        body = file.at(start, entries * width, "the image directory")
        self.after = start + entries * width
        self._entries = {}
        for index in range(entries):
            tag, kind, count = struct.unpack_from(layout.order + ("HHQ" if layout.big else "HHI"), body, index * width)
            self._entries[tag] = (kind, count, start + index * width + (12 if layout.big else 8))

    def values(self, tag: int) -> tuple[int, ...]:
        """All values of a tag, () when it is not there. Raises Wrong when they lie outside the file."""
        if tag not in self._entries:
            return ()
        kind, count, at = self._entries[tag]
        if kind not in _TYPES:
            return ()
        if count > _MOST_VALUES:
            raise Wrong("damaged", f"tag {tag} states {count:,} values")
        size = struct.calcsize(_TYPES[kind]) * count
        if size > (8 if self._layout.big else 4):
            (at,) = self._file.unpack(self._layout.pointer, at, "the image directory")
        data = self._file.at(at, size, f"the values of tag {tag}")
        return struct.unpack(f"{self._layout.order}{count}{_TYPES[kind]}", data)

    def bytes_at(self, tag: int) -> tuple[int, int]:
        """Where the values of a tag begin in the file and how many bytes they take, (0, 0) when it is not there."""
        kind, count, at = self._entries.get(tag, (0, 0, 0))
        size = struct.calcsize(_TYPES[kind]) * count if kind in _TYPES else 0
        if size > (8 if self._layout.big else 4):
            (at,) = self._file.unpack(self._layout.pointer, at, "the image directory")
        return (at, size) if size else (0, 0)

    def first(self, tag: int, default: int) -> int:
        """First value of a tag."""
        return int((self.values(tag) or (default,))[0])


def read(file: Window, facts: Facts) -> None:
    """Fills `facts` from the first page, counts the pages and layers, and proves that every strip and tile lies in the file.

    Layers are the pages, or those of the private block 37724 of the first page, whichever are more.
    """
    order = "<" if file.at(0, 4, "the TIFF header")[:1] == b"I" else ">"
    (version,) = file.unpack(order + "H", 2, "the TIFF header")
    layout = _Layout(order, version == 43)
    (at,) = file.unpack(layout.pointer, 8 if layout.big else 4, "the TIFF header")
    pages = layers = 0
    seen: set[int] = set()
    while at and pages < _MOST_PAGES:
        if at in seen:
            raise Wrong("damaged", "the chain of pages leads back into itself")
        seen.add(at)
        page = _Directory(file, layout, at)
        if not pages:
            _first_page(page, facts)
            layers = _layers_in_block(file, order, *page.bytes_at(_LAYER_BLOCK))
        if not pages or not page.first(254, 0) & 1:  # bit 0 of NewSubfileType: only a smaller copy of another page
            pages += 1
            facts["layers"] = max(pages, layers)
        _pixels_inside(file, page)
        (at,) = file.unpack(layout.pointer, page.after, "the image directory")
    if not pages:
        raise Wrong("damaged", "the header points to no image directory")


def _first_page(page: _Directory, facts: Facts) -> None:
    bits = page.values(258) or (1,)
    channels = page.first(277, 1)
    compression = page.first(259, 1)
    photometric = page.first(262, -1)
    model = _MODELS.get(photometric, "")
    extra = page.values(338)
    colors = [("photometric", str(photometric))]
    profile = page.values(34675)
    if profile:
        colors.append(("ICC", described(bytes(value & 255 for value in profile))))
    facts.update(
        width=page.first(256, 0),
        height=page.first(257, 0),
        channels=channels,
        bits_per_channel=max(bits),
        bits_per_pixel=sum(bits) if len(bits) == channels else max(bits) * channels,
        compression=_COMPRESSIONS.get(compression, f"scheme {compression}"),
        lossy=compression in (6, 7, 34712, 50001),
        color_model=model,
        sample=_SAMPLES.get(page.first(339, 1), "uint"),
        orientation=max(1, min(8, page.first(274, 1))),
        color_chunks=tuple(colors),
    )
    facts["origin"] = _ORIGINS.get(facts["orientation"], "top-left")
    beyond = channels - _MODEL_CHANNELS.get(model, channels)
    if beyond > 0 and any(kind in (1, 2) for kind in extra):  # 1 premultiplied, 2 straight alpha (section 18)
        facts["alpha_bits"] = bits[-1]
    if model == "palette":
        facts["palette"] = len(page.values(320)) // 3
    if facts["width"] <= 0 or facts["height"] <= 0:
        raise Wrong("damaged", f"the header states {facts['width']} x {facts['height']} pixels")
    if facts["orientation"] >= 5:  # stored rows are columns of the picture; its sides are given as it is seen
        facts.update(width=facts["height"], height=facts["width"])
    if not 0 < channels <= 64 or not 0 < max(bits) <= 64:
        raise Wrong("damaged", f"{channels} channels of {max(bits)} bits")
    if not model:
        raise Wrong("damaged", f"photometric interpretation {photometric} is not defined")


def _pixels_inside(file: Window, page: _Directory) -> None:
    """Every strip or tile lies in the file, and uncompressed ones hold enough bytes."""
    tiled = bool(page.values(324))
    offsets, lengths = (page.values(324), page.values(325)) if tiled else (page.values(273), page.values(279))
    if not offsets:
        raise Wrong("damaged", "the directory names no strips or tiles of pixels")
    width, height, channels = page.first(256, 0), page.first(257, 0), page.first(277, 1)
    row = (width * max(page.values(258) or (1,)) * channels + 7) // 8
    plain = page.first(259, 1) == 1 and not tiled and page.first(262, 0) != 6
    if not lengths and len(offsets) == 1 and plain:
        lengths = (row * height,)  # StripByteCounts is missing in some old files; one plain strip needs none
    if len(lengths) != len(offsets):
        raise Wrong("damaged", f"{len(offsets)} strips or tiles, but {len(lengths)} lengths")
    file.must_reach(max(start + length for start, length in zip(offsets, lengths, strict=True)), "the last pixel strip")
    if plain and sum(lengths) < row * height:
        raise Wrong("truncated", f"the strips hold {sum(lengths):,} of the {row * height:,} bytes of pixels")


def _layers_in_block(file: Window, order: str, at: int, size: int) -> int:
    """How many layers private tag 37724 holds beside the flattened picture of a page, 0 without any.

    By the public technical note on that tag: a line of text that ends with a zero byte, then blocks of a mark, a key and a
    length, padded to four bytes, all in the byte order of the file. The keys are those of layered PSD files: `Layr`, and `Lr16`
    and `Lr32` for deeper pictures. Such a block begins with the count, negative where the first extra channel is transparency.
    """
    if not size:
        return 0
    file.must_reach(at + size, f"the values of tag {_LAYER_BLOCK}")
    end = at + size
    at += file.upto(at, min(size, 64)).find(b"\0") + 1
    for _ in range(_MOST_BLOCKS):
        if at + 12 > end:
            return 0
        names, (length,) = file.at(at, 8, "a layer block"), file.unpack(order + "I", at + 8, "a layer block")
        mark, key = (name if order == ">" else name[::-1] for name in (names[:4], names[4:]))
        if mark != b"8BIM":
            return 0
        at += 12
        if key in (b"Layr", b"Lr16", b"Lr32") and 2 <= length <= end - at:
            (count,) = file.unpack(order + "h", at, "the layer count")
            return abs(int(count))
        at += (length + 3) // 4 * 4
    return 0
