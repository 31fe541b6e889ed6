"""Whether a picture is a palette: faces that take their colors from points or narrow strips of it, and nothing is painted."""

from __future__ import annotations

from tidegate.model.facts import IslandColumns, Picture

LITTLE = 0.1  # tiles: with more UV area than this altogether, a layout was made
POINTS = 0.25  # share of the surface on islands without UV area from which on little else was laid out
FLAT = 0.1  # share of triangles without UV area, likewise
PAINTED_SLOTS = frozenset({"normal", "height", "occlusion"})  # maps that nobody makes for points of color


def is_palette(columns: IslandColumns, picture: Picture) -> bool:
    """A picture that is there, holds color alone, and is used by points and lines: altogether its islands take up very
    little, and a good part of the surface or of the triangles has no UV area.

    The shares are common practice, no source: of painted layouts next to nothing is flat, of palettes an eighth and more.
    """
    rows = picture.islands
    if picture.assumed or PAINTED_SLOTS & {slot for slot, _ in picture.files}:
        return False
    if float(columns.uv_area[rows].sum()) >= LITTLE:
        return False
    surface = columns.world_area[rows]
    points = float(surface[columns.winding[rows] == 0].sum())
    if points > 0.0 and points >= POINTS * float(surface.sum()):
        return True
    return int(columns.flat[rows].sum()) >= FLAT * int(columns.triangles[rows].sum())
