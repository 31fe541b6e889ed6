"""COMMIT 1: nothing is lost or mixed up on the way out of the inbox."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from tests.gate.bench import NOW, Bench
from tidegate.errors import TransientFault
from tidegate.gate import claim, durable, recover, ticket
from tidegate.gate.faults import Changed
from tidegate.gate.ticket import Ticket


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def one_to_copy(bench: Bench, tmp_path: Path) -> tuple[Path, Ticket]:
    """A mesh in the inbox that another name holds on to, so that it is copied, as from another volume; and its ticket."""
    mesh = bench.put("crate/crate.obj", b"mesh")
    os.link(mesh, tmp_path / "elsewhere")
    return mesh, bench.ticket()


def test_a_folder_is_taken_whole_and_its_place_in_the_inbox_goes(bench: Bench) -> None:
    bench.put("crate/crate.obj", b"mesh")
    bench.put("crate/maps/a.png", b"map")
    taken = bench.claim()
    assert bench.claimed() == {"drop/crate/crate.obj": b"mesh", "drop/crate/maps/a.png": b"map"}
    assert list(bench.paths.inbox.iterdir()) == []
    assert ticket.read(bench.layout.ticket_file(taken.ticket)) == taken
    assert claim.complete(taken, bench.layout)


def test_what_is_no_part_of_the_drop_stays(bench: Bench) -> None:
    bench.put("crate/crate.obj")
    bench.put("crate/Thumbs.db", b"litter")
    (bench.paths.inbox / "crate/link").symlink_to("/etc/passwd")
    taken = bench.claim()
    assert taken.left_behind == ("crate/link",)
    assert sorted(path.name for path in (bench.paths.inbox / "crate").iterdir()) == ["Thumbs.db", "link"]
    assert bench.drops() == ()


@pytest.mark.parametrize("change", ["grown", "gone", "touched", "latecomer"])
def test_a_drop_that_changes_meanwhile_goes_back_whole(bench: Bench, change: str) -> None:
    mesh = bench.put("crate/crate.obj", b"mesh")
    bench.put("crate/maps/a.png", b"map")
    taken = bench.ticket()
    if change == "grown":
        mesh.write_bytes(b"mesh and more")
    elif change == "gone":
        mesh.unlink()
    elif change == "touched":
        os.utime(mesh, ns=(5, 5))
    else:
        bench.put("crate/late.png", b"late")
    before = bench.files("inbox")
    with pytest.raises(Changed):
        claim.claim(taken, bench.layout, bench.rules)
    assert bench.files("inbox") == before
    assert list(bench.layout.tickets.iterdir()) == []
    assert bench.claimed() == {}


def test_a_writer_who_holds_on_is_noticed(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """Moving a file does not stop those who have it open."""
    mesh = bench.put("crate/crate.obj", b"mesh")
    bench.put("crate/z.png", b"map")
    taken = bench.ticket()
    with mesh.open("ab") as writer:
        real = claim._refuse_latecomers

        def write_now(*args: object) -> None:
            writer.write(b" more")
            writer.flush()
            real(*args)

        monkeypatch.setattr(claim, "_refuse_latecomers", write_now)
        with pytest.raises(Changed):
            claim.claim(taken, bench.layout, bench.rules)
    assert bench.files("inbox") == {"crate/crate.obj": b"mesh more", "crate/z.png": b"map"}


def test_hard_links_are_broken(bench: Bench, tmp_path: Path) -> None:
    mesh = bench.put("crate/crate.obj", b"mesh")
    bench.put("crate/b.obj")
    os.link(mesh, tmp_path / "elsewhere")
    (bench.paths.inbox / "crate/b.obj").unlink()
    os.link(mesh, bench.paths.inbox / "crate/b.obj")
    bench.claim()
    (tmp_path / "elsewhere").write_bytes(b"changed by others")
    assert bench.claimed() == {"drop/crate/b.obj": b"mesh", "drop/crate/crate.obj": b"mesh"}


def test_take_may_be_repeated_from_any_number_of_moves(bench: Bench) -> None:
    for number in range(4):
        bench.put(f"crate/{number}.obj", b"%d" % number)
    taken = bench.ticket()
    durable.write_file(bench.layout.ticket_file(taken.ticket), ticket.to_bytes(taken))
    for done in range(4):
        move = taken.moves[done]
        target = bench.layout.claimed_folder(taken.ticket) / move.to
        target.parent.mkdir(parents=True, exist_ok=True)
        Path(move.source).rename(target)
        assert not claim.complete(taken, bench.layout) or done == 3
    claim.take(taken, bench.layout, bench.rules)
    assert bench.claimed() == {f"drop/crate/{number}.obj": b"%d" % number for number in range(4)}
    assert list(bench.paths.inbox.iterdir()) == []


def test_an_interrupted_copy_is_finished_and_a_new_file_of_that_name_is_let_be(bench: Bench, tmp_path: Path) -> None:
    mesh = bench.put("crate.obj", b"mesh")
    os.link(mesh, tmp_path / "elsewhere")  # so that it is copied, as from another volume
    taken = bench.ticket()
    target = bench.layout.claimed_folder(taken.ticket) / taken.moves[0].to
    target.parent.mkdir(parents=True)
    durable.copy_file(mesh, target)
    claim.take(taken, bench.layout, bench.rules)
    assert not mesh.exists() and target.read_bytes() == b"mesh"
    mesh.write_bytes(b"the next drop")
    claim.take(taken, bench.layout, bench.rules)
    assert mesh.read_bytes() == b"the next drop"


@pytest.mark.parametrize("people", ["rename", "remove", "append"])
def test_a_file_that_people_take_hold_of_while_it_is_copied_is_there_once(
    bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, people: str
) -> None:
    """Its copy under the claim was never the only one: what people made of the file is what stays."""
    mesh = bench.put("crate/crate.obj", b"mesh")
    bench.put("crate/a.png", b"map")
    os.link(mesh, tmp_path / "elsewhere")  # so that it is copied, as from another volume
    taken = bench.ticket()
    real = claim._refuse_latecomers

    def meddle(*args: Any) -> None:
        real(*args)
        if people == "rename":
            mesh.rename(mesh.with_name("renamed.obj"))
        elif people == "remove":
            mesh.unlink()
        else:
            mesh.write_bytes(b"mesh, and more")

    monkeypatch.setattr(claim, "_refuse_latecomers", meddle)
    with pytest.raises(Changed):
        claim.claim(taken, bench.layout, bench.rules)
    became = {
        "rename": {"crate/renamed.obj": b"mesh"},
        "remove": {},
        "append": {"crate/crate.obj": b"mesh, and more"},
    }[people]
    assert bench.files("inbox") == {"crate/a.png": b"map", **became}
    assert bench.claimed() == {}


def test_a_copy_whose_source_we_removed_is_never_let_go(
    bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The folder of the inbox cannot be synced any more just after the file was removed from it."""
    mesh, taken = one_to_copy(bench, tmp_path)
    real = durable.sync_folder

    def failing(path: Path | str) -> None:
        if Path(path) == mesh.parent and not list(mesh.parent.iterdir()):
            raise TransientFault("could not make a folder durable")
        real(path)

    monkeypatch.setattr(durable, "sync_folder", failing)
    with pytest.raises(TransientFault):
        claim.claim(taken, bench.layout, bench.rules)
    assert bench.claimed() == {"drop/crate/crate.obj": b"mesh"}


