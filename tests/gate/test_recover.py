"""Recovery as a table: each thing a crash can leave, what is planned, and that planning changes nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.gate.bench import NOW, Bench
from tidegate.gate import durable, hand_over, handing, one_drop, publish, recover, ticket
from tidegate.gate.outcome import Outcome


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    bench = Bench(tmp_path)
    bench.put("crate/crate.obj", b"mesh")
    bench.put("crate/a.png", b"map")
    return bench


def actions(bench: Bench) -> list[str]:
    before = {path: path.lstat().st_mtime_ns for path in bench.base.rglob("*")}
    steps = recover.plan(bench.layout)
    assert before == {path: path.lstat().st_mtime_ns for path in bench.base.rglob("*")}
    return [step.action for step in steps]


def mend(bench: Bench) -> list[recover.Result]:
    steps = recover.plan(bench.layout)
    return list(recover.carry_out(steps, bench.layout, bench.rules, NOW, lambda delivered: None))


def approved(bench: Bench) -> tuple[ticket.Ticket, Outcome]:
    taken = bench.claim()
    return taken, Outcome("crate", "approved", ("a.png", "crate.obj"), ("quay",))


def test_nothing_left_nothing_to_do(bench: Bench) -> None:
    assert actions(bench) == []


def test_part_files_are_removed_everywhere_we_write_them(bench: Bench) -> None:
    home = bench.layout.claimed_folder(bench.claim().ticket)
    for folder in (bench.layout.tickets, bench.layout.handing, bench.paths.work, home / "drop/crate"):
        (folder / f"{durable.PART}0123456789abcdef").write_bytes(b"half")
    assert actions(bench) == [*["remove-part"] * 4, "judge"]
    mend(bench)
    assert actions(bench) == ["judge"]
    assert sorted(path.name for path in (home / "drop/crate").iterdir()) == ["a.png", "crate.obj"]


def test_in_the_inbox_only_parts_of_ours_are_removed(bench: Bench) -> None:
    """A file that was coming back by copy when a kill came; the others only have such a name, and stay."""
    taken = bench.claim()
    bench.put(f"crate/{durable.PART}0123456789abcdef", b"me")
    theirs = {
        f"{durable.PART}lamp.png": b"an artist's",
        f"crate/{durable.PART}00000000000000aa": b"mash",
        f"lamp/{durable.PART}00000000000000bb": b"me",
    }
    for path, data in theirs.items():
        bench.put(path, data)
    assert actions(bench) == ["remove-part", "look", "look", "look", "judge"]
    assert [result.fault for result in mend(bench)] == [None] * 5
    assert bench.files("inbox") == theirs
    assert actions(bench) == ["look", "look", "look", "judge"]
    assert bench.layout.ticket_file(taken.ticket).exists()


def test_a_ticket_whose_files_never_moved_is_taken(bench: Bench) -> None:
    taken = bench.ticket()
    durable.write_file(bench.layout.ticket_file(taken.ticket), ticket.to_bytes(taken))
    assert actions(bench) == ["take"]
    assert [result.fault for result in mend(bench)] == [None]
    assert actions(bench) == ["judge"]


def test_a_ticket_whose_files_changed_meanwhile_is_torn_up(bench: Bench) -> None:
    taken = bench.ticket()
    durable.write_file(bench.layout.ticket_file(taken.ticket), ticket.to_bytes(taken))
    bench.put("crate/crate.obj", b"another mesh")
    mend(bench)
    assert actions(bench) == []
    assert bench.files("inbox") == {"crate/crate.obj": b"another mesh", "crate/a.png": b"map"}


def test_staged_copies_without_a_note_are_cleared_and_the_drop_judged(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    taken, outcome = approved(bench)
    monkeypatch.setattr(hand_over, "publish", lambda *args: ())
    prepared = one_drop.prepare(taken, bench.layout, bench.rules)
    one_drop.finish(prepared, [outcome], bench.layout, NOW, lambda delivered: None)
    assert actions(bench) == ["finish-handing"]
    bench.layout.handing_file(taken.ticket).unlink()
    assert actions(bench) == ["clear-copies", "judge"]
    mend(bench)
    assert actions(bench) == ["judge"]


@pytest.mark.parametrize("moved", [False, True])
def test_a_note_is_finished_whether_or_not_its_folder_moved(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, moved: bool
) -> None:
    taken, outcome = approved(bench)
    monkeypatch.setattr(hand_over, "publish", lambda *args: ())
    prepared = one_drop.prepare(taken, bench.layout, bench.rules)
    one_drop.finish(prepared, [outcome], bench.layout, NOW, lambda delivered: None)
    if moved:
        publish._place(handing.read(bench.layout.handing_file(taken.ticket)).entries[0], bench.layout)
    (result,) = mend(bench)
    assert [each.at.name for each in result.delivered] == ["v001"]
    assert actions(bench) == []
    assert list(bench.layout.claimed.iterdir()) == []


def test_what_was_handed_over_and_is_gone_leaves_the_claim_safe(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    taken, outcome = approved(bench)
    monkeypatch.setattr(hand_over, "publish", lambda *args: ())
    prepared = one_drop.prepare(taken, bench.layout, bench.rules)
    one_drop.finish(prepared, [outcome], bench.layout, NOW, lambda delivered: None)
    entry = handing.read(bench.layout.handing_file(taken.ticket)).entries[0]
    delivered = publish._place(entry, bench.layout)
    (delivered.at / "crate.obj").write_bytes(b"tampered with")
    monkeypatch.undo()
    mend(bench)
    (aside,) = bench.paths.aside.glob("crate-*")
    assert ((aside / "crate.obj").read_bytes(), (aside / "a.png").read_bytes()) == (b"mesh", b"map")
    assert actions(bench) == []


def test_props_that_stand_stay_when_the_rest_of_their_drop_goes_aside(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.put("crate/sign.obj", b"sign")
    taken = bench.claim()
    outcomes = [
        Outcome("crate", "approved", ("a.png", "crate.obj"), ("quay",)),
        Outcome("sign", "approved", ("a.png", "sign.obj"), ("quay",)),
    ]
    monkeypatch.setattr(hand_over, "publish", lambda *args: ())
    prepared = one_drop.prepare(taken, bench.layout, bench.rules)
    one_drop.finish(prepared, outcomes, bench.layout, NOW, lambda delivered: None)
    note = handing.read(bench.layout.handing_file(taken.ticket))
    publish._place(note.entries[0], bench.layout)
    durable.remove_copies(Path(note.entries[1].staging))  # lost by other hands: it can never be moved
    monkeypatch.undo()
    mend(bench)
    assert (bench.paths.delivery / "quay/crate/v001/crate.obj").read_bytes() == b"mesh"
    (aside,) = bench.paths.aside.glob("crate-*")
    assert sorted(path.name for path in aside.iterdir() if ".tidegate." not in path.name) == [
        "a.png",
        "manifest-sha256.txt",
        "sign.obj",
    ]


def test_claimed_files_without_a_ticket_go_aside(bench: Bench) -> None:
    taken = bench.claim()
    bench.layout.ticket_file(taken.ticket).unlink()
    assert actions(bench) == ["put-aside"]
    mend(bench)
    (aside,) = bench.paths.aside.glob("2026*")
    assert (aside / "crate.obj").read_bytes() == b"mesh"
    assert actions(bench) == []


def test_a_ticket_that_cannot_be_read_goes_aside_with_its_files(bench: Bench) -> None:
    taken = bench.claim()
    bench.layout.ticket_file(taken.ticket).write_bytes(b"rubbish")
    assert actions(bench) == ["put-aside"]
    mend(bench)
    (aside,) = bench.paths.aside.glob("2026*")
    assert (aside / "ticket.tidegate.json").read_bytes() == b"rubbish"
    assert (aside / "crate.obj").read_bytes() == b"mesh"
    assert actions(bench) == []


def test_a_note_that_cannot_be_read_is_left_for_a_person(bench: Bench) -> None:
    taken = bench.claim()
    bench.layout.handing_file(taken.ticket).write_bytes(b"rubbish")
    assert actions(bench) == ["look"]
    mend(bench)
    assert (bench.layout.claimed_folder(taken.ticket) / "drop/crate/crate.obj").read_bytes() == b"mesh"


def test_another_gates_staging_is_not_touched(bench: Bench) -> None:
    theirs = bench.paths.delivery / ".tidegate-staging/vendor/20261125T000000Z-abcdef-1"
    theirs.mkdir(parents=True)
    assert actions(bench) == []
