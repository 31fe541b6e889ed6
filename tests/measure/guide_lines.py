"""Guide sheets left in maps: `python -m tests.measure.guide_lines --cases 500`.

Each case is a random drop that is right under furniture (`random_drop.py`), with a guide over its base color as a layer would lie
there: our own guide sheet at the map's size, at half of it and scaled up, or every edge of every triangle as other tools draw
them, in one color and opacity. Printed: how often it is named in the map and, where it lies in the master alone, in the master;
how often the right drop is called wrong; and the same for painted lines that are no guide: a grid, and outlines of islands.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from tests.measure.clean_props import said
from tests.measure.random_drop import Array, RandomDrop, mesh, random_drop, write
from tests.pixels.synthetic import wilson
from tidegate import list_drop, read_names
from tidegate.draw.guide_layers import GuideLayers
from tidegate.load.drop import read_props
from tidegate.measure.measure import measure
from tidegate.model.finding import Finding

SET = "furniture"
IN_MAP, IN_MASTER = "guide-lines-left", "guide-left-in-master"
KINDS = ("own sheet", "own sheet, scaled up", "every triangle")


def wire_of(made: RandomDrop, kind: str) -> Array:
    """(H, W) 0 .. 1, how much of each texel the lines of the guide cover."""
    height, width = made.labels.shape
    if kind == "every triangle":
        _, _, uv, faces = mesh(made)
        canvas = Image.new("L", (width, height))
        pen = ImageDraw.Draw(canvas)
        for face in uv[faces]:
            corners = [(float(u * width) - 0.5, float((1 - v) * height) - 0.5) for u, v in face]
            pen.line([*corners, corners[0]], fill=255)
        return np.asarray(canvas) / 255
    scale = 2 if kind == "own sheet, scaled up" else 1
    with tempfile.TemporaryDirectory() as folder:
        drop = list_drop(write(made, Path(folder)), read_names())
        (prop,) = read_props(drop, read_names(), unit=1.0, up_axis="y")
    facts = measure(prop, {"islands", "upright"}, {"driving_slots": ["base_color"], "assumed_map_px": 512})
    drawn = GuideLayers(facts, facts.pictures[0], facts.pictures[0].islands, width // scale, height // scale).wire
    return np.asarray(Image.fromarray(drawn).resize((width, height), Image.Resampling.BICUBIC)) / 255


def over(image: Array, cover: Array, color: Array, opacity: float) -> Array:
    share = (np.clip(cover, 0, 1) * opacity)[:, :, None]
    return np.asarray(np.rint(image * (1 - share) + color * share).astype(np.uint8))


def grid_of(made: RandomDrop, rng: np.random.Generator) -> Array:
    """Panel lines that know nothing of the layout."""
    cover = np.zeros(made.labels.shape)
    cover[int(rng.integers(4, 20)) :: int(rng.integers(12, 40))] = 1
    cover[:, int(rng.integers(4, 20)) :: int(rng.integers(12, 40))] = 1
    return cover


def outlines_of(made: RandomDrop) -> Array:
    """A line painted two texels wide on the border of every island."""
    edge = np.zeros(made.labels.shape, bool)
    for axis in (0, 1):
        cut = np.diff(made.labels, axis=axis) != 0
        for start in (0, 1):
            edge[tuple(slice(start, start + cut.shape[k]) if k == axis else slice(None) for k in (0, 1))] |= cut
    return edge.astype(float)


def cases(seed: int) -> dict[str, bool]:
    """What was asked -> whether it came out right."""
    rng = np.random.default_rng([seed, 61])
    made = random_drop(seed, SET)
    if made.layout.repeats:
        return {}
    clean = made.maps["base_color"]
    told = {"right drop left alone": not _spoke(said(made, SET))}
    kind = KINDS[seed % len(KINDS)]
    color = rng.choice([0, 60, 255], 3)
    if abs(float(color.mean()) - float(clean.mean())) < 40:
        color = np.array([0, 0, 0])
    guide = over(clean, wire_of(made, kind), color, float(rng.uniform(0.4, 1)))
    for name, image, master in (
        (f"guide in map and master: {kind}", guide, guide),
        (f"guide in the master alone: {kind}", clean, guide),
        (f"guide in the map alone: {kind}", guide, clean),
    ):
        made.maps["base_color"], made.master = image, master
        found = _spoke(said(made, SET))
        wanted = IN_MASTER if "the master alone" in name else IN_MAP
        told[name] = wanted in {one.check for one in found}
        if wanted == IN_MAP and told[name]:
            told["named for certain where named in the map"] = any(f.certain for f in found if f.check == IN_MAP)
        if "map alone" in name:
            told["a master without the guide not accused"] = IN_MASTER not in {one.check for one in found}
    for name, cover in (("grid of lines", grid_of(made, rng)), ("painted outlines", outlines_of(made))):
        made.maps["base_color"] = made.master = over(clean, cover, color, 1.0)
        told[f"{name}: no warning"] = not any(one.level != "note" for one in _spoke(said(made, SET)))
    return told


def _spoke(found: tuple[Finding, ...]) -> list[Finding]:
    return [one for one in found if one.check in (IN_MAP, IN_MASTER)]


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--cases", type=int, default=500)
    asked.add_argument("--first", type=int, default=0)
    options = asked.parse_args()
    hits: Counter[str] = Counter()
    tries: Counter[str] = Counter()
    missed: dict[str, list[int]] = {}
    for seed in range(options.first, options.first + options.cases):
        for name, right in cases(seed).items():
            hits[name] += right
            tries[name] += 1
            if not right:
                missed.setdefault(name, []).append(seed)
    for name in sorted(tries):
        low, high = wilson(hits[name], tries[name])
        print(f"{name:<58} {hits[name]:>5} / {tries[name]:<5} {100 * hits[name] / tries[name]:6.2f} %", end=" ")
        print(f"[{100 * low:.2f}, {100 * high:.2f}]  {missed.get(name, [])[:8]}")


if __name__ == "__main__":
    main()
