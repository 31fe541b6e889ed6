"""Settings that hold for a whole rule set: what is measured with, not what is judged."""

from __future__ import annotations

from .check import Limit

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
)
