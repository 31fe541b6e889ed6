"""The loop, driven by a clock and a wake of our own: no sleeping."""

from __future__ import annotations

import io
import itertools
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.daemon.stepped import World, everything, loop, put, setup
from tests.gate.driver import judge
from tidegate.daemon.loop import Loop
from tidegate.daemon.workers import InProcess
from tidegate.errors import ConfigurationFault, TransientFault
from tidegate.gate import durable
from tidegate.gate.ledger import Ledger
from tidegate.gate.outcome import DropContext, Outcome
from tidegate.gate.settings import Questions


@pytest.fixture
def world() -> World:
    return World()


def test_run_once_drains_every_gate_and_ends(world: World, tmp_path: Path) -> None:
    one, two = setup(tmp_path, "harbour"), setup(tmp_path, "vendor")
    put(one.paths.inbox / "crate/crate.obj")
    put(two.paths.inbox / "float.obj", b"wrong")
    for number in range(40):
        put(one.paths.inbox / f"set{number}/p{number}.obj", b"%d" % number)
    drained = loop(world, one, two).run_once()
    assert sorted(each.record.verdict for each in drained.delivered) == ["approved"] * 41 + ["returned"]
    assert (drained.waiting, drained.held_up) == ((), ())
    assert world.now < 1020


def test_an_empty_inbox_ends_at_once(world: World, tmp_path: Path) -> None:
    assert loop(world, setup(tmp_path)).run_once().delivered == ()
    assert world.now == 1000.0


def test_run_once_names_what_still_waits(world: World, tmp_path: Path) -> None:
    gate = replace(setup(tmp_path), questions=Questions(complete=lambda path: path.suffix != ".glb"))
    put(gate.paths.inbox / "crate.glb")
    drained = loop(world, gate).run_once()
    assert [each.reason for each in drained.waiting] == ["crate.glb is not complete"]
    assert drained.held_up == ()
    (row,) = Ledger(gate.paths.work / "ledger.sqlite3").held_up()
    # Since the look at 1,000 s it has not changed; after `stalled`, 600 s, it is taken as it is.
    assert (row.key, row.reason, row.arrives) == ("crate", "crate.glb is not complete", True)
    left = datetime.fromisoformat(row.next_try) - datetime.fromisoformat(row.since)
    assert timedelta(seconds=585) <= left <= timedelta(seconds=600), "written once the quiet time, 5 s, was over"
    assert (gate.paths.inbox / "crate.glb").exists()
    world = World()
    assert [each.record.prop for each in loop(world, gate).run_once(patience=600.0).delivered] == ["crate"]
    assert 1600 <= world.now < 1650


def test_a_drop_is_handed_over_the_quiet_time_after_its_last_change(world: World, tmp_path: Path) -> None:
    gate = setup(tmp_path)
    times: list[float] = []
    made = loop(world, gate, told=lambda delivered: times.extend(world.now for _ in delivered))
    world.at(10.0, lambda: put(gate.paths.inbox / "crate/crate.obj", b"half"))
    world.at(13.0, lambda: put(gate.paths.inbox / "crate/crate.obj", b"half and whole"))
    world.at(40.0, made.stop)
    made.run()
    assert len(times) == 1
    assert 1018.0 <= times[0] < 1019.5


def test_idle_it_looks_at_the_interval_and_no_more(world: World, tmp_path: Path) -> None:
    made = loop(world, replace(setup(tmp_path), native_events=False))
    world.at(1000.0, made.stop)
    made.run()
    assert 95 <= len(world.sleeps) <= 205


