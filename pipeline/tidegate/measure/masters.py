"""A layered master against the flat map that was saved from it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from tidegate.measure.decoding import Pixels
from tidegate.measure.wire import Wire, points_along, wire_mask
from tidegate.model.image_header import ImageLayer
from tidegate.pixels.guide_trace import guide_trace
from tidegate.pixels.master import MasterComparison, compare_master

WORTH_A_LOOK = 0.0002  # share of texels that differ below which nobody asks where they lie


@dataclass(frozen=True, slots=True)
class MasterFacts:
    """path: of the master. map: of its flat map, "" without one. layers: from the top down, () where none are named.

    comparison: None where either picture could not be decoded or there is no flat map. lines_in_map: where the two differ on the
    layout's lines, it is the map that shows them.
    """

    path: str
    map: str
    layers: tuple[ImageLayer, ...]
    comparison: MasterComparison | None = None
    lines_in_map: bool = False

    @property
    def shows_lines(self) -> bool:
        """The merged picture shows lines of the layout that the map does not."""
        return self.comparison is not None and self.comparison.guide_visible and not self.lines_in_map


def compared(
    merged: Pixels, flat: Pixels, wire: Callable[[], Wire | None], lossy: bool = False
) -> tuple[MasterComparison, bool]:
    """The merged picture against the flat map, and whether lines of the layout that only one of them shows are in the map.

    wire: gives the layout's lines, asked only when needed. lossy: the flat map was packed with loss.
    """
    first = compare_master(merged, flat, lossy=lossy)
    if not first.comparable or first.differing <= WORTH_A_LOOK:
        return first, False
    lines = wire()
    if lines is None:
        return first, False
    found = compare_master(merged, flat, wire_mask(lines, (flat.shape[1], flat.shape[0])), lossy=lossy)
    return found, found.guide_visible and _stands_out(flat, lines) > _stands_out(merged, lines)


def _stands_out(image: Pixels, lines: Wire) -> float:
    trace = guide_trace(image, *points_along(lines.all, (image.shape[1], image.shape[0])))
    return round(trace.on - trace.aside, 6)