@pytest.mark.parametrize("people", ["rename", "append"])
def test_where_a_source_could_not_be_removed_people_may_still_change_it(
    bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, people: str
) -> None:
    """A read-only inbox: the copy is not the only one, and must not pass for it once people may write again."""
    mesh, taken = one_to_copy(bench, tmp_path)
    real = durable.remove_file

    def failing(path: Path | str) -> None:
        if Path(path).parent == mesh.parent:
            raise TransientFault("could not remove a file")
        real(path)

    monkeypatch.setattr(durable, "remove_file", failing)
    with pytest.raises(TransientFault, match="could not remove a file"):
        claim.claim(taken, bench.layout, bench.rules)
    monkeypatch.undo()
    assert (bench.files("inbox"), bench.claimed()) == ({"crate/crate.obj": b"mesh"}, {})
    became = mesh
    if people == "rename":
        became = mesh.rename(mesh.with_name("renamed.obj"))
    else:
        mesh.write_bytes(b"mesh, and more")
    with pytest.raises(Changed):
        claim.take(taken, bench.layout, bench.rules)
    assert bench.files("inbox") == {f"crate/{became.name}": became.read_bytes()}
    assert bench.claimed() == {}


@pytest.mark.parametrize("people", ["rename", "replace", "append"])
def test_people_who_are_quicker_than_the_removal_of_a_source_lose_nothing(
    bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, people: str
) -> None:
    """Between the last look at the source and its removal: a file renamed away is there once, a new one stays."""
    mesh, taken = one_to_copy(bench, tmp_path)
    real = durable.rename_own

    def quicker(source: Path | str, part: Path | str) -> None:
        if people == "append":
            mesh.write_bytes(b"mesh, and more")
        else:
            mesh.rename(mesh.with_name("renamed.obj"))
        if people == "replace":
            mesh.write_bytes(b"next")
        real(source, part)

    monkeypatch.setattr(durable, "rename_own", quicker)
    with pytest.raises(Changed):
        claim.claim(taken, bench.layout, bench.rules)
    assert (
        bench.files("inbox")
        == {
            "rename": {"crate/renamed.obj": b"mesh"},
            "replace": {"crate/renamed.obj": b"mesh", "crate/crate.obj": b"next"},
            "append": {"crate/crate.obj": b"mesh, and more"},
        }[people]
    )
    assert bench.claimed() == {}


