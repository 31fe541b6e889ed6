"""OBJ reading, as ratios against trimesh (process=False) and other ways of reading numbers, in one run.

    python tests/benchmarks/bench_obj.py [triangles]

The file: a fishing net of patches with v, vt and vn, 1,000,000 triangles and about 100 MB unless told otherwise. Best
of three, the file warm in the cache. The second table reads the same decimals in the ways NumPy and Python offer.
"""

from __future__ import annotations

import io
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import trimesh

from tidegate.load.obj import read_obj
from tidegate.load.obj_decimals import PAD, parse_decimals
from tidegate.load.obj_vectors import word_bounds
from tidegate.load.references import DropFolder

ACROSS, UP = 23, 24  # corners of a patch: 22 x 23 quads


def best(call: Callable[[], object], times: int = 3) -> float:
    """Seconds of the fastest of a few calls."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        taken.append(time.perf_counter() - start)
    return min(taken)


def net(triangles: int, *, form: str = "plain") -> str:
    """An OBJ text. form: "plain"; "interleaved": each patch with its own v, vt, vn and f; "quads"; "relative"."""
    rng = np.random.default_rng(7)
    grid = np.stack(np.meshgrid(np.arange(ACROSS), np.arange(UP)), -1).reshape(-1, 2)
    corner = (np.arange(ACROSS - 1)[:, None] + ACROSS * np.arange(UP - 1)).ravel()
    quads = np.stack((corner, corner + ACROSS, corner + ACROSS + 1, corner + 1), axis=1)
    faces = quads if form == "quads" else np.concatenate((quads[:, [0, 1, 3]], quads[:, [3, 1, 2]]))
    by_patch = form in ("interleaved", "relative")
    patches = -(-triangles // (2 * len(quads)))
    head: list[str] = []
    tail: list[str] = []
    for patch in range(patches):
        x, z = grid[:, 0] * 0.05 + patch % 32 * 1.3, grid[:, 1] * 0.05 + patch // 32 * 1.3
        y = rng.normal(0, 0.02, len(grid))
        uv = grid / (ACROSS, UP) / 32 + (patch % 32 / 32, patch // 32 / 32)
        tilt = rng.normal(0, 0.1, (len(grid), 2))
        head += [f"v {a:.6f} {b:.6f} {c:.6f}" for a, b, c in zip(x, y, z, strict=True)]
        head += [f"vt {a:.6f} {b:.6f}" for a, b in uv]
        head += [f"vn {a:.4f} {1 - a * a - b * b:.4f} {b:.4f}" for a, b in tilt]
        base = -len(grid) if form == "relative" else patch * len(grid) + 1
        made = [" ".join(["f", *(f"{n}/{n}/{n}" for n in face)]) for face in (faces + base).tolist()]
        (head if by_patch else tail).extend(made)
    if not by_patch:
        # All of one kind together, as most exporters that write one object do.
        head.sort(key=lambda text: ("v ", "vt", "vn").index(text[:2]))
    return "\n".join(["o net", *head, *tail]) + "\n"


def main() -> None:
    triangles = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    print(f"{'file':<14}{'MB':>6}{'read_obj ms':>13}{'trimesh ms':>12}{'times faster':>14}")
    text = ""
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "net.obj"
        for form in ("plain", "interleaved", "relative", "quads"):
            text = net(triangles, form=form)
            path.write_text(text)
            mine = best(lambda: read_obj(DropFolder(Path(name)), "net.obj"))
            theirs = best(lambda: trimesh.load(path, process=False))
            size = path.stat().st_size / 1e6
            print(f"{form:<14}{size:>6.0f}{mine * 1e3:>13.0f}{theirs * 1e3:>12.0f}{theirs / mine:>14.1f}")
        crlf = text.replace("\n", "\r\n")
        path.write_text(crlf, newline="")
        print(
            f"{'quads, CRLF':<14}{len(crlf) / 1e6:>6.0f}{best(lambda: read_obj(DropFolder(Path(name)), 'net.obj')) * 1e3:>13.0f}"
        )
    numbers()


def numbers() -> None:
    """A million decimals in the ways that are there."""
    rng = np.random.default_rng(3)
    lines = [f"{a:.6f} {b:.6f} {c:.6f}" for a, b, c in rng.normal(0, 1, (333_333, 3)).tolist()]
    text = "\n".join(lines) + "\n"
    data = np.frombuffer(b" " * PAD + text.encode() + b" " * PAD, dtype=np.uint8)
    size = 1 << 20

    def ours() -> None:
        # As the reader does: a block that fits the cache at a time (cut anywhere here, only time matters).
        for low in range(PAD, len(data) - PAD, size):
            block = np.concatenate((data[:PAD], data[low : low + size], data[:PAD]))
            parse_decimals(block, *word_bounds(block, PAD, len(block) - PAD))

    ways: list[tuple[str, Callable[[], object]]] = [
        ("parse_decimals", ours),
        ("np.fromstring", lambda: np.fromstring(text, sep=" ")),
        ("map(float)", lambda: np.array(list(map(float, text.split())))),
        ("np.loadtxt", lambda: np.loadtxt(io.StringIO(text))),
    ]
    print()
    for name, way in ways:
        print(f"{name:<16}{best(way) * 1e3:>8.0f} ms for a million decimals")


if __name__ == "__main__":
    main()
