"""Do the proofs bite? Each deliberate bug must make its proof fail; without a bug the same proof must hold.

    python -m tests.gate.teeth

A bug that no proof notices is a hole in the proofs, not a harmless bug.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from tests.gate import law
from tests.gate.kill_points import Point, kill_once, run_driver, scene_points
from tests.gate.power_cut import CALLS, Disk, broken_promises
from tests.gate.scenes import set_up

MODULE = "tests.gate.toothed_driver"
Proof = Callable[[Path], list[str]]


def power_cut(scene: str) -> Proof:
    """No power cut during the run loses anything or leaves a version that is not whole."""

    def proof(home: Path) -> list[str]:
        stage = set_up(scene, home / "base")
        try:
            log = home / "log"
            tops = [stage.base, *stage.elsewhere]
            disks = {eager: Disk(tops, eager=eager) for eager in (False, True)}
            run_driver(stage.base, ["strace", "-f", "-y", "-s", "4096", "-o", str(log), "-e", f"trace={CALLS}"], MODULE)
            text = log.read_text("utf-8", "replace")
            return [
                f"{'eager' if eager else 'lazy'} disk: {fault}"
                for eager, disk in disks.items()
                for fault in broken_promises(text, disk, list(stage.expected))
            ]
        finally:
            stage.close()

    return proof


def killed(scene: str, calls: str) -> Proof:
    """Killed at any of these calls, the next start brings everything to its place."""

    def proof(home: Path) -> list[str]:
        points = [point for point in scene_points(scene, fresh(home), MODULE) if point.call in calls.split(",")]
        for point in points:
            if wrong := kill_once(scene, point, fresh(home), module=MODULE):
                return wrong
        return []

    return proof


def undisturbed(scene: str) -> Proof:
    """Left alone, the run keeps the law."""

    def proof(home: Path) -> list[str]:
        stage = set_up(scene, home / "base")
        try:
            run_driver(stage.base, module=MODULE)
            return law.fulfilled(stage)
        finally:
            stage.close()

    return proof


def write_that_lies(scene: str) -> Proof:
    """A disk that says `written` and wrote nothing, once, while the drop is copied: nothing wrong is delivered."""

    def proof(home: Path) -> list[str]:
        points = [
            p for p in scene_points(scene, fresh(home), MODULE) if p.call == "write" and "tidegate-staging" in p.what
        ]
        stage = set_up(scene, fresh(home) / "base")
        try:
            length = int(points[0].what.rsplit(" = ", 1)[1])
            run_driver(stage.base, _lie(points[0], length), MODULE, patience=1.0)
            run_driver(stage.base, module=MODULE)
            return law.fulfilled(stage)
        finally:
            stage.close()

    return proof


def _lie(point: Point, length: int) -> list[str]:
    inject = f"inject={point.call}:retval={length}:when={point.number}"
    return ["strace", "-f", "-o", os.devnull, "-e", f"trace={point.call}", "-e", inject]


PROOFS: dict[str, Proof] = {
    "file_fsync_left_out": power_cut("folder_drop"),
    "folder_fsync_left_out": power_cut("folder_drop"),
    "removal_before_proof": killed("folder_drop", "openat"),
    "ticket_after_move": killed("folder_drop", "renameat2"),
    "replace_allowed": undisturbed("taken_name"),
    "not_read_back": write_that_lies("folder_drop"),
    "built_in_place": killed("folder_drop", "rename"),
    "note_after_the_move": killed("returned", "write"),
    "copies_under_the_final_name": killed("other_volume", "write"),
    "no_recovery": killed("folder_drop", "rmdir,renameat2"),
}
"""Bug -> the proof that must fail with it."""

CONTROLS: dict[str, Proof] = {"": power_cut("folder_drop"), "counts_from_one": undisturbed("taken_name")}
"""What must hold: the proofs that are not held anyway by the kill points, without the bug."""


def with_tooth(name: str, proof: Proof, within: Path | None = None) -> list[str]:
    """What the proof says with that bug, in a new folder (in `within`)."""
    before = os.environ.get("TOOTH")
    os.environ["TOOTH"] = name
    home = Path(tempfile.mkdtemp(prefix="tidegate-teeth-", dir=within))
    try:
        return proof(home)
    finally:
        shutil.rmtree(home, ignore_errors=True)
        if before is None:
            del os.environ["TOOTH"]
        else:
            os.environ["TOOTH"] = before


def fresh(home: Path) -> Path:
    return Path(tempfile.mkdtemp(dir=home))


def main() -> int:
    holes = 0
    for name, proof in PROOFS.items():
        wrong = with_tooth(name, proof)
        holes += not wrong
        print(f"{name:32} {'bites: ' + wrong[0][:150] if wrong else 'NOT NOTICED'}", flush=True)
    for name, proof in [*CONTROLS.items(), *(("", proof) for proof in (PROOFS["not_read_back"],))]:
        wrong = with_tooth(name, proof)
        holes += bool(wrong)
        print(f"{'without a bug ' + name:32} {'FAILS: ' + wrong[0][:150] if wrong else 'holds'}", flush=True)
    return 1 if holes else 0


if __name__ == "__main__":
    sys.exit(main())