@pytest.mark.parametrize("ill", [False, True])
def test_a_crash_just_before_a_source_is_removed_leaves_it_once(
    bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ill: bool
) -> None:
    mesh, taken = one_to_copy(bench, tmp_path)

    def killed(path: Path | str) -> None:
        raise KeyboardInterrupt

    def ill_disk(path: Path | str) -> None:
        raise TransientFault("could not remove a file")

    with monkeypatch.context() as patch:
        patch.setattr(durable, "remove_file", killed)
        with pytest.raises(KeyboardInterrupt):
            claim.claim(taken, bench.layout, bench.rules)
    (hidden,) = mesh.parent.iterdir()
    assert hidden.name.startswith(durable.PART)
    if ill:  # recovery may not remove it just then: the drop waits for that
        with monkeypatch.context() as patch:
            patch.setattr(durable, "remove_file", ill_disk)
            recover.carry_out(recover.plan(bench.layout), bench.layout, bench.rules, NOW, lambda delivered: None)
        assert hidden.exists() and not claim.complete(taken, bench.layout)
        claim.take(taken, bench.layout, bench.rules)
    else:
        recover.carry_out(recover.plan(bench.layout), bench.layout, bench.rules, NOW, lambda delivered: None)
    assert (bench.files("inbox"), bench.claimed()) == ({}, {"drop/crate/crate.obj": b"mesh"})
    assert claim.complete(taken, bench.layout)


