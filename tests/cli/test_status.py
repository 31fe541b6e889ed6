"""`tidegate status` in each state a gate may be in: what a person reads, what a program reads, and the exit code."""

from __future__ import annotations

import json
import os
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from tests.cli.test_recover import Studio
from tests.gate.driver import judge
from tests.support.command_line import tidegate
from tidegate.cli.status import MOST
from tidegate.gate import claim, one_drop
from tidegate.gate.grouping import drops_in
from tidegate.gate.handed_before import HandedBefore
from tidegate.gate.layout import Layout
from tidegate.gate.ledger import Ledger, WaitingRow
from tidegate.gate.left_claims import keep_note
from tidegate.gate.lock import held
from tidegate.gate.make_ticket import make_ticket
from tidegate.gate.scan import look
from tidegate.gate.settings import GateRules, Questions

SINCE, UNTIL = "2026-11-25T19:00:00Z", "2026-11-25T19:10:00Z"
ARRIVES = WaitingRow("crate", "waits for crate.mtl", "", 0, UNTIL, SINCE)
PAUSES = WaitingRow("float", "could not write: /x: ENOSPC", "make room", 1, UNTIL, SINCE)
REFUSED = WaitingRow("bell", "a name is taken", "change or remove it", 1, "", SINCE)
WAITS_FOR_SOMEBODY = WaitingRow("net", "no file named done in it yet", "", 0, "", SINCE)
ME = os.getpid()
EMPTY = ["  in the inbox  nothing", "  in hand       nothing", "  handed over   nothing yet"]


@pytest.fixture
def studio(tmp_path: Path) -> Studio:
    return Studio(tmp_path, "quay")


def told(studio: Studio) -> tuple[int, list[str], dict[str, Any]]:
    config = ("--config", studio.base / "tidegate.toml")
    text = tidegate("status", *config)
    record = tidegate("status", *config, "--format", "json")
    assert text.code == record.code and text.err == record.err == ""
    (gate,) = json.loads(record.out)["gates"]
    return text.code, text.out.splitlines(), gate


def write(layout: Layout, *rows: WaitingRow) -> None:
    ledger = Ledger(layout.ledger)
    ledger.waiting(rows)
    ledger.close()


def judged(layout: Layout, name: str, data: bytes) -> None:
    """One loose file, from the inbox to its place. tests.gate.driver says which contents are good."""
    rules = GateRules(quiet=0.0)
    (layout.paths.inbox / name).write_bytes(data)
    (seen,) = drops_in(look(layout.paths.inbox, rules), rules, Questions(), lambda file: ())
    taken = make_ticket(seen, layout, rules, HandedBefore(layout), (), datetime.now(UTC))
    claim.claim(taken, layout, rules)
    prepared = one_drop.prepare(taken, layout, rules)
    ledger = Ledger(layout.ledger)
    one_drop.finish(prepared, judge(prepared.root, prepared.context), layout, datetime.now(UTC), ledger.enter)
    ledger.close()


def test_it_never_ran(studio: Studio) -> None:
    code, lines, record = told(studio)
    inbox = studio.layout("quay").paths.inbox
    assert (code, record["inbox_there"], record["ever_ran"]) == (0, False, False)
    assert lines == [
        "gate quay, no daemon serves it",
        f"  never ran; `tidegate watch` makes its folders, the inbox at {inbox}",
        *EMPTY,
    ]


def test_nothing_is_there(studio: Studio) -> None:
    layout = studio.prepared("quay")
    with held(layout.lock):
        code, lines, _ = told(studio)
    assert (code, lines) == (0, [f"gate quay, served by process {ME}", *EMPTY])


def test_claims_lie_where_no_gate_serves_them(studio: Studio) -> None:
    """The work folder was changed with a drop in hand: nothing of it is in the new one."""
    layout = studio.claimed("quay", "crate")
    keep_note(layout)
    config = studio.base / "tidegate.toml"
    config.write_text(config.read_text().replace('work = "quay/work"', 'work = "elsewhere"'))
    code, lines, record = told(studio)
    assert code == 3
    assert lines[-2:] == [
        f"  left claims   1 drop lies claimed in {layout.paths.work}, where gate quay had its work folder; no gate has it now",
        f"{'':<16}give gate quay that work folder again, and its inbox, until `tidegate status` shows nothing in hand; "
        "then change the configuration",
    ]
    (each,) = record["left_claims"]
    assert (each["gate"], each["work"], each["drops"]) == ("quay", str(layout.paths.work), 1)


def test_the_inbox_went_away(studio: Studio) -> None:
    layout = studio.prepared("quay")
    layout.paths.inbox.rmdir()
    code, lines, _ = told(studio)
    assert code == 3
    assert lines[1] == f"  the inbox is not there: {layout.paths.inbox}: mount it or bring it back"


def test_drops_wait_and_nobody_takes_them(studio: Studio) -> None:
    layout = studio.prepared("quay")
    for number in range(8):
        (layout.paths.inbox / f"crate{number}.obj").touch()
    (layout.paths.inbox / "Thumbs.db").touch()  # litter is no drop
    code, lines, record = told(studio)
    assert code == 0 and lines[0] == "gate quay, no daemon serves it"
    names = ", ".join(f"crate{number}.obj" for number in range(6))
    assert lines[1] == f"  in the inbox  8: {names} and 2 more"
    assert len(record["in_inbox"]) == 8


def test_what_arrives_needs_nobody(studio: Studio) -> None:
    layout = studio.prepared("quay")
    write(layout, ARRIVES)
    with held(layout.lock):
        code, lines, record = told(studio)
    assert (code, record["held_up"]) == (0, [])
    assert lines[-1] == f"  arriving      crate: waits for crate.mtl; taken by {UNTIL} at the latest"
    assert record["arriving"] == [{"what": "crate", "reason": "waits for crate.mtl", "until": UNTIL}]


