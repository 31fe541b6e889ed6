"""A layered master against the flat map that was saved from it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from tidegate.measure.decoding import Pixels
from tidegate.measure.wire import Wire, points_along, wire_mask
from tidegate.model.image_header import ImageLayer
from tidegate.pixels.guide_trace import guide_trace
from tidegate.pixels.master import MasterComparison, compare_master

# Shares by which lines along the wire stand out, and more so in one than in the other. Where the map is lossy the differences
# beside them say little, since whole blocks are compared: then some of it has to be seen as lines.
LINES_OUT, LINES_APART, LINES_LOSSY = 0.4, 0.3, 0.1
WORTH_A_LOOK = 0.0002  # share of texels that differ below which nobody asks where they lie


@dataclass(frozen=True, slots=True)
class MasterFacts:
    """path: of the master. map: of its flat map, "" without one. layers: from the top down, () where none are named.

    comparison: None where either picture could not be decoded or there is no flat map. lines_in: which of the two, "master"
    or "map", shows lines of the layout that the other does not, "" for neither.
    """

    path: str
    map: str
    layers: tuple[ImageLayer, ...]
    comparison: MasterComparison | None = None
    lines_in: str = ""


def compared(
    merged: Pixels, flat: Pixels, wire: Callable[[], Wire | None], lossy: bool = False
) -> tuple[MasterComparison, str]:
    """The merged picture against the flat map, and which of the two, "master" or "map", shows lines of the layout that the other
    does not; "" for neither.

    wire: gives the layout's lines, asked only when needed. lossy: the flat map was packed with loss.
    """
    first = compare_master(merged, flat, lossy=lossy)
    # Means over blocks hide thin lines, so where the map is lossy they are looked for whatever those say.
    if not first.comparable or (first.differing <= WORTH_A_LOOK and not lossy):
        return first, ""
    lines = wire()
    if lines is None:
        return first, ""
    found = compare_master(merged, flat, wire_mask(lines, (flat.shape[1], flat.shape[0])), lossy=lossy)
    in_map, in_master = _stands_out(flat, lines), _stands_out(merged, lines)
    apart = abs(in_map - in_master) >= LINES_APART and max(in_map, in_master) >= LINES_OUT
    visible = found.guide_visible and (not lossy or abs(in_map - in_master) >= LINES_LOSSY)
    if not visible and not apart:
        return found, ""
    return found, "map" if in_map > in_master else "master"


def _stands_out(image: Pixels, lines: Wire) -> float:
    trace = guide_trace(image, *points_along(lines.all, (image.shape[1], image.shape[0])))
    return round(trace.on - trace.aside, 6)
