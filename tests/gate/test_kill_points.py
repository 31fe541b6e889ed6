"""A sample of the kill points; `python -m tests.gate.kill_points` makes all of them, `-m tests.gate.teeth` all teeth."""

from __future__ import annotations

import hashlib
import subprocess
import sys
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from tests.gate import law, points, teeth
from tests.gate.driver import drain
from tests.gate.scenes import SCENES, set_up
from tests.gate.slot import ROOT, Slot, have_strace
from tests.gate.watcher import watch

needs_strace = pytest.mark.skipif(not have_strace(), reason="strace with fault injection is not here")

SAMPLED = {"several_props": 8, "re_drop": 8, "other_volume": 8, "archive": 4}
"""Scene -> points killed in the default run, spread evenly; the exhaustive run has them all."""


@pytest.fixture
def slot(tmp_path: Path) -> Iterator[Slot]:
    with Slot(tmp_path) as slot:
        yield slot


@pytest.mark.parametrize("scene", list(SCENES))
def test_left_alone_each_scene_ends_as_it_says(scene: str, tmp_path: Path) -> None:
    with ExitStack() as stack:
        stage = set_up(scene, tmp_path / "base")
        stack.callback(stage.close)
        drained = drain(stage.base)
        assert law.fulfilled(stage) == []
        assert (drained.waiting, drained.held_up) == ((), ())


@needs_strace
@pytest.mark.parametrize("scene", SAMPLED)
def test_killed_at_some_disk_calls_everything_comes_to_its_place(scene: str, slot: Slot) -> None:
    found = points.scene_points(slot, scene)
    assert len(found) > 100, "the tracer saw the run"
    step = len(found) // SAMPLED[scene]
    # Where in each step: fixed for a scene, so that a failure repeats.
    first = int(hashlib.sha256(scene.encode()).hexdigest(), 16) % step
    assert [fault for point in found[first::step] for fault in points.kill_once(slot, scene, point)] == []


@needs_strace
def test_recovery_killed_in_its_turn_everything_comes_to_its_place(slot: Slot) -> None:
    start = points.starts(points.scene_points(slot, "re_drop"))[1]
    again = points.recovery_points(slot, "re_drop", start)
    assert len(again) > 50, "the tracer saw the recovery"
    assert [
        fault for each in again[:: len(again) // 6] for fault in points.kill_once(slot, "re_drop", start, each)
    ] == []


@needs_strace
@pytest.mark.parametrize("scene", list(SCENES))
def test_nothing_partial_is_ever_seen_under_a_delivery_name(scene: str, slot: Slot) -> None:
    slot.begin(scene)
    watched = watch(slot)
    assert len(watched.between) > 20, "the tracer saw the run"
    assert (watched.wrong, watched.between.count(0)) == ((), 0), "a look fell between every two calls"


@needs_strace
@pytest.mark.parametrize(("error", "call"), [("ENOSPC", "write"), ("EROFS", "renameat2")])
def test_a_call_that_fails_is_survived(error: str, call: str, slot: Slot) -> None:
    found = [point for point in points.scene_points(slot, "folder_drop") if point.call == call]
    assert points.fail_once(slot, "folder_drop", found[len(found) // 2], error) == []


@needs_strace
def test_the_named_command_runs_and_says_what_it_did() -> None:
    command = [sys.executable, "-m", "tests.gate.kill_points", "--jobs", "2"]
    ran = subprocess.run([*command, "--scene", "unjudged", "--every", "60"], cwd=ROOT, capture_output=True, text=True)
    assert (ran.returncode, ran.stderr) == (0, "")
    assert "0 faults, 0 of them a tracer that struck elsewhere" in ran.stdout


@needs_strace
def test_no_power_cut_loses_anything(tmp_path: Path) -> None:
    assert teeth.with_tooth("", teeth.PROOFS["file_fsync_left_out"], tmp_path) == []


@needs_strace
@pytest.mark.parametrize(("tooth", "proof"), teeth.CONTROLS)
def test_without_a_bug_the_other_proofs_hold(tooth: str, proof: teeth.Proof, tmp_path: Path) -> None:
    assert teeth.with_tooth(tooth, proof, tmp_path) == []


@needs_strace
@pytest.mark.parametrize("tooth", teeth.PROOFS)
def test_the_proofs_bite(tooth: str, tmp_path: Path) -> None:
    assert teeth.with_tooth(tooth, teeth.PROOFS[tooth], tmp_path) != []
