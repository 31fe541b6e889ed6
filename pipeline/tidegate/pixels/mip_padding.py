"""How many texels around an island a mip level reads."""

from __future__ import annotations


def padding_for_mip(level: int) -> int:
    """Texels outside an island's edge that bilinear samples inside it can read at mip `level`, worst alignment.

    1 at level 0, else 1.5 * 2^level - 1: 1, 2, 5, 11, 23, 47, 95, 191. Derived: box-filtered mips (recommended by OpenGL
    4.6, 8.14.4 Manual Mipmap Generation) and the bilinear footprint (Vulkan, Image Operations, "(u,v,w,a) to (i,j,k,l,n)
    Transformation"), power-of-two map, edge on a whole texel. The common 2^level rule holds only for an edge on the 2^level grid.
    """
    if level < 0:
        raise ValueError(f"a mip level is 0 or more, came {level}")
    return 1 if level == 0 else 3 * 2 ** (level - 1) - 1


def mip_kept_clean(padding: int) -> int:
    """Highest mip level that `padding` texels keep clean, -1 when not even the full map is."""
    level = -1
    while padding_for_mip(level + 1) <= padding:
        level += 1
    return level


def mip_levels(width: int, height: int) -> int:
    """Levels of a full chain: floor(log2(larger side)) + 1 (Vulkan, Resource Creation, Image Mip Level Sizing)."""
    return max(width, height).bit_length()


def mip_size(width: int, height: int, level: int) -> tuple[int, int]:
    """Size of one level: each side halved and rounded down, never below 1 (Vulkan, Image Mip Level Sizing)."""
    return max(width >> level, 1), max(height >> level, 1)
