"""Gates come, go and move while the daemon runs: the stepped loop, and two real daemons."""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import signal
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from tests.daemon.stepped import World, everything, loop, put, setup
from tests.gate.bench import Bench
from tidegate.daemon import one_gate
from tidegate.daemon.gates import in_the_way
from tidegate.daemon.loop import Loop
from tidegate.daemon.setup import Everything, GateSetup
from tidegate.daemon.workers import Answer, InProcess
from tidegate.errors import TransientFault
from tidegate.gate import ticket
from tidegate.gate.lock import held, holder
from tidegate.gate.settings import GatePaths
from tidegate.gate.ticket import Ticket


@pytest.fixture
def world() -> World:
    return World()


class Slow(InProcess):
    """Answers only from a time on."""

    def __init__(self, world: World, until: float) -> None:
        super().__init__()
        self.world, self.until = world, 1000.0 + until

    def answers(self, now: float) -> list[Answer]:
        return super().answers(now) if now >= self.until else []

    def next_deadline(self) -> float | None:
        return self.until if self._answers else None


def edits(world: World, *at: tuple[float, Everything]) -> Callable[[], Everything | None]:
    """A reload that finds each configuration once its time has come."""
    left = list(at)

    def reload() -> Everything | None:
        found = None
        while left and world.now >= 1000.0 + left[0][0]:
            found = left.pop(0)[1]
        return found

    return reload


def run(world: World, until: float, *setups: GateSetup, slow: float = 0.0, **more: Any) -> tuple[Loop, str]:
    out = io.StringIO()
    made = loop(world, *setups, out=out, **more)
    if slow:
        made.examiner = Slow(world, slow)
    world.at(until, made.stop)
    made.run()
    return made, out.getvalue()


def delivered(gate: GateSetup, prop: str) -> bool:
    return (gate.paths.delivery / f"quay/{prop}/v001/{prop}.obj").exists()


def test_a_gate_that_comes_is_locked_recovered_and_served(world: World, tmp_path: Path) -> None:
    old, new = setup(tmp_path / "one", "harbour"), setup(tmp_path / "two", "vendor")
    put(new.paths.work / "tickets/.tidegate-part-0011", b"cut short by a crash")
    put(new.paths.inbox / "crate/crate.obj")
    holders: list[Any] = []
    world.at(40.0, lambda: holders.append(holder(new.paths.work / "lock")))
    world.at(41.0, lambda: put(new.paths.inbox / "float/float.obj"))
    world.at(42.0, lambda: put(old.paths.inbox / "bell/bell.obj"))
    _, log = run(world, 90.0, old, reload=edits(world, (15.0, everything(old, new))))
    assert holders[0] is not None
    assert delivered(new, "crate") and delivered(new, "float") and delivered(old, "bell")
    assert not list(new.paths.work.glob("tickets/*")), "what a crash left was mended"
    assert "a gate closes" not in log
    assert holder(new.paths.work / "lock") is None


def test_a_gate_that_goes_finishes_what_it_has_and_takes_nothing_new(world: World, tmp_path: Path) -> None:
    stays, goes = setup(tmp_path / "one", "harbour"), setup(tmp_path / "two", "vendor")
    put(goes.paths.inbox / "crate/crate.obj")  # claimed at 5 s, in hand when the gate goes at 20 s, judged at 30 s
    world.at(21.0, lambda: put(goes.paths.inbox / "float/float.obj"))
    world.at(50.0, lambda: put(stays.paths.inbox / "bell/bell.obj"))
    free: list[Any] = []
    world.at(25.0, lambda: free.append(holder(goes.paths.work / "lock") is None))
    world.at(35.0, lambda: free.append(holder(goes.paths.work / "lock") is None))
    _, log = run(world, 90.0, stays, goes, slow=30.0, reload=edits(world, (19.0, everything(stays))))
    assert free == [False, True], "the lock is held as long as something is in hand, and no longer"
    assert delivered(goes, "crate") and delivered(stays, "bell")
    assert (goes.paths.inbox / "float/float.obj").read_bytes() == b"fine"
    assert "it is no longer in the configuration" in log and "the gate is closed" in log