@pytest.mark.parametrize("data", [b"", b"mesh"])
@pytest.mark.parametrize("goes_on", ["take", "give back"])
def test_a_crash_while_a_source_was_hidden_gives_it_its_name_again(
    bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, data: bytes, goes_on: str
) -> None:
    """Its copy has no name of its own yet. An empty file begins as any other does, and is nobody's leftover all the same."""
    for name in ("a.png", "crate.obj"):
        os.link(bench.put(f"crate/{name}", data + b"map" if name == "a.png" else data), tmp_path / name)
    taken = bench.ticket()
    real = durable.move_new

    def killed(source: Path | str, target: Path | str) -> None:
        if Path(target).name == "crate.obj":
            raise KeyboardInterrupt
        real(source, target)

    with monkeypatch.context() as patch:
        patch.setattr(durable, "move_new", killed)
        with pytest.raises(KeyboardInterrupt):
            claim.claim(taken, bench.layout, bench.rules)
    assert len(list((bench.paths.inbox / "crate").iterdir())) == 2, "both are hidden, one of them with its copy named"
    steps = recover.plan(bench.layout)
    assert [step.action for step in steps if step.action in (recover.REMOVE_PART, recover.LOOK)] == ["remove-part"]
    if goes_on == "take":
        recover.carry_out(steps, bench.layout, bench.rules, NOW, lambda delivered: None)
        assert bench.files("inbox") == {}
        assert bench.claimed() == {"drop/crate/a.png": data + b"map", "drop/crate/crate.obj": data}
    else:
        claim.give_back(taken, bench.layout)
        assert bench.files("inbox") == {"crate/a.png": data + b"map", "crate/crate.obj": data}


def test_a_source_that_was_removed_although_that_failed_keeps_its_copy(
    bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mesh, taken = one_to_copy(bench, tmp_path)
    real = durable.remove_file

    def failing(path: Path | str) -> None:
        real(path)
        if Path(path).parent == mesh.parent:
            raise TransientFault("could not remove a file")

    monkeypatch.setattr(durable, "remove_file", failing)
    with pytest.raises(TransientFault):
        claim.claim(taken, bench.layout, bench.rules)
    assert bench.claimed() == {"drop/crate/crate.obj": b"mesh"}


def test_a_crash_before_all_was_copied_leaves_no_copy_that_passes_for_the_only_one(
    bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("a.obj", "b.obj"):
        os.link(bench.put(f"crate/{name}", name.encode()), tmp_path / name)
    taken = bench.ticket()
    real, copied = durable.copy_new, []

    def killed(source: Path | str, path: Path | str) -> Any:
        if copied:
            raise KeyboardInterrupt
        copied.append(real(source, path))

    monkeypatch.setattr(durable, "copy_new", killed)
    with pytest.raises(KeyboardInterrupt):
        claim.claim(taken, bench.layout, bench.rules)
    monkeypatch.undo()
    (bench.paths.inbox / "crate/a.obj").rename(bench.paths.inbox / "crate/renamed.obj")
    with pytest.raises(Changed):
        claim.take(taken, bench.layout, bench.rules)
    assert bench.files("inbox") == {"crate/renamed.obj": b"a.obj", "crate/b.obj": b"b.obj"}
    assert bench.claimed() == {}


def test_names_that_are_not_utf8_and_very_long_ones_pass(bench: Bench) -> None:
    names = [os.fsdecode(b"caf\xe9.obj"), "n" * 251 + ".obj"]
    for name in names:
        bench.put(f"crate/{name}", b"x")
    taken = bench.claim()
    assert set(bench.claimed()) == {f"drop/crate/{name}" for name in names}
    assert ticket.read(bench.layout.ticket_file(taken.ticket)) == taken


def test_a_full_disk_leaves_the_drop_where_it_is(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bench.put("crate/crate.obj", b"mesh")
    taken = bench.ticket()

    def full(descriptor: int) -> None:
        raise OSError(28, "no space")

    monkeypatch.setattr(durable.os, "fsync", full)
    with pytest.raises(TransientFault):
        claim.claim(taken, bench.layout, bench.rules)
    monkeypatch.undo()
    claim.give_back(taken, bench.layout)
    assert bench.files("inbox") == {"crate/crate.obj": b"mesh"}


@pytest.mark.parametrize(
    "data", [b"", b"{}", b"[]", b'{"schema": "other"}', b"\xff", b'{"schema": "tidegate-ticket-1"}']
)
def test_a_broken_ticket_is_named_as_one(tmp_path: Path, data: bytes) -> None:
    from tidegate.errors import PermanentFault

    (tmp_path / "t.json").write_bytes(data)
    with pytest.raises(PermanentFault, match="ticket"):
        ticket.read(tmp_path / "t.json")