def test_what_may_heal_is_tried_again_with_growing_pauses(
    world: World, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    gate = setup(tmp_path, first_pause=2.0, longest_pause=16.0)
    put(gate.paths.inbox / "crate/crate.obj")
    tries: list[float] = []
    real = durable.copy_new

    def full(source: Path, path: Path) -> Any:
        tries.append(world.now)
        if world.now < 1060:
            raise TransientFault("could not write a file", path="x", came="ENOSPC", help="make room")
        return real(source, path)

    monkeypatch.setattr(durable, "copy_new", full)
    made = loop(world, gate)
    rows: list[Any] = []
    world.at(30.0, lambda: rows.extend(Ledger(gate.paths.work / "ledger.sqlite3").held_up()))
    world.at(200.0, made.stop)
    made.run()
    pauses = [round(b - a, 3) for a, b in itertools.pairwise(tries)]
    assert pauses[:5] == [2.0, 4.0, 8.0, 16.0, 16.0]
    assert (gate.paths.delivery / "quay/crate/v001/crate.obj").exists()
    assert [(row.reason, row.heals, row.tries) for row in rows] == [
        ("could not write a file: x: ENOSPC", "make room", 4)
    ]
    (row,) = rows
    pause = datetime.fromisoformat(row.next_try) - datetime.fromisoformat(row.since)
    assert pause in (timedelta(seconds=15), timedelta(seconds=16)), "the fourth pause, to whole seconds"
    assert Ledger(gate.paths.work / "ledger.sqlite3").held_up() == []


def test_a_gate_that_cannot_open_is_tried_again_and_others_go_on(world: World, tmp_path: Path) -> None:
    shut, fine = setup(tmp_path / "one", "harbour"), setup(tmp_path / "two", "vendor")
    loop(World(), shut).run_once()
    staging, away = shut.paths.delivery / ".tidegate-staging", tmp_path / "away"
    staging.rename(away)
    put(shut.paths.inbox / "crate/crate.obj")
    put(fine.paths.inbox / "float/float.obj")
    drained = loop(world, shut, fine).run_once()
    assert [each.record.prop for each in drained.delivered] == ["float"]
    assert [(gate, why.split(":")[0]) for gate, _, why in drained.held_up] == [
        ("harbour", "a tree of the gate is gone")
    ]
    world = World()
    made = loop(world, shut)
    world.at(9.0, lambda: (away.rename(staging), None)[1])
    world.at(90.0, made.stop)
    made.run()
    assert (shut.paths.delivery / "quay/crate/v001/crate.obj").exists()


def test_a_judge_that_names_nonsense_costs_one_drop(world: World, tmp_path: Path) -> None:
    def nonsense(root: Path, context: DropContext) -> list[Outcome]:
        if context.drop == "bad":
            return [Outcome("bad", "approved", ("../../x",))]
        return judge(root, context)

    gate = replace(setup(tmp_path), examine=nonsense)
    put(gate.paths.inbox / "bad/a.obj")
    put(gate.paths.inbox / "good/good.obj")
    drained = loop(world, gate).run_once()
    assert sorted((each.record.prop, each.record.tree) for each in drained.delivered) == [
        ("bad", "aside"),
        ("good", "delivery"),
    ]


def test_an_archive_that_is_refused_does_not_stop_the_looking(world: World, tmp_path: Path) -> None:
    gate = setup(tmp_path)
    made = loop(world, gate)
    world.at(1.0, lambda: put(gate.paths.inbox / "bad.zip", b"no zip at all"))
    world.at(60.0, lambda: put(gate.paths.inbox / "crate/crate.obj"))
    world.at(120.0, made.stop)
    made.run()
    assert len(list(gate.paths.aside.glob("bad-*"))) == 1
    assert (gate.paths.delivery / "quay/crate/v001/crate.obj").exists()


def test_a_broken_edit_keeps_the_last_good_configuration(world: World, tmp_path: Path) -> None:
    gate = setup(tmp_path)
    out = io.StringIO()
    strict = replace(gate, examine=lambda root, context: [Outcome("x", "returned", ())])
    answers: list[Any] = [ConfigurationFault("unknown key", path="tidegate.toml", line=3), everything(strict)]

    def reload() -> Any:
        answer = answers.pop(0) if answers and world.now > 1015 else None
        if isinstance(answer, Exception):
            raise answer
        return answer

    made = loop(world, gate, out=out, reload=reload)
    world.at(21.0, lambda: put(gate.paths.inbox / "crate/crate.obj"))
    world.at(35.0, lambda: put(gate.paths.inbox / "float/float.obj"))
    world.at(60.0, made.stop)
    made.run()
    assert "last good one stays in force" in out.getvalue()
    assert (gate.paths.returned / ".tidegate-staging").is_dir()
    assert list(gate.paths.returned.glob("x-*"))


def test_a_second_daemon_is_refused(world: World, tmp_path: Path) -> None:
    gate = setup(tmp_path)
    inner: list[str] = []

    def second() -> None:
        with pytest.raises(TransientFault) as caught:
            loop(World(), gate).run_once()
        inner.append(caught.value.what)
        made.stop()

    made = loop(world, gate)
    world.at(1.0, second)
    made.run()
    assert inner == ["another process serves this gate"]


def test_told_to_stop_it_puts_back_what_no_worker_has_finished(world: World, tmp_path: Path) -> None:
    class Slow(InProcess):
        def answers(self, now: float) -> list[Any]:
            return []

        def next_deadline(self) -> float | None:
            return None

    gate = setup(tmp_path, quiet=0.0)
    put(gate.paths.inbox / "crate/crate.obj")
    made = replace_examiner(loop(world, gate), Slow())
    world.at(3.0, made.stop)
    made.run()
    assert (gate.paths.inbox / "crate/crate.obj").read_bytes() == b"fine"
    assert list((gate.paths.work / "tickets").iterdir()) == []
    assert 1023.0 <= world.now < 1024.0, "the grace of 20 seconds was given"


def replace_examiner(made: Loop, examiner: InProcess) -> Loop:
    made.examiner = examiner
    return made
