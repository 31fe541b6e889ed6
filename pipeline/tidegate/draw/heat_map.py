"""Heat maps of density and stretch, with a scale in real units and the figure of every island that has room for it."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from tidegate.draw.canvas import blank, blend, fill
from tidegate.draw.edges import edges_of
from tidegate.draw.fault_sheet import header
from tidegate.draw.hatch import hatch
from tidegate.draw.heat_values import HeatValues
from tidegate.draw.inner_points import inner_points
from tidegate.draw.lines import line_coverage
from tidegate.draw.palette import FAINT_INK, INK, ISLAND, OUTLINE, OUTSIDE, PAPER, TILE_EDGE, Color
from tidegate.draw.placed import Placed, place
from tidegate.draw.ramp import STEPS, ramp, steps_of
from tidegate.draw.text import font, line_height, width_of, wrapped, write
from tidegate.draw.tile_frame import draw_tile, tile_border
from tidegate.geometry.raster import owners
from tidegate.model.facts import Facts, Picture
from tidegate.model.selection import COLLISION
from tidegate.model.view import FAULT_SHEET_PX, View, layout_view, margin, type_size
from tidegate.model.wording import number

EXTREMES = 5  # islands named at either end of the scale


def heat_maps(
    facts: Facts, values_of: Callable[[Placed, Picture], HeatValues], size: int = FAULT_SHEET_PX
) -> list[Image.Image]:
    """A heat map of every picture. values_of: `density_values` or `stretch_values`."""
    return [heat_map(facts, picture, values_of, size) for picture in heated(facts)]


def heated(facts: Facts) -> list[Picture]:
    """The pictures that a heat map is drawn of: nothing is painted on collision meshes."""
    return [picture for picture in facts.pictures if picture.role != COLLISION]


def heat_map(
    facts: Facts, picture: Picture, values_of: Callable[[Placed, Picture], HeatValues], size: int = FAULT_SHEET_PX
) -> Image.Image:
    """The heat map of one picture."""
    view = layout_view(facts, picture, size)
    placed = place(facts, picture, view)
    values = values_of(placed, picture)
    layout = _layout(facts, picture, view, placed, values, size)
    text, edge = type_size(size), margin(size)
    column = 20 * text
    sheet = Image.new("RGB", (view.left + view.width + edge + column + edge, view.top + view.height + edge), PAPER)
    sheet.paste(layout, (view.left, view.top))
    header(sheet, facts, picture, size, values.title)
    _scale(sheet, facts, picture, values, placed, (view.left + view.width + edge, view.top), view.height, size)
    return sheet


def _layout(facts: Facts, picture: Picture, view: View, placed: Placed, values: HeatValues, size: int) -> Image.Image:
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
    return _figures(canvas, facts, picture, owner, placed, values, size)


def _figures(
    canvas: NDArray[np.uint8],
    facts: Facts,
    picture: Picture,
    owner: NDArray[np.int32],
    placed: Placed,
    values: HeatValues,
    size: int,
) -> Image.Image:
    """The figure of each island, in black or white by what it stands on."""
    image = Image.fromarray(canvas)
    draw = ImageDraw.Draw(image)
    text = max(10, round(type_size(size) * 0.85))
    inner = inner_points(owner, len(facts.islands) if facts.islands is not None else 0)
    means = island_means(values, placed, len(inner.x))
    for row in picture.islands:
        told = figure(float(means[row]))
        wide, high = width_of(told, text) + 4, line_height(text)
        if 2 * inner.reach_x[row] < wide or 2 * inner.reach_y[row] < high or not math.isfinite(means[row]):
            continue
        x, y = float(inner.x[row]), float(inner.y[row])
        under = canvas[int(y), int(x)].astype(float) @ (0.2126, 0.7152, 0.0722)
        draw.text((x, y), told, INK if under > 110 else PAPER, font(text), anchor="mm")
    return image


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


def _scale(
    sheet: Image.Image,
    facts: Facts,
    picture: Picture,
    values: HeatValues,
    placed: Placed,
    corner: tuple[int, int],
    height: int,
    size: int,
) -> None:
    """The ramp with figures beside it, and the islands at its ends."""
    text = type_size(size)
    draw = ImageDraw.Draw(sheet)
    x, top = corner
    bar, tall = round(2.2 * text), round(height * 0.55)
    y = top + line_height(text)
    write(draw, (x, top), values.unit if values.unit != "to 1" else "longer side to shorter", FAINT_INK, text)
    y += text // 2
    column = ramp()[np.linspace(STEPS - 1, 0, tall).round().astype(int)]
    sheet.paste(Image.fromarray(np.ascontiguousarray(np.broadcast_to(column[:, None], (tall, bar, 3)))), (x, y))
    draw.rectangle((x, y, x + bar - 1, y + tall - 1), None, TILE_EDGE)
    last = -math.inf
    for tick in ticks(values.low, values.high):
        share = math.log(tick / values.low) / math.log(values.high / values.low)
        at = y + round((1 - share) * (tall - 1))
        if abs(at - last) < line_height(text):
            continue
        last = at
        draw.line((x + bar, at, x + bar + text // 2, at), TILE_EDGE, max(1, text // 12))
        write(draw, (x + bar + text, at), f"{figure(tick)} {values.unit}", INK, text, anchor="lm")
    y += tall + text
    means = island_means(values, placed, len(facts.islands) if facts.islands is not None else 0)
    ordered = [
        row for row in picture.islands[np.argsort(means[picture.islands], kind="stable")] if math.isfinite(means[row])
    ]
    alike = len(ordered) > 1 and figure(float(means[ordered[0]])) == figure(float(means[ordered[-1]]))
    ends = [("Highest", ordered[: -EXTREMES - 1 : -1])] if not alike else []
    if len(ordered) > EXTREMES and not alike:
        ends.append(("Lowest", ordered[: min(EXTREMES, len(ordered) - EXTREMES)]))
    lines: list[tuple[str, Color]] = []
    if alike:
        lines.append((f"all islands: {figure(float(means[ordered[0]]))} {values.unit}", INK))
    for heading, rows in ends:
        lines.append((heading, FAINT_INK))
        lines += [(f"island {int(row) + 1}: {figure(float(means[row]))} {values.unit}", INK) for row in rows]
    if not np.isfinite(values.value).all():
        lines += [
            (line, FAINT_INK) for line in wrapped("hatched: no area in the layout or on the surface", text, 20 * text)
        ]
    for line, ink in lines:
        if y + line_height(text) > sheet.height:
            break
        write(draw, (x, y), line, ink, text)
        y += line_height(text)


def figure(value: float) -> str:
    """Three digits, and no fewer than a number has before its point: as the report tells it."""
    return f"{value:.0f}" if value >= 100 else number(value, 3)


def ticks(low: float, high: float) -> list[float]:
    """Round figures from low to high, with both ends, for a logarithmic scale."""
    found = [low, high]
    steps = (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0)
    for power in range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1):
        for step in steps:
            value = step * 10.0**power
            if low * 1.04 < value < high / 1.04:
                found.append(value)
    return sorted(found)
