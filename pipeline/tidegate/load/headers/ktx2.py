"""KTX 2.0 header facts (KTX File Format Specification, version 2; Khronos Data Format Specification 1.3, 5)."""

from __future__ import annotations

import struct

from .window import Facts, Window, Wrong

SIGNATURE = b"\xabKTX 20\xbb\r\n\x1a\n"

_SCHEMES = {0: "none", 1: "basis-lz", 2: "zstd", 3: "zlib"}
# Colour models of the data format descriptor: name, channels, alpha bits for block formats.
_BLOCK_MODELS = {
    128: ("bc1", 4, 1),
    129: ("bc2", 4, 4),
    130: ("bc3", 4, 8),
    131: ("bc4", 1, 0),
    132: ("bc5", 2, 0),
    133: ("bc6h", 3, 0),
    134: ("bc7", 4, 8),
    160: ("etc1", 3, 0),
    161: ("etc2", 3, 0),
    162: ("astc", 4, 8),
    163: ("etc1s", 3, 0),
    166: ("uastc", 3, 0),
}
_TRANSFERS = {1: "linear", 2: "sRGB", 3: "ITU", 4: "NTSC"}
_PRIMARIES = {0: "unspecified", 1: "BT.709", 10: "Display P3", 11: "Adobe RGB"}


def read(file: Window, facts: Facts) -> None:
    """Fills `facts` and proves that every level of the index lies in the file."""
    _, _, width, height, _, _, _, levels, scheme = file.unpack("<9I", 12, "the KTX2 header")
    dfd_at, dfd_length, kvd_at, kvd_length, sgd_at, sgd_length = file.unpack("<4I2Q", 48, "the KTX2 header")
    facts.update(width=width, height=max(1, height), mip_levels=max(1, levels), color_model="compressed")
    if width == 0:
        raise Wrong("damaged", "the header states a width of zero")
    if levels > 32:
        raise Wrong("damaged", f"the header states {levels} mip levels")
    facts["compression"] = _SCHEMES.get(scheme, f"scheme {scheme}")
    index = file.at(80, 24 * max(1, levels), "the level index")
    _descriptor(file.at(dfd_at, min(dfd_length, 4096), "the data format descriptor"), facts)
    ends = [dfd_at + dfd_length, kvd_at + kvd_length, sgd_at + sgd_length]
    ends += [start + length for start, length, _ in struct.iter_unpack("<QQQ", index)]
    file.must_reach(max(ends), "the last mip level")
    if any(length == 0 for _, length, _ in struct.iter_unpack("<QQQ", index)):
        raise Wrong("damaged", "a mip level of no bytes stands in the level index")


def _descriptor(descriptor: bytes, facts: Facts) -> None:
    """Channels, bits and colour space out of the basic descriptor block."""
    if len(descriptor) < 28 + 16:
        raise Wrong("damaged", "the data format descriptor is too short to describe a channel")
    (block_size,) = struct.unpack_from("<H", descriptor, 10)
    model, primaries, transfer, flags = struct.unpack_from("<4B", descriptor, 12)
    samples = min((block_size - 24) // 16, (len(descriptor) - 28) // 16)
    kinds = [struct.unpack_from("<HBB", descriptor, 28 + 16 * sample) for sample in range(samples)]
    facts["color_chunks"] = (
        ("transfer", _TRANSFERS.get(transfer, str(transfer))),
        ("primaries", _PRIMARIES.get(primaries, str(primaries))),
        *((("alpha", "premultiplied"),) if flags & 1 else ()),
    )
    texels = (descriptor[16] + 1) * (descriptor[17] + 1)
    if model in _BLOCK_MODELS:
        name, channels, alpha_bits = _BLOCK_MODELS[model]
        if model == 161 and len(kinds) > 1:
            channels, alpha_bits = 4, 8
        if model == 163 and any(kind & 15 == 15 for _, _, kind in kinds):  # ETC1S with an alpha slice
            channels, alpha_bits = 4, 8
        if model == 166 and any(kind & 15 == 3 for _, _, kind in kinds):  # UASTC channel RGBA
            channels, alpha_bits = 4, 8
        plain = facts["compression"] in ("none", "basis-lz")
        facts.update(channels=channels, alpha_bits=alpha_bits, bits_per_channel=8, lossy=True)
        facts["compression"] = name if plain else f"{name}, {facts['compression']}"
        facts["bits_per_pixel"] = descriptor[20] * 8 // texels  # bytesPlane0; 0 where BasisLZ packs further
        if model == 133:
            facts.update(sample="float", bits_per_channel=16)
        return
    channels = len({kind & 15 for _, _, kind in kinds})
    widths = [length + 1 for _, length, _ in kinds]
    alpha = [length + 1 for _, length, kind in kinds if kind & 15 == 15]
    facts.update(
        channels=channels,
        bits_per_channel=max(widths, default=0),
        bits_per_pixel=sum(widths),
        alpha_bits=alpha[0] if alpha else 0,
        color_model="grey" if channels - len(alpha) == 1 else "rgb",
    )
    if kinds and kinds[0][2] & 0x80:
        facts["sample"] = "float"
    elif kinds and kinds[0][2] & 0x40:
        facts["sample"] = "int"
