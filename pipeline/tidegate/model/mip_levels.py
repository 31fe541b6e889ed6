"""Mip chains and the memory they take, as arithmetic.

Vulkan, "Image Mip Level Sizing": each level has max(floor(d / 2), 1) texels a side; floor(log2(max(w, h))) + 1 levels.
"""

from __future__ import annotations

from .image_header import ImageHeader


def level_count(width: int, height: int) -> int:
    """Levels of a full mip chain, 0 when there is no picture."""
    return max(width, height, 0).bit_length() if min(width, height) > 0 else 0


def level_sizes(width: int, height: int, levels: int | None = None) -> tuple[tuple[int, int], ...]:
    """(width, height) of each level from the largest down. levels: how many; None for the full chain."""
    count = level_count(width, height) if levels is None else levels
    return tuple((max(width >> level, 1), max(height >> level, 1)) for level in range(count))


def decoded_channels(header: ImageHeader) -> int:
    """Channels once decoded: a palette gives 3 or, with transparency, 4; CMYK gives 3; unused channels do not count."""
    if header.color_model == "palette":
        return 4 if header.palette_alpha else 3
    if header.color_model == "compressed":
        return header.channels
    alpha = 1 if header.alpha_bits else 0
    return (1 if header.color_model == "grey" else 3) + alpha


def decoded_channel_bytes(header: ImageHeader) -> int:
    """Bytes of one decoded channel: 1 up to 8 bits, 2 up to 16 bits, else 4."""
    if header.color_model == "palette":
        return 1
    bits = header.bits_per_channel
    return 1 if bits <= 8 else 2 if bits <= 16 else 4


def unpacked_bytes(header: ImageHeader, mip_chain: bool = True) -> int:
    """Memory of the picture when unpacked for use, in bytes; 0 when its size is not known.

    Block-compressed textures (DDS, KTX2) stay packed in use: whole 4 x 4 blocks at the stored bits per pixel. All
    others count decoded channels at their depth, without padding of 3 channels to 4, which some hardware adds.
    mip_chain: the full chain, else the largest level alone.
    """
    if header.width <= 0 or header.height <= 0:
        return 0
    sizes = level_sizes(header.width, header.height, None if mip_chain else 1)
    if header.color_model == "compressed" and header.bits_per_pixel:
        return sum((w + 3) // 4 * ((h + 3) // 4) * 2 * header.bits_per_pixel for w, h in sizes)
    texel = decoded_channels(header) * decoded_channel_bytes(header)
    return sum(w * h for w, h in sizes) * texel