def test_what_is_held_up_says_why_and_when_it_is_tried_again(studio: Studio) -> None:
    layout = studio.prepared("quay")
    write(layout, PAUSES, REFUSED, WAITS_FOR_SOMEBODY)
    with held(layout.lock):
        code, lines, record = told(studio)
    assert code == 3
    assert lines[4:] == [
        "  held up       bell: a name is taken",
        "                change or remove it",
        f"  held up       float: could not write: /x: ENOSPC; tried 1 time, again at {UNTIL}",
        "                make room",
        "  held up       net: no file named done in it yet",
    ]
    assert [(row["what"], row["tries"], row["next_try"]) for row in record["held_up"]] == [
        ("bell", 1, None),
        ("float", 1, UNTIL),
        ("net", 0, None),
    ]


def test_without_a_daemon_nothing_is_tried_again(studio: Studio) -> None:
    layout = studio.prepared("quay")
    write(layout, ARRIVES, PAUSES)
    code, lines, _ = told(studio)
    assert code == 3
    assert lines[4:] == [
        "  was arriving  crate: waits for crate.mtl",
        "  was held up   float: could not write: /x: ENOSPC",
        "                make room",
    ]


def test_a_drop_in_hand_is_told_by_its_name(studio: Studio) -> None:
    layout = studio.claimed("quay", "crate")
    with held(layout.lock):
        code, lines, record = told(studio)
    assert code == 0 and "  in hand       1: crate" in lines
    (each,) = record["in_hand"]
    assert each["drop"] == "crate" and layout.ticket_file(each["ticket"]).is_file()


def test_a_ticket_that_cannot_be_read_is_told_and_hides_no_other(studio: Studio) -> None:
    layout = studio.claimed("quay", "crate")
    (layout.tickets / "odd.json").write_bytes(b"no ticket")
    code, lines, _ = told(studio)
    assert code == 3
    assert "  in hand       1: crate" in lines
    assert lines[-1].startswith(f"  cannot tell   which drop is in hand: {layout.tickets / 'odd.json'}: ")


def test_what_went_where_and_what_lies_aside(studio: Studio) -> None:
    layout = studio.prepared("quay")
    judged(layout, "crate.obj", b"fine")
    judged(layout, "float.obj", b"wrong")
    judged(layout, "bell.obj", b"blind")
    code, lines, record = told(studio)
    assert code == 3
    assert "  handed over   1 approved, 1 returned, 1 unjudged" in lines
    (row,) = record["aside"]
    at = Path(row["path"])
    assert at.parent == layout.paths.aside and (at / "bell.obj").read_bytes() == b"blind"
    assert lines[-1] == f"  aside         {at}: judged unjudged"


def test_a_long_list_is_cut_for_people_only(studio: Studio) -> None:
    layout = studio.prepared("quay")
    write(layout, *(WaitingRow(f"crate{n:03}", "is not complete", "", 0, UNTIL, SINCE) for n in range(MOST + 5)))
    with held(layout.lock):
        _, lines, record = told(studio)
    assert len(record["arriving"]) == MOST + 5
    assert len([line for line in lines if line.startswith("  arriving      crate")]) == MOST
    assert lines[-1] == "  arriving      and 5 more; --format json names all"


def test_the_exit_code_is_that_of_the_worst_gate(tmp_path: Path) -> None:
    studio = Studio(tmp_path, "quay", "mole")
    studio.prepared("quay")
    config = ("--config", tmp_path / "tidegate.toml")
    write(studio.prepared("mole"), REFUSED)
    assert tidegate("status", *config).code == 3
    assert tidegate("status", *config, "--gate", "quay").code == 0


def test_a_broken_rule_set_is_told_with_its_line_and_what_the_daemon_does_about_it(studio: Studio) -> None:
    """Also while the daemon goes on: whoever made the edit looks here, not into a log."""
    layout = studio.prepared("quay")
    config = studio.base / "tidegate.toml"
    config.write_text(config.read_text() + 'rule_set = "own.toml"\n')
    own = studio.base / "own.toml"
    rules = 'starts_from = "furniture"\n[[rule]]\ncheck = "triangles-over-budget"\nlevel = "error"\nmost = '
    own.write_text(f"{rules}900\n")
    code, page, gate = told(studio)
    assert (code, gate["broken_rules"]) == (0, [])
    own.write_text(f"{rules}9oo\n")
    code, page, gate = told(studio)
    assert code == 3 and gate["broken_rules"][0].startswith(f"{own}:5: is not valid TOML")
    assert page[4:6] == ["  broken rules  the gate cannot open so", f"{'':<16}{gate['broken_rules'][0]}"]
    with held(layout.lock):
        _, page, _ = told(studio)
    assert page[4] == "  broken rules  the daemon goes on with the last good ones"


def test_a_mistyped_category_of_an_order_is_held_against_scheme_and_gate(studio: Studio) -> None:
    """Known are the words of the names scheme and the categories that the gate has rule sets for."""
    studio.prepared("quay")
    config, orders = studio.base / "tidegate.toml", studio.base / "orders.csv"
    more = 'rule_set_by_category = { ropework = "handheld" }\norder_list = "orders.csv"\n'
    config.write_text(config.read_text() + more)
    orders.write_text("name,category\na,furniture\nb,ropework\nc,tool\n")
    assert told(studio)[0] == 0
    orders.write_text("name,category\na,furnitur\nb,ropwork\n")
    code, _, gate = told(studio)
    assert code == 3
    assert [line for line in gate["broken_rules"] if "did you mean" in line] == [
        "  help: did you mean `furniture`?",
        "  help: did you mean `ropework`?",
    ]
