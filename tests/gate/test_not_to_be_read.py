"""What is there and cannot be read just now is not absent: nothing is decided from it, the step is tried again."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.gate.bench import NOW, Bench
from tidegate.errors import TransientFault
from tidegate.gate import handed, handing, manifest, one_drop, proof, publish, recover

Unreadable = Callable[[Path], None]


@pytest.fixture
def unreadable(monkeypatch: pytest.MonkeyPatch) -> Unreadable:
    """Has the disk answer EIO for one file, however it is opened here."""

    def break_(path: Path) -> None:
        real_bytes, real_open = Path.read_bytes, os.open

        def read_bytes(self: Path) -> bytes:
            if self == path:
                raise OSError(errno.EIO, "Input/output error", str(self))
            return real_bytes(self)

        def open_(name: str | os.PathLike[str], flags: int, *more: int, **named: int | None) -> int:
            if Path(name) == path and not flags & (os.O_WRONLY | os.O_RDWR):
                raise OSError(errno.EIO, "Input/output error", str(name))
            return real_open(name, flags, *more, **named)

        monkeypatch.setattr(Path, "read_bytes", read_bytes)
        monkeypatch.setattr(proof.os, "open", open_)

    return break_


@pytest.mark.parametrize("file", [handed.RECORD, manifest.MANIFEST, "crate.obj"])
def test_a_version_that_cannot_be_read_is_waited_for(
    tmp_path: Path, unreadable: Unreadable, monkeypatch: pytest.MonkeyPatch, file: str
) -> None:
    # The same content again: told to be the same only by reading all of v001. Passed over, it would become v002.
    bench = Bench(tmp_path)
    bench.put("crate/crate.obj")
    (first,) = bench.through()
    bench.put("crate/crate.obj")
    unreadable(first.at / file)
    with pytest.raises(TransientFault) as caught:
        bench.through()
    assert caught.value.came.startswith("EIO")
    assert [path.name for path in first.at.parent.iterdir()] == ["v001"]
    monkeypatch.undo()
    (result,) = _tried_again(bench)
    assert result.same and result.at == first.at


def test_another_owner_does_not_get_a_name_whose_record_cannot_be_read(tmp_path: Path, unreadable: Unreadable) -> None:
    bench = Bench(tmp_path)
    bench.put("crate/crate.obj", b"first")
    (first,) = bench.through()
    other = Bench(tmp_path, "north", "rope_works")
    other.put("crate/crate.obj", b"second")
    unreadable(first.at / handed.RECORD)
    with pytest.raises(TransientFault):
        other.through()
    assert [path.name for path in first.at.parent.iterdir()] == ["v001"]


@pytest.mark.parametrize("kind", ["ticket", "note"])
def test_recovery_puts_nothing_aside_for_a_file_it_cannot_read(
    tmp_path: Path, unreadable: Unreadable, kind: str
) -> None:
    bench = Bench(tmp_path)
    bench.put("crate/crate.obj")
    taken = bench.claim()
    if kind == "note":
        note = handing.Note(taken.ticket, (), ())
        bench.layout.handing_file(taken.ticket).write_bytes(handing.to_bytes(note))
    unreadable(bench.layout.handing_file(taken.ticket) if kind == "note" else bench.layout.ticket_file(taken.ticket))
    with pytest.raises(TransientFault):
        recover.plan(bench.layout)


def test_a_folder_handed_over_that_cannot_be_read_is_not_gone(tmp_path: Path, unreadable: Unreadable) -> None:
    bench = Bench(tmp_path)
    bench.put("crate/crate.obj")
    (first,) = bench.through()
    entry = handing.Entry("/nowhere", str(bench.paths.delivery), str(first.at.parent), "", "", first.record)
    assert publish._find(entry, first.at.parent) == first.at
    unreadable(first.at / handed.RECORD)
    with pytest.raises(TransientFault):
        publish._find(entry, first.at.parent)
    with pytest.raises(TransientFault):
        publish.is_in_place(entry, bench.layout)


def _tried_again(bench: Bench) -> tuple[publish.Delivered, ...]:
    """The drop that is claimed already, judged anew as the next start does it."""
    from tests.gate.driver import judge
    from tidegate.gate import ticket

    (file,) = bench.layout.tickets.glob("*.json")
    prepared = one_drop.prepare(ticket.read(file), bench.layout, bench.rules)
    outcomes = judge(Path(prepared.root), prepared.context)
    return one_drop.finish(prepared, outcomes, bench.layout, NOW, lambda delivered: None)


def test_a_spoilt_list_of_known_trees_stops_no_gate(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    before = bench.layout.known_trees.read_bytes()
    bench.layout.known_trees.write_bytes(b"\xff\x00\xfe" + before[3:])  # no UTF-8
    bench.layout.prepare()
    assert bench.layout.known_trees.read_bytes() == before


def test_a_step_of_recovery_whose_look_fails_is_a_fault_of_that_step(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench = Bench(tmp_path)
    bench.put("crate/crate.obj")
    taken = bench.claim()
    bench.layout.ticket_file(taken.ticket).write_bytes(b"{}")  # so its files go aside
    steps = recover.plan(bench.layout)
    real = Path.exists

    def exists(self: Path) -> bool:
        if self.suffix == ".json" and self.parent.name == "tickets":
            raise OSError(errno.EIO, "Input/output error", str(self))
        return real(self)

    monkeypatch.setattr(Path, "exists", exists)
    (result,) = recover.carry_out(steps, bench.layout, bench.rules, NOW, lambda delivered: None)
    assert isinstance(result.fault, TransientFault) and result.fault.came.startswith("EIO")
    monkeypatch.undo()
    assert (bench.layout.claimed_folder(taken.ticket) / "drop/crate/crate.obj").exists()
