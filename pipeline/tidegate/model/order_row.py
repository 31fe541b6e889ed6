"""One row of an order list: what was ordered of one prop."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class OrderRow:
    """name: asset name. triangles: (role, budget) pairs. map_sizes: (slot, texels) pairs, "" slot for all maps.

    size_m: width, height, depth in metres, or None. due: ISO 8601 date or "". line: where in the list it stands.
    """

    name: str
    owner: str = ""
    category: str = ""
    triangles: tuple[tuple[str, int], ...] = ()
    map_sizes: tuple[tuple[str, int], ...] = ()
    variants: tuple[str, ...] = ()
    size_m: tuple[float, float, float] | None = None
    rule_set: str = ""
    due: str = ""
    source: str = ""
    line: int = 0
