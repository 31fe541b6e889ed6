"""Settings that hold for a whole rule set: what is measured with, not what is judged."""

from __future__ import annotations

from .check import Limit

FARTHEST_UV = 1000.0

SETTINGS: tuple[Limit, ...] = (
    Limit(
        "assumed_map_px",
        "integer",
        2048,
        unit="texels",
        low=1,
        high=65536,
        explanation="width and height that a material without any map is measured with (common practice, no source)",
    ),
    Limit(
        "driving_slots",
        "texts",
        ("base_color", "normal", "roughness", "metalness", "occlusion", "emission", "opacity", "height"),
        explanation="whose map gives a material its size in texels: the first slot of this list that has a map",
    ),
    Limit(
        "farthest_uv",
        "number",
        FARTHEST_UV,
        unit="tiles",
        low=1,
        high=4096,
        explanation="from 0, 0, across or up: triangles with a UV farther away are told by uvs-missing and measured no further. "
        "From 1024 on, stored UVs (single precision, IEEE 754) are half a texel of a map of 4096 apart",
    ),
)
