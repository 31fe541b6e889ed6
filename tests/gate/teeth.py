"""Do the proofs bite? Each deliberate bug must make its proof fail; without a bug the same proof must hold.

    python -m tests.gate.teeth

A bug that no proof notices is a hole in the proofs, not a harmless bug.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from tests.gate import law, volumes
from tests.gate.points import MISSED, Point, kill_once, scene_points
from tests.gate.power_cut import CALLS, Disk, broken_promises
from tests.gate.slot import Slot
from tests.gate.watcher import watch

Proof = Callable[[Slot], list[str]]


def power_cut(scene: str) -> Proof:
    """No power cut during the run loses anything or leaves a version that is not whole."""

    def no_power_cut_loses_anything(slot: Slot) -> list[str]:
        stage = slot.begin(scene)
        disks = {eager: Disk([stage.base, *stage.elsewhere], eager=eager) for eager in (False, True)}
        log = slot.run(["-y", "-s", "4096", "-e", f"trace={CALLS}"]).log
        return [
            f"{'eager' if eager else 'lazy'} disk: {fault}"
            for eager, disk in disks.items()
            for fault in broken_promises(log, disk, list(stage.expected))
        ]

    return no_power_cut_loses_anything


def killed(scene: str, calls: str) -> Proof:
    """Killed at any of these calls, the next start brings everything to its place."""

    def killed_anywhere_all_comes_to_its_place(slot: Slot) -> list[str]:
        for point in scene_points(slot, scene):
            if point.call in calls.split(","):
                wrong = [
                    fault
                    for fault in kill_once(slot, scene, point)
                    if MISSED not in fault and "did not foresee" not in fault
                ]
                if wrong:
                    return wrong
        return []

    return killed_anywhere_all_comes_to_its_place


def undisturbed(scene: str) -> Proof:
    """Left alone, the run keeps the law."""

    def left_alone_all_comes_to_its_place(slot: Slot) -> list[str]:
        stage = slot.begin(scene)
        slot.run()
        return law.fulfilled(stage)

    return left_alone_all_comes_to_its_place


def watched(scene: str) -> Proof:
    """Nothing partial is seen under a delivery name between any two calls of a run that nothing disturbs."""

    def a_watcher_sees_nothing_partial(slot: Slot) -> list[str]:
        slot.begin(scene)
        return watch(slot).faults

    return a_watcher_sees_nothing_partial


def write_that_lies(scene: str) -> Proof:
    """A disk that says `written` and wrote nothing, once, while the drop is copied: nothing wrong is delivered."""

    def a_write_that_lies_delivers_nothing_wrong(slot: Slot) -> list[str]:
        point = next(
            p for p in scene_points(slot, scene) if p.call == "write" and "tidegate-staging/harbour/" in p.what
        )
        stage = slot.begin(scene)
        slot.run(_lie(point, int(point.what.rsplit(" = ", 1)[1])), patience=1.0)
        slot.run()
        return law.fulfilled(stage)

    return a_write_that_lies_delivers_nothing_wrong


def _lie(point: Point, length: int) -> list[str]:
    return ["-e", f"trace={point.call}", "-e", f"inject={point.call}:retval={length}:when={point.number}"]


PROOFS: dict[str, Proof] = {
    "file_fsync_left_out": power_cut("folder_drop"),
    "folder_fsync_left_out": power_cut("folder_drop"),
    "removal_before_proof": killed("folder_drop", "openat"),
    "ticket_after_move": killed("folder_drop", "renameat2"),
    "replace_allowed": undisturbed("taken_name"),
    "not_read_back": write_that_lies("folder_drop"),
    "built_in_place": killed("folder_drop", "rename"),
    "moved_piece_by_piece": watched("folder_drop"),
    "note_after_the_move": killed("returned", "write"),
    "hidden_sources_forgotten": killed("other_volume", "rename,renameat2"),
    "no_recovery": killed("folder_drop", "rmdir,renameat2"),
}
"""Bug -> the proof that must fail with it."""

CONTROLS: tuple[tuple[str, Proof], ...] = (
    ("counts_from_one", undisturbed("taken_name")),
    ("", PROOFS["not_read_back"]),
    ("", PROOFS["moved_piece_by_piece"]),
)
"""What must hold: the proofs that are not held anyway by the kill points, without the bug."""


def with_tooth(name: str, proof: Proof, within: Path | None = None) -> list[str]:
    """What the proof says with that bug, in a new folder (in `within`)."""
    home = Path(tempfile.mkdtemp(prefix="tidegate-teeth-", dir=within))
    try:
        with Slot(home, name) as slot:
            wrong = proof(slot)
            if slot.mishaps:  # the bug does not fit the gate any more; its proof would fail for that reason alone
                raise AssertionError(f"{name} breaks the gate instead of its promise: {slot.mishaps[0]}")
            return wrong
    finally:
        shutil.rmtree(home, ignore_errors=True)


def main() -> int:
    argparse.ArgumentParser(description="put bugs into the gate on purpose: each must be found").parse_args()
    volumes.keep_to_ourselves()
    holes = 0
    for name, proof in PROOFS.items():
        wrong = with_tooth(name, proof)
        holes += not wrong
        told = f"found by {proof.__name__}: {wrong[0][:150]}" if wrong else "NOT NOTICED"
        print(f"{name:28} {told}", flush=True)
    for name, proof in [("", PROOFS["file_fsync_left_out"]), *CONTROLS]:
        wrong = with_tooth(name, proof)
        holes += bool(wrong)
        print(
            f"{'without a bug ' + name:28} {'FAILS: ' if wrong else 'holds: '}{proof.__name__} {wrong[:1]}", flush=True
        )
    print(f"{len(PROOFS)} bugs, {holes} holes in the proofs")
    return 1 if holes else 0


if __name__ == "__main__":
    sys.exit(main())
