"""Mended files and the daemon around them: what waits, what is in hand, and a clock that is set back between two starts."""

from __future__ import annotations

import io
import json
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.daemon.stepped import World, loop, put, setup
from tests.gate.driver import judge
from tidegate.daemon.workers import Answer, InProcess
from tidegate.gate.ledger import Ledger
from tidegate.gate.outcome import DropContext, Outcome

NOW = datetime(2026, 11, 25, 12, 0, 0, tzinfo=UTC)


@pytest.fixture
def world() -> World:
    return World()


def test_while_a_tree_is_away_a_lone_map_waits_and_then_finds_its_prop(world: World, tmp_path: Path) -> None:
    gate = setup(tmp_path)
    out = io.StringIO()
    made = loop(world, gate, out=out)
    put(gate.paths.inbox / "float/float.obj", b"mesh")
    put(gate.paths.inbox / "float/float_base_color.png", b"wrong")
    tree, volume = gate.paths.returned, tmp_path / "volume"
    held: list[str] = []

    def goes() -> None:
        tree.rename(volume)
        tree.mkdir()
        put(gate.paths.inbox / "float_base_color.png", b"mended")
        put(gate.paths.inbox / "crate/crate.obj")

    def comes() -> None:
        held.extend(row.reason for row in Ledger(gate.paths.work / "ledger.sqlite3").held_up())
        assert (gate.paths.inbox / "float_base_color.png").exists()
        assert (gate.paths.delivery / "quay/crate/v001").is_dir(), "other drops go on"
        tree.rmdir()
        volume.rename(tree)

    world.at(30.0, goes)
    world.at(120.0, comes)
    world.at(900.0, made.stop)
    made.run()
    assert ["a tree of the gate is gone" in reason for reason in held] == [True]
    assert (gate.paths.delivery / "quay/float/v001/float_base_color.png").read_bytes() == b"mended"
    assert "Traceback" not in out.getvalue()


def test_a_map_that_comes_while_its_prop_is_in_hand_is_told_so(world: World, tmp_path: Path) -> None:
    """Both have settled at the same look; the folder is taken first."""
    gate = setup(tmp_path)
    near: list[str] = []

    def listening(root: Path, context: DropContext) -> Sequence[Outcome]:
        near.append(context.near)
        return judge(root, context)

    gate = type(gate)(gate.paths, listening, gate.rules)
    put(gate.paths.inbox / "float/float.obj", b"wrong")
    put(gate.paths.inbox / "float_base_color.png", b"wrong, alone")
    drained = loop(world, gate).run_once()
    whole, lone = sorted(drained.delivered, key=lambda each: each.record.ticket)
    assert near == [
        "",
        f"float is still in hand as {whole.record.ticket}: wait for its verdict, then drop the mended files again",
    ]
    assert (whole.record.prop, lone.record.prop) == ("float", "float_base_color")


class OldestLast(InProcess):
    """Its first drop takes longer than the second."""

    def answers(self, now: float) -> list[Answer]:
        return super().answers(now)[::-1] if len(self._answers) > 1 else []

    def next_deadline(self) -> float | None:
        return super().next_deadline() if len(self._answers) > 1 else None


def test_a_mended_map_that_takes_longer_than_a_newer_whole_drop_comes_back(world: World, tmp_path: Path) -> None:
    gate = setup(tmp_path)
    put(gate.paths.inbox / "float/float.obj", b"monday")
    put(gate.paths.inbox / "float/float_base_color.png", b"wrong")
    loop(world, gate).run_once()
    put(gate.paths.inbox / "float_base_color.png", b"mended")
    made = loop(world, gate)
    made.examiner = OldestLast()

    def whole_one() -> None:
        put(gate.paths.inbox / "float/float.obj", b"tuesday")
        put(gate.paths.inbox / "float/float_base_color.png", b"fine")

    world.then.clear()
    world.then.append((world.now + 20.0, whole_one))
    world.then.append((world.now + 120.0, made.stop))
    made.run()
    (version,) = (gate.paths.delivery / "quay/float").iterdir()
    assert (version / "float.obj").read_bytes() == b"tuesday"
    (back,) = gate.paths.returned.glob("float-*")
    record = json.loads((back / "handed.tidegate.json").read_bytes())
    assert record["reason"].startswith("newer-delivered: v001 was claimed later")
    assert (back / "float.obj").read_bytes() == b"monday"


@pytest.mark.parametrize("newest", ["returned", "delivered"])
def test_a_clock_set_back_between_two_starts_makes_nothing_older(tmp_path: Path, newest: str) -> None:
    """A version and then a return, or the other way round; the second start thinks it is a day before the first."""
    gate = setup(tmp_path)
    whole = [("monday", b"fine"), ("tuesday", b"wrong")]
    for day, ((mesh, _), (_, base)) in enumerate(
        zip(whole, whole if newest == "returned" else whole[::-1], strict=True)
    ):
        put(gate.paths.inbox / "float/float.obj", mesh.encode())
        put(gate.paths.inbox / "float/float_base_color.png", base)
        world = World()
        loop(world, gate, wall=lambda day=day: NOW - timedelta(days=day)).run_once()
    put(gate.paths.inbox / "float_base_color.png", b"mended")
    loop(World(), gate, wall=lambda: NOW - timedelta(days=2)).run_once()
    versions = sorted((gate.paths.delivery / "quay/float").iterdir())
    meshes = [(each / "float.obj").read_bytes() for each in versions]
    assert meshes == ([b"monday", b"tuesday"] if newest == "returned" else [b"tuesday"])
    claimed = [json.loads((each / "handed.tidegate.json").read_bytes())["claimed_at"] for each in versions]
    assert claimed == (
        ["2026-11-25T12:00:00Z", "2026-11-23T12:00:00Z"] if newest == "returned" else ["2026-11-24T12:00:00Z"]
    )
