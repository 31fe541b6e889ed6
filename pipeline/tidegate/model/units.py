"""Units a mesh may have been exported in by mistake."""

from __future__ import annotations

METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001, "in": 0.0254, "ft": 0.3048}
"""Metres per unit; the inch is 25.4 mm and the foot 12 of it, exactly (international yard and pound, 1959)."""

# how a sentence supposes it, up to the length; metres per unit of what the file may really have been written in
UNITS: tuple[tuple[str, float], ...] = (
    ("read as centimetres it would be", 0.01),
    ("read as millimetres it would be", 0.001),
    ("read as inches it would be", 0.0254),
    ("read as feet it would be", 0.3048),
    ("if its numbers were metres, exported as centimetres, it is", 100.0),
    ("if its numbers were metres, exported as millimetres, it is", 1000.0),
)


def likely_unit(longest: float, smallest: float, largest: float) -> tuple[str, float] | None:
    """The first unit that turns `longest` (metres as read) into a believable size, with its factor; None when none does.

    The target is the middle of the range on a logarithmic scale, so of several believable units the nearest wins.
    """
    fitting = [(name, factor) for name, factor in UNITS if smallest <= longest * factor <= largest]
    if not fitting:
        return None
    middle = (max(smallest, 1e-6) * largest) ** 0.5
    return min(fitting, key=lambda unit: max(longest * unit[1] / middle, middle / (longest * unit[1])))
