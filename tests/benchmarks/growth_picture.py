"""Speed as two pictures: a table of figures beside their peers, and the growth of every step from 1,000 triangles on.

    python -m tests.benchmarks.growth_picture            both, into tests/benchmarks/pictures/
    python -m tests.benchmarks.growth_picture growth     one of them: table or growth

Seconds are those of the processor, best of several turns, peer and step in turn; of whole processes also by the clock, which
tells the truth only on a machine that does nothing else. The machine and its load are written into the pictures.
"""

from __future__ import annotations

import itertools
import os
import platform
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from tests.benchmarks import growth
from tests.benchmarks.figures import Figure, figures
from tidegate.draw.canvas import blank, draw_lines, png_bytes
from tidegate.draw.palette import BLACK, BLUE, FAINT_INK, GREEN, INK, INNER_EDGE, ORANGE, PAPER, PURPLE, SKY, VERMILION
from tidegate.draw.text import font, line_height, width_of, wrapped

FOLDER = Path(__file__).parent / "pictures"
WIDTH, MARGIN, SMALL, PLAIN, LARGE = 1200, 36, 15, 18, 26

FAMILIES = {
    "labels": (VERMILION, ("weld positions", "weld corners", "edge mates", "label islands")),
    "areas, stretch, upright": (
        BLUE,
        (
            *(
                "gather UVs",
                "gather positions",
                "UV areas",
                "surface areas",
                "flat in tile",
                "winding",
                "singular values",
            ),
            *("island stretch", "density spread", "upright", "boxes"),
        ),
    ),
    "borders, stacks": (GREEN, ("twins", "borders", "outlines", "exact stacks", "straight stretches")),
    "overlap at 2048": (PURPLE, ("overlap at 2048",)),
    "gaps at 2048": (ORANGE, ("gaps at 2048",)),
    "topology": (
        SKY,
        (
            *("edge mates of positions", "edge faults", "split fans", "repeated triangles", "loose pieces"),
            *("thinness", "bends"),
        ),
    ),
}


def machine() -> str:
    """What the figures were taken on, and how busy it was."""
    load = f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    versions = f"Python {platform.python_version()}, NumPy {np.__version__}"
    return f"{platform.system()} {platform.machine()}, {cores} cores{load}; {versions}"


def table_picture(rows: Sequence[Figure]) -> Image.Image:
    """What was measured, ours, the peer's, how many times, what was wanted."""
    columns = ((MARGIN, "what"), (590, "tidegate"), (720, "peer"), (850, "times"), (950, "wanted"))
    step = line_height(PLAIN) + 8
    lines = [wrapped(row.what, PLAIN, columns[1][0] - MARGIN - 90) for row in rows]
    height = (
        2 * MARGIN + 2 * line_height(LARGE) + step + sum(step * len(line) for line in lines) + 2 * line_height(SMALL)
    )
    picture = Image.new("RGB", (WIDTH, height), PAPER)
    pen = ImageDraw.Draw(picture)
    pen.text((MARGIN, MARGIN), "Speed, beside peers measured in the same run", INK, font(LARGE))
    y = MARGIN + 2 * line_height(LARGE)
    for x, name in columns:
        pen.text((x, y), name, FAINT_INK, font(SMALL))
    for row, line in zip(rows, lines, strict=True):
        y += step
        pen.line((MARGIN, y - 5, WIDTH - MARGIN, y - 5), INNER_EDGE)
        cells = (row.ours, row.peer, row.ratio, f"{row.wanted}, {'held' if row.held else 'not held'}")
        for (x, _), text in zip(columns[1:], cells, strict=True):
            pen.text((x, y), text, INK, font(PLAIN))
        for number, part in enumerate(line):
            y += step * bool(number)
            pen.text((MARGIN, y), part, INK, font(PLAIN))
    pen.text((MARGIN, height - MARGIN - line_height(SMALL)), machine(), FAINT_INK, font(SMALL))
    return picture


