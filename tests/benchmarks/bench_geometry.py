"""Speed of the geometry steps, beside peers, as ratios in one run.

    python -m tests.benchmarks.bench_geometry            everything
    python -m tests.benchmarks.bench_geometry growth     one part: labels, stretch, overlap or growth

Every figure is the best of several turns; peer and step take turns, so a busy machine slows both.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np

from tests.benchmarks import growth as steps
from tests.benchmarks import peers


def best(turns: int, *steps: Callable[[], Any]) -> list[float]:
    """Best milliseconds of each step, the steps taking turns."""
    times = [float("inf")] * len(steps)
    for _ in range(turns):
        for k, step in enumerate(steps):
            begin = time.perf_counter()
            step()
            times[k] = min(times[k], (time.perf_counter() - begin) * 1e3)
    return times


def row(what: str, ours: float, peer: float, wanted: float) -> None:
    print(f"{what:58s} {ours:9.1f} ms {peer:9.1f} ms {peer / ours:7.1f} x   wanted {wanted:g} x")


def labels() -> None:
    pair = peers.labels()
    assert len(np.unique(pair.peer())) == pair.ours()[1] == 1000
    row("label islands, 968,000 triangles / trimesh face adjacency", *best(5, pair.ours, pair.peer), pair.wanted)


def singular_values() -> None:
    pair = peers.singular_values()
    np.testing.assert_allclose(np.stack(pair.ours(), axis=1), pair.peer(), rtol=1e-9)
    row("singular values, 968,000 triangles / np.linalg.svd", *best(5, pair.ours, pair.peer), pair.wanted)


def overlaps() -> None:
    pair = peers.overlaps()
    print(f"  shared area: {pair.ours().between / 2048**2:.6f} by texels, {pair.peer():.6f} exact")
    row("overlap, 96,800 triangles at 2048 / shapely exact", *best(3, pair.ours, pair.peer), pair.wanted)


def growth() -> None:
    """Every step from 1,000 to 4,000,000 triangles, in nanoseconds per triangle, and its growth over n log n and over a sort."""
    counts, table = steps.measured()
    print(f"{'nanoseconds per triangle':28s}" + "".join(f"{count:>11,}" for count in counts) + "   n log n  the sort's")
    for name, seconds in table.items():
        each = [spent / count * 1e9 for spent, count in zip(seconds, counts, strict=True)]
        grown, beyond = steps.growth(counts, seconds, table[steps.YARDSTICK])
        print(f"{name:28s}" + "".join(f"{value:11.1f}" for value in each) + f"{grown:10.2f}{beyond:12.2f}")


PARTS = {"labels": labels, "stretch": singular_values, "overlap": overlaps, "growth": growth}


def main(asked: list[str]) -> int:
    for name in asked or list(PARTS):
        if name not in PARTS:
            print(f"no part {name}; there are {', '.join(PARTS)}", file=sys.stderr)
            return 2
        PARTS[name]()
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
