"""Whole processes against bare ones, in one run: python tests/benchmarks/bench_process.py

help    `tidegate --help` against `python -c pass`: at most 2.5 times that plus 60 ms
check   a prop of 20,000 triangles with three 2048 maps, against a bare script that imports NumPy and Pillow, loads the mesh
        with trimesh and decodes the maps: at most twice as long
Medians of runs that take turns, so that a busy machine hits both alike.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from PIL import Image

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "demo_project"))

from harbour.glb import write_glb
from harbour.meshes import Mesh

BARE = """
import sys, numpy, trimesh
from PIL import Image
trimesh.load(sys.argv[1], process=False)
for path in sys.argv[2:]:
    with Image.open(path) as picture:
        numpy.asarray(picture)
"""


def grid_prop(folder: Path, side: int = 100, px: int = 2048) -> tuple[Path, list[Path]]:
    """A hilly sheet of 2 x side x side triangles in one island, with three maps of noise, which compresses badly."""
    step = np.linspace(0, 1, side + 1)
    u, v = np.meshgrid(step, step)
    height = 0.05 * np.sin(7 * u) * np.cos(5 * v)
    positions = np.stack([u * 2, v * 2, height], axis=-1).reshape(-1, 3).astype(np.float32)
    at = np.arange((side + 1) ** 2).reshape(side + 1, side + 1)
    a, b, c, d = (x.ravel() for x in (at[:-1, :-1], at[:-1, 1:], at[1:, 1:], at[1:, :-1]))
    triangles = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)]).astype(np.uint32)
    uv = (np.stack([u, v], axis=-1).reshape(-1, 2) * 0.98 + 0.01).astype(np.float32)
    normals = np.tile(np.array([0, 0, 1], np.float32), (len(positions), 1))
    random = np.random.default_rng(7)
    maps = []
    for slot in ("base_color", "normal", "roughness"):
        path = folder / f"sail_{slot}.png"
        coarse = random.integers(60, 200, (px // 8, px // 8, 3), np.uint8)
        Image.fromarray(coarse.repeat(8, 0).repeat(8, 1)).save(path)
        maps.append(path)
    mesh = folder / "furniture_sail.glb"
    textures = {"canvas": {"base_color": maps[0].name, "normal": maps[1].name}}
    write_glb(mesh, [("sail", [Mesh("canvas", positions, normals, uv, triangles)])], textures)
    return mesh, maps


def seconds(command: list[str], environment: dict[str, str]) -> float:
    start = time.perf_counter()
    done = subprocess.run(command, capture_output=True, check=False, env=environment)
    assert done.returncode in (0, 1), done.stderr.decode()
    return time.perf_counter() - start


def medians(one: list[str], other: list[str], rounds: int) -> tuple[float, float]:
    first, second = [], []
    with tempfile.TemporaryDirectory() as folder:
        # Compiled modules are kept, as they are on any machine that has run the command before.
        kept = {**os.environ, "PYTHONPYCACHEPREFIX": folder}
        kept.pop("PYTHONDONTWRITEBYTECODE", None)
        seconds(one, kept)
        seconds(other, kept)
        for _ in range(rounds):
            first.append(seconds(one, kept))
            second.append(seconds(other, kept))
    return statistics.median(first), statistics.median(second)


def main() -> None:
    tidegate = str(Path(sys.executable).with_name("tidegate"))
    helped, bare = medians([tidegate, "--help"], [sys.executable, "-c", "pass"], 15)
    allowed = 2.5 * bare + 0.060
    print(f"help   {helped * 1e3:7.0f} ms   bare {bare * 1e3:5.0f} ms   allowed {allowed * 1e3:5.0f} ms")
    with tempfile.TemporaryDirectory() as folder:
        mesh, maps = grid_prop(Path(folder))
        for name in ("first_look", "furniture"):
            checked, plain = medians(
                [tidegate, "check", str(mesh), "--set", name],
                [sys.executable, "-c", BARE, str(mesh), *map(str, maps)],
                7,
            )
            print(f"check  {checked * 1e3:7.0f} ms   bare {plain * 1e3:5.0f} ms   ratio {checked / plain:.2f} ({name})")


if __name__ == "__main__":
    main()