@pytest.mark.parametrize(("answer_at", "finished"), [(38.0, True), (42.0, False)])
def test_the_grace_of_a_gate_that_goes(world: World, tmp_path: Path, answer_at: float, finished: bool) -> None:
    # It goes at 20 s, the first scan after the edit; the grace of 20 s ends at 40 s.
    stays, goes = setup(tmp_path / "one", "harbour"), setup(tmp_path / "two", "vendor")
    put(goes.paths.inbox / "crate/crate.obj")
    free: list[Any] = []
    world.at(39.0, lambda: free.append(holder(goes.paths.work / "lock") is None))
    world.at(41.0, lambda: free.append(holder(goes.paths.work / "lock") is None))
    run(world, 90.0, stays, goes, slow=answer_at, reload=edits(world, (19.0, everything(stays))))
    assert free == [finished, True]
    assert delivered(goes, "crate") is finished
    assert (goes.paths.inbox / "crate/crate.obj").exists() is not finished
    assert not list(goes.paths.work.glob("tickets/*"))


def test_the_new_grace_counts_for_gates_that_go_with_the_same_edit(world: World, tmp_path: Path) -> None:
    stays, goes = setup(tmp_path / "one", "harbour"), setup(tmp_path / "two", "vendor")
    put(goes.paths.inbox / "crate/crate.obj")
    run(world, 90.0, stays, goes, slow=60.0, reload=edits(world, (19.0, everything(stays, grace=50.0))))
    assert delivered(goes, "crate")


def test_a_gate_that_moves_closes_first_and_opens_then(world: World, tmp_path: Path) -> None:
    old = setup(tmp_path / "one", "harbour")
    new = replace(old, paths=replace(old.paths, inbox=tmp_path / "elsewhere"))
    put(old.paths.inbox / "crate/crate.obj")
    put(new.paths.inbox / "float/float.obj")
    _, log = run(world, 90.0, old, slow=30.0, reload=edits(world, (19.0, everything(new))))
    assert delivered(old, "crate") and delivered(old, "float")
    told = re.findall("the gate is open|a gate closes|the gate is closed", log)
    assert told[:4] == ["the gate is open", "a gate closes", "the gate is closed", "the gate is open"]
    assert log.index("its folders or its owner are others now") < log.index(str(new.paths.inbox))


def test_a_gate_whose_trees_move_makes_the_new_ones_and_misses_no_old_one(world: World, tmp_path: Path) -> None:
    old = setup(tmp_path / "one", "harbour")
    new = replace(old, paths=replace(old.paths, delivery=tmp_path / "far/delivery"))
    put(old.paths.inbox / "crate/crate.obj")
    world.at(60.0, lambda: put(new.paths.inbox / "float/float.obj"))
    _, log = run(world, 90.0, old, reload=edits(world, (19.0, everything(new))))
    assert delivered(old, "crate") and delivered(new, "float")
    assert "stays shut" not in log
    # The other side: a tree that it knows and that went is missed as before.
    (new.paths.returned / ".tidegate-staging").rename(tmp_path / "away")
    _, log = run(World(), 5.0, new)
    assert "a tree of the gate is gone" in log


def test_an_edit_taken_back_while_the_gate_leaves_serves_it_again(world: World, tmp_path: Path) -> None:
    stays, goes = setup(tmp_path / "one", "harbour"), setup(tmp_path / "two", "vendor")
    put(goes.paths.inbox / "crate/crate.obj")
    world.at(36.0, lambda: put(goes.paths.inbox / "float/float.obj"))
    both = everything(stays, goes)
    run(world, 90.0, stays, goes, slow=35.0, reload=edits(world, (15.0, everything(stays)), (25.0, both)))
    assert delivered(goes, "crate") and delivered(goes, "float")


def test_a_renamed_gate_waits_for_its_work_folder(world: World, tmp_path: Path) -> None:
    old = setup(tmp_path, "harbour")
    new = replace(old, paths=replace(old.paths, name="quayside"))
    put(old.paths.inbox / "crate/crate.obj")
    world.at(60.0, lambda: put(new.paths.inbox / "float/float.obj"))
    _, log = run(world, 120.0, old, slow=30.0, reload=edits(world, (19.0, everything(new))))
    assert delivered(new, "crate") and delivered(new, "float")
    assert "stays shut" not in log


