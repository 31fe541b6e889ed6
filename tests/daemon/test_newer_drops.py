"""What a stop, a start and a look do with drops and files that are not the gate's to mix, take or remove."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.daemon.stepped import World, loop, put, setup
from tidegate.daemon.log import Log
from tidegate.daemon.loop import Loop
from tidegate.daemon.setup import GateSetup
from tidegate.daemon.workers import Answer, InProcess
from tidegate.gate.durable import PART


class NeverDone(InProcess):
    """Its drops are in hand until the gate stops."""

    def answers(self, now: float) -> list[Answer]:
        return []

    def next_deadline(self) -> float | None:
        return None


def lines(out: io.StringIO) -> list[dict[str, Any]]:
    return [json.loads(line) for line in out.getvalue().splitlines()]


def said(out: io.StringIO, message: str) -> list[dict[str, Any]]:
    return [line for line in lines(out) if line["message"] == message]


def at_work(world: World, out: io.StringIO, *gates: GateSetup) -> Loop:
    made = loop(world, *gates)
    made.log = Log("json", out=out)
    return made


def stopped_in_hand(gate: GateSetup, out: io.StringIO, newer: str, *, settled: bool) -> None:
    """Stopped with a drop in hand and a newer file in the inbox: that moment come, or in hand as well."""
    world = World()
    made = at_work(world, out, gate)
    made.examiner = NeverDone()

    def come() -> None:
        put(gate.paths.inbox / newer, b"fine and newer")
        if not settled:
            made.stop()

    world.at(2.0, come)
    world.at(30.0, made.stop)
    made.run()


def contents(top: Path) -> dict[str, bytes]:
    return {p.relative_to(top).as_posix(): p.read_bytes() for p in sorted(top.rglob("*")) if p.is_file()}


@pytest.mark.parametrize("folder", ["crate/", ""])
@pytest.mark.parametrize("settled", [False, True])
def test_at_a_stop_a_drop_does_not_go_back_into_a_newer_one(tmp_path: Path, folder: str, settled: bool) -> None:
    """The next start judges the older one first: the newest version is what came last."""
    gate = setup(tmp_path, quiet=0.0)
    put(gate.paths.inbox / f"{folder}crate.obj", b"fine and old")
    put(gate.paths.inbox / f"{folder}crate_normal.png", b"fine old map")
    out = io.StringIO()
    stopped_in_hand(gate, out, f"{folder}crate.obj", settled=settled)
    (told,) = said(out, "a drop stays claimed until the next start")
    assert told["what"] == "its name is in use in the inbox again"
    assert len(said(out, "claimed")) == (2 if settled else 1)
    assert contents(gate.paths.inbox) == {f"{folder}crate.obj": b"fine and newer"}
    loop(World(), setup(tmp_path, quiet=30.0)).run_once(patience=60.0)
    first, second = (contents(gate.paths.delivery / f"quay/crate/v00{number}") for number in (1, 2))
    assert (first["crate.obj"], first["crate_normal.png"]) == (b"fine and old", b"fine old map")
    assert second["crate.obj"] == b"fine and newer" and "crate_normal.png" not in second
    assert contents(gate.paths.inbox) == {}


def test_at_a_stop_a_drop_goes_back_where_nothing_newer_is(tmp_path: Path) -> None:
    gate = setup(tmp_path, quiet=0.0)
    put(gate.paths.inbox / "crate/crate.obj")
    out = io.StringIO()
    stopped_in_hand(gate, out, "lamp/lamp.png", settled=False)
    assert contents(gate.paths.inbox) == {"crate/crate.obj": b"fine", "lamp/lamp.png": b"fine and newer"}
    assert said(out, "a drop stays claimed until the next start") == []


def test_a_file_named_as_a_part_of_ours_is_told_and_stays(tmp_path: Path) -> None:
    gate = setup(tmp_path, quiet=0.0, wait=3.0)
    theirs = [gate.paths.inbox / f"{PART}lamp.png", gate.paths.inbox / f"lamp/{PART}notes.txt"]
    for path in theirs:
        put(path, b"an artist's")
    put(gate.paths.inbox / "lamp/lamp.obj")
    out, world = io.StringIO(), World()
    made = at_work(world, out, gate)
    told: list[tuple[str, str]] = []

    def look() -> None:
        (each,) = made._gates
        told.extend((row.key, row.reason) for row in each.held_up())
        made.stop()

    world.at(60.0, look)
    made.run()
    reason = "it has the name of an unfinished copy of tidegate and is none"
    assert told == [(f"{PART}lamp.png", reason), (f"lamp/{PART}notes.txt", reason)]
    assert [line["path"] for line in said(out, "a file is not taken")] == [key for key, _ in told], "once each"
    assert [path.read_bytes() for path in theirs] == [b"an artist's"] * 2
    assert (gate.paths.delivery / "quay/lamp/v001/lamp.obj").exists(), "the drop is not held up for ever"
    out = io.StringIO()
    at_work(World(), out, gate).run_once()
    assert [line["path"] for line in said(out, "needs a person")] == [str(path) for path in theirs]
    assert [path.read_bytes() for path in theirs] == [b"an artist's"] * 2


@pytest.mark.parametrize("change", ["work folder", "gone"])
def test_claims_that_a_changed_configuration_leaves_behind_are_told(tmp_path: Path, change: str) -> None:
    gate, other = setup(tmp_path, quiet=0.0), setup(tmp_path, "vendor")
    put(gate.paths.inbox / "crate/crate.obj")
    stopped_in_hand(gate, io.StringIO(), "crate/crate.obj", settled=False)  # so that one stays claimed
    out = io.StringIO()
    moved = replace(gate, paths=replace(gate.paths, work=tmp_path / "new-work"))
    at_work(World(), out, moved if change == "work folder" else other).run_once()
    (told,) = said(out, "claims that no gate serves")
    assert (told["level"], told["gate"], told["work"]) == ("error", "harbour", str(gate.paths.work))
    assert "1 drop lies claimed" in told["why"] and "again" in told["help"]
    out = io.StringIO()
    at_work(World(), out, gate, other).run_once()
    assert said(out, "claims that no gate serves") == []
