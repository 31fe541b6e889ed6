"""When a drop has arrived: driven by a clock of our own, both sides of each limit."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import pytest

from tidegate.gate.grouping import SeenDrop
from tidegate.gate.scan import SeenFile
from tidegate.gate.settings import GateRules, Questions
from tidegate.gate.settle import Memory, settle

RULES = GateRules(quiet=5.0, wait=60.0, stalled=600.0)


def file(path: str, size: int = 1) -> SeenFile:
    return SeenFile(path, size, 100, 1, 7, 1)


@pytest.fixture
def inbox(tmp_path: Path) -> Path:
    for name in ("a.obj", "a.png", "d/a.obj", "d/ready"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"x")
    return tmp_path


def loose(*files: SeenFile) -> SeenDrop:
    return SeenDrop("loose", "a", files)


def ready(drop: SeenDrop, memory: Memory, now: float, rules: GateRules = RULES) -> bool:
    return settle((drop,), memory, rules, now).ready == (drop,)


def test_quiet_time_runs_from_the_last_change(inbox: Path) -> None:
    memory = Memory(Questions(), inbox)
    drop, grown = loose(file("a.obj")), loose(file("a.obj", 2))
    assert not ready(drop, memory, 0.0)
    assert not ready(drop, memory, 4.9)
    assert not ready(grown, memory, 4.95)
    assert not ready(grown, memory, 9.9)
    assert ready(grown, memory, 9.95)


def test_a_new_file_of_the_drop_is_a_change(inbox: Path) -> None:
    memory = Memory(Questions(), inbox)
    assert not ready(loose(file("a.obj")), memory, 0.0)
    assert not ready(loose(file("a.obj"), file("a.png")), memory, 5.0)
    assert ready(loose(file("a.obj"), file("a.png")), memory, 10.0)


def test_an_incomplete_file_outlives_any_quiet_time_up_to_the_stalled_time(inbox: Path) -> None:
    whole: set[Path] = set()
    memory = Memory(Questions(complete=lambda path: path in whole), inbox)
    drop = loose(file("a.obj"))
    assert not ready(drop, memory, 0.0)
    state = settle((drop,), memory, RULES, 599.9)
    assert state.ready == ()
    assert (state.waiting[0].reason, state.waiting[0].until) == ("a.obj is not complete", 600.0)
    assert ready(drop, memory, 600.0)
    whole.add(inbox / "a.obj")
    memory = Memory(memory.questions, inbox)
    assert not ready(drop, memory, 1000.0)
    assert ready(drop, memory, 1005.0)


def test_a_format_that_does_not_tell_is_taken(inbox: Path) -> None:
    memory = Memory(Questions(complete=lambda path: None), inbox)
    ready(loose(file("a.obj")), memory, 0.0)
    assert ready(loose(file("a.obj")), memory, 5.0)


def test_a_mesh_waits_for_its_textures_but_not_for_ever(inbox: Path) -> None:
    memory = Memory(Questions(wanted=lambda path: ("Maps\\A.PNG",) if path.suffix == ".obj" else ()), inbox)
    alone = loose(file("a.obj"))
    assert not ready(alone, memory, 0.0)
    state = settle((alone,), memory, RULES, 59.9)
    assert (state.waiting[0].reason, state.waiting[0].until) == ("waits for Maps\\A.PNG", 60.0)
    assert ready(alone, memory, 60.0)
    both = loose(file("a.obj"), file("a.png"))
    assert not ready(both, memory, 61.0)
    assert ready(both, memory, 66.0)


def test_a_partial_file_holds_its_folder_up(inbox: Path) -> None:
    memory = Memory(Questions(), inbox)
    drop = SeenDrop("folder", "d", (file("d/a.obj"),), partial=("d/b.png.part",))
    assert not ready(drop, memory, 0.0)
    assert not ready(drop, memory, 59.9)
    assert ready(drop, memory, 60.0)


def test_the_ready_file_is_waited_for_and_then_enough(inbox: Path) -> None:
    rules = replace(RULES, ready_file="ready")
    memory = Memory(Questions(), inbox)
    without = SeenDrop("folder", "d", (file("d/a.obj"),))
    assert not ready(without, memory, 0.0, rules)
    assert not ready(without, memory, 9999.0, rules)
    assert ready(SeenDrop("folder", "d", (file("d/a.obj"), file("d/ready"))), memory, 9999.5, rules)


def test_a_wall_clock_that_jumps_changes_nothing(inbox: Path) -> None:
    """Modification times may lie in the future or in 1970: only whether they change counts."""
    memory = Memory(Questions(), inbox)
    drop = loose(replace(file("a.obj"), mtime=2**62), replace(file("a.png"), mtime=-1))
    assert not ready(drop, memory, 0.0)
    assert ready(drop, memory, 5.0)


def test_questions_are_asked_once_for_an_unchanged_file_and_memory_is_let_go(inbox: Path) -> None:
    asked: list[Path] = []
    memory = Memory(Questions(wanted=lambda path: asked.append(path) or ()), inbox)
    drop = loose(file("a.obj"))
    for now in (0.0, 5.0, 6.0, 7.0):
        settle((drop,), memory, RULES, now)
    assert asked == [inbox / "a.obj"]
    settle((), memory, RULES, 8.0)
    assert memory.still_since == {}


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_an_unreadable_file_is_waited_for_without_end(inbox: Path) -> None:
    (inbox / "a.obj").chmod(0)
    memory = Memory(Questions(), inbox)
    ready(loose(file("a.obj")), memory, 0.0)
    assert not ready(loose(file("a.obj")), memory, 1e9)