def test_a_gate_that_another_daemon_serves_is_told_and_opens_when_that_ends(world: World, tmp_path: Path) -> None:
    mine, theirs = setup(tmp_path / "one", "harbour"), setup(tmp_path / "two", "vendor")
    put(theirs.paths.inbox / "crate/crate.obj")
    put(mine.paths.inbox / "bell/bell.obj")
    other = contextlib.ExitStack()
    other.enter_context(held(theirs.paths.work / "lock"))
    world.at(30.0, lambda: put(mine.paths.inbox / "float/float.obj"))
    done: list[bool] = []
    world.at(58.0, lambda: done.append(delivered(mine, "float") and not delivered(theirs, "crate")))
    world.at(59.0, other.close)
    _, log = run(world, 90.0, mine, theirs)
    assert done == [True]
    assert delivered(theirs, "crate"), "tried again at the next scan"
    assert "another process serves this gate" in log and "held by process" in log
    assert log.count("stays shut") == 3, "told the first, second and fourth time of six tries: the log stays readable"
    assert not (theirs.paths.work / "ledger.sqlite3-wal").exists()


def test_a_gate_whose_folders_cannot_be_made_is_told_and_opens_when_they_can(world: World, tmp_path: Path) -> None:
    fine, shut = setup(tmp_path / "one", "harbour"), setup(tmp_path / "two", "vendor")
    put(shut.paths.delivery, b"a file where the tree should be")
    put(shut.paths.inbox / "crate/crate.obj")
    world.at(40.0, lambda: put(fine.paths.inbox / "float/float.obj"))
    world.at(60.0, shut.paths.delivery.unlink)
    _, log = run(world, 400.0, fine, reload=edits(world, (9.0, everything(fine, shut))))
    assert delivered(fine, "float") and delivered(shut, "crate")
    assert "stays shut" in log


def test_a_number_of_edits_leaves_nothing_behind(world: World, tmp_path: Path) -> None:
    gates = [setup(tmp_path / f"g{number}", f"g{number}") for number in range(4)]
    rounds = [(10.0 * turn, everything(*(gates[(turn + each) % 4] for each in range(2)))) for turn in range(1, 21)]
    for number, gate in enumerate(gates):
        world.at(100.0 + number, lambda gate=gate: put(gate.paths.inbox / "crate/crate.obj"))
    made, log = run(world, 230.0, *gates[:2], reload=edits(world, *rounds))
    assert all(delivered(gate, "crate") for gate in gates)
    assert all(holder(gate.paths.work / "lock") is None for gate in gates)
    assert log.count("the gate is closed") == 20, "each of the twenty edits lets one go"
    assert made._gates.serving == []


def paths(name: str, base: str, **other: Path) -> GatePaths:
    folders = ("inbox", "work", "delivery", "returned", "aside", "kept")
    return GatePaths(name, *(other.get(each, Path(base) / each) for each in folders), owner="slipway")


def test_who_has_to_wait_for_whom() -> None:
    one = paths("one", "/a")
    assert in_the_way(one, paths("one", "/b")), "same name: ticket numbers and staging are told apart by it"
    assert not in_the_way(one, paths("two", "/b"))
    assert not in_the_way(one, paths("two", "/b", delivery=Path("/a/delivery"))), "gates may share trees"
    assert in_the_way(one, paths("two", "/b", work=Path("/a/work")))
    assert in_the_way(one, paths("two", "/b", inbox=Path("/a/delivery/in"))), "would sweep up what is delivered"
    assert in_the_way(one, paths("two", "/b", delivery=Path("/a/inbox/out")))


def test_told_again_only_when_it_changed(world: World, tmp_path: Path) -> None:
    said: list[tuple[str, ...]] = []
    one, two = setup(tmp_path / "one", "harbour"), setup(tmp_path / "two", "vendor")
    out = io.StringIO()
    made = loop(world, one, out=out, reload=edits(world, (15.0, everything(one, two)), (35.0, everything(two))))
    made.notify._send = lambda *assignments: said.append(assignments)  # type: ignore[method-assign] - listens in
    world.at(80.0, made.stop)
    made.run()
    assert said == [
        ("READY=1", "STATUS=1 gate open"),
        ("STATUS=2 gates open",),
        ("STATUS=1 gate open",),
        ("STOPPING=1",),
    ]


