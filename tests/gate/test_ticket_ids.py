"""Ticket ids only rise, whatever the clock does and whatever was forgotten in between."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest

from tests.gate.bench import NOW, Bench
from tidegate.errors import TransientFault
from tidegate.gate.ticket_ids import TICKET_ID, TicketIds


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def test_an_id_is_the_time(bench: Bench) -> None:
    """Half a second is 2048 of 4096 steps, 800 in hex; 13:00 an hour east of Greenwich is 12:00."""
    noon = datetime(2026, 11, 25, 13, 0, 0, 500_000, tzinfo=timezone(timedelta(hours=1)))
    made = TicketIds(bench.layout).new(noon)
    assert made[:20] == "20261125T120000Z-800"
    assert TICKET_ID.fullmatch(made)


def test_they_rise_while_the_clock_stands_or_goes_back(bench: Bench) -> None:
    """5000 in one instant run over the 4096 steps of its second; then the clock is an hour behind."""
    ids = TicketIds(bench.layout)
    made = [ids.new(NOW) for _ in range(5000)] + [ids.new(NOW - timedelta(hours=1)) for _ in range(3)]
    assert made == sorted(made)
    assert len({each[:20] for each in made}) == len(made)
    assert (made[4095][:20], made[4096][:20]) == ("20261125T120000Z-fff", "20261125T120001Z-000")
    assert ids.new(NOW + timedelta(hours=1))[:20] == "20261125T130000Z-000"


@pytest.mark.parametrize("where", ["tickets", "handing", "returned", "ledger"])
def test_a_new_start_knows_the_highest(bench: Bench, where: str) -> None:
    known = "20261125T180000Z-1ffabc"
    if where == "returned":
        (bench.paths.returned / f"net-{known}-2").mkdir()
    elif where != "ledger":
        (bench.paths.work / where / f"{known}.json").touch()
    ids = TicketIds(bench.layout, lambda: known if where == "ledger" else "")
    assert ids.new(NOW)[:20] == "20261125T180000Z-200"


def test_what_cannot_be_read_holds_nothing_up_and_is_asked_again(bench: Bench) -> None:
    answers = [None, "20261125T180000Z-000abc"]

    def in_ledger() -> str:
        answer = answers.pop(0)
        if answer is None:
            raise TransientFault("the ledger cannot be used")
        return answer

    ids = TicketIds(bench.layout, in_ledger)
    assert [ids.new(NOW)[:20] for _ in range(3)] == [
        "20261125T120000Z-000",
        "20261125T180000Z-001",
        "20261125T180000Z-002",
    ]
    assert answers == []


def test_a_row_that_is_no_id_stops_no_drop(bench: Bench) -> None:
    """A rebuilt ledger holds what records in the trees say, and anybody may have written one."""
    assert TicketIds(bench.layout, lambda: "x").new(NOW)[:20] == "20261125T120000Z-000"


@pytest.mark.parametrize("made_up", ["99991231T235959Z-fff000", "20261399T999999Z-fff000"])
def test_a_time_that_is_none_stops_no_drop(bench: Bench, made_up: str) -> None:
    (bench.paths.returned / f"net-{made_up}").mkdir()
    assert TicketIds(bench.layout).new(datetime(2026, 1, 1, tzinfo=UTC))[:17] == "20260101T000000Z-"
