"""Paint: base color, normal and roughness by arithmetic, carried past every island edge."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .layout import GAP, Laid

BLEED = GAP // 2 - 1  # texels of color past the edge; panels stand GAP apart, so paint never meets
GROUND = (70, 70, 74)

# paint name -> color, roughness (0..255), stripes a metre, lettering
PAINTS: dict[str, tuple[tuple[int, int, int], int, float, str]] = {
    "cast_iron": ((92, 90, 96), 150, 0.0, ""),
    "rust": ((134, 84, 60), 205, 0.0, ""),
    "planks": ((152, 118, 80), 180, 9.0, ""),
    "red_planks": ((158, 70, 62), 175, 9.0, ""),
    "blue_planks": ((66, 96, 142), 175, 9.0, ""),
    "cork": ((176, 134, 92), 220, 0.0, ""),
    "brass": ((188, 150, 82), 90, 0.0, ""),
    "glass": ((190, 214, 206), 60, 0.0, ""),
    "stencil": ((152, 118, 80), 180, 9.0, "FISH"),
    "sign": ((226, 220, 196), 140, 0.0, "QUAY"),
}
# Letters on a grid of 5 x 7, a text row each, drawn for these props.
LETTERS = {
    "F": ("#####", "#....", "#....", "####.", "#....", "#....", "#...."),
    "I": (".###.", "..#..", "..#..", "..#..", "..#..", "..#..", ".###."),
    "S": (".####", "#....", "#....", ".###.", "....#", "....#", "####."),
    "H": ("#...#", "#...#", "#...#", "#####", "#...#", "#...#", "#...#"),
    "Q": (".###.", "#...#", "#...#", "#...#", "#.#.#", "#..#.", ".##.#"),
    "U": ("#...#", "#...#", "#...#", "#...#", "#...#", "#...#", ".###."),
    "A": (".###.", "#...#", "#...#", "#####", "#...#", "#...#", "#...#"),
    "Y": ("#...#", "#...#", ".#.#.", "..#..", "..#..", "..#..", "..#.."),
}

Map = NDArray[np.uint8]


def paint_maps(laid: Sequence[Laid], size: int, coat: str = "") -> dict[str, Map]:
    """Slot -> (size, size, 3 or none) uint8 maps, first row on top. coat: paint that takes the place of all planks."""
    color = np.empty((size, size, 3), np.uint8)
    color[:] = GROUND
    normal = np.empty((size, size, 3), np.uint8)
    normal[:] = (128, 128, 255)
    rough = np.full((size, size), 128, np.uint8)
    for item in laid:
        _paint(item, size, color, rough, coat)
    return {"base_color": color, "normal": normal, "roughness": rough}


def _paint(item: Laid, size: int, color: Map, rough: Map, coat: str) -> None:
    panel = item.panel
    x0, y0, x1, y1 = (int(v) for v in (item.box[0] - GAP, item.box[1] - GAP, item.box[2] + GAP, item.box[3] + GAP))
    x0, y0, x1, y1 = max(x0, 0), max(y0, 0), min(x1, size), min(y1, size)
    x, y = np.meshgrid(np.arange(x0, x1) + 0.5, np.arange(y0, y1) + 0.5)
    turn = np.radians(panel.turn)
    dx, dy = x - item.centre[0], y - item.centre[1]
    s = dx * np.cos(turn) + dy * np.sin(turn)
    t = -dx * np.sin(turn) + dy * np.cos(turn)
    if panel.mirrored:
        s = -s
    texels = item.density * panel.scale
    if panel.round:
        inside = np.hypot(s, t) <= panel.width / 2 * texels + BLEED
    else:
        beyond = np.hypot(
            np.maximum(np.abs(s) - panel.width / 2 * texels, 0), np.maximum(np.abs(t) - panel.height / 2 * texels, 0)
        )
        inside = beyond <= BLEED
    name = coat if coat and panel.paint.endswith("planks") else panel.paint
    base, roughness, stripes, word = PAINTS[name]
    s, t = s / texels + panel.width / 2, t / texels + panel.height / 2
    grain = _grain(s, t, sum(map(ord, panel.name)))
    shade = 0.9 + 0.1 * grain
    if stripes:
        shade = shade * np.where((t * stripes) % 1.0 < 0.06, 0.72, 1.0)
    painted = np.clip(np.array(base) * shade[..., None], 31, 240)
    if word:
        painted = np.where(_letters(word, s / panel.width, t / panel.height)[..., None], (52, 54, 66), painted)
    rows = slice(size - y1, size - y0)
    target, grey = color[rows, x0:x1], rough[rows, x0:x1]
    inside = inside[::-1]
    target[inside] = np.rint(painted[::-1][inside]).astype(np.uint8)
    grey[inside] = np.clip(np.rint(roughness + 16 * (grain[::-1][inside] - 0.5)), 8, 247).astype(np.uint8)


def _grain(s: NDArray[np.float64], t: NDArray[np.float64], seed: int) -> NDArray[np.float64]:
    """0..1, in whole steps of an integer hash, so that no library's sine decides a pixel."""
    a = np.floor(s * 96).astype(np.int64)
    b = np.floor(t * 40).astype(np.int64)
    mixed = (a * 73856093) ^ (b * 19349663) ^ (seed * 83492791)
    mixed = (mixed ^ (mixed >> 13)) * 1274126177 & 0x7FFFFFFF
    return (mixed % 256) / 255.0


def _letters(word: str, s: NDArray[np.float64], t: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Where lettering covers a panel, whose corners are (0, 0) and (1, 1); the word fills the middle two thirds."""
    columns = 6 * len(word) - 1
    column = np.floor((s - 1 / 6) * 1.5 * columns).astype(int)
    row = np.floor((5 / 6 - t) * 1.5 * 7).astype(int)
    grid = np.zeros((7, columns), bool)
    for place, letter in enumerate(word):
        for line, text in enumerate(LETTERS[letter]):
            for dot, mark in enumerate(text):
                grid[line, place * 6 + dot] = mark == "#"
    known = (column >= 0) & (column < columns) & (row >= 0) & (row < 7)
    return known & grid[np.clip(row, 0, 6), np.clip(column, 0, columns - 1)]
