"""Claims in a work folder that a gate had before: told as long as they are there, and nobody serves them."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import pytest

from tests.gate.bench import Bench
from tidegate.errors import GateFault
from tidegate.gate.layout import STAGING, Layout
from tidegate.gate.left_claims import keep_note, left_claims
from tidegate.gate.lock import held


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    bench = Bench(tmp_path)
    keep_note(bench.layout)
    return bench


def moved(bench: Bench) -> Layout:
    """The gate with another work folder, as a start makes it."""
    layout = Layout(replace(bench.paths, work=bench.base / "new-work"))
    layout.prepare()
    keep_note(layout)
    return layout


def note(bench: Bench) -> Path:
    return bench.paths.delivery / STAGING / "harbour.work"


def test_claims_in_the_work_folder_of_before_are_told_at_each_start(bench: Bench) -> None:
    bench.put("crate/crate.obj")
    bench.claim()
    layout = moved(bench)
    for _ in range(2):
        (each,) = left_claims(bench.paths.delivery, {layout.paths.work})
        assert (each.gate, each.work, each.drops) == ("harbour", bench.paths.work, 1)
        assert (
            each.what
            == f"1 drop lies claimed in {bench.paths.work}, where gate harbour had its work folder; no gate has it now"
        )
        keep_note(layout)
    assert note(bench).read_text() == f"{bench.paths.work}\n"
    assert left_claims(bench.paths.delivery, {bench.paths.work}) == (), "a gate has it again"


def test_a_work_folder_without_claims_is_left_in_peace(bench: Bench) -> None:
    layout = moved(bench)
    assert left_claims(bench.paths.delivery, {layout.paths.work}) == ()
    assert note(bench).read_text() == f"{layout.paths.work}\n"


def test_a_gate_that_is_configured_no_more_is_told_by_any_that_shares_its_tree(bench: Bench) -> None:
    other = Bench(bench.base, name="quay")
    keep_note(other.layout)
    bench.put("crate/crate.obj")
    bench.claim()
    (each,) = left_claims(other.paths.delivery, {other.paths.work})
    assert (each.gate, each.drops) == ("harbour", 1)


def test_what_another_process_serves_is_its_own(bench: Bench) -> None:
    bench.put("crate/crate.obj")
    bench.claim()
    layout = moved(bench)
    with held(bench.layout.lock):
        assert left_claims(bench.paths.delivery, {layout.paths.work}) == ()
    assert len(left_claims(bench.paths.delivery, {layout.paths.work})) == 1


@pytest.mark.parametrize("left", ["tickets", "handing", "claimed"])
def test_each_trace_of_a_claim_counts_and_the_same_drop_once(bench: Bench, left: str) -> None:
    bench.put("crate/crate.obj")
    taken = bench.claim()
    bench.layout.handing_file(taken.ticket).write_bytes(b"{}")
    layout = moved(bench)
    assert [each.drops for each in left_claims(bench.paths.delivery, {layout.paths.work})] == [1]
    for folder in {"tickets", "handing", "claimed"} - {left}:
        (bench.paths.work / folder).rename(bench.base / f"gone-{folder}")
    assert [each.drops for each in left_claims(bench.paths.delivery, {layout.paths.work})] == [1]


def test_an_empty_claimed_folder_is_no_claim(bench: Bench) -> None:
    (bench.layout.claimed / "20261125T120000Z-abcdef").mkdir()
    assert left_claims(bench.paths.delivery, set()) == ()


@pytest.mark.parametrize("torn", [b"", b"/half", b"/one\n/two\n"])
def test_a_note_cut_short_tells_nothing_and_is_written_again(bench: Bench, torn: bytes) -> None:
    note(bench).write_bytes(torn)
    bench.put("crate/crate.obj")
    bench.claim()
    assert left_claims(bench.paths.delivery, set()) == ()
    keep_note(bench.layout)
    assert note(bench).read_bytes() == os.fsencode(bench.paths.work) + b"\n"


def test_where_it_cannot_be_read_that_is_said(bench: Bench) -> None:
    note(bench).unlink()
    note(bench).mkdir()
    with pytest.raises(GateFault):
        left_claims(bench.paths.delivery, set())
    with pytest.raises(GateFault):
        keep_note(bench.layout)
