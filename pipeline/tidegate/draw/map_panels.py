"""Panels of a cut-out: parts of a map at full resolution or the whole of it, each with what is drawn over it."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tidegate.draw.canvas import Canvas
from tidegate.draw.map_lines import clearest, draw_over, lines_on
from tidegate.draw.palette import INK, Color
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.pixels.boxes import Box, cut_out
from tidegate.pixels.resample import eight_bit, reduced
from tidegate.pixels.samples import as_channels

LEAST, LARGEST = 96, 512
"""Texels a side that are shown at least and at most; of a larger place its middle is shown."""
ENLARGED = 384
"""Pixels up to which a small cut-out is enlarged, by a whole number, so that single texels are seen."""
NEAR = 48
"""Texels a side about the one texel that a finding names."""
COMPARED = 128
"""Texels a side where a map and its master differ most, of a place that is larger than LEAST twice over."""
WHOLE = 640
"""Pixels of the longer side of a whole map."""
WIDEST = 8  # times a texel is enlarged at most
_CLEAR = 3  # times a texel is enlarged at least where outlines lie over it
_BLOCK = 8  # texels a side by which the place of most difference is looked for
_ABOUT = 4  # texels between the one that a finding names and its frame

Pixels = NDArray[Any]


class Panel(NamedTuple):
    """picture: (h, w, 3). frame: x0, y0, x1, y1 in its pixels. told: what part of the map it is. heading: whose picture."""

    picture: Canvas
    frame: Box | None
    told: str
    heading: str = ""


def place_panel(facts: Facts, finding: Finding, image: Pixels, place: Box) -> Panel:
    """A place of the map with room around it and a frame about it; of a finding that names islands, with their outlines where
    a line hides less than two texels."""
    shown = _shown(place, image.shape[1], image.shape[0])
    panel = _part(image, shown, _inside(place, shown))
    large = panel.picture.shape[1] >= _CLEAR * (shown[2] - shown[0])
    return _outlined(panel, facts, finding, image, shown) if finding.place.islands and large else panel


def texel_panel(facts: Facts, finding: Finding, image: Pixels, texel: tuple[int, int]) -> Panel:
    """What lies about one texel, much enlarged, with the outlines of the islands."""
    height, width = image.shape[:2]
    shown = _about(texel, NEAR, width, height)
    x, y = texel
    around = (x - _ABOUT, y - _ABOUT, x + 1 + _ABOUT, y + 1 + _ABOUT)
    return _outlined(_part(image, shown, _inside(around, shown)), facts, finding, image, shown)


def _outlined(panel: Panel, facts: Facts, finding: Finding, image: Pixels, shown: Box) -> Panel:
    """The panel with the outlines of the islands over it, where there is a layout."""
    height, width = image.shape[:2]
    edges = lines_on(facts, finding, width, height)
    if edges is None:
        return panel
    times = panel.picture.shape[1] / (shown[2] - shown[0])
    draw_over(panel.picture, (edges.outline - np.array([*shown[:2], *shown[:2]])[:, None]) * times, line=2.0)
    return panel._replace(told=f"{panel.told}; double line: edge of an island")


def whole_panel(facts: Facts, finding: Finding, image: Pixels, color: Color = INK, longest: int = WHOLE) -> Panel:
    """The whole map, as large as fits, with the outlines of the layout over it."""
    height, width = image.shape[:2]
    picture, scale = _fitted(image, longest)
    edges = lines_on(facts, finding, width, height)
    if edges is not None:
        draw_over(picture, edges.outline * scale, color)
    told = f"all {width} x {height} texels"
    return Panel(picture, None, told + (", the outlines of the layout over them" if edges is not None else ""))


def wire_panels(facts: Facts, finding: Finding, image: Pixels, color: Color) -> list[Panel]:
    """The whole map with the outlines over it, and where lines stand out most along the layout, bare of any outline."""
    height, width = image.shape[:2]
    whole = whole_panel(facts, finding, image, color, ENLARGED)
    edges = lines_on(facts, finding, width, height, inner=True)
    at = None
    if edges is not None:
        at = clearest(image, edges.inner) or clearest(image, edges.outline)
    if at is None:
        return [whole]
    x, y = min(max(int(at[0]), 0), width - 1), min(max(int(at[1]), 0), height - 1)
    shown = _about((x, y), LEAST, width, height)
    scale = whole.picture.shape[1] / width
    frame = tuple(round(side * scale) for side in shown)
    detail = _part(image, shown, None)
    return [
        whole._replace(
            frame=(frame[0], frame[1], frame[2], frame[3]),
            heading="the outlines of the layout over the map",
            told=f"all {width} x {height} texels",
        ),
        detail._replace(heading="the map alone, where the frame is"),
    ]


def beside_panels(image: Pixels, merged: Pixels, place: Box, master: str) -> list[Panel]:
    """The map and the same place of its master. Of a large place, where the two differ most."""
    height, width = image.shape[:2]
    merged = _as_large(merged, height, width)
    frame: Box | None = place
    if max(place[2] - place[0], place[3] - place[1]) <= 2 * LEAST:
        shown = _shown(place, width, height)
    else:
        shown, frame = _most_different(image, merged, place), None
    inside = _inside(frame, shown) if frame is not None else None
    one, other = (_part(picture, shown, inside) for picture in (image, merged))
    return [one._replace(heading="the map"), other._replace(heading=f"its master {master}")]


def colors(texels: Pixels) -> Canvas:
    """(h, w, 3) of 8 bits as the map stores them: grey three times, alpha left out."""
    eight = eight_bit(as_channels(texels))
    return np.ascontiguousarray(eight[:, :, :3] if eight.shape[2] >= 3 else eight[:, :, :1].repeat(3, axis=2))


def _part(image: Pixels, shown: Box, frame: Box | None) -> Panel:
    """A part of the map, enlarged by a whole number. frame: in texels of the map."""
    left, top, right, bottom = shown
    times = min(max(1, ENLARGED // max(right - left, bottom - top)), WIDEST)
    texels = colors(image[top:bottom, left:right]).repeat(times, axis=0).repeat(times, axis=1)
    scale = f", {times} times enlarged" if times > 1 else ", texel for pixel"
    told = f"texels {left}..{right} by {top}..{bottom} of {image.shape[1]} x {image.shape[0]}{scale}"
    if frame is None:
        return Panel(texels, None, told)
    x0, y0, x1, y1 = ((side - (left, top)[k % 2]) * times for k, side in enumerate(frame))
    return Panel(texels, (x0, y0, x1, y1), told)


def _shown(place: Box, width: int, height: int) -> Box:
    """What is cut out: the place with room around it, no more than LARGEST texels a side about its middle."""
    left, top, right, bottom = cut_out(place, width, height, LEAST)
    sides = []
    for low, high in ((left, right), (top, bottom)):
        start = max(low, (low + high - LARGEST) // 2)
        sides.append((start, min(high, start + LARGEST)))
    return sides[0][0], sides[1][0], sides[0][1], sides[1][1]


def _about(texel: tuple[int, int], side: int, width: int, height: int) -> Box:
    """A square about a texel, moved inside the map."""
    x, y = (min(max(at - side // 2, 0), max(size - side, 0)) for at, size in zip(texel, (width, height), strict=True))
    return x, y, min(x + side, width), min(y + side, height)


def _inside(place: Box, shown: Box) -> Box:
    """The part of a place that is shown; a place that goes on beyond the cut-out has its frame at the border."""
    return (
        max(place[0], shown[0]),
        max(place[1], shown[1]),
        min(place[2], shown[2]),
        min(place[3], shown[3]),
    )


def _fitted(image: Pixels, longest: int) -> tuple[Canvas, float]:
    """The whole map with its longer side at most so long, and by how much it was scaled: means where it is reduced, whole
    numbers where it is enlarged."""
    height, width = image.shape[:2]
    if max(height, width) <= longest:
        times = max(1, longest // max(height, width))
        return colors(image).repeat(times, axis=0).repeat(times, axis=1), float(times)
    scale = longest / max(height, width)
    size = (max(1, round(width * scale)), max(1, round(height * scale)))
    small = Image.fromarray(colors(image)).resize(size, Image.Resampling.BOX)
    return np.array(small), scale


def _as_large(merged: Pixels, height: int, width: int) -> Pixels:
    """The master's picture at the size of its map."""
    merged = as_channels(merged)
    if merged.shape[:2] == (height, width):
        return merged
    if merged.shape[0] >= height and merged.shape[1] >= width:
        return reduced(merged, height, width)
    rows, columns = np.arange(height) * merged.shape[0] // height, np.arange(width) * merged.shape[1] // width
    return np.asarray(merged[rows[:, None], columns])


