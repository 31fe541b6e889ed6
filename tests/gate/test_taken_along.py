"""A returned prop that is taken along, while the gate's configuration changes or its ticket is lost: never left hidden."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from tests.gate.bench import NOW, Bench
from tests.gate.driver import judge
from tidegate.errors import TransientFault
from tidegate.gate import claim, durable, one_drop, recover, ticket
from tidegate.gate.layout import TAKEN, Layout
from tidegate.gate.publish import Delivered
from tidegate.gate.ticket import Ticket


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    bench = Bench(tmp_path)
    bench.put("net_float/net_float.obj", b"mesh")
    bench.put("net_float/maps/net_float_base_color.png", b"wrong")
    bench.through()
    bench.put("net_float_base_color.png", b"mended")
    return bench


def changed(bench: Bench, change: str) -> Layout:
    """The gate as it is configured from now on."""
    name = "quay" if change in ("name", "both") else bench.paths.name
    returned = bench.base / "new-returned" if change in ("returned", "both") else bench.paths.returned
    layout = Layout(replace(bench.paths, name=name, returned=returned))
    layout.prepare()
    return layout


def mend(bench: Bench, layout: Layout) -> list[recover.Result]:
    steps = recover.plan(layout)
    return list(recover.carry_out(steps, layout, bench.rules, NOW, lambda delivered: None))


def on_its_way(bench: Bench, files: int) -> Ticket:
    """Killed after the prop was moved out of sight, and so many of its files into the claim."""
    taken = bench.ticket()
    durable.write_file(bench.layout.ticket_file(taken.ticket), ticket.to_bytes(taken))
    claim._take_completed(taken, bench.layout)
    for move in [move for move in taken.moves if TAKEN in move.source][:files]:
        target = bench.layout.claimed_folder(taken.ticket) / move.to
        target.parent.mkdir(parents=True, exist_ok=True)
        Path(move.source).rename(target)
    return taken


def go_through(taken: Ticket, bench: Bench, layout: Layout) -> tuple[Delivered, ...]:
    prepared = one_drop.prepare(taken, layout, bench.rules)
    return one_drop.finish(prepared, judge(prepared.root, prepared.context), layout, NOW, lambda delivered: None)


@pytest.mark.parametrize("change", ["name", "returned", "both"])
@pytest.mark.parametrize("files", [0, 1, 2])
def test_it_is_judged_whole_although_the_gate_changed_after_a_kill(bench: Bench, change: str, files: int) -> None:
    on_its_way(bench, files)
    layout = changed(bench, change)
    assert [(result.step.action, result.fault) for result in mend(bench, layout)] == [("take", None)]
    (file,) = layout.tickets.iterdir()
    each, kept = go_through(ticket.read(file), bench, layout)
    assert (each.record.verdict, kept.record.tree) == ("approved", "kept")
    assert (each.at / "net_float.obj").read_bytes() == b"mesh"
    assert (each.at / "maps/net_float_base_color.png").read_bytes() == b"mended"
    assert not [path for path in bench.base.rglob("*") if TAKEN in str(path) and path.is_file()]
    assert list(bench.paths.returned.glob("net*")) == []


@pytest.mark.parametrize("change", ["name", "returned", "both"])
def test_it_goes_back_where_it_was_although_the_gate_changed(bench: Bench, change: str) -> None:
    """The mended map changed meanwhile, so that all is given back: to the tree that the prop came from."""
    (home,) = bench.paths.returned.glob("net*")
    before = bench.files("returned")
    on_its_way(bench, 1)
    bench.put("net_float_base_color.png", b"mended again")
    layout = changed(bench, change)
    assert [(result.step.action, result.fault) for result in mend(bench, layout)] == [("take", None)]
    assert bench.files("returned") == before
    assert home.is_dir()
    assert list(layout.tickets.iterdir()) == []
    assert not [path for path in bench.base.rglob("*") if TAKEN in str(path) and path.is_file()]


def test_while_the_tree_that_it_came_from_is_away_the_ticket_stays(bench: Bench) -> None:
    on_its_way(bench, 1)
    layout = changed(bench, "returned")
    bench.paths.returned.rename(bench.base / "volume")
    (result,) = mend(bench, layout)
    assert isinstance(result.fault, TransientFault)
    assert (result.fault.what, result.fault.path) == ("a tree of the gate is gone", str(bench.paths.returned))
    (bench.base / "volume").rename(bench.paths.returned)
    assert [result.fault for result in mend(bench, layout)] == [None]


def test_where_it_stands_is_told_by_its_ticket(bench: Bench) -> None:
    taken = bench.ticket()
    assert taken.taken == str(bench.layout.taken(taken.ticket))
    assert "taken" not in json.loads(ticket.to_bytes(taken)), "tickets written before tell it too"
    assert replace(taken, completes="").taken == ""


@pytest.mark.parametrize("name", ["free", "taken"])
def test_without_a_ticket_it_is_put_back(bench: Bench, name: str) -> None:
    (home,) = bench.paths.returned.glob("net*")
    files = {path.name: path.read_bytes() for path in home.rglob("*") if path.is_file()}
    taken = on_its_way(bench, 0)
    bench.layout.ticket_file(taken.ticket).unlink()
    if name == "taken":
        home.mkdir()
    (step,) = recover.plan(bench.layout)
    assert (step.action, step.path) == ("put-back", str(bench.layout.taken(taken.ticket)))
    assert [result.fault for result in mend(bench, bench.layout)] == [None]
    (at,) = [path for path in bench.paths.returned.glob("net*") if any(path.iterdir())]
    assert at.name == (home.name if name == "free" else f"{home.name}~{taken.ticket}")
    assert {path.name: path.read_bytes() for path in at.rglob("*") if path.is_file()} == files
    assert recover.plan(bench.layout) == ()


def test_with_a_ticket_that_cannot_be_read_what_was_not_claimed_is_put_back(bench: Bench) -> None:
    taken = on_its_way(bench, 1)
    bench.layout.ticket_file(taken.ticket).write_bytes(b"rubbish")
    assert [result.step.action for result in mend(bench, bench.layout)] == ["put-aside", "put-back"]
    assert not [path for path in bench.base.rglob("*") if TAKEN in str(path) and path.is_file()]
    assert recover.plan(bench.layout) == ()


def test_without_a_ticket_or_a_record_it_is_put_back_under_the_ticket(bench: Bench) -> None:
    taken = on_its_way(bench, 0)
    bench.layout.ticket_file(taken.ticket).unlink()
    (bench.layout.taken(taken.ticket) / "handed.tidegate.json").unlink()
    mend(bench, bench.layout)
    assert (bench.paths.returned / taken.ticket / "net_float.obj").read_bytes() == b"mesh"


def test_an_emptied_folder_without_a_ticket_goes(bench: Bench) -> None:
    away = bench.layout.taken("20261125T120000Z-abcdef")
    (away / "maps").mkdir(parents=True)
    before = bench.files("returned")
    assert [result.step.action for result in mend(bench, bench.layout)] == ["put-back"]
    assert not away.exists()
    assert bench.files("returned") == before


def test_what_another_gate_takes_along_is_its_own(bench: Bench) -> None:
    theirs = bench.paths.returned / TAKEN / "vendor/20261125T120000Z-abcdef"
    theirs.mkdir(parents=True)
    (theirs / "lamp.obj").write_bytes(b"lamp")
    assert recover.plan(bench.layout) == ()
