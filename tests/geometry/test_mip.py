from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from tidegate.geometry.mip import NEVER, clean_level, gap_needed, mip_sizes, texels_needed


@pytest.mark.parametrize(
    ("width", "height", "levels"),
    # Vulkan, "Image Mip Level Sizing": floor(log2(longest)) + 1 levels, each half of the last rounded down, at least 1.
    [(2048, 2048, 12), (4096, 4096, 13), (1024, 512, 11), (1000, 600, 10), (3, 5, 3), (1, 1, 1)],
)
def test_number_of_levels(width: int, height: int, levels: int) -> None:
    sizes = mip_sizes(width, height)
    assert len(sizes) == levels
    assert sizes[-1] == (1, 1)
    assert all((w, h) == (max(a // 2, 1), max(b // 2, 1)) for (a, b), (w, h) in itertools.pairwise(sizes))


def reached(level: int, edge: int, length: int = 2048) -> int:
    """Texels at and beyond `edge` that a linear sample before it reads at this level, by building the levels: the base is
    dirty from some texel on, and the first at which no sample inside is touched is the room needed."""
    for room in range(length - edge):
        base = np.zeros(length)
        base[edge + room :] = 1.0
        for _ in range(level):
            base = 0.5 * (base[0::2] + base[1::2])
        # Sample positions inside the island, closely up to its edge, in texels of the level (Vulkan, "Texel Filtering").
        x = (edge - np.geomspace(1e-6, min(edge, 4 * 2**level), 400)) / 2**level - 0.5
        low = np.floor(x).astype(int)
        share = x - low
        read = (1 - share) * base[np.maximum(low, 0)] + share * base[np.minimum(low + 1, len(base) - 1)]
        if not read.any():
            return room
    raise AssertionError("no room is enough")


@pytest.mark.parametrize(
    ("level", "aligned", "worst"),
    [(0, 1, 1), (1, 2, 2), (2, 4, 5), (3, 8, 11), (4, 16, 23), (5, 32, 47), (6, 64, 95), (7, 128, 191)],
)
def test_room_equals_what_building_the_levels_shows(level: int, aligned: int, worst: int) -> None:
    assert texels_needed(level, aligned=True) == aligned
    assert texels_needed(level) == worst
    start = 1024
    assert reached(level, start) == aligned
    if level <= 5:
        assert max(reached(level, start + shift) for shift in range(2**level)) == worst
    else:
        # The worst edge lies half a texel of the level and one base texel into it; tried alone, the sweep is long.
        assert reached(level, start + 2 ** (level - 1) + 1) == worst


@pytest.mark.parametrize(
    ("gap", "level"),
    [
        (1.99, NEVER),
        (2, 0),
        (3.99, 0),
        (4, 1),
        (9.9, 1),
        (10, 2),
        (21, 2),
        (22, 3),
        (46, 4),
        (94, 5),
        (190, 6),
        (382, 7),
    ],
)
def test_both_sides_of_the_gap_between_islands(gap: float, level: int) -> None:
    assert clean_level(gap) == level
    assert clean_level(gap / 2, sides=1) == level


def test_gap_needed_is_the_smallest_that_is_enough() -> None:
    for level in range(8):
        for sides in (1, 2):
            need = gap_needed(level, sides)
            assert clean_level(need, sides) >= level
            assert clean_level(need - 0.001, sides) < level
    assert clean_level(16, aligned=True) == 3
    assert clean_level(math.inf) == 30
    assert clean_level(-3.0) == NEVER
