"""Random layouts of flat pieces that are right under a given rule set: outlines on the surface, and where each lies in the tile.

Lengths are texels, y down. A piece of surface may be cut in two: then its halves meet on the surface and lie apart in the tile
(a seam), or lie side by side in the tile and apart on the surface. Nothing here is used by the checks.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely

from tests.pixels.synthetic import _cut as cut_in_two
from tests.pixels.synthetic import outline, raster

Array = np.ndarray[Any, Any]


@dataclass(frozen=True)
class Allowed:
    """What a shipped set lets pass. density: texels a metre. turns: quarter turns of the marker. lean: degrees it may be off.

    mirrored: islands may be. stacks: islands may lie exactly on each other, the twin mirrored. repeat: they may leave the tile.
    """

    density: float
    turns: tuple[int, ...] = (0,)
    lean: float = 8.0
    mirrored: bool = False
    stacks: bool = False
    repeat: bool = False


SETS = {
    "first_look": Allowed(512, turns=(0, 1, 2, 3), stacks=True),
    "handheld": Allowed(1024),
    "furniture": Allowed(512, stacks=True),
    "building_part": Allowed(256, turns=(0, 1, 3), mirrored=True, repeat=True),
}
SIZES = ((256, 256),) * 9 + ((512, 256), (256, 512), (512, 512))  # width, height
BETWEEN, BORDER = 8, 4  # texels, the widest gaps that a shipped set wants


@dataclass
class Island:
    """shape: (n, 2) on its sheet. turn, move: tile = turn @ shape + move. sheet: its number. twin: lies mirrored on this one."""

    shape: Array
    turn: Array
    move: Array
    sheet: int
    twin: bool = False

    @property
    def laid(self) -> Array:
        """(n, 2) in the tile."""
        return np.asarray(self.shape @ self.turn.T + self.move)

    def on_sheet(self, points: Array) -> Array:
        """Points of the tile, brought back to the sheet."""
        return np.asarray((points - self.move) @ np.linalg.inv(self.turn).T)


@dataclass
class Layout:
    """size: width, height. labels: (H, W) island of each texel, -1 outside. drawn: how often each feature occurs in it.

    seam: an island that is the second half of a piece cut by a seam, None without one.
    """

    size: tuple[int, int]
    islands: list[Island]
    sheets: int
    labels: Array
    drawn: Counter[str] = field(default_factory=Counter)
    seam: int | None = None

    @property
    def repeats(self) -> bool:
        return bool(self.drawn["leaves the tile"])

    def gap(self) -> float:
        """Texels between the two nearest islands that are no stack."""
        shapes = [shapely.Polygon(one.laid).buffer(0) for one in self.islands if not one.twin]
        gaps = [a.distance(b) for i, a in enumerate(shapes) for b in shapes[:i]]
        return min(gaps, default=float("inf"))


def random_layout(rng: np.random.Generator, allowed: Allowed) -> Layout:
    """A layout that has nothing wrong under a set, but that halves meeting in the tile leave no room between them."""
    size = SIZES[int(rng.integers(len(SIZES)))]
    count = int(rng.integers(2, 10))
    columns = max(1, round((count * size[0] / size[1]) ** 0.5))
    rows = -(-count // columns)
    cell = np.array([size[0] / columns, size[1] / rows])
    free = [(np.array([k % columns, k // columns]) + 0.5) * cell for k in rng.permutation(columns * rows)]
    drawn: Counter[str] = Counter()
    islands: list[Island] = []
    sheets, seam = 0, None
    while free and len(islands) < count:
        shape, how = _shape(rng, drawn)
        first, second = _turn(rng, allowed, drawn), _turn(rng, allowed, drawn)
        reach = max(np.ptp(shape @ turn.T, axis=0).max() for turn in (first, second))
        shape = shape * ((cell.min() - 2 * rng.uniform(BORDER + 1, BORDER + 4)) / reach)
        halves = cut_in_two(shape, rng) if how else [shape]
        if len(halves) < 2:
            how = ""  # the cut only grazed it
        place = free.pop() - _middle(shape, first)
        islands.append(Island(halves[0], first, np.round(place), sheets))
        if how == "seam" and free:
            seam = len(islands)
            drawn["cut by a seam"] += 1
            islands.append(Island(halves[1], second, np.round(free.pop() - _middle(halves[1], second)), sheets))
        elif how == "meeting":
            sheets += 1
            drawn["halves meet in the tile"] += 1
            islands.append(Island(halves[1], first, np.round(place), sheets))
        if allowed.stacks and rng.random() < 0.15:
            last = islands[-1]
            sheets += 1
            islands.append(Island(last.shape, last.turn, last.move, sheets, twin=True))
            drawn["mirrored twin in a stack"] += 1
        sheets += 1
    if allowed.repeat and rng.random() < 0.5:
        for one in islands:
            one.move = one.move + np.round(rng.uniform(-0.7, 0.7, 2) * size)
        drawn["leaves the tile"] += 1
    labels = raster([one.laid for one in islands], size[1], size[0])
    return Layout(size, islands, sheets, labels, drawn, seam)


def _shape(rng: np.random.Generator, drawn: Counter[str]) -> tuple[Array, str]:
    """An outline about the origin, of any size, and how it is to be cut: "" not at all, "seam" or "meeting"."""
    kind = str(rng.choice(["box", "box", "box", "ell", "blob", "sliver"]))
    # A border that leans by a degree or two is a fault of its own, so outlines are straight or clearly turned.
    angle = float(rng.choice([0.0, np.pi / 2, rng.uniform(0.1, np.pi / 2 - 0.1)]))
    drawn["outline turned"] += angle not in (0.0, np.pi / 2)
    drawn[f"outline {kind}"] += 1
    how = "" if kind == "ell" or rng.random() < 0.6 else str(rng.choice(["seam", "meeting"]))
    return outline(rng, kind, 1.0) @ _turned(angle).T, how


def _middle(shape: Array, turn: Array) -> Array:
    laid = shape @ turn.T
    return np.asarray((laid.min(axis=0) + laid.max(axis=0)) / 2)


def _turn(rng: np.random.Generator, allowed: Allowed, drawn: Counter[str]) -> Array:
    """From sheet to tile: as the set allows, often not turned at all."""
    quarter = int(rng.choice(allowed.turns))
    lean = 0.0
    if allowed.lean and rng.random() < 0.25:
        lean = float(rng.choice([-1, 1]) * rng.uniform(4, allowed.lean))
    matrix = _turned(quarter * np.pi / 2 + np.radians(lean))
    drawn["island turned by quarters"] += quarter > 0
    drawn["island leaning"] += lean != 0
    if allowed.mirrored and rng.random() < 0.3:
        matrix = matrix @ np.diag([-1.0, 1.0])
        drawn["island mirrored"] += 1
    return matrix


def _turned(angle: float) -> Array:
    cos, sin = np.cos(angle), np.sin(angle)
    exact = np.array([[cos, -sin], [sin, cos]])
    return np.round(exact) if np.allclose(exact, np.round(exact)) else exact
