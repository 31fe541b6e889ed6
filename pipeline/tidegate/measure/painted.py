"""A map against the layout it is painted for: ground, bleed, unpainted texels, fit and seams."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tidegate.measure.decoding import Pixels
from tidegate.measure.painted_layout import PaintedLayout
from tidegate.measure.wire import Wire, points_along
from tidegate.model.painted_rows import NO_PAINT_SLOTS, ground_speaks
from tidegate.model.selection import repeating
from tidegate.pixels.background import Background, background
from tidegate.pixels.bleed import Bleed, bleed
from tidegate.pixels.bleed_around import bleed_around
from tidegate.pixels.border_bands import FAR, BorderBands
from tidegate.pixels.differing import differing
from tidegate.pixels.fit import Fit, fit, in_doubt
from tidegate.pixels.guide_trace import GuideTrace, guide_trace
from tidegate.pixels.holes import Holes, holes
from tidegate.pixels.seam_points import SeamEdges
from tidegate.pixels.seams import Seam, normal_differences, seam_differences, seams
from tidegate.pixels.strips import strips
from tidegate.pixels.unpainted import Unpainted, unpainted

LOSSY = 12  # codes of 8 bits by which a lossy map may miss its ground
NEAR = 24  # codes of 8 bits from the ground within which paint may fade into it
SEEN = 0.04  # difference across a seam above which an edge is shown as part of the place
SEEN_NORMAL = 0.02  # the same for normals


@dataclass(frozen=True, slots=True, eq=False)
class Painted:
    """One map on one picture. picture: index into `Facts.pictures`. rows: island rows; the arrays of bleed and
    unpainted and the islands of seams are in this order. slot: the map's first slot on the picture.

    reason: why the map cannot be held against the layout, "" where it can; the measures are then None or empty.
    spilled: share of the texels far from every island that differ from the ground: near 1 where the map is shared with
    other things or painted all over. covered: share of the map inside islands. fading: (i,) texels of each island that are
    near the ground and not quite it, over those that show it: paint that darkens into a black ground has many.
    around: bleed beyond borders at which the map is repeated, None where no island is near one.
    holes: of the places in `unpainted`, None where there are none.
    inner_trace, border_trace: thin lines along the wire inside the islands and along their borders, None where not looked for.
    """

    map: str
    picture: int
    slot: str
    rows: NDArray[np.int64]
    reason: str = ""
    ground: Background | None = None
    spilled: float = 1.0
    covered: float = 0.0
    fading: NDArray[np.float64] | None = None
    bleed: Bleed | None = None
    around: Bleed | None = None
    unpainted: Unpainted | None = None
    holes: Holes | None = None
    fit: Fit | None = None
    seams: tuple[Seam, ...] = ()
    inner_trace: GuideTrace | None = None
    border_trace: GuideTrace | None = None


def measure_painted(
    path: str,
    slot: str,
    number: int,
    image: Pixels,
    lossy: bool,
    layout: PaintedLayout,
    edges: SeamEdges | None,
    wanted: int,
    strangers: Callable[[], Mapping[str, BorderBands]] = dict,
    wire: Wire | None = None,
) -> Painted:
    """number: index of the picture. edges: its seams, None where they are not to be compared. wanted: texels of bleed.
    strangers: gives other layouts by name, asked only where the map does not fit its own. wire: of the layout, None where lines
    along it are not looked for."""
    rows = layout.rows
    if not layout.whole:
        return Painted(path, number, slot, rows, "islands cross the border of the tile, so the map is made to repeat")
    if not (layout.labels >= 0).any():
        return Painted(path, number, slot, rows, "no island covers a texel")
    tolerance = LOSSY if lossy else 0  # lossy formats hold 8 bits
    bands = layout.bands
    no_paint = slot in NO_PAINT_SLOTS
    ground = background(image, bands, tolerance, no_paint=no_paint)
    paint = None if ground is None else differing(image, ground.color, tolerance)
    spilled = 1.0
    if paint is not None and bands.far_texels:
        spilled = _far_and(paint, bands) / bands.far_texels
    if not ground_speaks(ground, spilled):
        paint = None
    bare = unpainted(paint, layout.labels, bands.totals[:, 0])
    fading, places = np.zeros(len(rows)), None
    if ground is not None and paint is not None and bare.texels.any():
        places = holes(image, ground, paint, layout.labels, bare)
        fading = (_near_ground(image, ground, layout) - bare.texels) / np.maximum(bare.texels, 1)
    bled = bleed(paint, bands, wanted)
    around = bleed_around(paint, layout.labels, len(rows), wanted, *repeating(layout.picture))
    del paint  # a byte a texel that nothing below reads
    fitting = fit(image, bands, tolerance=tolerance, no_paint=no_paint)
    if in_doubt(fitting) and (others := strangers()):
        fitting = fit(image, bands, others, tolerance, no_paint)
    found = () if edges is None else _seams(image, edges, slot, layout)
    return Painted(
        map=path,
        picture=number,
        slot=slot,
        rows=rows,
        ground=ground,
        spilled=spilled,
        bleed=bled,
        around=around,
        covered=float(bands.totals[:, 0].sum()) / layout.labels.size,
        fading=fading,
        unpainted=bare,
        holes=places,
        fit=fitting,
        seams=found,
        inner_trace=None if wire is None else guide_trace(image, *points_along(wire.inner, layout.size)),
        border_trace=None if wire is None else guide_trace(image, *points_along(wire.border, layout.size)),
    )


def _near_ground(image: Pixels, ground: Background, layout: PaintedLayout) -> NDArray[np.int64]:
    """Texels of each island whose color is near the ground or the ground itself."""
    tolerance = ground.tolerance + NEAR * (257 if image.dtype == np.uint16 else 1)
    clearly = differing(image, ground.color, tolerance)
    return unpainted(clearly, layout.labels, layout.bands.totals[:, 0], worst=0).texels


def _far_and(paint: NDArray[np.bool_], bands: BorderBands) -> int:
    """Texels far from every island that are painted."""
    rows = strips(*paint.shape)
    return sum(int(np.count_nonzero(paint[top:end] & (bands.band[top:end] == FAR))) for top, end in rows)


def _seams(image: Pixels, edges: SeamEdges, slot: str, layout: PaintedLayout) -> tuple[Seam, ...]:
    if slot == "normal":
        edges = edges.of_normals()
    if not len(edges.island_a) or (slot == "normal" and image.shape[2] < 3):
        return ()
    compare = normal_differences if slot == "normal" else seam_differences
    seen = SEEN_NORMAL if slot == "normal" else SEEN
    return tuple(seams(edges, compare(image, edges, layout.labels), layout.size, seen))
