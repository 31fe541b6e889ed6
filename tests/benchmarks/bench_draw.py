"""Speed of the guide sheet of a million triangles at 4096 texels, beside Pillow's own lines, as ratios in one run.

    python -m tests.benchmarks.bench_draw

Pillow's `ImageDraw.line` draws the same lines hard-edged, one call a line; ours are soft-edged. Every figure is the best
of several turns; peer and step take turns, so a busy machine slows both.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import numpy as np
from PIL import Image, ImageDraw

from tests.draw.laid_out import facts_of
from tidegate.draw.canvas import png_bytes
from tidegate.draw.guide_files import lines_png
from tidegate.draw.guide_layers import GuideLayers
from tidegate.draw.guide_sheets import guide_sheets
from tidegate.draw.lines import line_coverage
from tidegate.draw.quick_png import quick_png
from tidegate.model.facts import Facts
from tidegate.model.mesh import MeshPart, UvLayer

CELLS = 707  # quads a side: 999,698 triangles
SIZE = 4096
TURNS = 3


def wavy_sheet(*, polygons: bool) -> Facts:
    """One island of a million triangles, its corners shaken so that no line is level."""
    y, x = np.mgrid[0 : CELLS + 1, 0 : CELLS + 1]
    points = np.stack([x.ravel(), y.ravel(), 2 * np.sin(x.ravel() / 9) * np.cos(y.ravel() / 7)], axis=1).astype(float)
    shaken = points[:, :2] + np.random.default_rng(0).uniform(-0.2, 0.2, (len(points), 2))
    start = (y[:-1, :-1] * (CELLS + 1) + x[:-1, :-1]).ravel()
    quads = np.stack([start, start + 1, start + CELLS + 2, start, start + CELLS + 2, start + CELLS + 1], axis=1)
    triangles = quads.reshape(-1, 3).astype(np.int32)
    layer = UvLayer(0, "vt", shaken / CELLS * 0.96 + 0.02, triangles)
    polygon = np.repeat(np.arange(CELLS * CELLS, dtype=np.int32), 2) if polygons else None
    part = MeshPart("net", "net", 0, points, triangles, (layer,), polygon=polygon, role="model")
    return facts_of([part], size=(SIZE, SIZE), needs=("islands",))


def sheet(facts: Facts) -> GuideLayers:
    """Its only guide sheet, with nothing drawn yet."""
    return next(guide_sheets(facts, SIZE))[1]


def best(*steps: Callable[[], Any]) -> list[tuple[float, float]]:
    """Best seconds of each step by the clock and of the processor, the steps taking turns."""
    found = [(np.inf, np.inf)] * len(steps)
    for _ in range(TURNS):
        for number, step in enumerate(steps):
            clock, processor = time.perf_counter(), time.process_time()
            step()
            clock, processor = time.perf_counter() - clock, time.process_time() - processor
            found[number] = (min(found[number][0], clock), min(found[number][1], processor))
    return found


def main() -> None:
    with_polygons, without = wavy_sheet(polygons=True), wavy_sheet(polygons=False)
    layers = sheet(with_polygons)
    inner = layers.edges.inner
    rows = inner.T.tolist()
    picture = np.zeros((SIZE, SIZE, 4), np.uint8)
    picture[..., 3] = layers.wire

    def pillow_lines() -> None:
        draw = ImageDraw.Draw(Image.new("L", (SIZE, SIZE)))
        for row in rows:
            draw.line(row, 255)

    names = (
        "whole sheet, polygons kept",
        "whole sheet, triangles only",
        "lines",
        "Pillow's lines",
        "PNG",
        "Pillow's PNG",
    )
    times = best(
        lambda: lines_png(sheet(with_polygons), (255, 255, 255)),
        lambda: lines_png(sheet(without), (255, 255, 255)),
        lambda: line_coverage(inner, 1.0, SIZE, SIZE),
        pillow_lines,
        lambda: quick_png(picture),
        lambda: png_bytes(Image.fromarray(picture), 1),
    )
    for name, (clock, processor) in zip(names, times, strict=True):
        print(f"{name:30} {clock:6.2f} s by the clock, {processor:6.2f} s of the processor")
    print(f"lines: {times[2][0] / times[3][0]:.2f} of Pillow's time for {len(rows):,} lines")
    print(f"PNG: {times[4][0] / times[5][0]:.2f} of Pillow's time")


if __name__ == "__main__":
    main()
