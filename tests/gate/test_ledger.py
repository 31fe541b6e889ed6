"""The ledger can be lost, broken and rebuilt; the trees know it all."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.gate.bench import Bench
from tidegate.errors import TransientFault
from tidegate.gate.ledger import Ledger, WaitingRow


@pytest.fixture
def ledger(tmp_path: Path) -> Ledger:
    bench = Bench(tmp_path)
    ledger = Ledger(bench.layout.ledger)
    for name, data in (
        ("crate/crate.obj", b"a"),
        ("crate/crate.obj", b"b"),
        ("float/float.obj", b"wrong"),
        ("pot/pot.obj", b"blind"),
    ):
        bench.put(name, data)
        ledger.enter(bench.through())
    return ledger


def test_rows_tell_each_hand_over(ledger: Ledger) -> None:
    assert sorted((row.prop, row.verdict, row.version, row.files) for row in ledger.history()) == [
        ("crate", "approved", 1, 1),
        ("crate", "approved", 2, 1),
        ("float", "returned", 0, 1),
        ("pot", "unjudged", 0, 1),
    ]
    assert sorted((row.verdict, row.version) for row in ledger.history("crate")) == [("approved", 1), ("approved", 2)]
    assert ledger.history("nothing") == []
    assert ledger.counts() == {"approved": 2, "returned": 1, "unjudged": 1}


def test_entering_twice_is_entering_once(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    bench.put("crate/crate.obj")
    delivered = bench.through()
    ledger = Ledger(bench.layout.ledger)
    ledger.enter(delivered)
    ledger.enter(delivered)
    assert len(ledger.history()) == 1


@pytest.mark.parametrize("harm", ["lost", "rubbish", "kept"])
def test_rebuilt_from_the_trees_it_says_the_same(ledger: Ledger, tmp_path: Path, harm: str) -> None:
    before = ledger.history()
    ledger.close()
    if harm == "lost":
        ledger.path.unlink()
    elif harm == "rubbish":
        ledger.path.write_bytes(b"rubbish" * 1000)
        with pytest.raises(TransientFault, match="ledger"):
            ledger.history()
    paths = Bench(tmp_path).paths
    assert ledger.rebuild(paths.trees) == 4
    assert sorted(ledger.history(), key=str) == sorted(before, key=str)
    assert len(list(ledger.path.parent.glob("*.old-1"))) == (harm != "lost")


@pytest.mark.parametrize("by", ["nothing", "an older copy"])
def test_taken_away_while_it_is_open_it_is_made_anew_where_people_look(ledger: Ledger, tmp_path: Path, by: str) -> None:
    copy = tmp_path / "copy"
    older = Ledger(copy)
    older.waiting([WaitingRow("from the copy", "", "", 0, "", "t")])
    older.close()
    ledger.path.unlink()
    if by != "nothing":
        copy.rename(ledger.path)
    ledger.waiting([*ledger.held_up(), WaitingRow("after", "", "", 0, "", "t")])
    other = Ledger(ledger.path)  # as `tidegate status` opens it
    wanted = ["after"] if by == "nothing" else ["after", "from the copy"]
    assert [row.key for row in other.held_up()] == wanted
    assert other.history() == []
    assert ledger.rebuild(Bench(tmp_path).paths.trees) == 4


def test_waiting_rows_are_replaced(tmp_path: Path) -> None:
    ledger = Ledger(tmp_path / "l")
    ledger.waiting([WaitingRow("a", "full", "make room", 3, "", "t"), WaitingRow("b", "x", "", 0, "", "t")])
    ledger.waiting([WaitingRow("a", "full", "make room", 4, "", "t")])
    assert ledger.held_up() == [WaitingRow("a", "full", "make room", 4, "", "t")]


def test_names_cannot_speak_sql(ledger: Ledger) -> None:
    assert ledger.history("'; DROP TABLE handed; --") == []
    assert len(ledger.history()) == 4
