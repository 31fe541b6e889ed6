"""Heat maps of density and stretch, with a scale in real units and the figure of every island that has room for it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from tidegate.draw.canvas import blank, blend, fill
from tidegate.draw.edges import edges_of
from tidegate.draw.fault_sheet import header, model_first
from tidegate.draw.hatch import hatch
from tidegate.draw.heat_scale import draw_scale, figure, scale_height, scale_words, wanted_on
from tidegate.draw.heat_values import HeatValues
from tidegate.draw.inner_points import inner_points
from tidegate.draw.lines import line_coverage
from tidegate.draw.marks import Mark
from tidegate.draw.palette import INK, ISLAND, OUTLINE, OUTSIDE, PAPER, TILE_EDGE, ink_on
from tidegate.draw.placed import Placed, place
from tidegate.draw.ramp import ramp, steps_of
from tidegate.draw.text import font, line_height, width_of
from tidegate.draw.tile_frame import draw_tile, tile_border
from tidegate.geometry.raster import owners
from tidegate.model.facts import Facts, Picture
from tidegate.model.selection import COLLISION
from tidegate.model.view import FAULT_SHEET_PX, View, layout_view, margin, type_size

COLUMN = 20  # width of the scale with its words, in sizes of the type


def heat_maps(
    facts: Facts, values_of: Callable[[Placed, Picture], HeatValues], size: int = FAULT_SHEET_PX
) -> list[Image.Image]:
    """A heat map of every picture. values_of: `density_values` or `stretch_values`."""
    return [heat_map(facts, picture, values_of, size) for picture in heated(facts)]


def heated(facts: Facts) -> list[Picture]:
    """The pictures that a heat map is drawn of: nothing is painted on collision meshes."""
    return [picture for picture in model_first(facts.pictures) if picture.role != COLLISION]


def heat_map(
    facts: Facts,
    picture: Picture,
    values_of: Callable[[Placed, Picture], HeatValues],
    size: int = FAULT_SHEET_PX,
    marks: Sequence[Mark] = (),
) -> Image.Image:
    """The heat map of one picture. marks: the findings that it shows, with their letters on the islands they name and what
    they want on the scale."""
    view = layout_view(facts, picture, size)
    placed = place(facts, picture, view)
    values = wanted_on(values_of(placed, picture), marks)
    means = island_means(values, placed, len(facts.islands) if facts.islands is not None else 0)
    layout = _layout(picture, view, placed, values, means, marks, size)
    text, edge = type_size(size), margin(size)
    words = scale_words(values, means, picture, marks, text, COLUMN * text)
    high = max(view.height, scale_height(view.height, words, text))
    sheet = Image.new("RGB", (view.left + view.width + 2 * edge + COLUMN * text, view.top + high + edge), PAPER)
    sheet.paste(layout, (view.left, view.top))
    header(sheet, facts, picture, size, values.title)
    draw_scale(sheet, values, words, marks, (view.left + view.width + edge, view.top), view.height, text)
    return sheet


def _layout(
    picture: Picture,
    view: View,
    placed: Placed,
    values: HeatValues,
    means: NDArray[np.float64],
    marks: Sequence[Mark],
    size: int,
) -> Image.Image:
    thin = max(1.0, size / 1024)
    canvas = blank(view.width, view.height, OUTSIDE)
    draw_tile(canvas, view)
    triangle = owners(placed.pixels, np.arange(len(placed.row), dtype=np.int32), view.width, view.height)
    covered = triangle >= 0
    known = np.isfinite(values.value)
    shade = np.empty((len(known) + 1, 3), np.uint8)
    shade[:] = ISLAND
    shade[:-1][known] = ramp()[steps_of(values.value[known], values.low, values.high)]
    canvas[covered] = shade[triangle[covered]]
    nothing = covered & ~np.append(known, False)[triangle]
    step = max(6, round(size / 85))
    fill(canvas, nothing & hatch("lattice", view.width, view.height, step, max(1, step // 6)), INK)
    edges = edges_of(placed, inner=False)
    blend(canvas, line_coverage(edges.outline, 1.3 * thin, view.width, view.height), OUTLINE)
    blend(canvas, line_coverage(tile_border(view), 1.5 * thin, view.width, view.height), TILE_EDGE)
    owner = np.append(placed.row, np.int32(-1))[triangle]
    return _figures(canvas, picture, owner, means, marks, size)


def _figures(
    canvas: NDArray[np.uint8],
    picture: Picture,
    owner: NDArray[np.int32],
    means: NDArray[np.float64],
    marks: Sequence[Mark],
    size: int,
) -> Image.Image:
    """The figure of each island, behind the letters of the findings that name it, in dark or light ink by what it stands on."""
    image = Image.fromarray(canvas)
    draw = ImageDraw.Draw(image)
    text = max(10, round(type_size(size) * 0.85))
    inner = inner_points(owner, len(means))
    letters: dict[int, str] = {}
    for mark in marks:
        for row in mark.rows.tolist():
            letters[row] = f"{letters.get(row, '')}{mark.letter} "
    for row in picture.islands.tolist():
        if not math.isfinite(means[row]):
            continue
        told = figure(float(means[row]))
        ways = [(letters[row] + told,), (letters[row].strip(), told)] if row in letters else []
        for lines in (*ways, (told,)):
            wide, high = max(width_of(line, text) for line in lines) + 4, line_height(text) * len(lines)
            if 2 * inner.reach_x[row] >= wide and 2 * inner.reach_y[row] >= high:
                x, y = float(inner.x[row]), float(inner.y[row])
                under = canvas[_about(y, high, canvas.shape[0]), _about(x, wide, canvas.shape[1])].mean(axis=(0, 1))
                red, green, blue = under.round().astype(int).tolist()
                draw.text((x, y), "\n".join(lines), ink_on((red, green, blue)), font(text), anchor="mm", align="center")
                break
    return image


def _about(middle: float, length: int, end: int) -> slice:
    """The pixels along one axis that words of this length take."""
    start = min(max(int(middle - length / 2), 0), end - 1)
    return slice(start, max(start + 1, int(middle + length / 2)))


def island_means(values: HeatValues, placed: Placed, count: int) -> NDArray[np.float64]:
    """(i,) geometric mean over the layout of each island, NaN where there is none."""
    a, b = placed.pixels[1] - placed.pixels[0], placed.pixels[2] - placed.pixels[0]
    area = np.abs(a[0] * b[1] - a[1] * b[0])
    known = np.isfinite(values.value) & (area > 0)
    total = np.bincount(placed.row[known], area[known], count)
    logs = np.bincount(placed.row[known], area[known] * np.log(values.value[known]), count)
    means = np.full(count, np.nan)
    there = total > 0
    means[there] = np.exp(logs[there] / total[there])
    return means
