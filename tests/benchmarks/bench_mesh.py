"""Topology and shading of meshes, in one run beside trimesh: python tests/benchmarks/bench_mesh.py [TRIANGLES]

all      every fact that the furniture set's mesh checks ask for, of one mesh, weld included
trimesh  the same mesh: vertices merged, edges grouped, watertight and winding told, volume
growth   time a triangle at sizes that double, over that of the smallest: 1 is linear
Best of three, in turns, in seconds of the processor, so that a busy machine changes little.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import trimesh

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.geometry.shapes import grid
from tidegate.measure.measure import measure
from tidegate.model.mesh import MeshFile, MeshPart
from tidegate.model.prop import Prop


def hills(triangles: int) -> MeshPart:
    """A sheet of that many triangles, every quad with vertices of its own, as after an export with a seam at each."""
    side = round((triangles / 2) ** 0.5)
    sheet = grid(side, side)
    points = sheet.positions.copy()
    points[:, 2] = np.sin(points[:, 0] * 0.1) * np.cos(points[:, 1] * 0.07)
    quads = sheet.triangles.reshape(-1, 6)
    corners = np.stack([quads[:, 0], quads[:, 1], quads[:, 2], quads[:, 5]], axis=1)
    own = np.arange(corners.size, dtype=np.int32).reshape(-1, 4)
    faces = np.ascontiguousarray(own[:, [0, 1, 2, 0, 2, 3]].reshape(-1, 3))
    positions = points[corners.reshape(-1)]
    normals = np.tile([0.0, 0.0, 1.0], (len(positions), 1))
    return MeshPart("hills", "hills", -1, positions, faces, normals=normals, normal_triangles=faces)


def ours(part: MeshPart) -> None:
    prop = Prop("hills", (MeshFile("hills.glb", "glb", (part,)),))
    facts = measure(prop, ("topology", "shading"), {})
    (body,), (shading,) = facts.topology, facts.shading
    for spots in (body.turned, body.doubled, body.back_to_back, body.flat):
        assert spots.total == 0
    assert len(body.pieces) == 1
    shading.leaning(90.0)
    shading.off_length(0.01)


def theirs(part: MeshPart) -> None:
    mesh = trimesh.Trimesh(part.positions, part.triangles, process=False)
    mesh.merge_vertices()
    assert len(np.unique(mesh.edges_unique_inverse)) and not mesh.is_watertight
    assert mesh.is_winding_consistent
    mesh.volume  # noqa: B018 - computed when asked for


def best(*work: Callable[[], None]) -> list[float]:
    times = [[] for _ in work]  # type: list[list[float]]
    for _ in range(3):
        for taken, one in zip(times, work, strict=True):
            start = time.process_time()
            one()
            taken.append(time.process_time() - start)
    return [min(taken) for taken in times]


def main(triangles: int) -> None:
    part = hills(triangles)
    own, other = best(lambda: ours(part), lambda: theirs(part))
    print(
        f"all     {len(part.triangles):>9,} triangles  {own * 1e3:8.0f} ms   trimesh {other * 1e3:8.0f} ms   "
        f"{other / own:.1f} times"
    )
    sizes = [triangles // 16, triangles // 8, triangles // 4, triangles // 2, triangles]
    first = 0.0
    for size in sizes:
        part = hills(size)
        (taken,) = best(lambda part=part: ours(part))
        each = taken / len(part.triangles)
        first = first or each
        print(f"growth  {len(part.triangles):>9,} triangles  {taken * 1e3:8.0f} ms   {each / first:.2f} a triangle")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
