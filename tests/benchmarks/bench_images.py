"""Header reading and decoding of maps, as ratios against bare Pillow in the same run.

    python tests/benchmarks/bench_images.py [side]

Bare Pillow: Image.open, load, and the array. Best of five, files in memory. Pictures: noise over a gradient, as painted
maps pack neither perfectly nor not at all; and the same with an empty band below.
"""

from __future__ import annotations

import io
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PIL import Image

from tidegate.load.image_header import read_header
from tidegate.load.pixels import PixelLimits, decode

LIMITS = PixelLimits(decoded_bytes=1 << 32)
KINDS = [
    ("PNG", "a.png", {}),
    ("TGA", "a.tga", {}),
    ("TGA", "rle.tga", {"compression": "tga_rle"}),
    ("JPEG", "a.jpg", {"quality": 90}),
    ("TIFF", "lzw.tif", {"compression": "tiff_lzw"}),
]


def best(call: Callable[[], object], times: int = 5) -> float:
    """Processor seconds of the cheapest of a few calls; other work on the machine does not count."""
    taken = []
    for _ in range(times):
        start = time.process_time()
        call()
        taken.append(time.process_time() - start)
    return min(taken)


def painted(side: int, *, band: bool) -> Image.Image:
    rng = np.random.default_rng(5)
    ramp = np.linspace(20, 220, side)[:, None, None] + np.linspace(0, 20, side)[None, :, None]
    values = (ramp + rng.integers(0, 4, (side, side, 3))).astype(np.uint8)
    if band:
        values[-side // 16 :] = 0
    return Image.fromarray(values)


def bare(data: bytes) -> np.ndarray:
    with Image.open(io.BytesIO(data)) as picture:
        picture.load()
        return np.asarray(picture)


def main() -> None:
    side = int(sys.argv[1]) if len(sys.argv) > 1 else 2048
    print(f"{'file':24}{'header ms':>10}{'Pillow ms':>11}{'ours ms':>9}{'ratio':>7}")
    with tempfile.TemporaryDirectory() as folder:
        for band in (False, True):
            picture = painted(side, band=band)
            for format, name, options in KINDS:
                stream = io.BytesIO()
                picture.save(stream, format, **options)
                data = stream.getvalue()
                path = Path(folder) / name
                path.write_bytes(data)
                header = read_header(path, name)
                look = best(lambda path=path, name=name: read_header(path, name), 20)
                theirs = best(lambda data=data: bare(data))
                ours = best(lambda data=data, header=header: decode(data, header, LIMITS))
                title = f"{name} {side}{' black band' if band else ''}"
                print(f"{title:24}{look * 1e3:10.3f}{theirs * 1e3:11.1f}{ours * 1e3:9.1f}{ours / theirs:7.2f}")


if __name__ == "__main__":
    main()
