"""Mip levels: their sizes, and the room around an island that keeps them clean.

Sizes: Vulkan, "Image Mip Level Sizing". Room: levels are made by a box filter (the default that OpenGL recommends for
mipmap generation) and read with a linear filter, which weighs the two texels nearest to the sample in each direction
(Vulkan, "Texel Filtering"). A sample just inside an island's edge then reads half a texel of its level beyond the
edge, and the far end of that texel lies up to 1.5 x 2^n base texels away when the edge falls worst on the level's grid,
2^n when it falls on a line of it.
"""

from __future__ import annotations

NEVER = -1


def mip_sizes(width: int, height: int) -> list[tuple[int, int]]:
    """Width and height of every level, the map itself first, down to 1 x 1."""
    sizes = [(width, height)]
    while width > 1 or height > 1:
        width, height = max(width // 2, 1), max(height // 2, 1)
        sizes.append((width, height))
    return sizes


def texels_needed(level: int, aligned: bool = False) -> int:
    """Base texels beyond an island's edge that samples inside it read at this mip level.

    aligned: the edge lies on the grid of the level; otherwise wherever it lies, 1.5 x 2^level - 1 (1 at level 0).
    """
    if level == 0:
        return 1
    return 1 << level if aligned else 3 * (1 << (level - 1)) - 1


def clean_level(gap: float, sides: int = 2, aligned: bool = False) -> int:
    """Highest mip level at which a gap of `gap` texels keeps what borders it clean, NEVER (-1) when not even level 0.

    sides: 2 between two islands, each of which needs its half, and to the border of a map that repeats; 1 to the border of
    a map that is clamped. An infinite gap keeps 30, more levels than any map has.
    """
    level = NEVER
    while level < 30 and gap >= sides * texels_needed(level + 1, aligned):
        level += 1
    return level


def gap_needed(level: int, sides: int = 2, aligned: bool = False) -> int:
    """Texels between two islands (sides 2) or an island and a clamped border (1) that keep this level clean."""
    return sides * texels_needed(level, aligned)