def _most_different(image: Pixels, merged: Pixels, place: Box) -> Box:
    """The square inside a place in which map and master differ most, summed over its texels."""
    height, width = image.shape[:2]
    left, top, right, bottom = place
    across, down = math.ceil((right - left) / _BLOCK), math.ceil((bottom - top) / _BLOCK)
    total = np.zeros((down + 1, across + 1))
    for row in range(down):
        y0, y1 = top + row * _BLOCK, min(top + (row + 1) * _BLOCK, bottom)
        one, other = (colors(picture[y0:y1, left:right]).astype(np.int16) for picture in (image, merged))
        apart = np.abs(one - other).max(axis=2).sum(axis=0, dtype=np.int64)
        total[row + 1, 1:] = np.add.reduceat(apart, np.arange(0, right - left, _BLOCK))
    total = total.cumsum(axis=0).cumsum(axis=1)
    wide, high = min(COMPARED // _BLOCK, across), min(COMPARED // _BLOCK, down)
    inside = total[high:, wide:] - total[:-high, wide:] - total[high:, :-wide] + total[:-high, :-wide]
    y, x = divmod(int(np.argmax(inside)), inside.shape[1])
    middle = (left + (x * _BLOCK) + wide * _BLOCK // 2, top + (y * _BLOCK) + high * _BLOCK // 2)
    return _about(middle, COMPARED, width, height)