def growth_curves(counts: Sequence[int], table: dict[str, list[float]]) -> Image.Image:
    """Milliseconds over triangles, both by powers of ten: families of steps, a sort of as many numbers, and n log n."""
    height, left, right, top, bottom = 860, 110, 850, 120, 760
    low_x, high_x, low_y, high_y = 2.9, 6.75, -2.0, 4.0

    def place(count: float, milliseconds: float) -> tuple[float, float]:
        x = left + (np.log10(count) - low_x) / (high_x - low_x) * (right - left)
        y = bottom - (np.log10(milliseconds) - low_y) / (high_y - low_y) * (bottom - top)
        return float(x), float(y)

    canvas = blank(WIDTH, height, PAPER)
    grid = [(*place(10.0**k, 10.0**low_y), *place(10.0**k, 10.0**high_y)) for k in (3, 4, 5, 6)]
    grid += [(*place(10.0**low_x, 10.0**k), *place(10.0**high_x, 10.0**k)) for k in range(-2, 5)]
    draw_lines(canvas, np.array(grid).T, 1.0, INNER_EDGE)
    sums = {
        name: [sum(table[step][k] for step in steps) * 1e3 for k in range(len(counts))]
        for name, (_, steps) in FAMILIES.items()
    }
    sort = [spent * 1e3 for spent in table[growth.YARDSTICK]]
    curves = [(name, FAMILIES[name][0], values) for name, values in sums.items()] + [
        ("np.sort of n numbers", BLACK, sort)
    ]
    ends = []
    for name, color, values in curves:
        points = [place(count, value) for count, value in zip(counts, values, strict=True)]
        draw_lines(canvas, np.array([(*a, *b) for a, b in itertools.pairwise(points)]).T, 3.0, color)
        own = growth.growth(counts, values, sort)
        ends.append((points[-1][1], name, f"grew {own[0]:.2f} times n log n, {own[1]:.2f} times the sort", color))
    for start in (0.02, 0.2, 2.0, 20.0):  # n log n through several heights, dashed
        each = np.geomspace(1000, 4e6, 80)
        values = start * each * np.log2(each) / (1000 * np.log2(1000))
        points = [place(count, value) for count, value in zip(each, values, strict=True)]
        dashes = [(*a, *b) for a, b in list(itertools.pairwise(points))[::2] if b[1] > top]
        draw_lines(canvas, np.array(dashes).T, 1.2, FAINT_INK)
    picture = Image.fromarray(canvas)
    pen = ImageDraw.Draw(picture)
    pen.text((MARGIN, MARGIN), "Growth of the steps from 1,000 to 4,000,000 triangles", INK, font(LARGE))
    pen.text(
        (MARGIN, MARGIN + line_height(LARGE)),
        "milliseconds of the processor over triangles; dashed: n log n",
        FAINT_INK,
        font(SMALL),
    )
    for k in (3, 4, 5, 6):
        text = f"{10**k:,}"
        pen.text((place(10.0**k, 1)[0] - width_of(text, SMALL) / 2, bottom + 8), text, INK, font(SMALL))
    for k in range(-2, 5):
        text = f"{10.0**k:,g} ms"
        pen.text((left - 8 - width_of(text, SMALL), place(1000, 10.0**k)[1] - SMALL / 2), text, INK, font(SMALL))
    y = float(top)
    for at, name, told, color in sorted(ends):
        y = max(y, at - line_height(SMALL))
        pen.line((right - 28, at, right - 4, y + SMALL / 2 + 2), color, 1)
        pen.text((right + 2, y), name, color, font(PLAIN))
        pen.text((right + 2, y + line_height(PLAIN) - 2), told, FAINT_INK, font(SMALL))
        y += line_height(PLAIN) + line_height(SMALL) + 6
    pen.text((MARGIN, height - MARGIN - line_height(SMALL)), machine(), FAINT_INK, font(SMALL))
    return picture


def main(asked: list[str]) -> int:
    FOLDER.mkdir(exist_ok=True)
    if not asked or "table" in asked:  # first: what this process has held counts for those it starts
        (FOLDER / "figures.png").write_bytes(png_bytes(table_picture(figures()), 9))
    if not asked or "growth" in asked:
        (FOLDER / "growth.png").write_bytes(png_bytes(growth_curves(*growth.measured()), 9))
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
