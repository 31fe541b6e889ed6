"""What `examine` does with the pixels of a prop under furniture, beside the bare Pillow decode of the same maps, in one run.

`python -m tests.benchmarks.wired_pixels --size 4096`: four maps on 200 islands, as PNG and as TGA, painted 6 texels past their
islands and, a second time, not past them at all. Decoding, layout work and content work are told apart: functions are timed
where they are called, each without what it calls that is timed itself, in processor time, the least of some rounds. Memory is
what Python and NumPy held at the peak, as tracemalloc sees it, and what a process of its own held at most (VmHWM of Linux).
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
import tracemalloc
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from tests.support.gltf_writer import GltfBuilder, write_glb
from tidegate import Terms, examine, list_drop, read_names
from tidegate.load.picture_reader import DiskPictures
from tidegate.measure import decoded, painted_layout

SET = "furniture"
SLOTS = ("base_color", "normal", "roughness", "metalness")
DENSITY = 1024.0  # texels a metre, so that the prop is no larger than furniture is; its density is then told, which costs nothing
TIMED = {
    "decode": ((DiskPictures, "pixels"), (DiskPictures, "merged"), (DiskPictures, "layers")),
    "layout": ((painted_layout, "place"), (painted_layout, "owners"), (painted_layout, "border_bands")),
    "content": (
        (decoded, "measure_map"),
        (decoded, "signature"),
        (decoded, "measure_painted"),
        (decoded, "compared"),
        (decoded, "seam_edges"),
    ),
    "all": ((decoded, "measure_decoded"),),
}


def rings(rng: np.random.Generator, size: int, islands: int) -> Iterator[np.ndarray]:
    """Outlines of twelve corners, texels with y up, one in each cell of a grid."""
    side = int(np.ceil(np.sqrt(islands)))
    cell = size / side
    for i in range(islands):
        middle = np.array([i % side + 0.5, i // side + 0.5]) * cell
        angle = (np.arange(12) + rng.uniform(0, 0.6, 12)) * np.pi / 6
        radius = cell * rng.uniform(0.38, 0.46, 12)
        yield middle + np.stack([np.cos(angle), np.sin(angle)], axis=1) * radius[:, None]


def drop(folder: Path, size: int, islands: int, kind: str, maps: dict[str, np.ndarray]) -> Path:
    """A furniture prop of flat pieces, one an island on a grid, with its maps saved in one format."""
    where = folder / "furniture_net_rack"
    where.mkdir(parents=True)
    points, uv, faces = [], [], []
    for i, ring in enumerate(rings(np.random.default_rng(0), size, islands)):
        laid = np.concatenate([ring.mean(axis=0)[None], ring])
        faces += [(13 * i, 13 * i + 1 + k, 13 * i + 1 + (k + 1) % 12) for k in range(12)]
        uv.append(laid / size)
        points.append(np.column_stack([laid / DENSITY, np.zeros(13)]))
    build = GltfBuilder()
    material = build.material("tarred_rope", base_color=f"net_rack_base_color.{kind}", normal=f"net_rack_normal.{kind}")
    where_points = np.concatenate(points)
    where_points -= where_points.mean(axis=0)
    build.mesh(
        "rack",
        where_points,
        faces,
        uvs=[np.concatenate(uv)],
        normals=np.tile([0.0, 0.0, 1.0], (len(where_points), 1)),
        material=material,
    )
    write_glb(where / "furniture_net_rack.glb", build)
    for slot, image in maps.items():
        Image.fromarray(image).save(where / f"net_rack_{slot}.{kind}")
    return where


class Clock:
    """Processor seconds by name, without what is timed inside."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = defaultdict(float)
        self.inside: list[float] = []

    def timed(self, name: str, work: Callable[..., Any]) -> Callable[..., Any]:
        def run(*given: Any, **named: Any) -> Any:
            self.inside.append(0.0)
            start = time.process_time()
            try:
                return work(*given, **named)
            finally:
                taken = time.process_time() - start
                self.seconds[name] += taken - self.inside.pop()
                if self.inside:
                    self.inside[-1] += taken

        return run

    @contextmanager
    def watching(self) -> Iterator[None]:
        kept = [(owner, name, getattr(owner, name)) for pairs in TIMED.values() for owner, name in pairs]
        for group, pairs in TIMED.items():
            for owner, name in pairs:
                setattr(owner, name, self.timed(f"{group}: {name}", getattr(owner, name)))
        try:
            yield
        finally:
            for owner, name, work in kept:
                setattr(owner, name, work)

    def total(self, group: str) -> float:
        return sum(seconds for name, seconds in self.seconds.items() if name.startswith(f"{group}:"))


def examined(where: Path) -> Any:
    names = read_names()
    (verdict,) = examine(list_drop(where, names), Terms(scheme=names, rule_set=SET, forced_set=True))
    return verdict


def clocked(where: Path, rounds: int = 3) -> Clock:
    """The round that took least."""
    best: Clock | None = None
    for _ in range(rounds):
        clock = Clock()
        with clock.watching():
            start = time.process_time()
            examined(where)
            clock.seconds["examine"] = time.process_time() - start
        if best is None or clock.seconds["examine"] < best.seconds["examine"]:
            best = clock
    assert best is not None
    return best


def bare_decode(where: Path, rounds: int = 3) -> float:
    """Processor seconds of Pillow for the same maps, the least of some rounds."""
    taken = []
    for _ in range(rounds):
        start = time.process_time()
        for path in _maps(where):
            with Image.open(path) as picture:
                np.asarray(picture)
        taken.append(time.process_time() - start)
    return min(taken)


