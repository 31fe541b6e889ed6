"""A sample of the kill points; `python -m tests.gate.kill_points` makes all of them, `-m tests.gate.teeth` all teeth."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from tests.gate import kill_points, law, teeth
from tests.gate.driver import drain
from tests.gate.scenes import SCENES, set_up

needs_strace = pytest.mark.skipif(not kill_points.have_strace(), reason="strace with fault injection is not here")

SAMPLED = {"several_props": 4, "re_drop": 3, "other_volume": 3}
"""Scene -> points killed in the default run, spread evenly; the exhaustive run has them all."""


@pytest.fixture
def fresh(tmp_path: Path) -> Iterator[Path]:
    number = 0

    def homes() -> Iterator[Path]:
        nonlocal number
        while True:
            number += 1
            home = tmp_path / str(number)
            home.mkdir()
            yield home

    return homes()


@pytest.mark.parametrize("scene", list(SCENES))
def test_left_alone_each_scene_ends_as_it_says(scene: str, tmp_path: Path) -> None:
    stage = set_up(scene, tmp_path / "base")
    try:
        drained = drain(stage.base)
        assert law.fulfilled(stage) == []
        assert (drained.waiting, drained.held_up) == ((), ())
    finally:
        stage.close()


@needs_strace
@pytest.mark.parametrize("scene", SAMPLED)
def test_killed_at_some_disk_calls_everything_comes_to_its_place(scene: str, fresh: Iterator[Path]) -> None:
    points = kill_points.scene_points(scene, next(fresh))
    assert len(points) > 100, "the tracer saw the run"
    step = len(points) // SAMPLED[scene]
    # Where in each step: fixed for a scene, so that a failure repeats.
    start = int(hashlib.sha256(scene.encode()).hexdigest(), 16) % step
    chosen = points[start::step]
    with ThreadPoolExecutor(2) as pool:
        homes = [next(fresh) for _ in chosen]
        wrong = [
            fault
            for faults in pool.map(lambda each: kill_points.kill_once(scene, *each), zip(chosen, homes, strict=True))
            for fault in faults
        ]
    assert wrong == []


@needs_strace
@pytest.mark.parametrize(("error", "call"), [("ENOSPC", "write"), ("EROFS", "renameat2")])
def test_a_call_that_fails_is_survived(error: str, call: str, fresh: Iterator[Path]) -> None:
    points = [point for point in kill_points.scene_points("folder_drop", next(fresh)) if point.call == call]
    assert kill_points.fail_once("folder_drop", points[len(points) // 2], error, next(fresh)) == []


@needs_strace
def test_no_power_cut_loses_anything(tmp_path: Path) -> None:
    assert teeth.with_tooth("", teeth.PROOFS["file_fsync_left_out"], tmp_path) == []


@needs_strace
@pytest.mark.parametrize("tooth", ["file_fsync_left_out", "folder_fsync_left_out", "replace_allowed"])
def test_the_proofs_bite(tooth: str, tmp_path: Path) -> None:
    assert teeth.with_tooth(tooth, teeth.PROOFS[tooth], tmp_path) != []
