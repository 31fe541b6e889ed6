"""The way back out of a claim: whole, once, and never into another drop."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.gate.bench import Bench
from tidegate.errors import PermanentFault, TransientFault
from tidegate.gate import claim, durable, give_back, ticket
from tidegate.gate.faults import Changed
from tidegate.gate.ticket import Ticket

CUT_SHORT = f"{durable.PART}0123456789abcdef"


class Killed(BaseException):
    """What a kill is to the code: nothing after it runs."""


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def killed_at(number: int, monkeypatch: pytest.MonkeyPatch, step: str, does: Callable[[], object]) -> None:
    """Run until just before the given call of a primitive disk step, counted from 1."""
    real, calls = getattr(durable, step), [0]

    def counted(*args: Any, **more: Any) -> Any:
        calls[0] += 1
        if calls[0] == number:
            raise Killed
        return real(*args, **more)

    with monkeypatch.context() as patch:
        patch.setattr(durable, step, counted)
        with pytest.raises(Killed):
            does()


def test_nothing_is_given_back_below_the_mount_point_of_an_inbox_that_is_gone(bench: Bench) -> None:
    bench.put("crate/crate.obj", b"mesh")
    taken = bench.claim()
    volume = bench.paths.inbox.rename(bench.base / "volume")
    with pytest.raises(TransientFault, match="the inbox is gone"):
        give_back.give_back(taken, bench.layout)
    assert not bench.paths.inbox.exists()
    assert (bench.claimed(), ticket.read(bench.layout.ticket_file(taken.ticket))) == (
        {"drop/crate/crate.obj": b"mesh"},
        taken,
    )
    volume.rename(bench.paths.inbox)
    give_back.give_back(taken, bench.layout)
    assert (bench.files("inbox"), bench.claimed()) == ({"crate/crate.obj": b"mesh"}, {})


@pytest.mark.parametrize("again", ["give back", "take"])
@pytest.mark.parametrize("newer", [b"", b"a newer mesh"])
def test_giving_back_to_another_volume_cut_short_leaves_a_file_once(bench: Bench, again: str, newer: bytes) -> None:
    """The file was copied back and its claimed copy not removed yet: under its name, or beside a newer file of that name."""
    mesh = bench.put("crate/crate.obj", b"mesh")
    taken = bench.claim()
    beside = bench.paths.inbox / f"crate~{taken.ticket}/crate.obj"
    if newer:
        bench.put("crate/crate.obj", newer)
    copy = beside if newer else mesh
    copy.parent.mkdir(exist_ok=True)
    copy.write_bytes(b"mesh")
    if again == "take":
        with pytest.raises(Changed):
            claim.take(taken, bench.layout, bench.rules)
    else:
        give_back.give_back(taken, bench.layout)
    stays = (
        {"crate/crate.obj": newer, f"crate~{taken.ticket}/crate.obj": b"mesh"}
        if newer
        else {"crate/crate.obj": b"mesh"}
    )
    assert bench.files("inbox") == stays
    assert bench.claimed() == {}


@pytest.mark.parametrize("again", ["crate.obj", "maps/b.png", "new.png", "new.part"])
def test_a_drop_is_not_put_back_into_a_newer_one(bench: Bench, again: str) -> None:
    """One file of the newer drop is enough, also one that the old drop had not, or that is still being copied."""
    bench.put("crate/crate.obj", b"mesh")
    bench.put("crate/maps/b.png", b"map")
    taken = bench.claim()
    bench.put(f"crate/{again}", b"newer")
    with pytest.raises(TransientFault, match="its name is in use in the inbox again"):
        give_back.put_back(taken, bench.layout, bench.rules)
    assert bench.files("inbox") == {f"crate/{again}": b"newer"}
    assert bench.claimed() == {"drop/crate/crate.obj": b"mesh", "drop/crate/maps/b.png": b"map"}
    assert bench.layout.ticket_file(taken.ticket).exists()
    (bench.paths.inbox / f"crate/{again}").unlink()
    give_back.put_back(taken, bench.layout, bench.rules)
    assert bench.files("inbox") == {"crate/crate.obj": b"mesh", "crate/maps/b.png": b"map"}


def test_what_the_drop_itself_left_in_its_folder_does_not_keep_it_from_going_back(bench: Bench) -> None:
    bench.put("crate/crate.obj", b"mesh")
    bench.put("crate/Thumbs.db", b"litter")
    (bench.paths.inbox / "crate/link").symlink_to("/etc/hostname")
    taken = bench.claim()
    give_back.put_back(taken, bench.layout, bench.rules)
    assert (bench.paths.inbox / "crate/crate.obj").read_bytes() == b"mesh"
    assert (bench.claimed(), list(bench.layout.tickets.iterdir())) == ({}, [])


def test_a_drop_taken_by_half_goes_back_to_its_other_half(bench: Bench) -> None:
    bench.put("crate/a.png", b"map")
    bench.put("crate/crate.obj", b"mesh")
    taken = bench.ticket()
    durable.write_file(bench.layout.ticket_file(taken.ticket), ticket.to_bytes(taken))
    target = bench.layout.claimed_folder(taken.ticket) / taken.moves[0].to
    target.parent.mkdir(parents=True)
    Path(taken.moves[0].source).rename(target)
    give_back.put_back(taken, bench.layout, bench.rules)
    assert bench.files("inbox") == {"crate/a.png": b"map", "crate/crate.obj": b"mesh"}


def test_loose_files_are_not_put_back_beside_newer_ones_of_their_names(bench: Bench) -> None:
    bench.put("crate.obj", b"mesh")
    bench.put("crate_base_color.png", b"map")
    taken = bench.claim()
    newer = bench.put("crate_base_color.png", b"newer")
    with pytest.raises(TransientFault, match="in use"):
        give_back.put_back(taken, bench.layout, bench.rules)
    assert bench.files("inbox") == {"crate_base_color.png": b"newer"}
    newer.unlink()
    bench.put("lamp.obj", b"another drop")
    give_back.put_back(taken, bench.layout, bench.rules)
    assert bench.files("inbox") == {"crate.obj": b"mesh", "crate_base_color.png": b"map", "lamp.obj": b"another drop"}


@pytest.mark.parametrize("folder", ["crate/", ""])
def test_what_a_newer_file_has_the_name_of_goes_into_a_folder_of_its_own(bench: Bench, folder: str) -> None:
    """The drop changed while it was claimed: what was not replaced goes on with the newer file."""
    bench.put(f"{folder}crate.obj", b"old")
    bench.put(f"{folder}crate_normal.png", b"map")
    taken = bench.claim()
    bench.put(f"{folder}crate.obj", b"new")
    give_back.give_back(taken, bench.layout)
    assert bench.files("inbox") == {
        f"{folder}crate.obj": b"new",
        f"{folder}crate_normal.png": b"map",
        f"crate~{taken.ticket}/crate.obj": b"old",
    }
    names = sorted((drop.kind, drop.name) for drop in bench.drops())
    assert names == sorted([("folder" if folder else "loose", "crate"), ("folder", f"crate~{taken.ticket}")])


def test_a_file_in_the_place_of_the_folder_keeps_no_drop_from_going_back(bench: Bench) -> None:
    bench.put("crate/maps/a.png", b"map")
    taken = bench.claim()
    bench.put("crate", b"a file of that name")
    give_back.give_back(taken, bench.layout)
    assert bench.files("inbox") == {"crate": b"a file of that name", f"crate~{taken.ticket}/maps/a.png": b"map"}


def test_long_names_of_many_bytes_have_room_for_the_ticket(bench: Bench) -> None:
    """84 letters of three bytes each are 252 bytes; with the ticket behind all of them the name would have 276."""
    name = "\u6e2f" * 84
    bench.put(f"{name}/crate.obj", b"old")
    taken = bench.claim()
    bench.put(f"{name}/crate.obj", b"new")
    give_back.give_back(taken, bench.layout)
    beside = "\u6e2f" * 50 + f"~{taken.ticket}"
    assert bench.files("inbox") == {f"{name}/crate.obj": b"new", f"{beside}/crate.obj": b"old"}


def test_where_every_name_is_taken_the_file_stays_claimed(bench: Bench) -> None:
    bench.put("crate.obj", b"old")
    taken = bench.claim()
    bench.put("crate.obj", b"new")
    beside = f"crate~{taken.ticket}"
    for name in (beside, *(f"{beside}-{number}" for number in range(2, 100))):
        bench.put(f"{name}/crate.obj", b"another")
    with pytest.raises(PermanentFault, match="no free name"):
        give_back.give_back(taken, bench.layout)
    assert bench.claimed() == {"drop/crate/crate.obj": b"old"}
    (bench.paths.inbox / f"{beside}-99/crate.obj").unlink()
    give_back.give_back(taken, bench.layout)
    assert bench.files("inbox")[f"{beside}-99/crate.obj"] == b"old"


@pytest.mark.parametrize("number", [1, 2, 3])
def test_killed_on_the_way_back_it_goes_on_where_it_was(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    """Three files, each with a newer one of its name; killed before the first, second and third move."""
    for each in ("a.png", "b.png", "crate.obj"):
        bench.put(f"crate/{each}", b"old " + each.encode())
    taken = bench.claim()
    for each in ("a.png", "b.png", "crate.obj"):
        bench.put(f"crate/{each}", b"new " + each.encode())
    # Each file tries its old name first, so there are two calls a file.
    killed_at(2 * number, monkeypatch, "move_new", lambda: give_back.give_back(taken, bench.layout))
    if number == 1:
        claim.take(taken, bench.layout, bench.rules)  # what the next start does
        assert len(bench.claimed()) == 3, "nothing had gone back: it is judged"
        return
    with pytest.raises(Changed):
        claim.take(taken, bench.layout, bench.rules)
    assert bench.files("inbox") == {
        f"{folder}/{each}": word + each.encode()
        for folder, word in (("crate", b"new "), (f"crate~{taken.ticket}", b"old "))
        for each in ("a.png", "b.png", "crate.obj")
    }
    assert (bench.claimed(), list(bench.layout.tickets.iterdir())) == ({}, [])


@pytest.mark.parametrize("became", [b"mesh", b"mesh, and more", None])
def test_where_our_file_cannot_be_removed_its_copy_goes_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, became: bytes | None
) -> None:
    """On another volume: renamed by people before the next try, the copy would be given back once more."""
    claimed, copy = tmp_path / "claimed.obj", tmp_path / "copy.obj"
    claimed.write_bytes(b"mesh")
    if became is not None:
        copy.write_bytes(became)
    real = durable.remove_file

    def failing(path: Path | str) -> None:
        if Path(path) == claimed:
            raise TransientFault("could not remove a file")
        real(path)

    monkeypatch.setattr(durable, "remove_file", failing)
    with pytest.raises(TransientFault, match="could not remove a file"):
        give_back._remove_or_undo(claimed, copy)
    assert claimed.read_bytes() == b"mesh"
    assert (copy.read_bytes() if copy.exists() else None) == (None if became == b"mesh" else became)


def part_in(folder: Path, data: bytes, name: str = CUT_SHORT) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_bytes(data)
    return folder / name


def own(taken: Ticket, bench: Bench) -> list[Path]:
    return give_back.own_parts(taken, bench.layout)


@pytest.mark.parametrize("data", [b"", b"me", b"mesh"])
@pytest.mark.parametrize("beside", [False, True])
def test_a_copy_on_the_way_back_that_was_cut_short_is_ours(bench: Bench, data: bytes, beside: bool) -> None:
    bench.put("crate/crate.obj", b"mesh")
    taken = bench.claim()
    folder = bench.paths.inbox / (f"crate~{taken.ticket}" if beside else "crate")
    part = part_in(folder, data)
    assert own(taken, bench) == [part]
    give_back.give_back(taken, bench.layout)
    assert bench.files("inbox") == {"crate/crate.obj": b"mesh"}


@pytest.mark.parametrize(
    "why",
    ["other bytes", "longer", "a name that we do not make", "another folder", "the claim has no such file", "a link"],
)
def test_what_only_looks_like_one_is_not(bench: Bench, why: str) -> None:
    bench.put("crate/crate.obj", b"mesh")
    taken = bench.claim()
    folder = bench.paths.inbox / ("lamp" if why == "another folder" else "crate")
    data = {"other bytes": b"mash", "longer": b"mesh."}.get(why, b"me")
    name = f"{durable.PART}notes.txt" if why == "a name that we do not make" else CUT_SHORT
    part = part_in(folder, data, name)
    if why == "the claim has no such file":
        (bench.layout.claimed_folder(taken.ticket) / taken.moves[0].to).unlink()
    elif why == "a link":
        part.rename(folder / "target")
        part.symlink_to("target")
    assert own(taken, bench) == []
    give_back.give_back(taken, bench.layout)
    assert os.path.lexists(part)
