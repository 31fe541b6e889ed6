"""Whether a picture is a palette: faces that take their colors from points or narrow strips of it, and nothing is painted."""

from __future__ import annotations

from tidegate.model.facts import IslandColumns, Picture

POINTS = 0.5  # share of the surface on islands without UV area from which on the picture is a palette
LITTLE = 0.1  # tiles: less UV area than this altogether may be color strips
CARELESS = 0.1  # share of triangles flat or folded from which on a small layout was put on colors, not laid out
PAINTED_SLOTS = frozenset({"normal", "height", "occlusion"})  # maps that nobody makes for points of color


def is_palette(columns: IslandColumns, picture: Picture) -> bool:
    """A picture that is there, holds color alone, and is used by points: altogether its islands take up very little, and
    most of the surface is on islands without UV area, or many triangles are flat or folded, as no one lays out to paint on.

    The shares are common practice, no source: painted layouts have next to none of these, palettes have a third and more.
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
    careless = int((columns.flat[rows] + columns.folded[rows]).sum())
    return careless >= CARELESS * int(columns.triangles[rows].sum())
