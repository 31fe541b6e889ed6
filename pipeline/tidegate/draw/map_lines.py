"""Lines of a layout in the texels of a map, to be drawn over parts of it."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from tidegate.draw.canvas import Canvas, draw_lines
from tidegate.draw.edges import Edges, edges_of
from tidegate.draw.palette import INK, PAPER, Color
from tidegate.draw.placed import place
from tidegate.geometry.repeated import other_tiles
from tidegate.geometry.segments import within_box
from tidegate.model.facts import Facts, Picture
from tidegate.model.finding import Finding
from tidegate.model.selection import repeating
from tidegate.model.view import whole_tile
from tidegate.pixels.samples import as_channels

_MOST_COPIES = 100_000  # lines that come in again over the border of a map that repeats


def picture_of(facts: Facts, finding: Finding) -> Picture | None:
    """The picture whose layout lies on the map that a finding names, None where there is none."""
    islands = np.array(finding.place.islands, dtype=np.int64) - 1
    for picture in facts.pictures:
        on_it = any(file == finding.place.map for _, file in picture.files)
        if on_it and (not len(islands) or np.isin(islands, picture.islands).any()):
            return picture
    return None


def lines_on(facts: Facts, finding: Finding, width: int, height: int, *, inner: bool = False) -> Edges | None:
    """Outlines of the islands, and the edges inside them where asked for, in texels of the map that a finding names; what
    comes in again over a border at which the map repeats is there too. None without a layout."""
    picture = picture_of(facts, finding)
    if picture is None or facts.islands is None:
        return None
    edges = edges_of(place(facts, picture, whole_tile(width, height)), inner=inner)
    outline, which = _on_map(edges.outline, picture, width, height)
    within, _ = _on_map(edges.inner, picture, width, height)
    return Edges(outline, within, edges.owner[which], edges.seam[which])


def _on_map(
    segments: NDArray[np.float64], picture: Picture, width: int, height: int
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """What of the segments (4, s) lies on the map, and which segment each piece is of."""
    which = np.arange(segments.shape[1])
    if any(repeating(picture)):
        more = other_tiles(segments.reshape(2, 2, -1), (width, height), repeating(picture), most=_MOST_COPIES)
        if more is not None:
            segments = np.concatenate([segments, more[1].reshape(4, -1)], axis=1)
            which = np.concatenate([which, more[0]])
    pieces, kept = within_box(segments, (-1.0, -1.0), (width + 1.0, height + 1.0))
    return pieces, which[kept]


def draw_over(canvas: Canvas, segments: NDArray[np.float64], color: Color = INK, line: float = 1.4) -> None:
    """Thin lines between light ones, seen on any paint."""
    draw_lines(canvas, segments, line + 2.6, PAPER)
    draw_lines(canvas, segments, line, color)


def clearest(image: NDArray[Any], segments: NDArray[np.float64]) -> tuple[float, float] | None:
    """The middle of the segment (4, s) along which a map (h, w, c) differs most from what lies beside it on both sides,
    of the longest; None without any."""
    length = np.hypot(segments[2] - segments[0], segments[3] - segments[1])
    longest = np.argsort(-length, kind="stable")[:_TRIED]
    best, found = -1.0, None
    for number in longest.tolist():
        if length[number] < 1.0:
            continue
        x0, y0, x1, y1 = segments[:, number]
        share = np.linspace(0.25, 0.75, max(2, min(int(length[number] / 2), 200)))
        across, down = (y0 - y1) / length[number], (x1 - x0) / length[number]
        rows = [_read(image, x0 + (x1 - x0) * share + a * across, y0 + (y1 - y0) * share + a * down) for a in _ASIDE]
        on = rows[len(_ASIDE) // 2 - 1 : len(_ASIDE) // 2 + 2]
        stands_out = max(min(abs(np.median(line - rows[0])), abs(np.median(line - rows[-1]))) for line in on)
        if stands_out > best:
            best, found = float(stands_out), (float(x0 + x1) / 2, float(y0 + y1) / 2)
    return found


_TRIED = 60
_ASIDE = (-3.0, -1.0, 0.0, 1.0, 3.0)  # texels to either side of a segment; a line may lie a texel beside it


def _read(image: NDArray[Any], x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """How bright the texels at these places are, in codes; only they are read."""
    height, width = image.shape[:2]
    row = np.clip(np.floor(y), 0, height - 1).astype(np.int64)
    column = np.clip(np.floor(x), 0, width - 1).astype(np.int64)
    texels = as_channels(image)[row, column].astype(np.float64)
    if texels.shape[1] < 3:
        return np.asarray(texels[:, 0])
    return np.asarray(texels[:, :3] @ (0.2126, 0.7152, 0.0722))