def peak_beyond_map(where: Path) -> int:
    """Bytes that measuring the pixels holds at most, beyond the map decoded at that time and what was held before."""
    beyond, image_bytes = 0, 0
    plain, whole, one_map = DiskPictures.pixels, decoded.measure_decoded, decoded._Walk.one_map

    def pixels(self: DiskPictures, texture: Any) -> Any:
        nonlocal image_bytes
        image = plain(self, texture)
        image_bytes = image.nbytes
        tracemalloc.reset_peak()  # what Pillow needs while it decodes is not ours
        return image

    def measured(*given: Any) -> Any:
        tracemalloc.start()
        try:
            return whole(*given)
        finally:
            tracemalloc.stop()

    def walked(self: Any, *given: Any) -> None:
        nonlocal beyond
        one_map(self, *given)
        beyond = max(beyond, tracemalloc.get_traced_memory()[1] - image_bytes)

    with (
        patch.object(DiskPictures, "pixels", pixels),
        patch.object(decoded, "measure_decoded", measured),
        patch.object(decoded._Walk, "one_map", walked),
    ):
        examined(where)
    return beyond


def resident(code: str, where: Path) -> int:
    """Bytes that a process of its own held at most."""
    text = f"import sys; from pathlib import Path; where = Path(sys.argv[1]); from tests.benchmarks import wired_pixels; {code}"
    # Not ru_maxrss: that keeps what the process held before it began this program.
    text += (
        "; print(next(int(line.split()[1]) << 10 for line in open('/proc/self/status') if line.startswith('VmHWM')))"
    )
    done = subprocess.run([sys.executable, "-c", text, str(where)], capture_output=True, text=True, check=True)
    return int(done.stdout.splitlines()[-1])


def _maps(where: Path) -> list[Path]:
    return sorted(path for path in where.iterdir() if path.suffix in (".png", ".tga"))


def maps_of(size: int, islands: int, past: int) -> dict[str, np.ndarray]:
    """Busy maps, painted so many texels past the outlines that `drop` lays out."""
    rng, outlines = np.random.default_rng(1), np.random.default_rng(0)
    canvas = Image.new("L", (size, size), 0)
    draw = ImageDraw.Draw(canvas)
    for ring in rings(outlines, size, islands):
        draw.polygon([(float(x), float(size - y)) for x, y in ring], fill=255, outline=255)
    if past:
        canvas = canvas.filter(ImageFilter.MaxFilter(2 * past + 1))
    outside = np.asarray(canvas) == 0
    coarse = Image.fromarray(rng.integers(20, 235, (64, 64, 3), dtype=np.uint8))
    color = np.asarray(coarse.resize((size, size), Image.Resampling.BICUBIC)) // 2
    color = color + rng.integers(40, 60, color.shape, dtype=np.uint8)
    lean = color[:, :, :2] // 8 + 112
    made = {
        "base_color": (color, 0),
        "normal": (np.concatenate([lean, np.full((size, size, 1), 255, np.uint8)], axis=2), (128, 128, 255)),
        "roughness": (color[:, :, 1].copy(), 0),
        "metalness": (np.where(color[:, :, 2] > 100, 255, 0).astype(np.uint8), 0),
    }
    for image, ground in made.values():
        image[outside] = ground
    return {slot: image for slot, (image, _) in made.items()}


def report(where: Path, size: int, title: str, rounds: int) -> None:
    texels = size * size
    clock, plain = clocked(where, rounds), bare_decode(where, rounds)
    print(f"\n{title}\n| work | ns a texel | beside Pillow's decode of the four maps |\n|---|---|---|")

    def line(text: str, seconds: float) -> None:
        print(f"| {text} | {seconds / texels * 1e9:.1f} | {seconds / plain:.2f} |")

    line("Pillow's bare decode of the four maps", plain)
    line("our decode of the four maps", clock.total("decode"))
    line("layout work, once", clock.total("layout"))
    line("content work, all four maps", clock.total("content"))
    line("content work, a map", clock.total("content") / len(SLOTS))
    line("whole examine, geometry too", clock.seconds["examine"])
    for name, seconds in sorted(clock.seconds.items(), key=lambda pair: -pair[1]):
        if ": " in name and seconds / texels > 0.4e-9:
            line(f"- {name}", seconds)
    print(f"| peak beyond the decoded map | {peak_beyond_map(where) / texels:.2f} bytes a texel | |")


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--size", type=int, default=4096)
    asked.add_argument("--islands", type=int, default=200)
    asked.add_argument("--rounds", type=int, default=3)
    options = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        for past in (6, 0):
            maps = maps_of(options.size, options.islands, past)
            for kind in ("png", "tga"):
                where = drop(Path(folder) / f"{kind}{past}", options.size, options.islands, kind, maps)
                report(where, options.size, f"{kind.upper()}, painted {past} texels past the islands", options.rounds)
                if past:
                    base = f"where / 'net_rack_base_color.{kind}'"
                    one = resident(f"import numpy; from PIL import Image; numpy.asarray(Image.open({base}))", where)
                    both = resident("wired_pixels.examined(where)", where)
                    print(f"process: Pillow and the base color alone {one >> 20} MiB, whole examine {both >> 20} MiB")


if __name__ == "__main__":
    main()
