"""Disks that are really full, read-only or gone: file systems in memory, mounted for the test. Root alone may mount.

Each part of the gate lies on such a disk in its turn. The drop waits, `waiting` says why; once the disk is well again the
drop is delivered by itself and nothing is lost.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.gate import law, volumes
from tests.gate.driver import paths_of
from tests.gate.scenes import Stage
from tests.gate.slot import Slot
from tidegate.gate.layout import Layout
from tidegate.gate.ledger import Ledger, WaitingRow

pytestmark = pytest.mark.skipif(bool(volumes.why_not()), reason=volumes.why_not() or "mounting works")

DROP = "x" * 300_000
"""Three of it fit on the disk, with what the gate writes beside them."""
SMALL = "1m"


class World:
    """The gate's folders below `base`, a gate that is running there, and disks to be mounted."""

    def __init__(self, slot: Slot) -> None:
        self.stage = Stage(slot.home / "base")
        self.stage.base.mkdir()
        self.paths = paths_of(self.stage.base)
        self.ledger = Ledger(Layout(self.paths).ledger)
        for folder in (self.paths.inbox, self.paths.work, *self.paths.trees):
            folder.mkdir()

    def drop(self, prop: str = "crate") -> None:
        self.stage.put(f"{prop}/{prop}.obj", f"delivery/quay/{prop}/v001/{prop}.obj", text=DROP)

    def waits(self, why: str) -> list[WaitingRow]:
        """The drops that are held up for that reason, as `status` shows them."""
        rows = self.ledger.held_up() if self.ledger.path.exists() else []
        return [row for row in rows if why in f"{row.reason} {row.heals}"]

    def comes(self, what: Callable[[], object], seconds: float = 20.0) -> bool:
        end = time.monotonic() + seconds
        while not what():
            if time.monotonic() > end:
                return False
            time.sleep(0.05)
        return True

    def delivered(self) -> bool:
        try:
            return law.fulfilled(self.stage) == []
        except OSError:
            return False  # the gate moved something away just then

    def safe(self) -> bool:
        """Nothing is lost and nothing partial to be seen, while the drop cannot be delivered."""
        assert law.never_gone(self.stage) == law.nothing_partial(self.stage) == []
        return not self.delivered()


@pytest.fixture
def slot(tmp_path: Path) -> Iterator[Slot]:
    with Slot(tmp_path) as slot:
        yield slot


@pytest.fixture
def world(slot: Slot) -> Iterator[World]:
    world = World(slot)
    yield world
    world.ledger.close()


@contextmanager
def mounted(folder: Path, size: str = SMALL) -> Iterator[None]:
    volumes.mount(folder, size)
    try:
        yield
    finally:
        volumes.unmount(folder)


@contextmanager
def served(slot: Slot, world: World) -> Iterator[Callable[[], str]]:
    """The gate at work as a daemon, which gives its log; it must end well when told to stop."""
    running = slot.start(base=world.stage.base, serve=True)
    try:
        assert world.comes(lambda: Layout(world.paths).known_trees.exists())
        yield lambda: running.said.read_text()
    finally:
        running.stop()
        ended = running.wait()
    assert ended.code == 0, ended.said


def fill(folder: Path) -> Path:
    """Take all room there is."""
    ballast = folder / ".nfs-ballast"  # litter by the gate's default rules
    with ballast.open("wb", buffering=0) as out:
        try:
            while True:
                out.write(bytes(4096))
        except OSError:
            return ballast


NO_ROOM, READ_ONLY = "make room on that disk", "mount it writable again"


def test_a_full_delivery_disk_delays_a_drop_and_loses_nothing(slot: Slot, world: World) -> None:
    with mounted(world.paths.delivery), served(slot, world):
        ballast = fill(world.paths.delivery)
        world.drop()
        assert world.comes(lambda: world.waits(NO_ROOM))
        assert world.safe()
        ballast.unlink()
        assert world.comes(world.delivered), law.fulfilled(world.stage)
        assert world.comes(lambda: not world.waits(""))


def test_a_full_work_disk_delays_a_drop_and_loses_nothing(slot: Slot, world: World) -> None:
    with mounted(world.paths.work), served(slot, world) as log:
        ballast = fill(world.paths.work)
        world.drop()
        # The ledger lies on the full disk too, so `status` may not know; the log does.
        assert world.comes(lambda: NO_ROOM in log())
        assert world.safe()
        ballast.unlink()
        assert world.comes(world.delivered), law.fulfilled(world.stage)


def test_a_full_inbox_disk_does_not_keep_the_gate_from_taking_what_is_there(slot: Slot, world: World) -> None:
    with mounted(world.paths.inbox), served(slot, world):
        world.drop()
        ballast = fill(world.paths.inbox)
        assert world.comes(lambda: list(world.paths.inbox.iterdir()) == [ballast])
        ballast.unlink()
        assert world.comes(world.delivered), law.fulfilled(world.stage)


def test_the_disk_fills_up_in_the_middle_of_handing_over(slot: Slot, world: World) -> None:
    """Room for the first of three files, not for the rest."""
    with mounted(world.paths.delivery), served(slot, world):
        room = fill(world.paths.delivery)
        with room.open("ab") as out:
            out.truncate(room.stat().st_size - 400_000)
        for name in ("crate.obj", "crate_base_color.png", "crate_normal.png"):
            world.stage.put(f"crate/{name}", f"delivery/quay/crate/v001/{name}", text=DROP)
        assert world.comes(lambda: world.waits(NO_ROOM))
        assert world.safe()
        room.unlink()
        assert world.comes(world.delivered), law.fulfilled(world.stage)


@pytest.mark.parametrize("where", ["delivery", "inbox"])
def test_a_read_only_disk_delays_a_drop_until_it_is_writable(where: str, slot: Slot, world: World) -> None:
    folder = getattr(world.paths, where)
    with mounted(folder), served(slot, world):
        if where == "delivery":
            volumes.read_only(folder, True)
            world.drop()
        else:
            world.drop()
            volumes.read_only(folder, True)
        assert world.comes(lambda: world.waits(READ_ONLY))
        assert world.safe()
        volumes.read_only(folder, False)
        assert world.comes(world.delivered), law.fulfilled(world.stage)
        assert world.comes(lambda: not world.waits(""))


def test_a_tree_that_is_not_mounted_is_not_written_to(slot: Slot, world: World) -> None:
    away = world.stage.base.with_name("away")
    away.mkdir()
    volumes.mount(world.paths.delivery, SMALL)
    try:
        with served(slot, world):
            volumes.move(world.paths.delivery, away)
            world.drop()
            assert world.comes(lambda: world.waits("a tree of the gate is gone"))
            assert list(world.paths.delivery.iterdir()) == []
            assert law.never_gone(world.stage) == []
            volumes.move(away, world.paths.delivery)
            assert world.comes(world.delivered), law.fulfilled(world.stage)
    finally:
        volumes.unmount(world.paths.delivery)
        volumes.unmount(away)


def test_an_inbox_that_goes_and_comes_back_loses_nothing(slot: Slot, world: World) -> None:
    away = world.stage.base.with_name("away")
    away.mkdir()
    volumes.mount(world.paths.inbox, SMALL)
    try:
        world.drop()
        volumes.move(world.paths.inbox, away)
        with served(slot, world):
            time.sleep(0.5)
            assert not world.delivered()
            volumes.move(away, world.paths.inbox)
            assert world.comes(world.delivered), law.fulfilled(world.stage)
    finally:
        volumes.unmount(world.paths.inbox)
        volumes.unmount(away)