def test_a_hang_up_signal_has_paused_gates_tried_at_once(world: World, tmp_path: Path) -> None:
    if not hasattr(signal, "SIGHUP"):
        pytest.skip("no such signal here")
    shut = setup(tmp_path, "vendor", first_pause=500.0, longest_pause=500.0)
    put(shut.paths.delivery, b"a file where the tree should be")
    put(shut.paths.inbox / "crate/crate.obj")

    def mended() -> None:
        shut.paths.delivery.unlink()
        os.kill(os.getpid(), signal.SIGHUP)

    world.at(30.0, mended)
    run(world, 60.0, shut)
    assert delivered(shut, "crate")


def test_signals_are_ours_until_all_is_closed(world: World, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    strangers: list[int] = []
    before = signal.signal(signal.SIGTERM, lambda number, frame: strangers.append(number))
    try:
        gate = setup(tmp_path, quiet=0.0)
        put(gate.paths.inbox / "crate/crate.obj")
        made = loop(world, gate)
        made.examiner = Slow(world, 500.0)
        monkeypatch.setattr(made.examiner, "close", lambda: os.kill(os.getpid(), signal.SIGTERM))
        world.at(3.0, lambda: os.kill(os.getpid(), signal.SIGINT))
        made.run()
        assert (strangers, made.stopped_by) == ([], signal.SIGINT), "the first is the one that counts"
        assert (gate.paths.inbox / "crate/crate.obj").exists()
        os.kill(os.getpid(), signal.SIGTERM)
        assert strangers == [signal.SIGTERM], "given back to whom they belong"
    finally:
        signal.signal(signal.SIGTERM, before)


def test_json_lines_of_all_this_parse(world: World, tmp_path: Path) -> None:
    one, two = setup(tmp_path / "a\nb\x1b[2J", "harbour"), setup(tmp_path / "two", "vendor")
    put(one.paths.inbox / "cr\nate/crate.obj")
    put(one.paths.inbox / "b\x1b]0;x\x07.zip", b"no archive")
    out = io.StringIO()
    made = loop(world, one, out=out, reload=edits(world, (15.0, everything(two))))
    made.log.form = "json"
    world.at(60.0, made.stop)
    made.run()
    lines = [json.loads(line) for line in out.getvalue().splitlines()]
    assert all({"time", "level", "message"} <= set(line) for line in lines)
    assert {"claimed", "a gate closes", "a drop goes aside", "stopping"} <= {line["message"] for line in lines}
    assert out.getvalue().isascii() and "\x1b" not in out.getvalue()


def test_a_gate_that_fails_half_opened_waits_and_lets_go_of_what_it_read(
    world: World, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two claimed drops, and the disk does not give the second ticket until 30 s have passed."""
    bench = Bench(tmp_path)
    claimed = []
    for drop in ("bell", "crate"):
        bench.put(f"{drop}/{drop}.obj", b"fine")
        claimed.append(bench.claim())
    gate = replace(setup(tmp_path, "harbour"), paths=bench.paths)

    def read(path: Path) -> Ticket:
        if path.stem == max(each.ticket for each in claimed) and world.now < 1030.0:
            raise TransientFault("could not read a ticket", path=str(path))
        return ticket.read(path)

    monkeypatch.setattr(one_gate, "ticket", SimpleNamespace(read=read))
    held_then: list[int] = []
    made = loop(world, gate)
    world.at(20.0, lambda: held_then.extend(len(each.drops.claimed) for each in made._gates))
    world.at(200.0, made.stop)
    made.run()  # the wake would say "the loop spins"
    assert held_then == [0], "the lock is free meanwhile: what another process may serve is not ours to put back"
    assert sorted(path.name for path in bench.paths.delivery.glob("*/*/v001/*.obj")) == ["bell.obj", "crate.obj"]
