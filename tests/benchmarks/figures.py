"""The figures of speed beside their peers, each pair in one run: what the table in the README is drawn from."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from tests.benchmarks import bench_draw, peers
from tests.benchmarks.bench_images import best
from tests.benchmarks.growth import layout
from tidegate.measure.measure import measure
from tidegate.model.mesh import MeshFile, MeshPart, UvLayer
from tidegate.model.prop import Prop

SETTINGS: Mapping[str, Any] = {"driving_slots": ["base_color"], "assumed_map_px": 2048}
WITHOUT_TEXELS = ("upright", "unfolding", "cuts", "topology", "shading", "levels")


class Figure(NamedTuple):
    """what was measured; ours and the peer's time in words; ratio: how many times faster; wanted: of it; held: it is so."""

    what: str
    ours: str
    peer: str
    ratio: str
    wanted: str
    held: bool


def figures() -> list[Figure]:
    """All of them; takes a few minutes."""
    return [*_whole_processes(), *_small_prop(), *_guide_sheets(), *_beside_peers()]


def in_words(seconds: float) -> str:
    return f"{seconds:.2f} s" if seconds >= 1.0 else f"{seconds * 1e3:.0f} ms"


def _beside(what: str, pair: peers.Pair, turns: int = 6) -> Figure:
    times = [(best(pair.ours, 1), best(pair.peer, 1)) for _ in range(turns)]
    own, other = (min(each) for each in zip(*times, strict=True))
    held = other / own >= pair.wanted
    return Figure(what, in_words(own), in_words(other), f"{other / own:.1f}", f"{pair.wanted:g} times", held)


def _beside_peers() -> list[Figure]:
    return [
        _beside("island labels of 968,000 welded triangles; trimesh, by face adjacency", peers.labels()),
        _beside(
            "singular values of 968,000 triangles; np.linalg.svd, its matrices made beforehand", peers.singular_values()
        ),
        _beside("overlap of 96,800 triangles at 2048; shapely, the exact area", peers.overlaps()),
    ]


def _small_prop() -> list[Figure]:
    points, triangles, uv = layout(20, 22)
    normals = np.tile([0.0, 0.0, 1.0], (len(points), 1))
    part = MeshPart(
        "net",
        "net",
        -1,
        points,
        triangles,
        (UvLayer(0, "uv", uv, triangles),),
        normals=normals,
        normal_triangles=triangles,
    )
    prop = Prop("net", (MeshFile("net.glb", "glb", (part,)),))

    def facts(*groups: str) -> None:
        found = measure(prop, groups, SETTINGS)
        for body in found.topology:
            body.ahead()
        for shading in found.shading:
            shading.leaning(90.0)
            shading.off_length(0.01)

    found = []
    for what, groups, wanted in (
        ("no texels", WITHOUT_TEXELS, 0.1),
        ("and texels at 2048", (*WITHOUT_TEXELS, "coverage", "spacing"), 0.3),
    ):
        spent = best(lambda groups=groups: facts(*groups))  # type: ignore[misc] - no type for a bound default
        found.append(
            Figure(
                f"facts of 19,360 triangles, {what}", in_words(spent), "", "", f"{in_words(wanted)}", spent <= wanted
            )
        )
    return found


def _guide_sheets() -> list[Figure]:
    found = []
    for name, polygons in (("polygons kept, as OBJ", True), ("triangles alone, as glTF", False)):
        facts = bench_draw.wavy_sheet(polygons=polygons)
        taken = []
        for _ in range(3):
            begin, begun = time.perf_counter(), time.process_time()
            bench_draw.lines_png(bench_draw.sheet(facts), (255, 255, 255))
            taken.append((time.perf_counter() - begin, time.process_time() - begun))
        spent, processor = min(taken)
        found.append(
            Figure(
                f"guide lines of 999,698 triangles at 4096, {name}, by the clock: {in_words(processor)} of the processor",
                in_words(spent),
                "",
                "",
                "3 s",
                spent <= 3.0,
            )
        )
    return found


def _whole_processes() -> list[Figure]:
    sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "demo_project"))
    from harbour.glb import write_glb
    from harbour.meshes import Mesh

    taken = []
    with tempfile.TemporaryDirectory() as folder:
        # Compiled modules are kept, as they are on any machine that has run the command before.
        kept = {**os.environ, "PYTHONPYCACHEPREFIX": f"{folder}/compiled"}
        kept.pop("PYTHONDONTWRITEBYTECODE", None)
        for number in (1033, 2066):
            points, triangles, uv = layout(number, 22)
            normals = np.tile(np.array([0, 0, 1], np.float32), (len(points), 1))
            net = Mesh("canvas", points.astype(np.float32), normals, uv.astype(np.float32), triangles.astype(np.uint32))
            path = Path(folder) / f"furniture_net_{number}.glb"
            write_glb(path, [("net", [net])], {})
            command = [sys.executable, "-m", "tidegate", "check", str(path), "--set", "furniture"]
            taken.append(min(_process(command, kept) for _ in range(4)))
    (clock, processor, memory), (second, processor_2, _) = taken
    return [
        Figure(
            "whole `tidegate check`, 1,000,000 triangles in 1,000 islands, by the clock: "
            f"{in_words(processor)} of the processor, {memory / 1e9:.2f} GB",
            in_words(clock),
            "",
            "",
            "2.5 s, 1.2 GB",
            clock <= 2.5 and memory <= 1.2e9,
        ),
        Figure(
            f"the same with 2,000,000: {processor_2 / processor:.2f} times the processor",
            in_words(second),
            in_words(clock),
            f"{second / clock:.2f}",
            "2.3 at most",
            second / clock <= 2.3,
        ),
    ]


def _process(command: list[str], environment: Mapping[str, str]) -> tuple[float, float, int]:
    """Seconds by the clock and of the processor, and the most bytes held."""
    begin = time.perf_counter()
    running = subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(running.pid, 0)
    running.returncode = os.waitstatus_to_exitcode(status)
    assert running.returncode in (0, 1)
    return time.perf_counter() - begin, used.ru_utime + used.ru_stime, used.ru_maxrss * 1024
