"""Layout work once, content work per map, beside the bare Pillow decode of the same maps, as ratios in one run.

`python -m tests.benchmarks.bench_pixels`. Times are processor time of this process, the least of three rounds. Memory is
what NumPy held at the peak, beyond the decoded map, as tracemalloc sees it.
"""

from __future__ import annotations

import argparse
import io
import time
import tracemalloc

import numpy as np
from PIL import Image, ImageDraw

from tidegate.pixels.albedo import albedo_range
from tidegate.pixels.background import background
from tidegate.pixels.bleed import bleed
from tidegate.pixels.border_bands import border_bands
from tidegate.pixels.differing import differing
from tidegate.pixels.fit import fit
from tidegate.pixels.flat import flatness
from tidegate.pixels.grey import greyness
from tidegate.pixels.histogram import histogram
from tidegate.pixels.master import compare_master
from tidegate.pixels.normal_length import normal_length
from tidegate.pixels.same_picture import signature
from tidegate.pixels.unpainted import unpainted

DEPTH = 23  # mip level 4


def islands_of(size, count, seed=0):
    """Round-ish polygons on a grid, 45 % of the tile or so."""
    rng = np.random.default_rng(seed)
    canvas = Image.new("I", (size, size), -1)
    draw = ImageDraw.Draw(canvas)
    side = int(np.ceil(np.sqrt(count)))
    cell = size / side
    for i in range(count):
        x, y = (i % side + 0.5) * cell, (i // side + 0.5) * cell
        angle, radius = np.sort(rng.uniform(0, 2 * np.pi, 12)), cell * rng.uniform(0.38, 0.49, 12)
        draw.polygon([(x + r * np.cos(a), y + r * np.sin(a)) for a, r in zip(angle, radius, strict=True)], fill=i)
    return np.asarray(canvas).astype(np.int32)


def base_color(labels, bands, painted_to):
    """A busy picture, the ground black where nothing is painted."""
    rng = np.random.default_rng(1)
    coarse = rng.integers(20, 235, (64, 64, 3), dtype=np.uint8)
    height, width = labels.shape
    image = np.asarray(Image.fromarray(coarse).resize((width, height), Image.Resampling.BICUBIC)).copy()
    image += rng.integers(0, 20, image.shape, dtype=np.uint8)
    image[bands.band > painted_to] = 0
    return image


def timed(work, rounds=3):
    best, result = float("inf"), None
    for _ in range(rounds):
        start = time.process_time()
        result = work()
        best = min(best, time.process_time() - start)
    return best, result


def held(work):
    """Peak bytes that `work` holds, its result included."""
    tracemalloc.start()
    work()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak


def content(image, labels, bands):
    """All of the content work on one base color map."""
    ground = background(image, bands)
    painted = differing(image, ground.color) if ground else None
    bleed(painted, bands, DEPTH)
    unpainted(painted, labels, bands.totals[:, 0])
    flatness(image, False)
    albedo_range(image, bands.band == 0)
    fit(image, bands)
    signature(image)


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--size", type=int, default=4096)
    asked.add_argument("--islands", type=int, default=200)
    options = asked.parse_args()
    texels = options.size**2
    labels = islands_of(options.size, options.islands)
    layout, bands = timed(lambda: border_bands(labels, options.islands, DEPTH))
    image = base_color(labels, bands, 12)
    decodes = {}
    for kind in ("png", "tga"):
        blob = io.BytesIO()
        Image.fromarray(image).save(blob, kind)
        decodes[kind], _ = timed(lambda blob=blob: np.asarray(Image.open(io.BytesIO(blob.getvalue()))))
    ground = background(image, bands)
    painted = differing(image, ground.color)
    inside = bands.band == 0
    good = base_color(labels, bands, 255)
    good[bands.band == 255] = 0
    rows = [
        ("layout: bands to depth 23, once", layout),
        ("background", timed(lambda: background(image, bands))[0]),
        ("differing", timed(lambda: differing(image, ground.color))[0]),
        ("bleed, short everywhere", timed(lambda: bleed(painted, bands, DEPTH))[0]),
        ("bleed, as it should be", timed(lambda: bleed(differing(good, ground.color), bands, DEPTH))[0]),
        ("unpainted", timed(lambda: unpainted(painted, labels, bands.totals[:, 0]))[0]),
        ("flatness", timed(lambda: flatness(image, False))[0]),
        ("albedo", timed(lambda: albedo_range(image, inside))[0]),
        ("fit", timed(lambda: fit(image, bands))[0]),
        ("signature", timed(lambda: signature(image))[0]),
        ("base color: all of the above per map, bleed short", timed(lambda: content(image, labels, bands))[0]),
        ("base color: all of the above per map, bleed right", timed(lambda: content(good, labels, bands))[0]),
        ("normal length", timed(lambda: normal_length(image, inside))[0]),
        ("greyness of equal channels", timed(lambda: greyness(np.repeat(image[:, :, :1], 3, axis=2)))[0]),
        ("histogram of one channel", timed(lambda: histogram(image[:, :, 0], inside))[0]),
        ("master against map, same size", timed(lambda: compare_master(image, image))[0]),
    ]
    print(f"{options.size} x {options.size}, {options.islands} islands, {100 * inside.mean():.0f} % covered")
    for kind, seconds in decodes.items():
        rows.append((f"Pillow decode, {kind.upper()}", seconds))
    print(f"{'work':<52} {'ns/texel':>9} {'x PNG':>7} {'x TGA':>7}")
    for name, seconds in rows:
        print(
            f"{name:<52} {seconds / texels * 1e9:>9.1f} {seconds / decodes['png']:>7.2f} {seconds / decodes['tga']:>7.2f}"
        )
    print(f"{'peak memory':<52} {'B/texel':>9}")
    print(
        f"{'layout, beyond the label raster (4)':<52} {held(lambda: border_bands(labels, options.islands, DEPTH)) / texels:>9.2f}"
    )
    print(f"{'bands kept':<52} {sum(v.nbytes for v in kept(bands)) / texels:>9.2f}")
    print(f"{'content, beyond map, labels and bands':<52} {held(lambda: content(image, labels, bands)) / texels:>9.2f}")


def kept(bands):
    return [
        getattr(bands, name)
        for name in ("band", "run_start", "run_length", "run_owner", "totals", "edge", "edge_owner")
    ]


if __name__ == "__main__":
    main()
