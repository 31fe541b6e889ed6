"""The scale beside a heat map: the ramp with figures in real units, what findings want on it, and the islands in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from tidegate.draw.heat_values import HeatValues
from tidegate.draw.legend import Line
from tidegate.draw.marks import Mark
from tidegate.draw.palette import FAINT_INK, INK, PAPER, TILE_EDGE
from tidegate.draw.ramp import STEPS, ramp
from tidegate.draw.text import line_height, wrapped, write
from tidegate.model.amounts import bound_of, figures
from tidegate.model.facts import Picture
from tidegate.model.wording import number, numbers

ENDS = 3  # figures told of either end of the scale
_BAR = 0.55  # height of the ramp, in parts of the layout's


def wanted_on(values: HeatValues, marks: Sequence[Mark]) -> HeatValues:
    """The values on a scale that reaches what the findings want, where that is told in the same unit."""
    ends = [values.low, values.high, *_wanted(values, marks)]
    return replace(values, low=min(ends), high=max(ends))


def _wanted(values: HeatValues, marks: Sequence[Mark]) -> dict[float, str]:
    """Figures that findings want, with their letters."""
    found: dict[float, str] = {}
    for mark in marks:
        wanted = mark.finding.wanted
        if mark.finding.unit == values.unit and isinstance(wanted, int | float) and 0 < wanted < math.inf:
            found[float(wanted)] = f"{found.get(float(wanted), '')} {mark.letter}".strip()
    return found


def scale_words(
    values: HeatValues, means: NDArray[np.float64], picture: Picture, marks: Sequence[Mark], text: int, width: int
) -> list[Line]:
    """The lines below the ramp: the findings with their figures, then the islands with theirs."""
    lines: list[Line] = []

    def add(words: str, *, bold: bool = False, faint: bool = False) -> None:
        ink = FAINT_INK if faint else INK
        lines.extend(Line(line, 0, ink, text, bold) for line in wrapped(words, text, width, bold=bold))

    for mark in marks:
        finding = mark.finding
        add(f"{mark.letter} {finding.level} {finding.check}", bold=True)
        bound = bound_of(finding.measured, finding.wanted, exact=finding.exact)
        add(figures(finding.measured, finding.wanted, finding.unit, bound))
    if lines:
        lines.append(Line("", 0, INK, text))
    for words in _islands(values, means, picture):
        add(words)
    if not np.isfinite(values.value).all():
        add("hatched: no area in the layout or on the surface", faint=True)
    return lines


def _islands(values: HeatValues, means: NDArray[np.float64], picture: Picture) -> list[str]:
    """The highest and the lowest figures with the islands that have them."""
    told: dict[str, list[int]] = {}
    rows = picture.islands[np.argsort(-means[picture.islands], kind="stable")]
    for row in rows[np.isfinite(means[rows])].tolist():
        told.setdefault(figure(float(means[row])), []).append(row + 1)
    if len(told) == 1:
        return [f"all islands: {next(iter(told))} {values.unit}"]
    lines = [
        f"{value} {values.unit}: island{'' if len(named) == 1 else 's'} {numbers(named)}"
        for value, named in told.items()
    ]
    if len(lines) <= 2 * ENDS:
        return lines
    return [*lines[:ENDS], f"and {len(lines) - 2 * ENDS} figures between", *lines[-ENDS:]]


def scale_height(layout: int, words: Sequence[Line], text: int) -> int:
    """Pixels that the scale takes. layout: height of the drawn layout."""
    return _bar_top(text) + _bar_height(layout, text) + text + len(words) * line_height(text)


def _bar_top(text: int) -> int:
    return line_height(text) + text // 2


def _bar_height(layout: int, text: int) -> int:
    return max(round(layout * _BAR), 8 * line_height(text))


def draw_scale(
    sheet: Image.Image,
    values: HeatValues,
    words: Sequence[Line],
    marks: Sequence[Mark],
    corner: tuple[int, int],
    layout: int,
    text: int,
) -> None:
    """The ramp with figures beside it and what the findings want, and below it the words."""
    draw = ImageDraw.Draw(sheet)
    x, y = corner
    bar, tall = round(2.2 * text), _bar_height(layout, text)
    write(draw, (x, y), values.unit if values.unit != "to 1" else "longer side to shorter", FAINT_INK, text)
    y += _bar_top(text)
    column = ramp()[np.linspace(STEPS - 1, 0, tall).round().astype(int)]
    sheet.paste(Image.fromarray(np.ascontiguousarray(np.broadcast_to(column[:, None], (tall, bar, 3)))), (x, y))
    draw.rectangle((x, y, x + bar - 1, y + tall - 1), None, TILE_EDGE)

    def height_of(value: float) -> int:
        return y + round((1 - math.log(value / values.low) / math.log(values.high / values.low)) * (tall - 1))

    thin = max(1, text // 12)
    taken: list[int] = []
    for value, letters in _wanted(values, marks).items():
        at = height_of(value)
        taken.append(at)
        draw.line((x - text // 3, at, x + bar + text // 2, at), PAPER, 5 * thin)
        draw.line((x - text // 3, at, x + bar + text // 2, at), INK, 3 * thin)
        write(
            draw,
            (x + bar + text, at),
            f"{figure(value)} {values.unit} wanted ({letters})",
            INK,
            text,
            anchor="lm",
            bold=True,
        )
    for tick in ticks(values.low, values.high):
        at = height_of(tick)
        if any(abs(at - other) < line_height(text) for other in taken):
            continue
        taken.append(at)
        draw.line((x + bar, at, x + bar + text // 2, at), TILE_EDGE, thin)
        write(draw, (x + bar + text, at), f"{figure(tick)} {values.unit}", INK, text, anchor="lm")
    y += tall + text
    for line in words:
        write(draw, (x, y), line.text, line.ink, line.size, bold=line.bold)
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
